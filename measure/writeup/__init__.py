"""The write-up: pictures, texts and sheets that a buyer can read and check."""

from measure.writeup.produce import Options, Product, produce, write_brief, write_up

__all__ = ["Options", "Product", "produce", "write_brief", "write_up"]
