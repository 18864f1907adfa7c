"""From clicked points to what is dimensioned in a drawing: two ends, a circle's diameter, a radius."""

from dataclasses import dataclass, field

import numpy as np

from measure.record import MeasurementEntry
from measure.writeup.draw.planes import MetricPlane, Points

_EMPTY = np.zeros((0, 2))


@dataclass(frozen=True, slots=True, eq=False)
class Dimension:
    """What is drawn for one measurement.

    Attributes
    ----------
    ends_px : (2, 2) array, px
        Ends of the measured length; for a radius its centre and a point of the arc.
    part_px : (N, 2) array, px
        Every point that the measurement touches.
    curve_px : (N, 2) array, px
        The fitted rim or arc; empty where there is none.
    sign : str
        Put before the figures: a diameter or radius sign (ISO 129-1), or nothing.
    """

    ends_px: Points
    part_px: Points
    curve_px: Points = field(default_factory=lambda: _EMPTY)
    sign: str = ""

    @property
    def pointed(self) -> bool:
        """Whether a leader points at it, rather than a dimension line lying beside it."""
        return self.sign == "R "


def dimension(entry: MeasurementEntry, plane: MetricPlane | None) -> Dimension | None:
    """Return what to draw for a measurement.

    Parameters
    ----------
    entry : MeasurementEntry
        Points in px; the height in mm at which a round or a tip lies.
    plane : MetricPlane or None
        None draws rounds and tips as the distance of their farthest points.

    Returns
    -------
    Dimension or None
        In px; None if it has no points in its photo.
    """
    points = np.array(entry.used_px or entry.clicks_px, float).reshape(-1, 2)
    if entry.kind == "difference" or len(points) < 2:
        return None
    if entry.kind == "round" and len(points) >= 3 and plane is not None:
        return _diameter(points, plane, entry.standoff_mm[0])
    if entry.kind == "tip" and len(points) >= 4 and plane is not None and entry.result is not None:
        return _radius(points, plane, entry.standoff_mm[0], entry.result.length_mm)
    if entry.kind == "gap" and len(points) == 4:
        return Dimension(np.array([points[:2].mean(axis=0), points[2:].mean(axis=0)]), points)
    return Dimension(_farthest(points), points)


def _farthest(points: Points) -> Points:
    apart = np.hypot(*(points[:, None, :] - points[None, :, :]).transpose(2, 0, 1))
    first, second = sorted(divmod(int(apart.argmax()), len(points)))
    return points[[first, second]]


def _diameter(points: Points, plane: MetricPlane, standoff_mm: float) -> Dimension:
    centre_mm, radius_mm = fit_circle(plane.to_mm(points, standoff_mm))
    turns = np.linspace(0.0, 2.0 * np.pi, 73)
    curve_mm = centre_mm + radius_mm * np.column_stack([np.cos(turns), np.sin(turns)])
    curve = plane.to_px(curve_mm, standoff_mm)
    # The most nearly horizontal diameter in the picture is the easiest to read.
    slopes = [abs(curve[i + 36] - curve[i])[1] for i in range(37)]
    level = int(np.argmin(slopes))
    return Dimension(curve[[level, level + 36]], np.vstack([points, curve]), curve, "\N{DIAMETER SIGN} ")


def _radius(points: Points, plane: MetricPlane, standoff_mm: float, radius_mm: float) -> Dimension:
    """Draw the arc of the measured radius between the two straight sides that were marked."""
    spots = plane.to_mm(points, standoff_mm)
    first, second = spots[0] - spots[1], spots[-1] - spots[-2]  # along each side, away from the corner
    first, second = first / np.hypot(*first), second / np.hypot(*second)
    across = np.column_stack([first, -second])
    if abs(np.linalg.det(across)) < 0.05:
        return Dimension(_farthest(points), points, sign="R ")
    corner = spots[0] + first * np.linalg.solve(across, spots[-1] - spots[0])[0]
    half = np.arccos(np.clip(first @ second, -1.0, 1.0)) / 2.0
    middle = (first + second) / np.hypot(*(first + second))
    centre = corner + middle * radius_mm / np.sin(half)
    # From one point of contact to the other, on the corner's side of the centre.
    sweep = np.linspace(-1.0, 1.0, 25) * (np.pi / 2.0 - half)
    turned = np.column_stack(
        [
            -middle[0] * np.cos(sweep) + middle[1] * np.sin(sweep),
            -middle[1] * np.cos(sweep) - middle[0] * np.sin(sweep),
        ]
    )
    arc = plane.to_px(centre + radius_mm * turned, standoff_mm)
    ends = np.array([plane.to_px(centre[None], standoff_mm)[0], arc[12]])
    return Dimension(ends, np.vstack([points, arc]), arc, "R ")


def fit_circle(points_mm: Points) -> tuple[Points, float]:
    """Fit a circle for drawing.

    Parameters
    ----------
    points_mm : (N, 2) array, mm
        At least three points, not in line.

    Returns
    -------
    (2,) array, mm; float, mm
        Centre and radius.

    Notes
    -----
    Algebraic least squares (I. Kåsa, IEEE Trans. Instrum. Meas. 25, 1976): good to the width of a drawn line;
    the measured value comes from the measurement itself.
    """
    from skimage.measure import CircleModel

    circle = CircleModel.from_estimate(points_mm)
    return np.asarray(circle.center), float(circle.radius)
