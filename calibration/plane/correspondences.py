"""What is seen of the reference objects: points of known position in the plane, and their pixels."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from calibration.camera import Array
from calibration.errors import GeometryError
from calibration.objects import ReferenceObject

SIZE, FLATNESS = "card size", "card flatness"


@dataclass(frozen=True, slots=True, eq=False)
class Correspondences:
    """Points of one reference object and where they were seen.

    Attributes
    ----------
    points_mm : (N, 2) array
        Points in the object's own plane; those of the first object define the plane's frame.
    points_px : (N, 2) array
        Their pixels.
    cov_px2 : (2N, 2N) array
        Covariance of the pixels, order x0, y0, x1, y1...
    scale_std : tuple of float
        Relative standard uncertainty of the object's size along x and along y.
    flatness_std_mm : float
        Standard uncertainty of the height of each corner of the object's outline.
    height_mm : float or (N,) array
        Height of its face, or of each point, above that of the first object, toward the camera.
    modes : tuple of (str, (N, 3) array)
        Further ways in which all of its points may be off together, each in mm (z toward the camera) per
        standard uncertainty, with the source that it counts under.
    freedom : int or None
        Number of independent values in its pixels; two per point if None.
    round : bool
        True for a circle, whose rotation about its centre can't be seen.
    """

    points_mm: Array
    points_px: Array
    cov_px2: Array
    scale_std: tuple[float, float] = (0.0, 0.0)
    flatness_std_mm: float = 0.0
    height_mm: float | Array = 0.0
    modes: tuple[tuple[str, Array], ...] = ()
    freedom: int | None = None
    round: bool = False

    @property
    def seen_numbers(self) -> int:
        """Number of independent values in its pixels."""
        return 2 * len(self.points_px) if self.freedom is None else self.freedom

    def all_modes(self) -> tuple[tuple[str, Array], ...]:
        """Return size along x and y, the lifts of the outline's four corners, and the further modes."""
        still = np.zeros(len(self.points_mm))
        x, y = self.points_mm.T
        sizes = [(SIZE, np.stack([x * self.scale_std[0], still, still], axis=-1))]
        sizes.append((SIZE, np.stack([still, y * self.scale_std[1], still], axis=-1)))
        lifts = self.flatness_std_mm * corner_weights(self.points_mm).T
        flat = [(FLATNESS, np.stack([still, still, lift], axis=-1)) for lift in lifts]
        return (*sizes, *flat, *self.modes)


def correspondences_of_object(
    reference: ReferenceObject, corners_px: Array, cov_px2: Array
) -> Correspondences:
    """Return the fit's input for one rectangle seen at four corners.

    Parameters
    ----------
    reference : ReferenceObject
        The rectangle.
    corners_px : (4, 2) array
        (x, y) in order around it, the first side its width; sides prolonged where it is rounded.
    cov_px2 : (8, 8) array
        Their covariance, order x0, y0, x1, y1...

    Returns
    -------
    Correspondences
        In mm from the first corner, x along the width, with the tolerance of the size and of flatness.
    """
    w, h = reference.width_mm, reference.height_mm
    # Each corner off by itself, along x and along y.
    shifts = reference.outline_std_mm * np.eye(12).reshape(4, 3, 4, 3)[:, :2]
    return Correspondences(
        np.array([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]]),
        corners_px,
        cov_px2,
        (reference.width_std_mm / w, reference.height_std_mm / h),
        reference.flatness_std_mm,
        modes=tuple((FLATNESS, shift) for shift in shifts.reshape(8, 4, 3)) if shifts.any() else (),
    )


def corner_weights(points_mm: Array) -> Array:
    """Return how the lifts of the four corners of the points' outline act on each point, (N, 4)."""
    low, high = points_mm.min(axis=0), points_mm.max(axis=0)
    u, v = ((points_mm - low) / np.maximum(high - low, 1e-9)).T
    return np.stack([(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v], axis=-1)


def check_correspondences(correspondences: Sequence[Correspondences]) -> float:
    """Refuse impossible points; return the sign of the frame's z on the camera's side."""
    for matched in correspondences:
        check_sight(matched)
        if any(_in_line(points) for points in (matched.points_px, matched.points_mm)):
            raise GeometryError(
                "the reference's corners lie on one line: mark the four corners of the object"
            )
        if len(matched.points_px) == 4 and not _is_convex(matched.points_px):
            raise GeometryError(
                "the four corners form no convex outline: give them in order around the object"
            )
    return facing(correspondences[0])


def facing(matched: Correspondences) -> float:
    """Return the sign of its frame's z on the camera's side."""
    # Clockwise in the picture (y down) as in its own frame: z points away from the camera.
    flat = matched.points_mm - matched.points_mm.mean(axis=0)
    linear = np.linalg.lstsq(flat, matched.points_px - matched.points_px.mean(axis=0), rcond=None)[0]
    return -1.0 if float(np.linalg.det(linear)) > 0 else 1.0


def facing_as(matched: Correspondences, toward: float) -> Correspondences:
    """Return correspondences whose frame has its z on a given side: corners may be given in either direction.

    Parameters
    ----------
    matched : Correspondences
        As seen.
    toward : float
        Sign, 1 or -1, of the frame's z on the camera's side.

    Returns
    -------
    Correspondences
        With y turned round where needed.
    """
    if facing(matched) == toward:
        return matched
    return replace(matched, points_mm=matched.points_mm * [1.0, -1.0])


def check_sight(matched: Correspondences) -> None:
    """Refuse pixels that aren't finite, and an invalid covariance.

    Parameters
    ----------
    matched : Correspondences
        What is seen.

    Raises
    ------
    GeometryError
        Pixels or covariance aren't finite, don't fit together, or the covariance isn't positive definite.
    """
    seen = matched.points_px
    if not np.all(np.isfinite(seen)) or not np.all(np.isfinite(matched.cov_px2)):
        raise GeometryError("the reference's corners and their covariance must be finite numbers")
    if matched.cov_px2.shape != (seen.size, seen.size):
        raise GeometryError(
            f"a covariance of {seen.size} x {seen.size} numbers is needed, not {matched.cov_px2.shape}"
        )
    try:
        whitening(matched.cov_px2)
    except np.linalg.LinAlgError:
        raise GeometryError("the covariance of the corners must be positive definite") from None


def whitening(cov: Array) -> Array:
    """Return the matrix that turns errors of this covariance into independent ones of unit size.

    Raises
    ------
    LinAlgError
        It is not positive definite.
    """
    own = np.diag(cov)
    if np.count_nonzero(cov) > np.count_nonzero(own):
        return np.asarray(np.linalg.inv(np.linalg.cholesky(cov)))
    # Independent already, as a target's many corners are.
    if not np.all(own > 0.0):
        raise np.linalg.LinAlgError("a variance is not above zero")
    return np.diag(own**-0.5)


def _in_line(points: Array) -> bool:
    spread = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    return bool(spread[1] < 1e-3 * spread[0] or spread[1] == 0.0)


def _is_convex(corners: Array) -> bool:
    sides = np.roll(corners, -1, axis=0) - corners
    after = np.roll(sides, -1, axis=0)
    turns = sides[:, 0] * after[:, 1] - sides[:, 1] * after[:, 0]
    return bool(np.all(turns > 0) or np.all(turns < 0))
