"""Telling a card's upper face from the foot of its rim.

Seen aslant, a card shows the cut side of its thickness: the outer edge in the picture is the foot of the
rim, down on the table, and the face, which is the plane of reference, ends up to a few pixels further in.
How far the two lie apart follows from the pose; which of them a visible step is follows from the profile,
where that tells.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from calibration.camera import Camera
from calibration.edge_profiles import Path, sample_across
from calibration.edges import EdgeFit
from calibration.quads_geometry import homography, rectangle_corners
from calibration.quads_kinds import KindFit
from calibration.quads_lines import Pixels
from calibration.quads_refine import RefinedQuad, assemble, corner_margin

Array = NDArray[np.float64]

_LEAST_SHIFT_PX = 0.25
_STEP_PX = 0.5
_SOFTER = 1.6
_SHADOW_PX = 2.5
_MOVING_COST = 5.0


@dataclass(frozen=True, slots=True)
class _View:
    """Profiles across one side: their blur, the reach of a contact shadow, the share left out at the ends."""

    sigma_px: float
    shadow_px: float
    margin: float


def settle_rim(pixels: Pixels, camera: Camera, refined: RefinedQuad, fit: KindFit) -> RefinedQuad:
    """Move the sides whose rim is in view from wherever they were fitted to the edge of the upper face.

    Parameters
    ----------
    pixels : (H, W, 3) array
        The photo.
    camera : Camera
        For the principal point.
    refined : RefinedQuad
        Corner 0 -> corner 1 is the object's width.
    fit : KindFit
        The kind, and the focal length that suits.
    """
    shifts = rim_shifts(refined.corners_px, camera, fit)
    blur_px = max(min(side.blur_px for side in refined.sides), 0.4)
    sides = []
    for index, (side, shift) in enumerate(zip(refined.sides, shifts, strict=True)):
        length_mm = (fit.object.width_mm, fit.object.height_mm)[index % 2]
        px_per_mm = float(np.linalg.norm(side.end - side.start)) / length_mm
        view = _View(
            float(np.hypot(blur_px, 0.3)), max(1.2 * px_per_mm, 1.0), corner_margin(fit.object, length_mm)
        )
        # A side in view has two edges; one that is softer than the others has a shadow beside it.
        two, soft = shift > _LEAST_SHIFT_PX, side.blur_px > _SOFTER * blur_px + 0.2
        apart_px = float(shift) if two else 0.0
        settled = _face_edge(pixels, side, apart_px, view, soft=soft) if two or soft else side
        sides.append(_less_sure(settled, blur_px) if soft else settled)
    return assemble(tuple(sides), refined.corners_px) or refined


def _less_sure(side: EdgeFit, blur_px: float) -> EdgeFit:
    # What softens one side more than the others is a shadow, and where in it the card ends is open.
    return replace(side, offset_cov=side.offset_cov + max(side.blur_px**2 - blur_px**2, 0.0))


def rim_shifts(corners_px: Array, camera: Camera, fit: KindFit) -> Array:
    """Return how far outside each side of the face the foot of its rim is seen, px, (4,).

    Negative where the face hides the rim.
    """
    width, height = fit.object.width_mm, fit.object.height_mm
    flat = rectangle_corners(width, height)
    (cx, cy), f = camera.principal_point_px, fit.focal_px
    columns = homography(flat, (corners_px - (cx, cy)) / f)
    scale = 0.5 * float(np.linalg.norm(columns[:, 0]) + np.linalg.norm(columns[:, 1]))
    # Away from the camera is down into the table: the third axis of a right-handed frame with y down.
    down = np.cross(columns[:, 0], columns[:, 1]) / scale**2
    middles = 0.5 * (flat + np.roll(flat, -1, axis=0))
    face = np.c_[middles, np.ones(4)] @ columns.T / scale
    foot = face + fit.object.thickness_mm * down
    moved = f * (foot[:, :2] / foot[:, 2:] - face[:, :2] / face[:, 2:])
    vectors = np.roll(corners_px, -1, axis=0) - corners_px
    normals = np.stack([vectors[:, 1], -vectors[:, 0]], axis=1) / np.linalg.norm(
        vectors, axis=1, keepdims=True
    )
    return np.asarray((moved * normals).sum(axis=1))


def _face_edge(pixels: Pixels, side: EdgeFit, shift_px: float, view: _View, *, soft: bool) -> EdgeFit:
    """Weigh every place of the face's edge that two steps this far apart would explain, and take the mean."""
    path = Path(side.start, side.end, side.sag_px)
    # A soft edge may be the outer end of the contact shadow, further out than the foot.
    inward = shift_px + (_SHADOW_PX if soft else 0.8)
    offsets = np.arange(-inward - 2.0, max(shift_px, 1.5) + 3.0, _STEP_PX)
    along = np.linspace(view.margin, 1.0 - view.margin, 120)
    profile = np.median(sample_across(pixels, path, along, offsets), axis=0)
    places = np.arange(-inward, 0.81, 0.1 + 0.02 * shift_px)
    misfit = _misfits(profile, offsets, places, shift_px, view)
    weight = np.exp(-0.5 * (misfit - misfit.min()))
    weight /= weight.sum()
    mean = float(weight @ places)
    spread = float(weight @ (places - mean) ** 2)
    moved = path.moved(mean, mean)
    return replace(side, start=moved.start, end=moved.end, offset_cov=side.offset_cov + spread)


def _misfits(profile: Array, offsets: Array, places: Array, shift_px: float, view: _View) -> Array:
    """Chi-squared, (P,), of two blurred steps at the face's edge and at the foot of the rim."""
    at_face = offsets[None] - places[:, None]
    beyond = at_face - shift_px
    outside = ndtr(beyond / view.sigma_px)
    shade = outside * (1.0 - np.exp(-np.maximum(beyond, 0.0) / view.shadow_px))
    ramp = beyond * outside
    design = np.stack([np.ones_like(beyond), ndtr(at_face / view.sigma_px), outside, shade, ramp], axis=2)
    # Sharpening and compression leave a few per cent of the step; a third of the samples are independent.
    variance = 3.0 * max(1.0, 0.03 * float(np.ptp(profile, axis=0).max())) ** 2
    # Either step may be absent, but neither much exceeds what is seen.
    spread = np.ptp(profile, axis=0) + 5.0
    normal = np.einsum("pmi,pmj->pij", design, design) / variance + 1e-9 * np.eye(5)
    right = np.einsum("pmi,mc->pci", design, profile) / variance
    normal = np.repeat(normal[:, None], profile.shape[1], axis=1)
    normal[:, :, 1, 1] += 1.0 / spread**2
    normal[:, :, 2, 2] += 1.0 / spread**2
    solution = np.linalg.solve(normal, right[..., None])[..., 0]
    left = profile.T[None] - np.einsum("pmi,pci->pcm", design, solution)
    prior = (solution[:, :, 1] ** 2 + solution[:, :, 2] ** 2) / spread**2
    # Where one step alone is seen it is taken for the face's, unless something speaks for the foot.
    moved = np.clip(-places / max(shift_px, 1.0), 0.0, 1.0)
    return np.asarray((left**2).sum(axis=(1, 2)) / variance + prior.sum(axis=1) / 3.0 + _MOVING_COST * moved)
