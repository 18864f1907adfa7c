"""Circles seen in perspective: ellipses, and their rims to a fraction of a pixel."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from calibration.edges.curved import SIGMA_PX, steps_across
from calibration.errors import GeometryError

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

_TUKEY = 4.685
_BLOCKS = 12
# As for straight edges: neighbouring points share paint, lens and light, so scatter understates the error.
_INFLATION = 1.3
# The position error that blur, sharpening and the rolled edge of a real rim leave, whatever the scatter.
RIM_FLOOR_PX = 0.05
_NO_ELLIPSE = "the points of the rim fit no ellipse: mark points well spread around it"


@dataclass(frozen=True, slots=True)
class Ellipse:
    """An ellipse in the photo.

    Attributes
    ----------
    centre_px : tuple of float
        (x, y). Not where the circle's centre is seen, unless the view is square on.
    semi_axes_px : tuple of float
        Longer and shorter half axis.
    angle_rad : float
        Of the longer axis against x.
    """

    centre_px: tuple[float, float]
    semi_axes_px: tuple[float, float]
    angle_rad: float

    def at(self, phases_rad: ArrayLike) -> tuple[Array, Array]:
        """Return points of the ellipse and the normals there.

        Parameters
        ----------
        phases_rad : (N,) array
            Eccentric anomalies, rad: 0 on the longer axis, rising as its angle does, from x toward y.

        Returns
        -------
        points_px, normals : (N, 2) arrays
            Points (x, y), and the outward unit normals.
        """
        t = np.asarray(phases_rad, dtype=float)
        a, b = self.semi_axes_px
        turn = _turn(self.angle_rad)
        points = np.stack([a * np.cos(t), b * np.sin(t)], axis=-1) @ turn.T + self.centre_px
        normals = np.stack([b * np.cos(t), a * np.sin(t)], axis=-1) @ turn.T
        return points, normals / np.linalg.norm(normals, axis=-1, keepdims=True)

    def phases(self, points_px: Array) -> Array:
        """Return the phases of the ellipse's points beside points close to it.

        Parameters
        ----------
        points_px : (N, 2) array
            Points (x, y) near the ellipse.

        Returns
        -------
        (N,) array
            Eccentric anomalies, rad, from -pi to pi: the closer a point is to the ellipse, the closer to that
            of the nearest point of it.
        """
        local = (np.asarray(points_px, float) - self.centre_px) @ _turn(self.angle_rad)
        return np.asarray(np.arctan2(local[:, 1] / self.semi_axes_px[1], local[:, 0] / self.semi_axes_px[0]))

    def distances(self, points_px: Array) -> Array:
        """Return the signed distances of points from the ellipse.

        Parameters
        ----------
        points_px : (N, 2) array
            Points (x, y) near the ellipse.

        Returns
        -------
        (N,) array
            Distances, px, outside positive; accurate to first order.
        """
        on, normals = self.at(self.phases(points_px))
        return np.asarray(np.einsum("nk,nk->n", points_px - on, normals))


def _turn(angle_rad: float) -> Array:
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    return np.array([[c, -s], [s, c]])


@dataclass(frozen=True, slots=True, eq=False)
class Rim:
    """A rim found in the photo.

    Attributes
    ----------
    ellipse : Ellipse
        The fit.
    points_px, normals : (N, 2) arrays
        Points of the edge, and the outward normals there.
    std_px : float
        Standard uncertainty of each point across the rim, such that independent points of this scatter give
        the right uncertainty of the whole.
    residual_px : float
        Robust standard deviation of the points about the ellipse.
    share : float
        Part of the rim, 0 to 1, that was seen on the ellipse.
    """

    ellipse: Ellipse
    points_px: Array
    normals: Array
    std_px: float
    residual_px: float
    share: float


def fit_ellipse(points_px: ArrayLike, weights: ArrayLike | None = None) -> Ellipse:
    """Fit an ellipse to points: directly first, then by least squares of the distances.

    Parameters
    ----------
    points_px : (N, 2) array
        At least 5 points (x, y); 3 or 4 give a circle.
    weights : (N,) array, optional
        Weights of the points' squared distances; only their ratios matter. By default all are equal.

    Returns
    -------
    Ellipse
        The fit.

    Raises
    ------
    GeometryError
        Fewer than 3 points, points on one line, or no ellipse among them.

    Notes
    -----
    Gauss-Newton steps on centre, half axes and angle, from the direct fit of Fitzgibbon et al. The circle
    minimises Kåsa's algebraic distance.

    References
    ----------
    Fitzgibbon, Pilu and Fisher, Direct least square fitting of ellipses, IEEE TPAMI 21(5), 1999.
    Kåsa, A circle fitting procedure and its error analysis, IEEE Trans. Instrum. Meas. 25(1), 1976.
    """
    points = np.asarray(points_px, dtype=float).reshape(-1, 2)
    if len(points) < 3:
        raise GeometryError(f"a rim needs at least 3 points, {len(points)} given: mark more of it")
    if len(points) < 5:
        return _circle(points)
    raw = cv2.fitEllipseDirect(points.astype(np.float32).reshape(-1, 1, 2))
    (x, y), (width, height), turn_deg = raw
    if not (np.isfinite([x, y, width, height]).all() and min(width, height) > 0):
        raise GeometryError(_NO_ELLIPSE)
    start = np.array([x, y, width / 2.0, height / 2.0, np.radians(turn_deg)])
    return _refine(points, np.ones(len(points)) if weights is None else np.asarray(weights, float), start)


def _circle(points: Array) -> Ellipse:
    from skimage.measure import CircleModel

    away = points - points.mean(axis=0)
    circle = CircleModel.from_estimate(points)
    if not circle or np.linalg.matrix_rank(2.0 * away, tol=1e-6 * float(np.abs(away).max() + 1e-9)) < 2:
        raise GeometryError("the points of the rim lie on one line: mark points well spread around it")
    (x, y), radius = circle.center, float(circle.radius)
    return Ellipse((float(x), float(y)), (radius, radius), 0.0)


def _refine(points: Array, weights: Array, start: Array) -> Ellipse:
    p = start.copy()
    root = np.sqrt(weights / weights.max())
    for _ in range(15):
        ellipse = Ellipse((p[0], p[1]), (p[2], p[3]), p[4])
        phases = ellipse.phases(points)
        on, normals = ellipse.at(phases)
        distance = np.einsum("nk,nk->n", points - on, normals)
        c, s = np.cos(phases), np.sin(phases)
        cosine, sine = np.cos(p[4]), np.sin(p[4])
        nx, ny = normals[:, 0], normals[:, 1]
        along_a = nx * cosine + ny * sine
        along_b = -nx * sine + ny * cosine
        turned = -p[2] * c * (nx * sine - ny * cosine) - p[3] * s * (nx * cosine + ny * sine)
        design = np.column_stack([nx, ny, along_a * c, along_b * s, turned])
        # Two equal axes leave the angle free: a slight damping holds it.
        normal = (design * root[:, None] ** 2).T @ design
        normal += np.diag([0, 0, 0, 0, 1e-6 * len(points) * max(p[2], p[3]) ** 2 * 1e-4 + 1e-9])
        try:
            step = np.linalg.solve(normal, (design * root[:, None] ** 2).T @ distance)
        except np.linalg.LinAlgError as error:  # points of such a short arc fit ellipses of any size
            raise GeometryError(_NO_ELLIPSE) from error
        step[2:4] = np.clip(step[2:4], -0.3 * p[2:4], 0.3 * p[2:4])
        p += step
        if np.abs(step[:4]).max() < 1e-7:
            break
    if not np.isfinite(p).all():
        raise GeometryError(_NO_ELLIPSE)
    a, b, angle = p[2], p[3], p[4]
    if b > a:
        a, b, angle = b, a, angle + np.pi / 2.0
    return Ellipse((float(p[0]), float(p[1])), (float(a), float(b)), float((angle + np.pi) % np.pi))


def find_rim(pixels: Pixels, rough: Ellipse, *, search_px: float | None = None) -> Rim | None:
    """Find the edge of a round object near a rough ellipse.

    Parameters
    ----------
    pixels : (H, W, 3) array
        The photo.
    rough : Ellipse
        Where it is, to within the search.
    search_px : float, optional
        How far to look on either side; by default 8 % of the mean half axis, at least 4 px.

    Returns
    -------
    Rim or None
        None where less than 40 % of it shows an edge that lies on one ellipse.

    Raises
    ------
    GeometryError
        The edges seen fit no ellipse at all.

    Notes
    -----
    Places by `steps_across`; ellipse by least distances with Tukey's biweight; the window shrinks as the fit
    settles. The places' uncertainty is the scatter of block means scaled to single places.
    """
    mean_px = float(np.mean(rough.semi_axes_px))
    window_px = search_px if search_px is not None else max(4.0, 0.08 * mean_px)
    count = int(np.clip(2.0 * np.pi * mean_px / 1.5, 48, 480))
    phases = np.arange(count) * (2.0 * np.pi / count)
    ellipse, kept = rough, np.zeros((0, 2))
    for _ in range(6):
        points, normals = ellipse.at(phases)
        inside = _inside(pixels, points, window_px)
        if inside.sum() < 24:
            return None
        places = steps_across(pixels, points[inside], normals[inside], search_px=window_px)
        seen = places.seen
        if seen.sum() < 12:
            return None
        kept = points[inside][seen] + places.offset_px[seen, None] * normals[inside][seen]
        ellipse, weights, residual_px = _robust(kept, ellipse)
        window_px = max(2.5, min(0.6 * window_px, 6.0 * residual_px))
    kept = kept + _curvature_shift(ellipse, kept, places.blur_px[seen])[:, None] * normals[inside][seen]
    ellipse, weights, residual_px = _robust(kept, ellipse)
    used = weights > 0.05
    share = float(used.sum()) / count
    if share < 0.4 or residual_px > 0.03 * mean_px + 1.0:
        return None
    _, outward = ellipse.at(ellipse.phases(kept[used]))
    std_px = _place_std(ellipse, kept[used])
    return Rim(ellipse, kept[used], outward, std_px, residual_px, share)


def _curvature_shift(ellipse: Ellipse, points: Array, blur_px: Array) -> Array:
    """Return how far blur has drawn the edge toward the centre of curvature, px.

    A disc of radius r blurred by a Gaussian of standard deviation s has its steepest point s²/(2 r) inside
    the rim, to first order; both the photo's blur and the derivative's own count.
    """
    a, b = ellipse.semi_axes_px
    t = ellipse.phases(points)
    radius = ((a * np.sin(t)) ** 2 + (b * np.cos(t)) ** 2) ** 1.5 / (a * b)
    blur2 = float(np.median(blur_px)) ** 2 + SIGMA_PX**2
    return np.asarray(blur2 / (2.0 * radius))


def _inside(pixels: Pixels, points: Array, margin_px: float) -> NDArray[np.bool_]:
    height, width = pixels.shape[:2]
    x, y = points[:, 0], points[:, 1]
    return np.asarray(
        (x > margin_px) & (y > margin_px) & (x < width - 1 - margin_px) & (y < height - 1 - margin_px)
    )


def _robust(points: Array, rough: Ellipse) -> tuple[Ellipse, Array, float]:
    residual = rough.distances(points)
    residual = residual - np.median(residual)
    ellipse, weights, sigma = rough, np.ones(len(points)), 1.0
    for _ in range(8):
        sigma = max(1.4826 * float(np.median(np.abs(residual))), 0.02)
        weights = (1.0 - np.clip(residual / (_TUKEY * sigma), -1.0, 1.0) ** 2) ** 2
        some = weights > 1e-6
        ellipse = fit_ellipse(points[some], weights[some])
        residual = ellipse.distances(points)
    return ellipse, weights, sigma


def _place_std(ellipse: Ellipse, points: Array) -> float:
    """Scatter of the points, from block means around the rim, so that what neighbours share is kept."""
    residual = ellipse.distances(points)
    block = np.floor((ellipse.phases(points) + np.pi) / (2.0 * np.pi) * _BLOCKS).astype(int) % _BLOCKS
    count = np.bincount(block, minlength=_BLOCKS)
    some = count > 0.2 * count.mean()
    means = np.bincount(block, residual, _BLOCKS)[some] / count[some]
    # Five parameters were fitted to the blocks.
    freedom = max(int(some.sum()) - 5, 2)
    variance = float(np.sum(means**2 * count[some]) / freedom)
    single = float(np.var(residual))
    whole = _INFLATION**2 * max(variance, single)
    # The floor is common to all points of a stretch: it must not average out over the rim.
    return float(np.sqrt(whole + RIM_FLOOR_PX**2 * len(points) / _BLOCKS))
