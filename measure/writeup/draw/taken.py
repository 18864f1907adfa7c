"""Which places of a picture are taken, on a small map, so that thousands of places can be tried."""

import cv2
import numpy as np
from numpy.typing import NDArray

from measure.writeup.draw.planar import Points, grown

_SIDE_CELLS = 400


class TakenMap:
    """Places that no text may cover.

    A cell counts as taken if a shape comes within a cell of it, so that a free place is really free.
    """

    def __init__(self, width_px: float, height_px: float) -> None:
        self._scale = min(1.0, _SIDE_CELLS / max(width_px, height_px))
        wide, high = int(np.ceil(width_px * self._scale)), int(np.ceil(height_px * self._scale))
        self._cells: NDArray[np.uint8] = np.zeros((max(high, 1), max(wide, 1)), np.uint8)
        self._sums: NDArray[np.int32] = np.zeros((max(high, 1) + 1, max(wide, 1) + 1), np.int32)

    def with_more(self, *shapes_px: Points) -> "TakenMap":
        """Return the map with convex shapes taken, each (N, 2) in px."""
        more = TakenMap.__new__(TakenMap)
        more._scale, more._cells = self._scale, self._cells.copy()
        for shape in shapes_px:
            cells = np.rint(grown(shape * self._scale, 1.0)).astype(np.int32)
            cv2.fillConvexPoly(more._cells, cells.reshape(-1, 1, 2), 1)
        more._sums = np.asarray(cv2.integral(more._cells), np.int32)
        return more

    def is_free(self, shape_px: Points) -> bool:
        """Tell whether the upright rectangle about a shape is free."""
        high, wide = self._cells.shape
        (x0, y0), (x1, y1) = shape_px.min(axis=0) * self._scale, shape_px.max(axis=0) * self._scale
        left, right = max(int(x0), 0), min(int(x1) + 1, wide)
        top, bottom = max(int(y0), 0), min(int(y1) + 1, high)
        if left >= right or top >= bottom:
            return True
        sums = self._sums
        return not int(sums[bottom, right] - sums[top, right] - sums[bottom, left] + sums[top, left])

    def crossings(self, line_px: Points) -> int:
        """Count how often a line enters a taken place; starting in one counts too."""
        high, wide = self._cells.shape
        cells = line_px * self._scale
        count = 2 + int(np.abs(cells[1] - cells[0]).max())
        spots = (cells[0] + np.linspace(0.0, 1.0, count)[:, None] * (cells[1] - cells[0])).astype(int)
        x, y = np.clip(spots[:, 0], 0, wide - 1), np.clip(spots[:, 1], 0, high - 1)
        taken = self._cells[y, x]
        return int(taken[0]) + int(np.count_nonzero(taken[1:] > taken[:-1]))
