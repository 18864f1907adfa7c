"""Corners that a person gave, moved onto the true edges where these are seen."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calibration.camera import Camera, camera_from_photo
from calibration.edges import EdgeFit, fit_edge
from calibration.errors import GeometryError
from calibration.objects import ReferenceObject
from calibration.photo import Photo
from calibration.quads import FoundCard
from calibration.quads_geometry import is_convex
from calibration.quads_kinds import fit_kinds
from calibration.quads_refine import assemble, corner_margin

Array = NDArray[np.float64]

HAND_STD_PX = 1.5
_FARTHEST_PX = 3.0


def refine_corners(
    photo: Photo, corners_px: ArrayLike, kind: ReferenceObject, *, camera: Camera | None = None
) -> FoundCard:
    """Move corners given by hand onto the object's edges, where edges are seen within 3 px.

    A corner moves only where both of its sides are seen; else it stays, with 1.5 px standard uncertainty.

    Parameters
    ----------
    photo : Photo
    corners_px : (4, 2) array
        In order around the object, either way; corner 0 -> corner 1 is its width, or its height where only
        that agrees with the proportions.
    kind : ReferenceObject
    camera : Camera, optional
        Taken from the photo's Exif where not given.

    Raises
    ------
    GeometryError
        Not four finite points, or they do not run around a convex outline.
    """
    camera = camera or camera_from_photo(photo)
    corners = _laid(_checked(corners_px), camera, kind)
    sides = tuple(_side(photo, corners, kind, index) for index in range(4))
    moved, cov, seen = corners.copy(), HAND_STD_PX**2 * np.eye(8), np.zeros(4, dtype=bool)
    refined = assemble(tuple(side for side in sides if side is not None), corners) if all(sides) else None
    if refined is not None and _agree(corners, refined.corners_px):
        moved, cov, seen = refined.corners_px, refined.cov_px2, np.ones(4, dtype=bool)
    fit = min(fit_kinds(moved, cov, camera, (kind,)), key=lambda item: item.turned)
    some = [side for side in sides if side is not None]
    return FoundCard(
        object=kind,
        corners_px=moved,
        corners_cov_px2=cov,
        confidence=1.0,
        accepted=True,
        cautions=() if seen.all() else (_KEPT,),
        blur_px=float(np.median([side.blur_px for side in some])) if some else 0.0,
        contrast=min((side.contrast for side in some), default=0.0),
        support=tuple(0.0 if side is None else side.share for side in sides),
        tilt_deg=fit.tilt_deg,
        aspect_error=fit.error,
        source="by hand",
    )


_KEPT = (
    "The corners were kept as given, with 1.5 px uncertainty each: no clear edges run between them;"
    " zoom in and set them as exactly as you can."
)


def _checked(corners_px: ArrayLike) -> Array:
    corners = np.asarray(corners_px, dtype=np.float64)
    if corners.shape != (4, 2) or not np.isfinite(corners).all():
        raise GeometryError("four corners are needed, each as x,y in pixels of the photo")
    for order in ([0, 1, 2, 3], [1, 0, 3, 2]):
        if is_convex(corners[order][None])[0]:
            return corners[order]
    raise GeometryError("the four corners enclose no convex outline: give them in order around the object")


def _laid(corners: Array, camera: Camera, kind: ReferenceObject) -> Array:
    """Turn by one corner where only that way round agrees with the object's proportions."""
    fits = {fit.turned: fit for fit in fit_kinds(corners, HAND_STD_PX**2 * np.eye(8), camera, (kind,))}
    if fits[True].chi2 < 9.0 and fits[False].chi2 > fits[True].chi2 + 25.0:
        return np.roll(corners, -1, axis=0)
    return corners


def _side(photo: Photo, corners: Array, kind: ReferenceObject, index: int) -> EdgeFit | None:
    start, end = corners[index], corners[(index + 1) % 4]
    margin = corner_margin(kind, kind.width_mm if index % 2 == 0 else kind.height_mm)
    search_px = float(np.clip(0.02 * np.linalg.norm(end - start), 1.0, _FARTHEST_PX))
    fit = fit_edge(photo.pixels_bgr, start, end, search_px=search_px, margins=(margin, margin))
    if fit is None or fit.share < 0.6 or fit.residual_px > 0.8:
        return None
    return fit


def _agree(given: Array, refined: Array) -> bool:
    return bool(np.linalg.norm(refined - given, axis=1).max() <= _FARTHEST_PX)
