"""From the record's entries to lengths, by way of the core: a photo's plane is fitted once."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from calibration.errors import CalibrationError
from measure.desk.actions import AskError
from measure.errors import MeasureError
from measure.length import Length
from measure.specimen import MeasurementEntry, PhotoEntry, Point, ReferenceEntry

if TYPE_CHECKING:
    from calibration.photo import Photo
    from calibration.plane import Plane

Points = tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Reading:
    """A measurement with what the core says of it.

    Attributes
    ----------
    entry : MeasurementEntry
        With the points used and the result filled in.
    length : Length or None
        None where there is none.
    trouble : str or None
        Why there is none, for people.
    cautions : tuple of str
    curves_px : tuple of point tuples
        What to draw instead of the points joined: a circle as seen, say.
    """

    entry: MeasurementEntry
    length: Length | None = None
    trouble: str | None = None
    cautions: tuple[str, ...] = ()
    curves_px: tuple[Points, ...] = ()


@dataclass(frozen=True, slots=True)
class _Job:
    plane: "Plane"
    photo: "Photo | None"
    entry: MeasurementEntry
    photo_id: str

    @property
    def names(self) -> dict[str, Any]:
        return {"photo_id": self.photo_id, "span_id": self.entry.id}


@dataclass(frozen=True, slots=True)
class _Done:
    used_px: Points
    std_px: tuple[float, ...]
    length: Length
    cautions: tuple[str, ...] = ()
    curves_px: tuple[Points, ...] = ()


class Instrument:
    """Measures entries of a record; keeps the plane of each photo's reference."""

    def __init__(self) -> None:
        self._planes: dict[str, tuple[ReferenceEntry, Plane]] = {}

    def plane(self, entry: PhotoEntry, photo: "Photo | None") -> "Plane":
        """Return the plane of a photo's reference.

        Raises
        ------
        CalibrationError, RecordError
            There is none, or its corners describe none.
        """
        from measure.remeasure import plane_of

        reference = entry.reference
        if reference is None:
            raise AskError("No card is marked in this photo yet.")
        known = self._planes.get(entry.id)
        if known is None or known[0] is not reference:
            known = self._planes[entry.id] = (reference, plane_of(entry, photo))
        return known[1]

    def trial_plane(self, entry: PhotoEntry, photo: "Photo | None") -> "Plane":
        """Return the plane for corners that are only being tried."""
        from measure.remeasure import plane_of

        return plane_of(entry, photo)

    def read(
        self, entry: MeasurementEntry, shot: PhotoEntry, photo: "Photo | None", plane: "Plane | None" = None
    ) -> Reading:
        """Measure one entry on its photo; whatever prevents it is told in words, never guessed around.

        Parameters
        ----------
        entry : MeasurementEntry
            What was clicked.
        shot : PhotoEntry
            The photo with its reference.
        photo : Photo or None
            Its pixels; without them points can't snap.
        plane : Plane, optional
            Instead of the plane of the entry's reference.
        """
        method = METHODS.get(entry.kind)
        if method is None:
            return Reading(
                replace(entry, result=None), trouble="This kind of measurement can't be made here."
            )
        if entry.snap and photo is None and not entry.used_px:
            return Reading(entry, trouble="The photo is still being opened.")
        from measure.remeasure import result_entry

        try:
            job = _Job(plane or self.plane(shot, photo), photo, entry, shot.id)
            done = method(job)
        except (CalibrationError, MeasureError) as error:
            bare = replace(entry, used_px=entry.clicks_px, result=None)
            return Reading(bare, trouble=_sentence(str(error)))
        filled = replace(
            entry, used_px=done.used_px, click_std_px=done.std_px, result=result_entry(done.length)
        )
        return Reading(filled, done.length, None, done.cautions, done.curves_px)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")


def _pair(points: Sequence[Point]) -> tuple[Point, Point]:
    if len(points) != 2:
        raise AskError("A length takes two points.")
    return points[0], points[1]


def _snapped(job: _Job) -> tuple[Points, tuple[float, ...]]:
    """Return two points, each moved to the clear edge beside it where the user wants that."""
    from measure.snapping import snap_span
    from measure.span import CLICK_STD_PX

    clicks = _pair(job.entry.clicks_px)
    if job.photo is None and job.entry.snap and len(job.entry.used_px) == 2:
        return job.entry.used_px, job.entry.click_std_px
    if not job.entry.snap or job.photo is None:
        return clicks, (CLICK_STD_PX, CLICK_STD_PX)
    points = snap_span(job.photo, clicks, snap=True, click_std_px=CLICK_STD_PX)
    return tuple(point.used_px for point in points), tuple(point.std_px for point in points)


def _span(job: _Job) -> _Done:
    from measure.span import measure_span
    from measure.span_cautions import span_cautions

    used, stds = _snapped(job)
    heights = job.entry.standoff_mm
    standoff: float | tuple[float, ...] = heights[0] if len(heights) == 1 else heights[:2]
    length = measure_span(
        job.plane,
        used,
        standoff_mm=standoff,
        standoff_std_mm=job.entry.standoff_std_mm,
        click_std_px=stds,
        **job.names,
    )
    cautions = span_cautions(job.plane, used, length, standoff_mm=standoff)
    return _Done(used, stds, length, cautions)


def _of_kind(job: _Job) -> _Done:
    from measure.kind_tip import CannotTell
    from measure.kinds import Choices, measure_kind

    if job.photo is None:
        raise AskError("The photo is still being opened.")
    entry = job.entry
    choices = Choices(
        snap=entry.snap,
        standoff_mm=float(np.mean(entry.standoff_mm)),
        standoff_std_mm=entry.standoff_std_mm,
        **job.names,
    )
    done = measure_kind(entry.kind, job.photo, job.plane, entry.clicks_px, choices)
    if isinstance(done.result, CannotTell):
        raise AskError(f"Cannot tell: {done.result.reason}")
    curves = (_rim(job, done.used_px),) if entry.kind == "round" else ()
    stds = (choices.click_std_px,) * len(done.used_px)
    return _Done(done.used_px, stds, done.result, done.cautions, curves)


def _rim(job: _Job, used_px: Points) -> Points:
    """Return the measured circle as the photo shows it."""
    from measure.kind_round import fit_circle

    height_mm = float(np.mean(job.entry.standoff_mm))
    circle = fit_circle(job.plane.to_mm(used_px, height_mm))
    turn = np.linspace(0.0, 2.0 * np.pi, 97)
    rim_mm = circle.centre_mm + circle.radius_mm * np.column_stack([np.cos(turn), np.sin(turn)])
    return tuple((float(x), float(y)) for x, y in job.plane.to_px(rim_mm, height_mm))


METHODS: Mapping[str, Callable[[_Job], _Done]] = {
    "span": _span,
    "gap": _of_kind,
    "round": _of_kind,
    "rise": _of_kind,
    "tip": _of_kind,
}
