"""Rectified close-ups: a measured part as seen from straight above, at a stated scale."""

from dataclasses import dataclass
from math import hypot

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from measure.writeup.draw.busy import busy_map
from measure.writeup.draw.dimensions import Dimension
from measure.writeup.draw.drawing import Mark, arrange, draw_marks
from measure.writeup.draw.layout import Sheet
from measure.writeup.draw.pen import Pen, text_width_px
from measure.writeup.draw.planar import Points
from measure.writeup.draw.planes import MetricPlane, UprightPlane

_SIDE_PX = 1000
# A smaller picture would have no room for legible figures.
_LEAST_SIDE_PX = 720
_PAD_MM = 6.0
_GRID_PX = 16
_STEPS = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
_PAPER_BGR = (236, 233, 230)
_BARS_MM = (100, 50, 20, 10, 5, 2, 1)
# Beyond this the picture would only be enlarged.
_MOST_PX_PER_PHOTO_PX = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class CloseUp:
    """A rectified picture of one part.

    Attributes
    ----------
    picture : PIL image
        With dimension lines and a scale bar.
    px_per_mm : float
        Its scale at the stand-off it is rectified for.
    standoff_mm : float
        That stand-off.
    """

    picture: Image.Image
    px_per_mm: float
    standoff_mm: float

    @property
    def width_mm(self) -> float:
        """Width of what it shows."""
        return self.picture.width / self.px_per_mm

    @property
    def height_mm(self) -> float:
        """Height of what it shows."""
        return self.picture.height / self.px_per_mm


def close_up(
    pixels_bgr: NDArray[np.uint8],
    marks: tuple[Mark, ...],
    standoffs_mm: tuple[float, ...],
    plane: MetricPlane,
) -> CloseUp:
    """Rectify the surroundings of one part.

    Parameters
    ----------
    pixels_bgr : (H, W, 3) uint8 array
        The photo, with the card covered if it is to be.
    marks : tuple of Mark
        The part's measurements, in px of the photo.
    standoffs_mm : tuple of float
        Height of each above the card's plane; the first one's is used for the picture.
    plane : MetricPlane
        Of the photo.

    Returns
    -------
    CloseUp
    """
    standoff_mm = standoffs_mm[0]
    spots = [
        plane.to_mm(mark.dimension.part_px, high) for mark, high in zip(marks, standoffs_mm, strict=True)
    ]
    axes = _axes(marks, plane, standoff_mm)
    view, size = _view(np.concatenate(spots), axes, _native_px_per_mm(marks[0], plane, standoff_mm))
    flat = _rectified(pixels_bgr, plane, view, size, standoff_mm)
    drawn = tuple(
        Mark(mark.key, _flattened(mark.dimension, plane, view, high), mark.lines, mark.part)
        for mark, high in zip(marks, standoffs_mm, strict=True)
    )
    return CloseUp(_drawn(flat, drawn, view.px_per_mm), view.px_per_mm, standoff_mm)


def _native_px_per_mm(mark: Mark, plane: MetricPlane, standoff_mm: float) -> float:
    middle = mark.dimension.part_px.mean(axis=0)
    near = plane.to_mm(middle + _STEPS, standoff_mm)
    return 1.0 / max(hypot(*(near[1] - near[0])), hypot(*(near[2] - near[0])), 1e-9)


def _axes(marks: tuple[Mark, ...], plane: MetricPlane, standoff_mm: float) -> Points:
    """Return right and down in the card's plane: as in the photo, but squared to the longest span."""
    middle = marks[0].dimension.part_px.mean(axis=0)
    near = plane.to_mm(middle + _STEPS, standoff_mm)
    right, down = near[1] - near[0], near[2] - near[0]
    mirrored = right[0] * down[1] - right[1] * down[0] < 0.0
    longest = max(marks, key=lambda mark: hypot(*(mark.dimension.ends_px[1] - mark.dimension.ends_px[0])))
    ends = plane.to_mm(longest.dimension.ends_px, standoff_mm)
    angle = float(np.arctan2(right[1], right[0]))
    span = float(np.arctan2(*(ends[1] - ends[0])[::-1]))
    turn = (span - angle + np.pi / 4.0) % (np.pi / 2.0) - np.pi / 4.0
    if not longest.dimension.curve_px.size:
        angle += turn
    ex = np.array([np.cos(angle), np.sin(angle)])
    ey = np.array([-ex[1], ex[0]]) * (-1.0 if mirrored else 1.0)
    return np.array([ex, ey])


