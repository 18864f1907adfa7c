"""The readings of a specimen's measurements, brought up to date with its state."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from calibration.errors import CalibrationError
from measure.desk.effects.instrument import Instrument
from measure.desk.failures import sentence
from measure.desk.messages import workers
from measure.desk.state import Reading, Settled, same_scale
from measure.errors import MeasureError
from measure.record import MeasurementEntry, PhotoEntry, Specimen
from measure.wording import Audience, reworded

if TYPE_CHECKING:
    from calibration.image import Photo
    from measure.kinds import Scale

PhotoOf = Callable[[PhotoEntry], "Photo | None"]


def measured(
    specimen: Specimen, known: Mapping[str, Settled], instrument: Instrument, photo_of: PhotoOf
) -> workers.Measured:
    """Bring every measurement's result up to date.

    Parameters
    ----------
    specimen : Specimen
        The state.
    known : mapping of str to Settled
        The readings so far, by the measurement's id; those whose inputs are the same are kept.
    instrument : Instrument
        Measures.
    photo_of : callable
        Gives a photo's pixels, None while they are not there.

    Returns
    -------
    Measured
    """
    found: dict[str, Settled] = {}
    for one in specimen.measurements:
        if one.kind != "difference":
            found[one.id] = _settled(specimen, one, known.get(one.id), instrument, photo_of)
    for one in specimen.measurements:
        if one.kind == "difference":
            found[one.id] = _kept(one, Settled(_difference(one, found), None, with_pixels=True))
    readings = {one.id: found[one.id] for one in specimen.measurements}
    scales = {one.id: _scale_or_reason(one, instrument, photo_of) for one in specimen.photos}
    entries = tuple(one.reading.entry for one in readings.values())
    same = all(a is b for a, b in zip(entries, specimen.measurements, strict=True))
    after = specimen if same else replace(specimen, measurements=entries)
    return workers.Measured(after, readings, scales)


def _scale_or_reason(
    shot: PhotoEntry, instrument: Instrument, photo_of: PhotoOf
) -> "tuple[Scale | None, str | None]":
    """Return what gives a photo's scale, or why nothing does."""
    if not shot.has_scale:
        return None, None
    try:
        return instrument.scale(shot, photo_of(shot)), None
    except (CalibrationError, MeasureError) as error:
        return None, str(error)
    except Exception as error:  # a record may hold what no check thought of; the others can be worked on
        return None, sentence(f"Measuring by {shot.file}", error)


def _settled(
    specimen: Specimen,
    entry: MeasurementEntry,
    known: Settled | None,
    instrument: Instrument,
    photo_of: PhotoOf,
) -> Settled:
    from measure.redo import recorded_length

    if entry.photo is None:
        reading = Reading(entry, recorded_length(entry) if entry.result else None)
        return _kept(entry, Settled(reading, None, with_pixels=True))
    shot = specimen.photo(entry.photo)
    photo = photo_of(shot)
    same = known is not None and known.shot is not None and same_scale(known.shot, shot)
    if known and same and known.reading.entry is entry and (known.with_pixels or photo is None):
        return known
    if photo is None and entry.result is not None and (known is None or same):
        # The recorded result counts until the photo is open; no result outlives a change of its inputs.
        told = entry.extra.get("cautions")
        words = tuple(map(str, told)) if isinstance(told, list | tuple) else ()
        reading = Reading(entry, recorded_length(entry), cautions=reworded(words, Audience.PAGE))
        return _kept(entry, Settled(reading, shot, with_pixels=False))
    reading = instrument.read(entry, shot, photo)
    return _kept(entry, Settled(reading, shot, with_pixels=photo is not None))


def _kept(entry: MeasurementEntry, settled: Settled) -> Settled:
    """Keep the very entry where nothing has changed."""
    if settled.reading.entry == entry:
        return replace(settled, reading=replace(settled.reading, entry=entry))
    return settled


def _difference(entry: MeasurementEntry, found: Mapping[str, Settled]) -> Reading:
    from measure.redo import difference_of, recorded_length, result_entry

    told = entry.extra.get("of")
    of = tuple(map(str, told)) if isinstance(told, list | tuple) and len(told) == 2 else ()
    pair = [found[one] for one in of if one in found]
    lengths = [one.reading.length for one in pair if one.reading.length is not None]
    recorded = all(one.shot is not None and not one.with_pixels for one in pair)
    if len(lengths) == 2 and entry.result is not None and recorded:
        # Measured from the photos, it knows more of what its lengths share than their budgets tell.
        return Reading(entry, recorded_length(entry))
    if len(lengths) != 2:
        return Reading(replace(entry, result=None), trouble="One of the two lengths no longer exists.")
    length = difference_of(entry, lengths[0], lengths[1])
    return Reading(replace(entry, result=result_entry(length)), length)


def with_corners(
    specimen: Specimen, tried: PhotoEntry, instrument: Instrument, photo: "Photo | None"
) -> workers.CornersTried:
    """Measure a photo's entries as they would be with other corners."""
    from measure.scale import scale_of

    scale = scale_of(tried, photo)
    entries = [one for one in specimen.measurements if one.photo == tried.id and one.kind != "difference"]
    readings = {one.id: instrument.read(one, tried, photo, scale) for one in entries}
    return workers.CornersTried(tried, scale, readings)
