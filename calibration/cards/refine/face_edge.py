"""Which of the edges seen along each side of a card belongs to its upper face.

Seen obliquely, a card shows its cut edge, the rim: the outer edge in the picture is the foot of the
rim, down on the table, and the face, which is the reference plane, ends up to a few pixels further in.
A contact shadow adds another outer edge. The distance from face to foot follows from the pose; which edge
is which follows from the profile, as far as the profile shows it.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calibration.camera import Camera
from calibration.cards.geometry import KindFit, homography, rectangle_corners
from calibration.cards.proposals import Pixels
from calibration.cards.refine.corners import RefinedQuad, assemble, corner_margin
from calibration.cards.refine.side_model import Scan
from calibration.cards.refine.side_posterior import Posterior, SideView, face_posteriors
from calibration.edges import EdgeFit, Path, encoded_across, medians

Array = NDArray[np.float64]

# A rim narrower than this can't be told from no rim.
_LEAST_FOOT_PX = 0.1
# Shadows are as long as the card is thick, but a sheet lifts off the table by more than its thickness.
_LEAST_THICKNESS_MM = 0.15
_REACH, _BEYOND = 1.7, 2.6
_LONGEST_PX = 30.0
_BLOCKS, _PER_BLOCK = 10, 12
# Error from compression or an unusual tone curve: in levels, and as a share of the step.
_LEVEL_STD, _STEP_STD = 0.6, 0.012
_TURN_SHARE = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class FaceOutline:
    """Four sides on the edge of the upper face.

    Attributes
    ----------
    refined : RefinedQuad
        The outline.
    sides : tuple of Posterior
        What is known of each side's position.
    """

    refined: RefinedQuad
    sides: tuple[Posterior, ...]


def fit_face_edges(pixels: Pixels, camera: Camera, refined: RefinedQuad, fit: KindFit) -> FaceOutline:
    """Move each side from wherever it was fitted to the edge of the upper face.

    Parameters
    ----------
    pixels : (H, W, 3) array
        The photo.
    camera : Camera
        For the principal point.
    refined : RefinedQuad
        Corner 0 -> corner 1 is the object's width.
    fit : KindFit
        The kind, and the focal length that fits it best.

    Returns
    -------
    FaceOutline
        The outline of the face, and what is known of each side's position; `refine.side_model` has the model.
    """
    shifts = rim_shifts(refined.corners_px, camera, fit)
    blur_px = min(side.blur_px for side in refined.sides)
    views = []
    for index, (side, shift) in enumerate(zip(refined.sides, shifts, strict=True)):
        length_mm = (fit.object.width_mm, fit.object.height_mm)[index % 2]
        margin = corner_margin(fit.object, length_mm)
        px_per_mm = float(np.linalg.norm(side.end - side.start)) / length_mm
        thickness_px = max(fit.object.thickness_mm, _LEAST_THICKNESS_MM) * px_per_mm
        scan = _scan(pixels, side, margin, float(shift), thickness_px)
        views.append(SideView(scan, thickness_px, blur_px, side.blur_px))
    posteriors = face_posteriors(views)
    sides = [_moved(side, posterior) for side, posterior in zip(refined.sides, posteriors, strict=True)]
    return FaceOutline(assemble(tuple(sides), refined.corners_px) or refined, tuple(posteriors))


def _moved(side: EdgeFit, posterior: Posterior) -> EdgeFit:
    moved = Path(side.start, side.end, side.sag_px).moved(posterior.mean_px, posterior.mean_px)
    # The fitted edge and the chosen one are not quite parallel: a rim looks wider at its nearer end.
    turn = (_TURN_SHARE * posterior.mean_px) ** 2 * np.array([[1.0, -1.0], [-1.0, 1.0]])
    return replace(
        side, start=moved.start, end=moved.end, offset_cov=side.offset_cov + posterior.variance_px2 + turn
    )


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


def _scan(pixels: Pixels, side: EdgeFit, margin: float, shift_px: float, thickness_px: float) -> Scan:
    """Return the median profile across a side, with the scatter between its sections as uncertainty."""
    foot_px = shift_px if shift_px > _LEAST_FOOT_PX else 0.0
    reach_px = min(max(_REACH * thickness_px, 0.8) + foot_px, _LONGEST_PX)
    step_px = max(0.5, reach_px / 24.0)
    outward_px = foot_px + float(np.clip(_BEYOND * thickness_px, 6.0, _LONGEST_PX)) + 2.0
    offsets = np.arange(-reach_px - 6.0, outward_px, step_px)
    along = np.linspace(margin, 1.0 - margin, _BLOCKS * _PER_BLOCK)
    path = Path(side.start, side.end, side.sag_px)
    levels = encoded_across(pixels, path, along, offsets).reshape(_BLOCKS, _PER_BLOCK, -1, 3)
    blocks = medians(levels.transpose(0, 2, 3, 1))
    middle = medians(blocks.transpose(1, 2, 0))
    # Standard error of a median, from the median deviation, for a normal distribution.
    deviation = medians(np.abs(blocks - middle).transpose(1, 2, 0))
    scatter = 1.2533 * 1.4826 * deviation / np.sqrt(_BLOCKS)
    floor = _LEVEL_STD + _STEP_STD * np.ptp(middle, axis=0)
    # Samples closer than a pixel are not independent.
    std = np.sqrt((scatter**2 + floor**2) / step_px)
    return Scan(offsets, middle, std, reach_px, foot_px, 1.6 * thickness_px)
