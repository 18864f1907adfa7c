"""Corners set by hand, moved onto the true edges where those are visible."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calibration.camera import Camera, camera_from_photo
from calibration.cards.finder import FoundCard
from calibration.cards.geometry import fit_kinds, is_convex
from calibration.cards.refine import assemble, corner_margin, fit_face_edges, side_cautions
from calibration.cautions import Caution, CautionCode
from calibration.edges import EdgeFit, Path, fit_edge, sample_across
from calibration.errors import GeometryError
from calibration.image import Photo
from calibration.objects import ReferenceObject

Array = NDArray[np.float64]

HAND_STD_PX = 1.0
# An edge further from a corner by hand than this many of its standard uncertainties is another edge.
_FARTHEST_STD = 3.0
_FARTHEST_PX = 3.0
# Share of a side that must show the edge, and of the step's sum that must be left when its signs are kept.
_SEEN_SHARE = 0.8
_POLARITY_CONSISTENCY = 0.8
_LARGEST_RESIDUAL_PX = 0.6
# The sides are exchanged where this way round is out of the question, and the other way agrees or is at most
# a quarter as far off.
_AGREES_CHI2, _DISAGREES_CHI2, _FAR_BETTER = 9.0, 25.0, 0.25


def refine_corners(
    photo: Photo,
    corners_px: ArrayLike,
    kind: ReferenceObject,
    *,
    camera: Camera | None = None,
    corner_std_px: float = HAND_STD_PX,
) -> FoundCard:
    """Move corners given by hand onto the object's edges, if those are unambiguous.

    They move only where each side shows one edge of one contrast along nearly all of it, close to where it
    was marked: a card on a table does, a group of squares on a board, whose contrast alternates, does not.
    Otherwise all four stay as given, with the uncertainty stated for them.

    Parameters
    ----------
    photo : Photo
        Where they were marked.
    corners_px : (4, 2) array
        (x, y) in order around the object, either way; corner 0 -> corner 1 is its width, or its height where
        only that agrees with the proportions. Sides are prolonged where the material corner is rounded.
    kind : ReferenceObject
        What they belong to.
    camera : Camera, optional
        Taken from the photo's Exif where not given.
    corner_std_px : float
        Standard uncertainty of each coordinate as marked.

    Returns
    -------
    FoundCard
        Its corners run clockwise in the picture; a caution tells where they are kept as given.

    Raises
    ------
    GeometryError
        Not four finite points, or they do not run around a convex outline.
    """
    camera = camera or camera_from_photo(photo)
    corners = _width_first(_checked(corners_px), camera, kind, corner_std_px)
    farthest_px = min(_FARTHEST_PX, _FARTHEST_STD * corner_std_px)
    sides = tuple(_side(photo, corners, kind, index, farthest_px) for index in range(4))
    refined = assemble(tuple(side for side in sides if side is not None), corners) if all(sides) else None
    sure = refined is not None and _agree(corners, refined.corners_px, farthest_px)
    moved, cov = corners.copy(), corner_std_px**2 * np.eye(8)
    kept = Caution.of(CautionCode.CORNERS_AS_GIVEN, corner_std_px=corner_std_px)
    cautions: tuple[Caution, ...] = () if sure else (kept,)
    if refined is not None and sure:
        upright = min(
            fit_kinds(refined.corners_px, refined.cov_px2, camera, (kind,)), key=lambda item: item.turned
        )
        face = fit_face_edges(photo.pixels_bgr, camera, refined, upright)
        if _agree(corners, face.refined.corners_px, farthest_px):
            refined, cautions = face.refined, side_cautions(face, kind)
        moved, cov = refined.corners_px, refined.cov_px2
    fit = min(fit_kinds(moved, cov, camera, (kind,)), key=lambda item: item.turned)
    some = [side for side in sides if side is not None]
    return FoundCard(
        object=kind,
        corners_px=moved,
        corners_cov_px2=cov,
        confidence=1.0,
        accepted=True,
        cautions=cautions,
        blur_px=float(np.median([side.blur_px for side in some])) if some else 0.0,
        contrast=min((side.contrast for side in some), default=0.0),
        support=tuple(0.0 if side is None else side.share for side in sides),
        tilt_deg=fit.tilt_deg,
        aspect_error=fit.error,
        source="by hand",
    )


def _checked(corners_px: ArrayLike) -> Array:
    """Return the corners as given where they run around an outline, else sorted around their middle."""
    corners = np.asarray(corners_px, dtype=np.float64)
    if corners.shape != (4, 2) or not np.isfinite(corners).all():
        raise GeometryError("four corners are needed, each as x,y in pixels of the photo")
    away = corners - corners.mean(axis=0)
    around = np.argsort(np.arctan2(away[:, 1], away[:, 0]))
    around = np.roll(around, -int(np.argmax(around == 0)))
    for order in (np.arange(4), around):
        if is_convex(corners[order][None])[0]:
            return corners[order]
    raise GeometryError("the four corners enclose no convex outline: give them in order around the object")


def _width_first(corners: Array, camera: Camera, kind: ReferenceObject, corner_std_px: float) -> Array:
    """Shift the order by one corner where that agrees with the object's proportions far better."""
    fits = {fit.turned: fit for fit in fit_kinds(corners, corner_std_px**2 * np.eye(8), camera, (kind,))}
    as_given, turned = fits[False], fits[True]
    agrees = turned.chi2 < _AGREES_CHI2 or turned.error < _FAR_BETTER * as_given.error
    if agrees and as_given.chi2 > turned.chi2 + _DISAGREES_CHI2:
        return np.roll(corners, -1, axis=0)
    return corners


def _side(
    photo: Photo, corners: Array, kind: ReferenceObject, index: int, farthest_px: float
) -> EdgeFit | None:
    start, end = corners[index], corners[(index + 1) % 4]
    margin = corner_margin(kind, kind.width_mm if index % 2 == 0 else kind.height_mm)
    search_px = float(np.clip(0.02 * np.linalg.norm(end - start), 1.0, farthest_px))
    fit = fit_edge(photo.pixels_bgr, start, end, search_px=search_px, margins=(margin, margin))
    if fit is None or fit.share < _SEEN_SHARE or fit.residual_px > _LARGEST_RESIDUAL_PX:
        return None
    return fit if _polarity_consistency(photo, fit, margin) else None


def _polarity_consistency(photo: Photo, fit: EdgeFit, margin: float) -> bool:
    """Whether the colour changes across the edge in the same direction all along it."""
    path = Path(fit.start, fit.end, fit.sag_px)
    reach_px = 2.0 + 2.0 * fit.blur_px
    offsets = np.array([-reach_px - 1.0, -reach_px, reach_px, reach_px + 1.0])
    colours = sample_across(photo.pixels_bgr, path, np.linspace(margin, 1.0 - margin, 48), offsets)
    steps = colours[:, 2:].mean(axis=1) - colours[:, :2].mean(axis=1)
    sizes = np.linalg.norm(steps, axis=1)
    return bool(np.linalg.norm(steps.mean(axis=0)) >= _POLARITY_CONSISTENCY * sizes.mean())


def _agree(given: Array, refined: Array, farthest_px: float) -> bool:
    return bool(np.linalg.norm(refined - given, axis=1).max() <= farthest_px)
