"""Lines that are straight in the scene: how far the lens bends them tells its distortion.

References
----------
Brown, Close-range camera calibration, Photogrammetric Engineering 37(8), 1971 (the plumb-line method).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calibration.camera import Array, lens_distortion
from calibration.errors import GeometryError
from calibration.plane import projection

# A point set by hand on a straight edge, and how straight the edge itself is.
LINE_STD_PX = 0.7


@dataclass(frozen=True, slots=True, eq=False)
class PlumbLine:
    """Points along one line that is straight in the scene.

    Attributes
    ----------
    points_px : (N, 2) array
        At least three, as seen; the ends and the middle say most.
    std_px : float
        Standard uncertainty of each point's distance from the line.
    """

    points_px: Array
    std_px: float = LINE_STD_PX

    def __post_init__(self) -> None:
        """Refuse what is no line."""
        points = self.points_px
        if points.ndim != 2 or points.shape[1:] != (2,) or len(points) < 3 or not np.all(np.isfinite(points)):
            raise GeometryError("a straight line needs three points or more: its ends and some between")
        if not self.std_px > 0:
            raise GeometryError("the points of a straight line need a standard uncertainty above zero")
        if float(np.linalg.norm(np.ptp(points, axis=0))) < 10.0 * self.std_px:
            raise GeometryError("the points of a straight line lie too close together: mark them far apart")


def plumb_residuals(sets: Array, distortion: tuple[float, ...], line: PlumbLine) -> Array:
    """Return the distances of a line's points from the straight line through them, distortion removed.

    Parameters
    ----------
    sets : (..., 10) array
        Parameter sets, see `calibration.plane.projection`.
    distortion : tuple of float
        A profile's polynomial coefficients, or zeros.
    line : PlumbLine
        What was marked.

    Returns
    -------
    (..., N) array
        In standard uncertainties of a point; the line is the one of least squares of its distances.
    """
    focal = np.exp(sets[..., projection.LOG_FOCAL])[..., None, None]
    bent = (line.points_px - sets[..., None, projection.PRINCIPAL_POINT]) / focal
    if any(distortion):
        bent = lens_distortion.undistort(bent, distortion)
    flat = lens_distortion.undistort_division(bent, sets[..., projection.DIVISION, None, None])
    # Removing distortion enlarges the picture's border, and with it the noise of points marked there.
    grown = np.linalg.norm(flat, axis=-1).mean(axis=-1) / np.linalg.norm(bent, axis=-1).mean(axis=-1)
    spread = flat - flat.mean(axis=-2, keepdims=True)
    sxx, syy = (np.mean(spread[..., axis] ** 2, axis=-1) for axis in (0, 1))
    angle = 0.5 * np.arctan2(2.0 * np.mean(spread[..., 0] * spread[..., 1], axis=-1), sxx - syy)
    off = spread[..., 1] * np.cos(angle)[..., None] - spread[..., 0] * np.sin(angle)[..., None]
    return np.asarray(off * focal[..., 0] / grown[..., None] / line.std_px)


def all_plumb_residuals(sets: Array, distortion: tuple[float, ...], lines: Sequence[PlumbLine]) -> Array:
    """Return `plumb_residuals` of several lines side by side, (..., sum of N)."""
    parts = [plumb_residuals(sets, distortion, line) for line in lines]
    return np.concatenate(parts, axis=-1) if parts else np.zeros((*sets.shape[:-1], 0))


def plumb_residuals_slope(sets: Array, distortion: tuple[float, ...], lines: Sequence[PlumbLine]) -> Array:
    """Return the derivatives (..., sum of N, 10) of `all_plumb_residuals`, by differences."""
    steps = np.zeros(projection.PARAMETERS)
    steps[[projection.LOG_FOCAL, projection.DIVISION]], steps[projection.PRINCIPAL_POINT] = 1e-5, 1e-2
    columns = []
    for step in np.diag(steps):
        size = float(step.sum())
        if size == 0.0:
            columns.append(np.zeros((*sets.shape[:-1], sum(len(line.points_px) for line in lines))))
            continue
        up, down = (
            all_plumb_residuals(sets + step, distortion, lines),
            all_plumb_residuals(sets - step, distortion, lines),
        )
        columns.append((up - down) / (2.0 * size))
    return np.stack(columns, axis=-1)
