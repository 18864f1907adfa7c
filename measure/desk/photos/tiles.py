"""A photo cut into tiles for display; nothing is measured on them."""

import threading
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

TILE_PX = 512
# Quality 95 with full colour shifts an edge by 0.005 px rms (measured), far less than the eye sees.
_JPEG = [cv2.IMWRITE_JPEG_QUALITY, 95, cv2.IMWRITE_JPEG_SAMPLING_FACTOR, cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444]
COARSE_LEVEL = 3
_THUMB_PX = 264


def block_means(pixels: NDArray[np.uint8], level: int) -> NDArray[np.uint8]:
    """Average blocks of ``2**level`` pixels, the last ones padded by repeating the border.

    So the factor between levels is exactly ``2**level`` whatever the size, and all levels start at one edge.
    """
    if level == 0:
        return pixels
    block = 1 << level
    height, width = pixels.shape[:2]
    down, right = -height % block, -width % block
    if down or right:
        pixels = np.asarray(cv2.copyMakeBorder(pixels, 0, down, 0, right, cv2.BORDER_REPLICATE), np.uint8)
    size = (pixels.shape[1] >> level, pixels.shape[0] >> level)
    return np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)


class Pyramid:
    """Tiles of one photo at halving scales.

    Parameters
    ----------
    pixels_bgr : (H, W, 3) uint8 array or None
        The upright photo; None while only a coarse preview is there.
    coarse_bgr : (H/8, W/8, 3) uint8 array, optional
        Its eighth-scale level, by itself while the photo is not decoded yet.

    Notes
    -----
    Fine tiles are averaged from the photo on demand; only the eighth-scale level is kept, so a pyramid
    costs almost nothing compared with the photo itself.
    """

    def __init__(
        self, pixels_bgr: NDArray[np.uint8] | None, coarse_bgr: NDArray[np.uint8] | None = None
    ) -> None:
        self._pixels = pixels_bgr
        self._lock = threading.Lock()
        self._coarse = coarse_bgr
        self.tile = lru_cache(maxsize=64)(self._tile)

    def _coarse_level(self) -> NDArray[np.uint8]:
        with self._lock:
            if self._coarse is None:
                assert self._pixels is not None
                self._coarse = block_means(self._pixels, COARSE_LEVEL)
            return self._coarse

    def thumb(self) -> bytes | None:
        """Return the whole photo, small, as JPEG."""
        coarse = self._coarse_level()
        scale = _THUMB_PX / max(coarse.shape[:2])
        small = cv2.resize(coarse, None, fx=min(1.0, scale), fy=min(1.0, scale), interpolation=cv2.INTER_AREA)
        done, data = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, 85])
        return data.tobytes() if done else None

    def whole(self) -> bytes | None:
        """Return the whole photo at an eighth of its scale, as JPEG."""
        done, data = cv2.imencode(".jpg", self._coarse_level(), [cv2.IMWRITE_JPEG_QUALITY, 90])
        return data.tobytes() if done else None

    def _tile(self, level: int, column: int, row: int) -> bytes | None:
        """Return one tile as JPEG, or None where the photo has none."""
        if not (0 <= level <= 12 and 0 <= column < 4096 and 0 <= row < 4096):
            return None
        shift = min(level, COARSE_LEVEL) if self._pixels is None or level >= COARSE_LEVEL else 0
        if self._pixels is None and level < COARSE_LEVEL:
            return None
        source = self._coarse_level() if shift else self._pixels
        assert source is not None
        rest = level - shift
        side = TILE_PX << rest
        cut = source[row * side : (row + 1) * side, column * side : (column + 1) * side]
        if cut.size == 0:
            return None
        done, data = cv2.imencode(".jpg", block_means(cut, rest), _JPEG)
        return data.tobytes() if done else None
