"""What the desk sees around it when a page is shown: files, offers, and whether work goes on."""

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What lies on disk and runs in the background, as it is now; looked up, never remembered.

    Attributes
    ----------
    record : str or None
        Where the present state is kept.
    reopen : str or None
        The command that opens it again; None before it is written.
    unsaved : str or None
        Why what is on the desk is not in its record, and where it is kept meanwhile.
    saved : bool
        Whether the present state is on disk.
    judging : bool
        Whether a verdict is being computed.
    moved : dict or None
        That the record is another than the one opened.
    left : str or None
        The record whose photos were all taken off.
    sheets, samples, records : tuple of dict
        What can be laid on the desk.
    kept : tuple of dict
        The files of the write-up.
    kept_in : str or None
        Their folder.
    profiles : tuple of (str, (int, int))
        The camera profiles, each with its photos' sides in px, the shorter first.
    """

    record: str | None = None
    reopen: str | None = None
    unsaved: str | None = None
    saved: bool = False
    judging: bool = False
    moved: dict[str, Any] | None = None
    left: str | None = None
    sheets: tuple[dict[str, str], ...] = ()
    samples: tuple[dict[str, Any], ...] = ()
    records: tuple[dict[str, Any], ...] = ()
    kept: tuple[dict[str, str], ...] = ()
    kept_in: str | None = None
    profiles: tuple[tuple[str, tuple[int, int]], ...] = ()
