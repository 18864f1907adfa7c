"""From the record's entries to lengths, via the core: a photo's scale is computed once."""

from dataclasses import replace
from typing import TYPE_CHECKING

from calibration.errors import CalibrationError
from measure.desk.messages import AskError
from measure.desk.state import Reading, same_scale
from measure.desk.view import curves_px
from measure.errors import MeasureError
from measure.length import Length
from measure.record import MeasurementEntry, PhotoEntry
from measure.wording import Audience, all_worded, worded

if TYPE_CHECKING:
    from calibration.image import Photo
    from measure.kinds import Scale

_NOT_OPEN = "The photo is not open, so this can't be measured yet."


class Instrument:
    """Measures entries of a record; keeps the scale of each photo."""

    def __init__(self) -> None:
        self._scales: dict[str, tuple[PhotoEntry, Scale]] = {}

    def scale(self, entry: PhotoEntry, photo: "Photo | None") -> "Scale":
        """Return what a photo is measured by.

        Raises
        ------
        CalibrationError, MeasureError
            There is nothing, or it describes no plane.
        """
        from measure.scale import scale_of

        if not entry.has_scale:
            raise AskError("Nothing gives the scale in this photo yet.")
        known = self._scales.get(entry.id)
        if known is None or not same_scale(known[0], entry):
            known = self._scales[entry.id] = (entry, scale_of(entry, photo))
        return known[1]

    def read(
        self, entry: MeasurementEntry, shot: PhotoEntry, photo: "Photo | None", scale: "Scale | None" = None
    ) -> Reading:
        """Measure one entry on its photo; what prevents it is reported in words, never worked around.

        Parameters
        ----------
        entry : MeasurementEntry
            What was clicked.
        shot : PhotoEntry
            The photo with its reference.
        photo : Photo or None
            Its pixels.
        scale : Scale, optional
            Instead of the one of the photo's reference.
        """
        from measure.redo import measured_entry

        if photo is None:
            return _nothing(entry, _NOT_OPEN)
        try:
            scale = scale or self.scale(shot, photo)
            filled, measured = measured_entry(entry, scale, photo)
        except (CalibrationError, MeasureError) as error:
            return _nothing(entry, _sentence(str(error)))
        cautions = all_worded(measured.cautions, Audience.PAGE)
        if not isinstance(measured.result, Length):
            trouble = f"Cannot tell: {worded(measured.result, Audience.PAGE)}"
            return Reading(filled, trouble=_sentence(trouble), cautions=cautions)
        curves = curves_px(filled, scale.plane, measured.result.value_mm)
        return Reading(filled, measured.result, None, cautions, curves, measured.snapped)


def _nothing(entry: MeasurementEntry, trouble: str) -> Reading:
    extra = {key: value for key, value in entry.extra.items() if key not in ("cannot_tell", "cautions")}
    bare = replace(entry, used_px=entry.clicks_px, click_std_px=(), result=None, extra=extra)
    return Reading(bare, trouble=trouble)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")
