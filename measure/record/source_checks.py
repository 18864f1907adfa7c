"""Checks of a record's sources of scale: each kind has exactly the fields that it needs."""

from typing import Any

from measure.record.checks import (
    Check,
    built,
    exactly,
    mapping_at,
    number_at,
    one_of,
    or_none,
    point_at,
    positive_at,
    shown,
    size_at,
    spread_at,
    text_at,
    tuple_of,
)
from measure.record.specimen import SOURCE_KINDS, Point, SeenEntry, SourceEntry
from references.limits import LARGEST_NUMBER, whole_of

# Number of marks, least and most (None: any number).
_MARKS: dict[str, tuple[int, int | None]] = {
    "coin": (1, None),
    "rule": (2, 2),
    "length": (2, 2),
    "feature": (2, 2),
    "target": (0, 0),
}
_NEEDED: dict[str, tuple[str, ...]] = {
    "coin": ("object",),
    "rule": ("object",),
    "length": ("length_mm",),
    "feature": ("part", "feature", "length_mm", "length_std_mm"),
    "target": (),
}


def source_at(value: Any, where: str) -> SourceEntry:
    """Return a source of scale.

    Raises
    ------
    ValueError
        A field is unknown, missing or not as expected.
    """
    source = built(SourceEntry, mapping_at(value, where), where, _SOURCE)
    for name in _NEEDED[source.kind]:
        if getattr(source, name) is None:
            raise ValueError(f"{where}.{name}: missing; a {source.kind} needs it")
    least, most = _MARKS[source.kind]
    count = len(source.marks_px)
    if count < least or (most is not None and count > most) or (source.kind == "coin" and count == 2):
        wanted = (
            "one point inside, or three or more on the rim" if source.kind == "coin" else f"{least} points"
        )
        raise ValueError(f"{where}.marks_px: expected {wanted} for a {source.kind}, found {count}")
    if source.seen is not None and source.kind in ("length", "feature"):
        raise ValueError(f"{where}.seen: a {source.kind} has none; its ends are marks_px")
    return source


def line_at(value: Any, where: str) -> tuple[Point, ...]:
    """Return the points of a straight edge.

    Raises
    ------
    ValueError
        Fewer than three points.
    """
    points: tuple[Point, ...] = tuple_of(point_at)(value, where)
    if len(points) < 3:
        raise ValueError(f"{where}: expected three points or more, found {len(points)}")
    return points


def _seen_at(value: Any, where: str) -> SeenEntry:
    seen = built(SeenEntry, mapping_at(value, where), where, _SEEN)
    if len(seen.numbers) != len(seen.points_px):
        raise ValueError(f"{where}.numbers: expected one for each of points_px")
    if (seen.ellipse_px is None) == (not seen.points_px):
        raise ValueError(f"{where}: expected either points_px with numbers, or ellipse_px")
    if seen.ellipse_px is not None and not seen.ellipse_px[2] >= seen.ellipse_px[3] > 0.0:
        raise ValueError(f"{where}.ellipse_px: expected half axes above 0, the longer one first")
    return seen


def _count_at(value: Any, where: str) -> int:
    count = whole_of(value, 0, int(LARGEST_NUMBER))
    if count is None:
        raise ValueError(f"{where}: expected a whole number that is not negative, found {shown(value)}")
    return count


def _printed_at(value: Any, where: str) -> tuple[float, ...]:
    lengths: tuple[float, ...] = tuple_of(size_at)(value, where)
    if len(lengths) not in (1, 2):
        raise ValueError(f"{where}: expected the lengths of the check rules across and down")
    return lengths


_SEEN: dict[str, Check] = {
    "points_px": tuple_of(point_at), "numbers": tuple_of(_count_at),
    "ellipse_px": or_none(exactly(5, number_at)), "std_px": positive_at,
}  # fmt: skip
_SOURCE: dict[str, Check] = {
    "kind": one_of(SOURCE_KINDS), "object": or_none(text_at), "marks_px": tuple_of(point_at),
    "mark_std_px": positive_at, "nearer_px": or_none(point_at), "length_mm": or_none(size_at),
    "length_std_mm": or_none(spread_at), "sheet": or_none(text_at), "part": or_none(text_at),
    "feature": or_none(text_at), "printed_mm": or_none(_printed_at), "tilt_std_deg": or_none(positive_at),
    "seen": or_none(_seen_at),
}  # fmt: skip
