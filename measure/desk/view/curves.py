"""What is drawn of a measurement if joining its points would not show what was measured."""

from typing import TYPE_CHECKING

import numpy as np

from calibration.camera import Array
from calibration.errors import GeometryError
from measure.record import MeasurementEntry, Point

if TYPE_CHECKING:
    from calibration.plane import Plane

Points = tuple[Point, ...]


def curves_px(entry: MeasurementEntry, plane: "Plane", length_mm: float) -> tuple[Points, ...]:
    """Return the curves of a measured entry, as seen in the photo; none if its points suffice.

    Parameters
    ----------
    entry : MeasurementEntry
        With the points used.
    plane : Plane
        Of its photo.
    length_mm : float
        What was measured.

    Returns
    -------
    tuple of tuple of points
        (x, y) in px, along each curve.
    """
    draw = {"round": _rim, "tip": _corner}.get(entry.kind)
    if draw is None:
        return ()
    height_mm = float(np.mean(entry.standoff_mm))
    try:
        found = draw(plane.to_mm(entry.used_px, height_mm), length_mm)
        return () if found is None else (_as_seen(plane, found, height_mm),)
    except GeometryError:
        return ()


def _as_seen(plane: "Plane", line_mm: Array, height_mm: float) -> Points:
    return tuple((float(x), float(y)) for x, y in plane.to_px(line_mm, height_mm))


def _rim(points_mm: Array, _diameter_mm: float) -> Array:
    from measure.kinds import fit_circle

    circle = fit_circle(points_mm)
    turn = np.linspace(0.0, 2.0 * np.pi, 97)
    rim: Array = circle.centre_mm + circle.radius_mm * np.column_stack([np.cos(turn), np.sin(turn)])
    return rim


def _corner(points_mm: Array, radius_mm: float) -> Array | None:
    """Return both sides and between them the arc that touches them, or None for collinear sides."""
    first, last = points_mm[0], points_mm[-1]
    along, away = (_unit(points_mm[1] - first), _unit(last - points_mm[-2]))
    turned = along[0] * away[1] - along[1] * away[0]
    half = 0.5 * float(np.arctan2(abs(turned), along @ away))
    if not 0.01 < half < 1.56:
        return None
    reach = last - first
    vertex = first + (reach[0] * away[1] - reach[1] * away[0]) / turned * along
    inward = float(np.sign(turned)) * np.array([-along[1], along[0]])
    centre = vertex - radius_mm * np.tan(half) * along + radius_mm * inward
    angles = np.linspace(0.0, 2.0 * half, 33)[:, None] * float(np.sign(turned))
    start = -inward
    across = np.array([-start[1], start[0]])
    arc = centre + radius_mm * (np.cos(angles) * start + np.sin(angles) * across)
    return np.concatenate([first[None], arc, last[None]])


def _unit(step: Array) -> Array:
    return np.asarray(step / max(float(np.linalg.norm(step)), 1e-9))
