"""The readings of a specimen's measurements, kept up to date with its state."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Protocol

from calibration.errors import CalibrationError
from measure.desk.changes import AskError
from measure.desk.session.instrument import Instrument, Reading, same_scale
from measure.desk.view import card_words, texts
from measure.errors import MeasureError
from measure.record import MeasurementEntry, PhotoEntry, Specimen
from measure.wording import Audience, reworded

if TYPE_CHECKING:
    from calibration.image import Photo
    from measure.kinds import Scale


class Photos(Protocol):
    """Whoever holds the decoded photos."""

    def photo(self, photo_id: str) -> "Photo | None":
        """Return a photo's pixels, or None while they are not there."""


@dataclass(frozen=True, slots=True)
class _Known:
    reading: Reading
    shot: PhotoEntry | None
    with_pixels: bool


class Measures:
    """Readings by measurement id.

    Parameters
    ----------
    photos : Photos
        Where the pixels are.
    """

    def __init__(self, photos: Photos) -> None:
        self._photos = photos
        self._instrument = Instrument()
        self._known: dict[str, _Known] = {}

    def forget(self) -> None:
        """Forget all readings: another record has come on the desk, in which the same ids mean others."""
        self._instrument = Instrument()
        self._known = {}

    def reading(self, measurement_id: str) -> Reading | None:
        """Return the present reading of a measurement."""
        known = self._known.get(measurement_id)
        return known.reading if known else None

    def scale(self, shot: PhotoEntry) -> "Scale | None":
        """Return what a photo is measured by, or None where there is nothing."""
        return self.scale_or_reason(shot)[0]

    def try_scale(self, shot: PhotoEntry) -> None:
        """Make a scale of a photo's new state, which is not in the record yet.

        Raises
        ------
        CalibrationError, MeasureError
            It can't be done.
        """
        self._instrument.scale(shot, self._photos.photo(shot.id))

    def scale_or_reason(self, shot: PhotoEntry) -> "tuple[Scale | None, str | None]":
        """Return what gives a photo's scale, or why nothing does."""
        if not shot.has_scale:
            return None, None
        try:
            return self._instrument.scale(shot, self._photos.photo(shot.id)), None
        except (CalibrationError, MeasureError) as error:
            return None, str(error)

    def settled(self, specimen: Specimen) -> Specimen:
        """Return the specimen with every measurement's result brought up to date."""
        lone = [one for one in specimen.measurements if one.kind != "difference"]
        entries = {one.id: self._settle(specimen, one) for one in lone}
        for one in specimen.measurements:
            if one.kind == "difference":
                entries[one.id] = self._note(one, None, self._difference(one), with_pixels=True)
        measurements = tuple(entries[one.id] for one in specimen.measurements)
        if all(a is b for a, b in zip(measurements, specimen.measurements, strict=True)):
            return specimen
        return replace(specimen, measurements=measurements)

    def _settle(self, specimen: Specimen, entry: MeasurementEntry) -> MeasurementEntry:
        from measure.redo import recorded_length

        if entry.photo is None:
            reading = Reading(entry, recorded_length(entry) if entry.result else None)
            return self._note(entry, None, reading, with_pixels=True)
        shot = specimen.photo(entry.photo)
        photo = self._photos.photo(shot.id)
        known = self._known.get(entry.id)
        same = known is not None and known.shot is not None and same_scale(known.shot, shot)
        if known and same and known.reading.entry is entry and (known.with_pixels or photo is None):
            return entry
        if photo is None and entry.result is not None and (known is None or same):
            # The recorded result counts until the photo is open; no result outlives a change of its inputs.
            told = entry.extra.get("cautions")
            words = tuple(map(str, told)) if isinstance(told, list | tuple) else ()
            cautions = reworded(words, Audience.PAGE)
            reading = Reading(entry, recorded_length(entry), cautions=cautions)
            return self._note(entry, shot, reading, with_pixels=False)
        reading = self._instrument.read(entry, shot, photo)
        return self._note(entry, shot, reading, with_pixels=photo is not None)

    def _note(
        self,
        entry: MeasurementEntry,
        shot: PhotoEntry | None,
        reading: Reading,
        *,
        with_pixels: bool,
    ) -> MeasurementEntry:
        if reading.entry == entry:
            reading = replace(reading, entry=entry)
        self._known[entry.id] = _Known(reading, shot, with_pixels)
        return reading.entry

    def _difference(self, entry: MeasurementEntry) -> Reading:
        from measure.redo import difference_of, recorded_length, result_entry

        told = entry.extra.get("of")
        of = tuple(map(str, told)) if isinstance(told, list | tuple) and len(told) == 2 else ()
        pair = [self.reading(one) for one in of]
        lengths = [one.length for one in pair if one is not None and one.length is not None]
        if len(lengths) == 2 and entry.result is not None and all(map(self._from_record, of)):
            # Measured from the photos, it knows more of what its lengths share than their budgets tell.
            return Reading(entry, recorded_length(entry))
        if len(lengths) != 2:
            return Reading(replace(entry, result=None), trouble="One of the two lengths no longer exists.")
        length = difference_of(entry, lengths[0], lengths[1])
        return Reading(replace(entry, result=result_entry(length)), length)

    def _from_record(self, measurement_id: str) -> bool:
        """Tell whether a photo's length is still the recorded one, as its photo isn't open."""
        known = self._known.get(measurement_id)
        return known is not None and known.shot is not None and not known.with_pixels

    def trial(self, specimen: Specimen, entry: MeasurementEntry) -> Reading:
        """Measure an entry that is not recorded yet."""
        if entry.photo is None:
            raise AskError("This length was not measured on a photo.")
        shot = specimen.photo(entry.photo)
        return self._instrument.read(entry, shot, self._photos.photo(shot.id))

    def with_corners(self, specimen: Specimen, tried: PhotoEntry) -> dict[str, Any]:
        """Return the card's facts and the photo's lengths as they would be with other corners."""
        from measure.scale import scale_of

        photo = self._photos.photo(tried.id)
        scale = scale_of(tried, photo)
        assert tried.reference is not None
        lengths = {}
        for entry in specimen.measurements:
            if entry.photo == tried.id and entry.kind != "difference":
                reading = self._instrument.read(entry, tried, photo, scale)
                lengths[entry.id] = texts(reading.length) if reading.length else {"mm": reading.trouble}
        return {"lengths": lengths, "facts": card_words(tried.reference, scale)[1]}
