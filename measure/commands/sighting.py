"""From command-line texts to a photo with its references, as a record describes it."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from measure.commands.options import check_inside, parse_points
from measure.record import ReferenceEntry, SourceEntry

if TYPE_CHECKING:
    from calibration.camera import Camera
    from calibration.image import Photo
    from calibration.locate import Location
    from calibration.plane import PlumbLine
    from calibration.sources import Marks
    from measure.record import PhotoEntry, Point


_CORNERS_BEYOND = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class Sighting:
    """A photo and what was found in it.

    Attributes
    ----------
    photo : Photo
        The photo.
    location : Location
        What gives its scale, or the reason why nothing does.
    entry : PhotoEntry or None
        The same as a record keeps it, its path as given; None without a plane.
    beside : tuple of str
        What other objects of known size are combined with the located reference.
    """

    photo: "Photo"
    location: "Location"
    entry: "PhotoEntry | None"
    beside: tuple[str, ...] = ()


def sighted(
    photo_path: str,
    object_key: str | None,
    corners: str | None,
    corner_std_px: float,
    *,
    at: str | None = None,
    nearer: str | None = None,
    printed_mm: str | None = None,
    camera_name: str | None = None,
    also: tuple[str, ...] = (),
    straight: tuple[str, ...] = (),
    sheet_name: str | None = None,
    only_one: bool = False,
    pick: int | None = None,
) -> Sighting:
    """Read the photo and find its references.

    Parameters
    ----------
    photo_path : str
        The photo.
    object_key : str or None
        What the reference is; None looks for the target and all known cards.
    corners : str or None
        The reference's corners by hand, ``"X,Y X,Y X,Y X,Y"`` in px, in order around it, the first side
        the object's width.
    corner_std_px : float
        Standard uncertainty of those corners.
    at : str, optional
        Where a coin, a rule or a known length is, points in px.
    nearer : str, optional
        A point on the side nearer to the camera, for a coin.
    printed_mm : str, optional
        The target's check rules as measured, ``ACROSSxDOWN``.
    camera_name : str, optional
        A camera profile; by default the one that the photo's Exif calls for.
    also : tuple of str
        Further references, ``"KIND X,Y ..."``.
    straight : tuple of str
        Points along edges that are straight in the scene.
    sheet_name : str, optional
        The release sheet for ``feature=PART/FEATURE``.
    only_one : bool
        Measure by one card alone, even if more are found on its plane.
    pick : int, optional
        Which outline that may be the reference, from 1; the surest by default.

    Returns
    -------
    Sighting
        With the reason where no reference is found.

    Raises
    ------
    click.BadParameter
        Points that can't be read.
    CalibrationError, MeasureError, SheetError
        The photo, the camera profile, the sheet or a reference can't be used.
    """
    from calibration import locate, read_photo
    from measure.cameras import camera_of
    from measure.scale import feature_as_length, photo_entry

    points = None if corners is None else parse_points(corners, 4, "--corners")
    marks = _marks(at, nearer, printed_mm)
    lines = tuple(tuple(parse_points(text, None, "--straight")) for text in straight)
    key = None if object_key is None else feature_as_length(object_key, sheet_name)
    photo = read_photo(photo_path)
    _check_all_inside(photo, corners=points, at=at, nearer=nearer, straight=straight)
    camera, profile = camera_of(photo, camera_name, search=True)
    with _option_named():
        location = locate(
            photo,
            object_key=key,
            corners_px=points,
            corner_std_px=corner_std_px,
            camera=camera,
            marks=marks,
            plumb_lines=_plumb_lines(lines),
            only_one=only_one,
            pick=pick,
        )
    if location.plane is None:
        return Sighting(photo, location, None)
    bare = photo_entry(photo, "photo-1", photo_path, None, camera)
    entry = replace(bare, straight_px=lines, profile=profile)
    first = _first(location, key, marks, by_hand=corners is not None)
    if isinstance(first, SourceEntry):
        first = _with_what_was_said(first, object_key, sheet_name, printed_mm)
    named, sources = _more(photo, camera, also)
    cards = (*_found_beside(location, named), *named)
    return _settled(photo, location, _with_all(entry, first, cards, sources))


def _marks(at: str | None, nearer: str | None, printed_mm: str | None) -> "Marks":
    from measure.scale import marks_from_texts

    return marks_from_texts(
        at=None if at is None else parse_points(at, None, "--at"),
        nearer=None if nearer is None else parse_points(nearer, 1, "--nearer")[0],
        printed_mm=printed_mm,
    )


def _plumb_lines(lines: "tuple[tuple[Point, ...], ...]") -> "list[PlumbLine]":
    import numpy as np

    from calibration.plane import PlumbLine

    return [PlumbLine(np.array(line).reshape(-1, 2)) for line in lines]


def _found_beside(location: "Location", named: "tuple[ReferenceEntry, ...]") -> "tuple[ReferenceEntry, ...]":
    """Return the further cards found, but for those that the user names as well."""
    from calibration.cards import same_outline
    from measure.scale import found_of, reference_entry

    said = [found_of(one) for one in named]
    return tuple(
        reference_entry(card, "found")
        for card in location.others
        if not any(same_outline(card, one) for one in said)
    )


@contextmanager
def _option_named() -> Iterator[None]:
    """Add the option to the error of a source that has to be marked."""
    from calibration.errors import MarksError

    try:
        yield
    except MarksError as error:
        raise MarksError(f"{error}: add --at") from error


def _check_all_inside(
    photo: "Photo",
    *,
    corners: "list[Point] | None",
    at: str | None,
    nearer: str | None,
    straight: tuple[str, ...],
) -> None:
    # A card's corner may be cut off by the photo's border; its extended sides then meet outside.
    check_inside(corners or [], photo, "--corners", beyond=_CORNERS_BEYOND)
    for what, inside in (("--at", at), ("--nearer", nearer), *(("--straight", text) for text in straight)):
        check_inside([] if inside is None else parse_points(inside, None, what), photo, what)


def _with_what_was_said(
    source: SourceEntry, object_key: str | None, sheet_name: str | None, printed_mm: str | None
) -> SourceEntry:
    """Return a source with the feature that it was named by, and its print as measured."""
    from measure.scale import printed_lengths

    if object_key is not None and object_key.startswith("feature="):
        part, _, feature = object_key.removeprefix("feature=").partition("/")
        source = replace(source, kind="feature", sheet=sheet_name, part=part, feature=feature)
    return source if printed_mm is None else replace(source, printed_mm=printed_lengths(printed_mm))


def _first(
    location: "Location", key: str | None, marks: "Marks", *, by_hand: bool
) -> "ReferenceEntry | SourceEntry":
    """Return the located reference as a record keeps it."""
    from measure.scale import reference_entry, seen_entry, source_entry

    found = location.found
    assert found is not None
    if location.seen is None and location.family is None:
        return reference_entry(found, "by hand" if by_hand else "found")
    nearer = None if marks.nearer_px is None else _points([marks.nearer_px])[0]
    # Of the sources only the printed target is found without being named.
    entry = source_entry(key or "target", _points(marks.points_px), nearer)
    # Where no uncertainty of a length is stated, a usual one was taken.
    std_mm = None if entry.length_mm is None else found.object.width_std_mm
    return replace(entry, seen=seen_entry(location.seen), length_std_mm=std_mm)


def _points(points: Any) -> "tuple[Point, ...]":
    return () if points is None else tuple((float(x), float(y)) for x, y in points)


def _more(
    photo: "Photo", camera: "Camera", also: tuple[str, ...]
) -> "tuple[tuple[ReferenceEntry, ...], tuple[SourceEntry, ...]]":
    """Return further cards and sheets, and further sources, from ``KIND X,Y ...``."""
    from calibration.cards import refine_corners
    from calibration.objects import object_from_key
    from calibration.sources import is_source
    from measure.scale import reference_entry, source_entry

    cards, sources = [], []
    for text in also:
        key, _, rest = text.strip().partition(" ")
        if is_source(key):
            marks = parse_points(rest, None, f"--also {key}")
            check_inside(marks, photo, f"--also {key}")
            sources.append(source_entry(key, tuple(marks)))
            continue
        corners = parse_points(rest, 4, f"--also {key}")
        check_inside(corners, photo, f"--also {key}", beyond=_CORNERS_BEYOND)
        card = refine_corners(photo, corners, object_from_key(key), camera=camera)
        cards.append(replace(reference_entry(card, "by hand"), said=True))
    return tuple(cards), tuple(sources)


def _with_all(
    entry: "PhotoEntry",
    first: "ReferenceEntry | SourceEntry",
    cards: "tuple[ReferenceEntry, ...]",
    sources: "tuple[SourceEntry, ...]",
) -> "PhotoEntry":
    if isinstance(first, ReferenceEntry):
        return replace(entry, reference=first, also=cards, sources=sources)
    if cards:  # heights count from a card's face, whatever was named first
        return replace(entry, reference=cards[0], also=cards[1:], sources=(first, *sources))
    return replace(entry, sources=(first, *sources))


def _settled(photo: "Photo", location: "Location", entry: "PhotoEntry") -> Sighting:
    """Measure by all recorded references, not by the located one alone."""
    from calibration.cautions import CautionCode
    from measure.scale import looked_at, scale_of

    entry = looked_at(entry, photo)
    assert location.plane is not None
    lone = entry.reference is not None and not (entry.also or entry.sources)
    scale = scale_of(entry, fitted=location.plane if lone else None)
    # What a source alone says about the tilt no longer holds together with others.
    alone = location.plane.cautions if entry.reference is not None else location.cautions
    first = next((one for one in scale.found if one.object == scale.plane.object), scale.found[0])
    # What else the outline may be is told by the scale.
    what_else = [one for one in scale.cautions if one.code == CautionCode.IDENTITY]
    kept = [one for one in location.cautions if one not in alone and one.code != CautionCode.IDENTITY]
    location = replace(
        location,
        camera=scale.plane.camera,
        found=replace(location.found, rivals=first.rivals) if lone and location.found else first,
        plane=scale.plane,
        family=scale.family,
        cautions=tuple(dict.fromkeys((*what_else, *photo.cautions, *kept, *scale.cautions))),
    )
    return Sighting(photo, location, entry, tuple(one.object.name for one in scale.found if one is not first))
