"""Whether the corners of other objects in the picture are square on the plane that an outline implies.

Things on a table mostly have square corners: boxes, papers, tiles, print. If the focal length is only
assumed, a rectangle of any proportions passes for a card of some tilt and focal length; on the plane that
this implies, the square corners of everything else are no longer square.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from calibration.camera import Camera
from calibration.cards.geometry import plane_axes
from calibration.cards.proposals import Segments, find_junctions
from calibration.image import Pyramid

Array = NDArray[np.float64]

# Junctions of segments that count: the lines meet this near the ends (`Junctions.cost`), and both are this
# long, px of the reduced photo.
_LARGEST_COST, _LEAST_LENGTH_PX = 0.25, 8.0
# Standard uncertainty of an angle: of the objects themselves, degrees, and of the ends of a segment, px.
_THINGS_DEG, _ENDS_PX = 1.5, 1.5
# This share of the corners is taken to be square; the others have any angle. So many of them at most count as
# independent, for one pattern gives hundreds.
_SQUARE_SHARE, _MOST_COUNTED = 0.4, 30.0
# Corners within the outline, and a little around it, don't belong to other objects.
_GROWN = 1.1
_TILT_STEP_DEG, _STEEPEST_DEG = 8.0, 70.0
# Rays this near to a plane's horizon (cosine) don't meet it at a usable point.
_HORIZON = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class RightAngles:
    """Corners where two straight edges meet, used to test planes.

    Attributes
    ----------
    points_px : (3, N, 2) array
        Corner, and far end of each of its two edges, in the photo.
    centred_px : (3, N, 2) array
        The same without the lens's distortion, relative to the principal point.
    std_deg : (N,) array
        Standard uncertainty of the angle between.
    """

    points_px: Array
    centred_px: Array
    std_deg: Array

    @classmethod
    def of(cls, pyramid: Pyramid, segments: Segments, camera: Camera) -> "RightAngles":
        """Collect the corners that segments make.

        Parameters
        ----------
        pyramid : Pyramid
            The photo.
        segments : Segments
            In px of its most reduced level.
        camera : Camera
            For lens and principal point.

        Returns
        -------
        RightAngles
            The corners whose edges are long enough; none is an answer, too.
        """
        junctions = find_junctions(segments)
        near = junctions.cost < _LARGEST_COST
        corner = junctions.corner[near]
        one, other = (
            _far_end(segments.ends[state[near] // 2], corner) for state in (junctions.leave, junctions.enter)
        )
        shorter = np.minimum(*(np.linalg.norm(end - corner, axis=1) for end in (one, other)))
        long = shorter > _LEAST_LENGTH_PX
        points = pyramid.to_full(np.stack([corner, one, other])[:, long], len(pyramid.levels) - 1)
        undistorted = camera.undistort_px(points.reshape(-1, 2)).reshape(points.shape)
        std_deg = np.hypot(_THINGS_DEG, np.degrees(_ENDS_PX / shorter[long]))
        return cls(points, undistorted - camera.principal_point_px, std_deg)

    def log_likelihood_ratio(self, corners_px: Array, camera: Camera, focal_px: float) -> float:
        """Return how much better or worse an outline's plane makes other things square than any plane.

        Parameters
        ----------
        corners_px : (4, 2) array
            The outline.
        camera : Camera
            Of the photo.
        focal_px : float
            The focal length that the outline implies.

        Returns
        -------
        float
            Logarithm of the ratio of likelihoods, 0 at the best; 0 too where nothing else has corners.
        """
        counted = ~self._belong_to(corners_px)
        number = np.count_nonzero(counted)
        if not number:
            return 0.0
        undistorted = camera.undistort_px(corners_px)[None]
        *_, own = plane_axes(undistorted, camera.principal_point_px, focal_px)
        normals = np.concatenate([np.where(own[:, 2:] > 0.0, own, -own), _normals()])
        off_deg = _off_square(normals, self.centred_px[:, counted] / focal_px)
        std = self.std_deg[counted]
        density = 180.0 / (np.sqrt(2.0 * np.pi) * std) * np.exp(-0.5 * (off_deg / std) ** 2)
        total = np.log(1.0 + _SQUARE_SHARE * (density - 1.0)).sum(axis=1)
        return float(total[0] - total.max()) * min(1.0, _MOST_COUNTED / number)

    def _belong_to(self, corners_px: Array) -> NDArray[np.bool_]:
        """Tell which corners have their tip or the middle of an edge within an outline."""
        middle = corners_px.mean(axis=0)
        start = middle + _GROWN * (corners_px - middle)
        along = np.roll(start, -1, axis=0) - start
        tip, one, other = self.points_px
        tested = np.stack([tip, 0.5 * (tip + one), 0.5 * (tip + other)])
        beyond = tested[:, :, None] - start
        side = along[:, 0] * beyond[..., 1] - along[:, 1] * beyond[..., 0]
        within = (side > 0.0).all(axis=2) | (side < 0.0).all(axis=2)
        return np.asarray(within.any(axis=0))


def _far_end(ends: Array, corner: Array) -> Array:
    distance = np.linalg.norm(ends - corner[:, None], axis=2)
    return np.asarray(ends[np.arange(len(ends)), distance.argmax(axis=1)])


@lru_cache(maxsize=1)
def _normals() -> Array:
    """Return the normals, (N, 3), of planes of all tilts, about equally spaced."""
    normals = [(0.0, 0.0, 1.0)]
    for tilt in np.radians(np.arange(_TILT_STEP_DEG, _STEEPEST_DEG, _TILT_STEP_DEG)):
        count = max(6, int(np.ceil(240.0 * np.sin(tilt) / _TILT_STEP_DEG)))
        turns = 2.0 * np.pi * np.arange(count) / count
        normals += [(np.sin(tilt) * np.cos(a), np.sin(tilt) * np.sin(a), np.cos(tilt)) for a in turns]
    result = np.array(normals)
    result.setflags(write=False)
    return result


def _off_square(normals: Array, centred: Array) -> Array:
    """Return by how much each corner's angle differs from 90 degrees on each plane, (P, N)."""
    rays = np.concatenate([centred, np.ones((*centred.shape[:2], 1))], axis=2)
    depths = np.einsum("pc,knc->kpn", normals, rays)
    tip, one, other = rays[:, None] / np.where(depths < _HORIZON, np.inf, depths)[..., None]
    ahead, aside = one - tip, other - tip
    product = np.einsum("pnc,pnc->pn", ahead, aside)
    length = np.linalg.norm(ahead, axis=2) * np.linalg.norm(aside, axis=2)
    off = np.degrees(np.arcsin(np.clip(product / np.maximum(length, 1e-12), -1.0, 1.0)))
    return np.where((depths < _HORIZON).any(axis=0), 90.0, off)
