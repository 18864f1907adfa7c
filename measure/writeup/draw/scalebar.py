"""A scale bar that lies in the card's plane, in the photo's perspective."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from calibration.objects import ReferenceObject
from measure.writeup.draw.pen import Pen
from measure.writeup.draw.planar import Points, hull, inside, overlap
from measure.writeup.draw.planes import MetricPlane

_LENGTHS_MM = (500, 200, 100, 50, 20, 10, 5)
_GAP_MM = 5.0


@dataclass(frozen=True, slots=True, eq=False)
class ScaleBar:
    """Where the bar lies.

    Attributes
    ----------
    fields_px : tuple of (4, 2) arrays, px
        Its fields, alternately dark and light.
    length_mm : int
        Its length in the card's plane.
    """

    fields_px: tuple[Points, ...]
    length_mm: int

    @property
    def outline_px(self) -> Points:
        """Hull of the bar."""
        return hull(np.concatenate(self.fields_px))

    @property
    def label(self) -> str:
        """Its length for display."""
        return f"{self.length_mm} mm"


def scale_bar(
    plane: MetricPlane, thing: ReferenceObject, frame_px: tuple[float, float], taken_px: tuple[Points, ...],
    *, on_face: bool,
) -> ScaleBar | None:  # fmt: skip
    """Choose a place for the bar.

    Parameters
    ----------
    plane : MetricPlane
        Of the picture that is drawn on.
    thing : ReferenceObject
        The card.
    frame_px : (width, height)
        Of the picture.
    taken_px : tuple of (N, 2) arrays
        Shapes that it may not cover.
    on_face : bool
        The card's face is covered: the bar lies on the cover. Else it lies beside the card.

    Returns
    -------
    ScaleBar or None
        None where there is no room for one.
    """
    for start_mm, along, across, length_mm in _offers(thing, on_face):
        bar = _bar(plane, start_mm, along, across, length_mm)
        outline = bar.outline_px
        if inside(outline, *frame_px, 2.0) and not any(overlap(outline, shape) for shape in taken_px):
            return bar
    return None


def _offers(thing: ReferenceObject, on_face: bool) -> Iterator[tuple[Points, Points, Points, int]]:
    w, h = thing.width_mm, thing.height_mm
    ex, ey = np.array([1.0, 0.0]), np.array([0.0, 1.0])
    lengths = [length for length in _LENGTHS_MM if length <= 0.75 * max(w, h)]
    thick = 0.05 * min(w, h)
    if on_face:
        middle = np.array([w, h]) / 2.0
        along, across = (ex, ey) if w >= h else (ey, ex)
        yield middle - along * lengths[0] / 2.0 - across * thick / 2.0, along, across * thick, lengths[0]
        return
    for length in lengths:
        for along, across, side, run in ((ex, ey, h, w), (ey, ex, w, h)):
            for off in (side + _GAP_MM, -_GAP_MM - thick):
                yield along * (run - length) / 2.0 + across * off, along, across * thick, length


def _bar(plane: MetricPlane, start_mm: Points, along: Points, across_mm: Points, length_mm: int) -> ScaleBar:
    count = 5
    step_mm = length_mm / count
    fields = []
    for number in range(count):
        near = start_mm + along * step_mm * number
        far = near + along * step_mm
        fields.append(plane.to_px(np.array([near, far, far + across_mm, near + across_mm])))
    return ScaleBar(tuple(fields), length_mm)


def draw_scale_bar(pen: Pen, bar: ScaleBar, line_px: float) -> None:
    """Draw the fields, alternately dark and light."""
    for number, field in enumerate(bar.fields_px):
        pen.shape(field, (20, 20, 20) if number % 2 == 0 else (255, 255, 255), (20, 20, 20), line_px)
