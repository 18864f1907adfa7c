"""A new measurement as a record's entry, whatever its kind."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from measure.kinds import Choices, Measured, Scale, measure_by, measure_difference
from measure.length import Length
from measure.record import MeasurementEntry, Point
from measure.redo.remeasure import result_entry
from measure.wording import Audience, all_worded, worded

if TYPE_CHECKING:
    from calibration.image import Photo


def measured_entry(
    entry: MeasurementEntry,
    scale: Scale,
    photo: "Photo",
    *,
    click_std_px: float | None = None,
    photo_name: str | None = None,
    span_name: str | None = None,
) -> tuple[MeasurementEntry, Measured]:
    """Measure what an entry's clicks mark.

    Parameters
    ----------
    entry : MeasurementEntry
        Kind, clicks and heights.
    scale : Scale
        What its photo is measured by.
    photo : Photo
        For the edges beside the clicks.
    click_std_px : float, optional
        Standard uncertainty of each coordinate of a click, if stated; else by the picture, see `Choices`.
    photo_name, span_name : str, optional
        Name the inputs, where the ids of photo and entry don't tell them from those of another record.

    Returns
    -------
    MeasurementEntry
        With the points used and the result. Where the photo doesn't give the length, it has no result and
        says why under ``cannot_tell``.
    Measured
        The measurement itself.

    Raises
    ------
    SpanError, GeometryError
        The clicks make no such measurement.
    """
    heights = entry.standoff_mm
    how = Choices(
        snap=entry.snap,
        click_std_px=click_std_px,
        standoff_mm=heights[0] if len(heights) == 1 else heights[:2],
        standoff_std_mm=entry.standoff_std_mm,
        lean_std_mm=entry.lean_std_mm,
        photo_id=photo_name or entry.photo or "photo",
        span_id=span_name or entry.id,
    )
    measured = measure_by(scale, entry.kind, photo, entry.clicks_px, how)
    return with_result(entry, measured), measured


def with_result(entry: MeasurementEntry, measured: Measured) -> MeasurementEntry:
    """Return the entry with the result of a measurement.

    Parameters
    ----------
    entry : MeasurementEntry
        As measured; replaces an earlier result, its reason and its cautions.
    measured : Measured
        A length, or the reason for none.

    Returns
    -------
    MeasurementEntry
        With the points used, and either a result or the reason under ``cannot_tell``.
    """
    from dataclasses import replace

    extra = {key: value for key, value in entry.extra.items() if key not in ("cannot_tell", "cautions")}
    if measured.cautions:
        extra["cautions"] = list(all_worded(measured.cautions, Audience.COMMAND))
    result = None
    if isinstance(measured.result, Length):
        result = result_entry(measured.result)
    else:
        extra["cannot_tell"] = worded(measured.result, Audience.COMMAND)
    return replace(
        entry,
        used_px=measured.used_px,
        # Kept as used, so that the length can be computed again from the record without the photo.
        click_std_px=measured.std_px,
        edge_fit=tuple(end.snapped for end in measured.ends),
        result=result,
        extra=extra,
    )


def difference_of(entry: MeasurementEntry, one: Length, other: Length) -> Length:
    """Return the difference that an entry asks for; ``same_standoff`` says that both share one height.

    Parameters
    ----------
    entry : MeasurementEntry
        Of the kind "difference".
    one, other : Length
        The two; inputs of the same name cancel.

    Returns
    -------
    Length
        `one` minus `other`, mm.
    """
    same = entry.extra.get("same_standoff") is True
    return measure_difference(one, other, same_standoff=same)


def new_entry(
    entry_id: str,
    kind: str,
    photo_id: str,
    clicks_px: Sequence[Point],
    *,
    part: str | None,
    feature: str | None,
    name: str,
    standoff_mm: float | tuple[float, ...],
    standoff_std_mm: float,
    snap: bool = True,
    lean_std_mm: float | None = None,
) -> MeasurementEntry:
    """Return an entry that holds clicks but no result yet.

    Parameters
    ----------
    entry_id : str
        Unique among the record's measurements.
    kind : str
        One of `measure.kinds.KINDS`.
    photo_id : str
        The id of one of the record's photos.
    clicks_px : sequence of points
        (x, y) in px of the upright photo, in the order that the kind asks for.
    part, feature : str or None
        Keys on the release sheet; None for a free measurement.
    name : str
        In the user's words.
    standoff_mm : float or tuple of float
        Height above the reference's face, or that of each end.
    standoff_std_mm : float
        Its standard uncertainty.
    snap : bool
        Whether the points may move to edges.
    lean_std_mm : float, optional
        Of a rise: how far the top may be from straight above the foot.

    Returns
    -------
    MeasurementEntry
    """
    return MeasurementEntry(
        entry_id,
        kind,
        photo_id,
        part,
        feature,
        name,
        clicks_px=tuple((float(x), float(y)) for x, y in clicks_px),
        snap=snap,
        standoff_mm=tuple(map(float, standoff_mm))
        if isinstance(standoff_mm, tuple)
        else (float(standoff_mm),),
        standoff_std_mm=float(standoff_std_mm),
        lean_std_mm=lean_std_mm,
    )
