"""The desk at work: what lies on it, and what follows from each message of the page."""

from measure.desk.session.session import Session

__all__ = ["Session"]
