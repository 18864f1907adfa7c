"""The desk's server: routes, the gate before them, the page's own files."""

from measure.desk.server.qr import qr_text
from measure.desk.server.serve import Server, open_browser_when_up

__all__ = ["Server", "open_browser_when_up", "qr_text"]
