"""Checks whether the photos of a write-up still show what its record says of them."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import hypot
from typing import TYPE_CHECKING, Literal

from measure.record import PhotoEntry, SeenEntry, Specimen

if TYPE_CHECKING:
    from calibration.image import Photo

State = Literal["same", "differs", "not checked"]


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that was compared.

    Attributes
    ----------
    what : str
        The file or number.
    state : str
        "same", "differs" or "not checked".
    detail : str
        What was found, or why nothing could be compared.
    """

    what: str
    state: State
    detail: str = ""


def photo_checks(specimen: Specimen, found: "list[tuple[Photo | None, str]]") -> Iterator[Check]:
    """Compare each photo's size, card and other sources of scale with the record.

    Parameters
    ----------
    specimen : Specimen
        The record.
    found : list of (Photo or None, str)
        For each of its photos the photo itself, or why it isn't there.
    """
    for entry, (photo, trouble) in zip(specimen.photos, found, strict=True):
        name = f"photo {entry.file}"
        if photo is None:
            yield Check(name, "not checked", trouble)
            continue
        yield Check(name, "same")
        if (photo.width_px, photo.height_px) != (entry.width_px, entry.height_px):
            size = f"{photo.width_px} x {photo.height_px} px, recorded {entry.width_px} x {entry.height_px}"
            yield Check(f"{name}, size", "differs", size)
        yield from _card(name, entry, photo)
        yield from _sources(name, entry, photo)


def _card(name: str, entry: PhotoEntry, photo: "Photo") -> Iterator[Check]:
    """Find the card again, if it was found and not marked by hand."""
    from calibration import locate

    reference = entry.reference
    if reference is None or reference.corners_px is None or reference.source != "found":
        return
    again = locate(photo, object_key=reference.kind).found
    if again is None:
        yield Check(f"{name}, card", "differs", "the card is not found again in the photo")
        return
    apart_px = _apart_px(reference.corners_px, [(float(x), float(y)) for x, y in again.corners_px])
    if apart_px > 0.5 + 5.0 * reference.corner_std_px:
        yield Check(f"{name}, card", "differs", f"found again, its corners lie up to {apart_px:.1f} px off")
    else:
        yield Check(f"{name}, card", "same")


def _sources(name: str, entry: PhotoEntry, photo: "Photo") -> Iterator[Check]:
    """Look again at the marks of the other sources of scale."""
    from calibration.errors import CalibrationError
    from measure.scale import looked_at

    for source in entry.sources:
        if source.seen is None:
            continue
        what = f"{name}, {source.kind}"
        try:
            bare = replace(entry, sources=(replace(source, seen=None),))
            seen = looked_at(bare, photo).sources[0].seen
        except CalibrationError as error:
            yield Check(what, "differs", str(error))
            continue
        assert seen is not None
        apart_px = _seen_apart_px(source.seen, seen)
        if apart_px > 0.5 + 5.0 * source.seen.std_px:
            yield Check(what, "differs", f"found again, it lies up to {apart_px:.1f} px off")
        else:
            yield Check(what, "same")


def _seen_apart_px(kept: SeenEntry, seen: SeenEntry) -> float:
    if kept.ellipse_px is not None and seen.ellipse_px is not None:
        # The angle of what is nearly a circle means little.
        return max(abs(a - b) for a, b in zip(kept.ellipse_px[:4], seen.ellipse_px[:4], strict=True))
    places = dict(zip(seen.numbers, seen.points_px, strict=True))
    both = [(a, places[n]) for n, a in zip(kept.numbers, kept.points_px, strict=True) if n in places]
    if 2 * len(both) < len(kept.numbers):
        return float("inf")
    return max(hypot(a[0] - b[0], a[1] - b[1]) for a, b in both)


def _apart_px(corners: tuple[tuple[float, float], ...], again: list[tuple[float, float]]) -> float:
    # The outline may start at another corner, or run in the other direction.
    orders = [again[start:] + again[:start] for start in range(4)]
    orders += [order[::-1] for order in orders]
    return min(
        max(hypot(a[0] - b[0], a[1] - b[1]) for a, b in zip(corners, order, strict=True)) for order in orders
    )
