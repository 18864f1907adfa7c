"""The seam that damage leaves in a JPEG whose coded data can still be read to their end.

A JPEG holds each block's mean grey as the difference from the block before (ITU-T T.81, F.1.1.5.1), row after
row from the left. Where a few bits are false and what follows can still be read, every later block is
off by the same amount. In the picture that is a step of one height all along a line on the raster of blocks:
from the place of the damage rightwards above its row, and below this row up to that place. No edge of a scene
runs like that.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

_BLOCK_PX = 8
# Half of the blocks along a seam would show its step by chance where each did so in one case of two; sound
# photographs stay below 0.45, small and coarse ones included. Damaged ones mostly lie above 0.65.
_MOST_SOUND_SHARE = 0.6
# Below this many grey levels coarse quantisation makes steps by itself.
_LEAST_STEP = 4.0
# A seam that turns nearer to the border than this looks like an edge of the scene along the raster.
_LEAST_BLOCKS = 2
# An edge of the scene along the raster may stand out more than the seam.
_LINES_LOOKED_AT = 8
_FEWEST_ACROSS = 16
_CLIP = 12.0


def seam_start_px(pixels: NDArray[np.uint8], row_px: int) -> tuple[int, int] | None:
    """Return where a seam begins, or None where there is none.

    Parameters
    ----------
    pixels : (H, W, 3) uint8 array
        The picture as decoded, not turned.
    row_px : int
        Height of the rows that it is coded by.

    Returns
    -------
    (x, y) in pixels, or None
        The upper left corner of the first block that is off.
    """
    steps = _steps(pixels, row_px)
    if steps.shape[0] < 2 or steps.shape[1] < _FEWEST_ACROSS:
        return None
    for channel in range(3):
        place = _seam_in(steps[..., channel])
        if place is not None:
            return place[1] * _BLOCK_PX, (place[0] + 1) * row_px
    return None


def _steps(pixels: NDArray[np.uint8], row_px: int) -> NDArray[np.float32]:
    """Return the step of each block's mean across each line between rows, beyond the slope beside it.

    Shape (lines, blocks across, 3).
    """
    height_px, width_px = pixels.shape[:2]
    lines = np.arange(row_px, height_px - 1, row_px)
    blocks = width_px // _BLOCK_PX
    if len(lines) == 0 or blocks == 0:
        return np.zeros((0, 0, 3), np.float32)
    rows = pixels[(lines[:, None] + np.array([-2, -1, 0, 1])).ravel(), : blocks * _BLOCK_PX]
    means = cv2.resize(rows, (blocks, len(rows)), interpolation=cv2.INTER_AREA)
    above2, above, below, below2 = np.moveaxis(
        means.reshape(len(lines), 4, blocks, 3).astype(np.float32), 1, 0
    )
    return np.asarray((below - above) - 0.5 * ((above - above2) + (below2 - below)), np.float32)


def _seam_in(steps: NDArray[np.float32]) -> tuple[int, int] | None:
    """Return line and block where a seam begins in one channel, or None."""
    clipped = np.clip(steps, -_CLIP, _CLIP)
    sums = np.zeros((steps.shape[0], steps.shape[1] + 1))
    np.cumsum(clipped, axis=1, out=sums[:, 1:])
    both = np.abs(sums[1:] + sums[:-1, -1:] - sums[:-1])[:, _LEAST_BLOCKS:-_LEAST_BLOCKS]
    turns = both.argmax(axis=1)
    for line in np.argsort(-both[np.arange(len(both)), turns])[:_LINES_LOOKED_AT].tolist():
        block = int(turns[line]) + _LEAST_BLOCKS
        if _is_seam(steps[line, block:], steps[line + 1, :block]):
            return line, block
    return None


def _is_seam(above: NDArray[np.float32], below: NDArray[np.float32]) -> bool:
    """Tell whether most blocks along both arms show one and the same step."""
    step = float(np.median(np.concatenate((above, below))))
    if abs(step) < _LEAST_STEP:
        return False
    share = min(float(np.mean(np.abs(arm - step) < 0.5 * abs(step))) for arm in (above, below))
    return share > _MOST_SOUND_SHARE
