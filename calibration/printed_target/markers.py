"""Finding the printed target by its markers, and its corners to a few hundredths of a pixel."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.cautions import Caution, CautionCode, NoAnswer, NoAnswerCode
from calibration.image import Photo
from calibration.printed_target.layout import TARGET, PrintScale, TargetLayout

# Fewer corners than this, or all of them in a strip, describe a plane poorly.
MIN_CORNERS = 8
# Scatter of ChArUco corners is 0.02 to 0.05 px on sharp photos (our own simulations, November 2026); a small
# common floor stands for what those leave out: ink spread, lens blur across the square, a compressed photo.
CORNER_FLOOR_PX = 0.05
# A corner further than this from a smooth fit belongs to a wrongly read marker or a speck.
OUTLIER_PX = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class FoundTarget:
    """The corners of a printed target that were seen.

    Attributes
    ----------
    corner_ids : (N,) int array
        Which inner corner of the layout each is.
    corners_px : (N, 2) array
        Where it is in the photo.
    corners_mm : (N, 2) array
        Where it is on the print: the drawing times the print's scale.
    corner_std_px : float
        Standard uncertainty of each coordinate, from the residuals of a smooth fit.
    layout : TargetLayout
        The drawing.
    scale : PrintScale
        The print.
    cautions : tuple of Caution
        What the user should know.
    """

    corner_ids: NDArray[np.int64]
    corners_px: NDArray[np.float64]
    corners_mm: NDArray[np.float64]
    corner_std_px: float
    layout: TargetLayout
    scale: PrintScale
    cautions: tuple[Caution, ...] = ()

    @property
    def seen_share(self) -> float:
        """Share of the target's corners that were found."""
        return len(self.corner_ids) / self.layout.corner_count

    @property
    def covariance_px2(self) -> NDArray[np.float64]:
        """Covariance of the corners, (2N, 2N), x and y of each in turn."""
        return np.eye(2 * len(self.corner_ids)) * self.corner_std_px**2


def find_target(
    photo: Photo, *, layout: TargetLayout = TARGET, scale: PrintScale | None = None
) -> FoundTarget | NoAnswer:
    """Find the printed target, whole or in part.

    Parameters
    ----------
    photo : Photo
        The photo.
    layout : TargetLayout
        The drawing to look for.
    scale : PrintScale, optional
        The print's scale; unchecked where not given.

    Returns
    -------
    FoundTarget or NoAnswer
        Its corners with their standard uncertainty in px, or why it can't be used.

    Notes
    -----
    Detection by `cv2.aruco.CharucoDetector`; its arrays are shaped differently in OpenCV 4 and 5, hence the
    explicit reshaping. A homography fitted with MAGSAC drops misread markers; wide limits leave lens
    distortion alone. The scatter is taken from fourth differences along the rows and columns of the grid,
    which neither perspective nor distortion changes noticeably over five neighbouring corners.
    """
    scale = scale or PrintScale()
    ids, corners_px = _detect(photo, layout)
    if len(ids) < MIN_CORNERS:
        return NoAnswer.of(NoAnswerCode.TARGET_UNSEEN, photo=photo.name, count=len(ids), least=MIN_CORNERS)
    keep = _consistent(layout.corners_mm()[ids], corners_px)
    ids, corners_px = ids[keep], corners_px[keep]
    if len(ids) < MIN_CORNERS or _flat_strip(layout.corners_mm()[ids], layout):
        return NoAnswer.of(NoAnswerCode.TARGET_STRIP, photo=photo.name)
    std_px = float(np.hypot(_scatter_px(ids, corners_px, layout), CORNER_FLOOR_PX))
    return target_of_corners(ids, corners_px, std_px, scale, layout=layout)


