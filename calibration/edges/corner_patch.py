"""The neighbourhood of a corner in a photo, and the picture that a corner of some radius makes there."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.edges.straight import sample
from calibration.plane import Plane

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

_MOST_PATCH_PX = 260


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """Two straight sides that meet at a corner.

    Attributes
    ----------
    vertex_mm : (2,) array
        Where they meet, prolonged.
    along : (2, 2) array
        Unit vectors from there along the sides.
    reach_mm : float
        How far the nearer mark is from the vertex.
    offset_std_mm : (2,) array
        Standard uncertainty of each side's place at the corner.
    blur_px : float
        Standard deviation of the blur.
    vertex_px : (2,) array
        The vertex in the photo.
    """

    vertex_mm: Array
    along: Array
    reach_mm: float
    offset_std_mm: Array
    blur_px: float
    vertex_px: Array

    @property
    def half_angle(self) -> float:
        """Half the angle between the sides."""
        return float(np.arccos(np.clip(self.along[0] @ self.along[1], -1.0, 1.0))) / 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Patch:
    """The corner's neighbourhood.

    Attributes
    ----------
    values : (P,) array
        Brightness along the step between part and background.
    places : (P, 2) array
        Where, relative to the vertex, for brightness gradients.
    used : (H, W) bool array
        Which pixels of the window these are.
    points_mm : (2 H, 2 W, 2) array
        Two samples a pixel each way.
    scale : float
        mm per px.
    """

    values: Array
    places: Array
    used: NDArray[np.bool_]
    points_mm: Array
    scale: float


def patch_of(pixels: Pixels, plane: Plane, sides: Sides, height_mm: float, scale: float) -> Patch | None:
    """Cut out a corner's neighbourhood; None at the edge of the photo, or if there is too little of it."""
    margin = 3.0 * sides.blur_px + 3.0
    reach_px = min(0.75 * sides.reach_mm / scale, _MOST_PATCH_PX / 2.0)
    inner = sides.vertex_mm + sides.along.sum(axis=0) * reach_px * scale * 0.5
    outline = np.array([sides.vertex_mm, *(sides.vertex_mm + sides.along * reach_px * scale), inner])
    seen = plane.to_px(outline, height_mm)
    low = np.floor(seen.min(axis=0) - margin).astype(int)
    high = np.ceil(seen.max(axis=0) + margin).astype(int)
    if np.any(low < 1) or high[0] > pixels.shape[1] - 2 or high[1] > pixels.shape[0] - 2:
        return None
    xs, ys = np.arange(low[0], high[0] + 1.0), np.arange(low[1], high[1] + 1.0)
    grid = np.stack(np.meshgrid(xs, ys), axis=-1)
    colours = sample(pixels, grid)
    fine = np.stack(
        np.meshgrid(
            np.arange(2 * len(xs)) / 2.0 + low[0] - 0.25, np.arange(2 * len(ys)) / 2.0 + low[1] - 0.25
        ),
        axis=-1,
    )
    points = plane.to_mm(fine.reshape(-1, 2), height_mm).reshape(*fine.shape)
    sharp = _reduced(_depth(points, sides, 0.0))
    distance = np.linalg.norm(_reduced(points) - sides.vertex_mm, axis=-1)
    band = 2.5 * sides.blur_px * scale + 2.0 * scale
    most = largest_radius(sides)
    rounded = _reduced(_depth(points, sides, most))
    used = (sharp < band) & (rounded > -band) & (distance < reach_px * scale)
    inside, outside = (sharp < -band) & (distance < reach_px * scale), (sharp > band) & used
    core = (rounded < -band) & (distance < reach_px * scale)
    inside = core if core.sum() > 20 else inside
    outside = outside if outside.sum() > 20 else (sharp > 0) & used
    if used.sum() < 30 or inside.sum() < 5 or outside.sum() < 5:
        return None
    step = np.median(colours[inside], axis=0) - np.median(colours[outside], axis=0)
    brightness = colours @ (step / max(float(np.linalg.norm(step)), 1e-9))
    places = (grid - sides.vertex_px)[used] / max(reach_px, 1.0)
    return Patch(brightness[used], places, used, points, scale)


