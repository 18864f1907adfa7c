"""The plane of a printed target from all of its corners that are seen."""

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.camera import Array, Camera
from calibration.cards import FoundCard
from calibration.image import Pyramid
from calibration.objects import TARGET_SHEET, ReferenceObject
from calibration.plane import CORNERS, Plane, fit_plane_points, projection
from calibration.printed_target import TARGET, FoundTarget, PrintScale, TargetLayout

_PRESCREEN_BELOW_PX = 1600
_PRESCREEN_MARKERS = 4


def target_object(scale: PrintScale, layout: TargetLayout = TARGET) -> ReferenceObject:
    """Return a print of the target as a reference object: its board of squares as printed."""
    width_mm, height_mm = layout.width_mm * scale.across, layout.height_mm * scale.down
    return replace(
        TARGET_SHEET,
        width_mm=width_mm,
        height_mm=height_mm,
        width_std_mm=width_mm * scale.across_std,
        height_std_mm=height_mm * scale.down_std,
        source="check rules measured by the user" if scale.checked else TARGET_SHEET.source,
    )


def plane_of_target(camera: Camera, found: FoundTarget) -> Plane:
    """Fit the plane of a target found in a photo.

    Parameters
    ----------
    camera : Camera
        With its uncertainties; many corners improve focal length and lens as well.
    found : FoundTarget
        The corners.

    Raises
    ------
    GeometryError
        No plane fits the corners.
    """
    scale = found.scale
    return fit_plane_points(
        camera,
        found.corners_mm,
        found.corners_px,
        found.corner_std_px**2,
        scale_std=(scale.across_std, scale.down_std),
        flatness_std_mm=TARGET_SHEET.flatness_std_mm,
        reference=target_object(scale, found.layout),
    )


def outline_of_target(found: FoundTarget, plane: Plane) -> FoundCard:
    """Return the board's outline as a found reference, so that it is shown and recorded like any other.

    The corners are those of the board of squares as the plane has them, whether seen or not; their covariance
    is that of the corner noise alone.
    """
    reference = target_object(found.scale, found.layout)
    w, h = reference.width_mm, reference.height_mm
    outline = np.array([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]])
    noise = [index for index, (_, source) in enumerate(plane.error_sources) if source == CORNERS]
    effects = _outline_effects(plane, outline, noise)
    cov = effects.T @ effects + (0.02**2) * np.eye(8)
    return FoundCard(
        reference,
        plane.to_px(outline),
        cov,
        confidence=0.99,
        accepted=True,
        cautions=tuple(dict.fromkeys((*found.cautions, *plane.cautions))),
        support=(found.seen_share,) * 4,
        tilt_deg=plane.tilt_deg,
    )


def _outline_effects(plane: Plane, outline_mm: Array, inputs: list[int]) -> Array:
    solid = np.column_stack([outline_mm, np.zeros(4)])
    sets = np.concatenate(
        [
            plane.parameters + plane.sensitivity_matrix.T[inputs],
            plane.parameters - plane.sensitivity_matrix.T[inputs],
        ]
    )
    base = np.broadcast_to(plane.base, (len(sets), 3, 3))
    seen = projection.project(sets, base, plane.camera.distortion, solid[None])
    return np.asarray((seen[: len(inputs)] - seen[len(inputs) :]).reshape(len(inputs), 8) / 2.0)


def shows_target(pyramid: Pyramid, layout: TargetLayout = TARGET) -> bool:
    """Prescreen a photo for the target: whether a reduced level shows several of its markers.

    Parameters
    ----------
    pyramid : Pyramid
        The photo.
    layout : TargetLayout
        The drawing to look for.

    Returns
    -------
    bool
        True where there surely is one.
    """
    numbers, sides = _markers(pyramid, _PRESCREEN_BELOW_PX, layout)
    # Markers of one print are of one size; scattered false ones are not.
    return bool(
        len(numbers) >= _PRESCREEN_MARKERS
        and len(set(numbers.tolist())) == len(numbers)
        and sides.max() < 4.0 * sides.min()
    )


def may_show_target(pyramid: Pyramid, layout: TargetLayout = TARGET) -> bool:
    """Tell whether a search for a small target is worthwhile: any marker, at twice the prescreening's size.

    The detector's least marker is a share of the picture's size; at this size it has two to three px a cell,
    enough to be read.

    Parameters
    ----------
    pyramid : Pyramid
        The photo.
    layout : TargetLayout
        The drawing to look for.

    Returns
    -------
    bool
        False where a target is unlikely.
    """
    return len(_markers(pyramid, 2 * _PRESCREEN_BELOW_PX, layout)[0]) > 0


def _markers(pyramid: Pyramid, below_px: int, layout: TargetLayout) -> tuple[NDArray[np.int64], Array]:
    """Return numbers and perimeters of the target's markers on the finest level smaller than this."""
    pixels = next(level for level in pyramid.levels if max(level.shape[:2]) < below_px)
    grey = cv2.cvtColor(pixels, cv2.COLOR_BGR2GRAY)
    corners, ids, _ = cv2.aruco.ArucoDetector(layout.board().getDictionary()).detectMarkers(grey)
    if ids is None:
        return np.zeros(0, np.int64), np.zeros(0)
    numbers = np.asarray(ids, np.int64).ravel()
    outlines = [np.asarray(corner, np.float32).reshape(-1, 1, 2) for corner in corners]
    sides = np.array([cv2.arcLength(outline, True) for outline in outlines])
    known = numbers < len(layout.marker_corners_mm())
    return numbers[known], sides[known]
