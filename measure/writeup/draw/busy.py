"""Where a photo shows background that text may cover, and where it shows the subject."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from measure.writeup.draw.planar import Points, grown, hull

_SIDE_PX = 400
_THIN = (11, 11)
# Chroma that differs by less than this (OpenCV's 8-bit L*a*b*) is the same table in another light.
_SAME_COLOUR = 8.0


@dataclass(frozen=True, slots=True, eq=False)
class BusyMap:
    """Share of a region that is not plain background.

    Attributes
    ----------
    busy : (h, w) bool array
        A small map: true where the photo is busy.
    sums : (h + 1, w + 1) array
        Its integral image.
    scale : float
        Small-map pixels per picture pixel.
    subject_px : (N, 2) array, px
        Hull of all measured points of the photo, widened.
    """

    busy: NDArray[np.bool_]
    sums: NDArray[np.float64]
    scale: float
    subject_px: Points

    def share(self, shape_px: Points) -> float:
        """Return the busy share, 0 to 1, of the rectangle about a shape."""
        height, width = self.sums.shape[0] - 1, self.sums.shape[1] - 1
        low = np.floor(shape_px.min(axis=0) * self.scale).astype(int)
        high = np.ceil(shape_px.max(axis=0) * self.scale).astype(int)
        x0, x1 = np.clip([low[0], high[0]], 0, width)
        y0, y1 = np.clip([low[1], high[1]], 0, height)
        area = (x1 - x0) * (y1 - y0)
        if area <= 0:
            return 0.0
        total = self.sums[y1, x1] - self.sums[y0, x1] - self.sums[y1, x0] + self.sums[y0, x0]
        return float(total / area)

    def along(self, line_px: Points) -> float:
        """Return the busy share, 0 to 1, of a line."""
        steps = np.linspace(0.0, 1.0, 33)[:, None]
        spots = ((line_px[0] + steps * (line_px[1] - line_px[0])) * self.scale).astype(int)
        height, width = self.busy.shape
        x, y = np.clip(spots[:, 0], 0, width - 1), np.clip(spots[:, 1], 0, height - 1)
        return float(self.busy[y, x].mean())


def busy_map(pixels_bgr: NDArray[np.uint8], points_px: Points) -> BusyMap:
    """Tell background from subject in a photo.

    Parameters
    ----------
    pixels_bgr : (H, W, 3) uint8 array
        The picture that will be drawn on.
    points_px : (N, 2) array, px
        Everything measured in it; N may be 0.

    Notes
    -----
    Background is what can be reached from the border without crossing an edge, which leaves out the plain
    inside of a part as well as its texture. A grainy table counts as busy, and text is then kept outside the
    hull of all measured points instead.
    """
    height, width = pixels_bgr.shape[:2]
    scale = min(1.0, _SIDE_PX / max(height, width))
    small = cv2.resize(pixels_bgr, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    busy = ~_open_background(np.asarray(small, np.uint8))
    sums = cv2.integral(busy.astype(np.uint8)).astype(np.float64)
    widened = 0.03 * float(np.hypot(width, height))
    subject = grown(hull(points_px), widened) if len(points_px) else np.full((1, 2), -1e9)
    return BusyMap(busy, sums, scale, subject)


def _open_background(small_bgr: NDArray[np.uint8]) -> NDArray[np.bool_]:
    grey = cv2.GaussianBlur(cv2.cvtColor(small_bgr, cv2.COLOR_BGR2GRAY), (0, 0), 1.2).astype(np.float32)
    slope = np.hypot(cv2.Scharr(grey, cv2.CV_32F, 1, 0), cv2.Scharr(grey, cv2.CV_32F, 0, 1)) / 32.0
    # Three grey levels a pixel is more than shading and less than the edge of a toy that can be seen at all.
    edges = (slope > max(3.0, 2.5 * float(np.median(slope)))).astype(np.uint8)
    walls = cv2.dilate(edges, np.ones((5, 5), np.uint8))
    _, labels = cv2.connectedComponents((walls == 0).astype(np.uint8), connectivity=4)
    open_ground = np.isin(labels, _ground(labels, small_bgr))
    # Seams of a table and a cord are thin: what text may not cover is what remains without thin lines.
    solid = cv2.morphologyEx((~open_ground).astype(np.uint8), cv2.MORPH_OPEN, np.ones(_THIN, np.uint8))
    return np.asarray(solid == 0)


def _ground(labels: NDArray[np.int32], small_bgr: NDArray[np.uint8]) -> NDArray[np.int64]:
    """Name the regions that are table: along much of the border, or at it and in its colour."""
    count = int(labels.max()) + 1
    rim = np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])
    reach = np.bincount(rim, minlength=count)
    reach[0] = 0
    lab = cv2.cvtColor(small_bgr, cv2.COLOR_BGR2LAB).astype(np.float64).reshape(-1, 3)
    areas = np.maximum(np.bincount(labels.ravel(), minlength=count), 1)
    sums = [np.bincount(labels.ravel(), lab[:, axis], count) for axis in range(3)]
    means = np.column_stack(sums) / areas[:, None]
    common = np.median(means[rim[rim > 0]], axis=0) if np.any(rim > 0) else np.zeros(3)
    alike = np.hypot(*(means - common)[:, 1:].T) < _SAME_COLOUR
    return np.flatnonzero((reach > 0.15 * len(rim)) | ((reach > 0) & alike))
