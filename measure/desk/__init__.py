"""The desk: a page on this computer on which a specimen is measured."""