def largest_radius(sides: Sides) -> float:
    """Largest radius whose rounding leaves a quarter of each side straight."""
    return 0.75 * sides.reach_mm * float(np.tan(sides.half_angle))


def _reduced(fine: Array) -> Array:
    rows, columns = fine.shape[0] // 2, fine.shape[1] // 2
    return np.asarray(fine.reshape(rows, 2, columns, 2, *fine.shape[2:]).mean(axis=(1, 3)))


def _depth(
    points: Array, sides: Sides, radius_mm: float, shift_mm: tuple[float, float] = (0.0, 0.0)
) -> Array:
    """Signed distance from the rounded corner's outline, inside negative."""
    t = sides.along
    cross = float(t[0, 0] * t[1, 1] - t[0, 1] * t[1, 0])
    turn = 1.0 if cross > 0 else -1.0
    # Inward normals of both sides.
    inward = np.stack([turn * np.array([-t[0, 1], t[0, 0]]), -turn * np.array([-t[1, 1], t[1, 0]])])
    away = points - sides.vertex_mm
    one = radius_mm - (away @ inward[0] - shift_mm[0])
    other = radius_mm - (away @ inward[1] - shift_mm[1])
    if radius_mm <= 0.0:
        return np.asarray(np.maximum(one, other))
    centre = np.linalg.solve(inward, radius_mm + np.array(shift_mm))
    apart = away - centre
    beyond = (apart @ t[0] < 0.0) & (apart @ t[1] < 0.0)
    flat = np.maximum(one, other)
    return np.asarray(np.where(beyond, np.linalg.norm(apart, axis=-1), flat) - radius_mm)


def misfit(
    patch: Patch,
    sides: Sides,
    radius_mm: float,
    *,
    shift_mm: tuple[float, float] = (0.0, 0.0),
    blur: float = 1.0,
) -> float:
    """Return the sum of squares left when the picture of a corner of this radius is fitted to the photo.

    Parameters
    ----------
    patch : Patch
        The corner's neighbourhood.
    sides : Sides
        The sides that meet there.
    radius_mm : float
        Radius of the rounding.
    shift_mm : tuple of float
        By how much each side is moved inward.
    blur : float
        Blur at the corner over that of the sides.

    Returns
    -------
    float
        In squares of the patch's brightness.

    Notes
    -----
    Where the part covers the share s of a pixel, blurred as the photo is, the brightness is taken as

    .. math:: s (a_0 + a_1 x + a_2 y) + (1 - s) (b_0 + b_1 x + b_2 y),

    x and y being the patch's places. Least squares give the six of

    ========  ========================  ================================================
    shades    unit                      meaning
    ========  ========================  ================================================
    a_0, b_0  brightness                part and background at the vertex
    a_1, b_1  brightness per unit of x  their slopes along x, held by a slight ridge
    a_2, b_2  brightness per unit of y  their slopes along y, likewise
    ========  ========================  ================================================
    """
    depth = _depth(patch.points_mm, sides, radius_mm, shift_mm)
    share = _reduced(np.clip(0.5 - depth / (0.5 * patch.scale), 0.0, 1.0))
    sigma = max(blur * sides.blur_px, 0.3)
    share = np.asarray(cv2.GaussianBlur(share, (0, 0), sigma, borderType=cv2.BORDER_REPLICATE), float)[
        patch.used
    ]
    x, y = patch.places.T
    plain = np.stack([np.ones_like(x), x, y], axis=1)
    design = np.concatenate([plain * share[:, None], plain * (1.0 - share[:, None])], axis=1)
    normal = design.T @ design + 1e-6 * len(share) * np.diag([0.0, 1.0, 1.0, 0.0, 1.0, 1.0])
    try:
        solved = np.linalg.solve(normal, design.T @ patch.values)
    except np.linalg.LinAlgError:
        # The rounding lies outside the patch, which then shows the part or the background alone.
        return misfit_without(patch)
    left = patch.values - design @ solved
    return float(left @ left)


def misfit_without(patch: Patch) -> float:
    """Sum of squares left if there is no corner, only one even gradient."""
    x, y = patch.places.T
    design = np.stack([np.ones_like(x), x, y], axis=1)
    left = patch.values - design @ np.linalg.lstsq(design, patch.values, rcond=None)[0]
    return float(left @ left)