def _view(spots_mm: Points, axes: Points, native_px_per_mm: float) -> tuple[UprightPlane, tuple[int, int]]:
    turned = spots_mm @ axes.T
    low, high = turned.min(axis=0), turned.max(axis=0)
    pad_mm = max(_PAD_MM, 0.28 * float((high - low).max()))
    # Room for figures on the short side, too.
    grow = np.maximum(0.7 * float((high - low).max()) - (high - low), 0.0) / 2.0
    low, high = low - pad_mm - grow, high + pad_mm + grow
    extent = high - low
    longest_mm = float(extent.max())
    sharp_px_per_mm = min(_SIDE_PX / longest_mm, _MOST_PX_PER_PHOTO_PX * native_px_per_mm)
    px_per_mm = max(sharp_px_per_mm, _LEAST_SIDE_PX / longest_mm)
    size = (max(1, round(extent[0] * px_per_mm)), max(1, round(extent[1] * px_per_mm)))
    return UprightPlane(low @ axes, axes, px_per_mm), size


def _rectified(
    pixels_bgr: NDArray[np.uint8],
    plane: MetricPlane,
    view: UprightPlane,
    size: tuple[int, int],
    standoff_mm: float,
) -> NDArray[np.uint8]:
    # The mapping is smooth: it is computed on a coarse grid and filled in.
    wide, high = size
    columns, rows = wide // _GRID_PX + 2, high // _GRID_PX + 2
    grid = np.stack(np.meshgrid(np.arange(columns), np.arange(rows)), axis=-1).reshape(-1, 2) * float(
        _GRID_PX
    )
    source = plane.to_px(view.to_mm(grid), standoff_mm).reshape(rows, columns, 2)
    down, across = _weights(high, rows), _weights(wide, columns)
    maps = [(down @ source[:, :, axis] @ across.T).astype(np.float32) for axis in (0, 1)]
    # Where the photo is finer than the close-up, plain sampling would alias.
    fine = float(np.hypot(*(source[0, 1] - source[0, 0]))) / _GRID_PX
    smooth = cv2.GaussianBlur(pixels_bgr, (0, 0), 0.4 * fine) if fine > 1.5 else pixels_bgr
    flat = cv2.remap(
        smooth, maps[0], maps[1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_CONSTANT, borderValue=_PAPER_BGR
    )
    return np.asarray(flat, np.uint8)


def _weights(count: int, knots: int) -> NDArray[np.float64]:
    """Return the weights of linear interpolation from every 16th place to each place, (count, knots)."""
    at = np.arange(count) / _GRID_PX
    return np.maximum(1.0 - np.abs(at[:, None] - np.arange(knots)[None, :]), 0.0)


def _flattened(dimension: Dimension, plane: MetricPlane, view: UprightPlane, standoff_mm: float) -> Dimension:
    def flat(points_px: Points) -> Points:
        return view.to_px(plane.to_mm(points_px, standoff_mm)) if len(points_px) else points_px

    return Dimension(
        flat(dimension.ends_px), flat(dimension.part_px), flat(dimension.curve_px), dimension.sign
    )


def _drawn(flat_bgr: NDArray[np.uint8], marks: tuple[Mark, ...], px_per_mm: float) -> Image.Image:
    high, wide = flat_bgr.shape[:2]
    unit = 0.036 * float(np.sqrt(wide * high))
    pen = Pen(wide, high)
    pen.paste(Image.fromarray(np.ascontiguousarray(flat_bgr[:, :, ::-1])), 0, 0, wide, high)
    points = np.concatenate([mark.dimension.part_px for mark in marks])
    sheet = Sheet.blank(wide, high, busy_map(flat_bgr, points), unit)
    corner = _draw_corner_bar(pen, wide, high, px_per_mm, unit)
    placed = arrange(marks, sheet.without(corner))
    draw_marks(pen, marks, placed, unit)
    return pen.finished()


def _draw_corner_bar(pen: Pen, wide: int, high: int, px_per_mm: float, unit: float) -> Points:
    length_mm = next((mm for mm in _BARS_MM if mm * px_per_mm <= 0.28 * wide), _BARS_MM[-1])
    length_px, label = length_mm * px_per_mm, f"{length_mm} mm"
    plate_px = length_px + text_width_px(label, 0.8 * unit) + 1.5 * unit
    left, y = 0.4 * unit, high - 1.1 * unit
    pen.plate(np.array([left + plate_px / 2.0, y]), plate_px, 1.3 * unit)
    start = left + 0.5 * unit
    for number in range(5):
        x0, x1 = start + length_px * number / 5.0, start + length_px * (number + 1) / 5.0
        field = np.array(
            [[x0, y - 0.2 * unit], [x1, y - 0.2 * unit], [x1, y + 0.2 * unit], [x0, y + 0.2 * unit]]
        )
        pen.shape(field, (20, 20, 20) if number % 2 == 0 else (255, 255, 255), (20, 20, 20), 1.0)
    pen.text(label, (start + length_px + 0.5 * unit, y), 0.8 * unit, colour=(20, 20, 20))
    return np.array(
        [[0.0, high - 2.0 * unit], [left + plate_px, high - 2.0 * unit], [left + plate_px, high], [0.0, high]]
    )