def target_of_corners(
    ids: NDArray[np.int64],
    corners_px: NDArray[np.float64],
    std_px: float,
    scale: PrintScale,
    *,
    layout: TargetLayout = TARGET,
) -> FoundTarget:
    """Return a target from its corners by their numbers, as `find_target` does from a photo.

    Parameters
    ----------
    ids : (N,) int array
        Which inner corner of the layout each is.
    corners_px : (N, 2) array
        Where each is in the photo, (x, y).
    std_px : float
        Standard uncertainty of each coordinate.
    scale : PrintScale
        The print's scale.
    layout : TargetLayout
        The drawing.

    Returns
    -------
    FoundTarget
        The same corners with their places on the print.
    """
    corners_mm = layout.corners_mm()[ids] * np.array([scale.across, scale.down])
    return FoundTarget(ids, corners_px, corners_mm, std_px, layout, scale, _cautions(scale))


def _detect(photo: Photo, layout: TargetLayout) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    grey = cv2.cvtColor(photo.pixels_bgr, cv2.COLOR_BGR2GRAY)
    detector = cv2.aruco.CharucoDetector(layout.board())
    corners, ids, _, _ = detector.detectBoard(grey)
    if ids is None or corners is None or len(np.asarray(ids)) == 0:
        return np.empty(0, np.int64), np.empty((0, 2))
    return np.asarray(ids, np.int64).ravel(), np.asarray(corners, np.float64).reshape(-1, 2)


def _consistent(drawn_mm: NDArray[np.float64], corners_px: NDArray[np.float64]) -> NDArray[np.bool_]:
    # Distortion bends the grid by many pixels near the edges of the photo, so the homography only gathers the
    # bulk, and a cubic polynomial through its residuals decides.
    span_px = float(np.ptp(corners_px, axis=0).max())
    limit_px = max(OUTLIER_PX, 0.02 * span_px)
    homography, mask = cv2.findHomography(drawn_mm, corners_px, cv2.USAC_MAGSAC, limit_px)
    if homography is None:
        return np.zeros(len(drawn_mm), bool)
    inside = np.asarray(mask).ravel().astype(bool)
    if inside.sum() < 12:
        return inside
    mapped = cv2.perspectiveTransform(drawn_mm.reshape(-1, 1, 2), homography).reshape(-1, 2)
    residual = corners_px - mapped
    xy = (drawn_mm - drawn_mm.mean(axis=0)) / np.ptp(drawn_mm, axis=0).max()
    x, y = xy.T
    columns = [x**i * y**j for i in range(4) for j in range(4 - i)]
    basis = np.stack(columns, axis=1)
    for _ in range(3):
        if inside.sum() <= 2 * basis.shape[1]:
            break
        smooth = basis @ np.linalg.lstsq(basis[inside], residual[inside], rcond=None)[0]
        off_px = np.linalg.norm(residual - smooth, axis=1)
        scatter_px = 1.4826 * float(np.median(off_px[inside]))
        inside = off_px < max(OUTLIER_PX / 2.0, 5.0 * scatter_px)
    return inside


def _flat_strip(drawn_mm: NDArray[np.float64], layout: TargetLayout) -> bool:
    narrow = np.linalg.svd(drawn_mm - drawn_mm.mean(axis=0), compute_uv=False)[1]
    return bool(narrow < 0.5 * layout.square_mm)


def _scatter_px(ids: NDArray[np.int64], corners_px: NDArray[np.float64], layout: TargetLayout) -> float:
    columns, rows = layout.columns - 1, layout.rows - 1
    grid = np.full((rows, columns, 2), np.nan)
    grid[ids // columns, ids % columns] = corners_px
    # The fourth difference of noise with standard deviation s has standard deviation s times the root of 70.
    along = np.concatenate([np.diff(grid, 4, axis=0).ravel(), np.diff(grid, 4, axis=1).ravel()])
    along = along[np.isfinite(along)]
    if along.size < 8:
        return 0.1
    return float(1.4826 * np.median(np.abs(along)) / np.sqrt(70.0))


def _cautions(scale: PrintScale) -> tuple[Caution, ...]:
    return () if scale.checked else (Caution.of(CautionCode.PRINT_UNCHECKED),)
