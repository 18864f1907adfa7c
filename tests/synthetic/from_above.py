"""Photos from straight above, of known scale: a card, a coin, a rule or the printed target, and a bar."""

from functools import cache
from pathlib import Path

import cv2
import numpy as np

PX_PER_MM = 5.0
SIZE_PX = (1200, 900)
# Outer edges of the card and of a dark bar, in the page's sense: the left edge of pixel 200 is at x = 200.
CARD = (200, 120, 200 + 428, 120 + 270)
# A playing card of bridge size, 57.2 x 88.9 mm.
BRIDGE = (200, 120, 200 + 444, 120 + 286)
BAR = (300, 600, 800, 680)
BAR_MM = 100.0


def plain_photo(path: Path, *, card: bool = True, box: tuple[int, int, int, int] = CARD) -> Path:
    """Write a photo from straight above: an ID-1 card and a bar of 100 mm, five pixels to a millimetre.

    `box` holds another card, with the same corners.
    """
    path.write_bytes(_plain(box if card else None))
    return path


# Each is drawn once, however many tests want it in a folder of their own.
@cache
def _plain(box: tuple[int, int, int, int] | None) -> bytes:
    scale, rng = 4, np.random.default_rng(7)
    big = np.full((SIZE_PX[1] * scale, SIZE_PX[0] * scale, 3), (96, 120, 130), np.uint8)
    if box is not None:
        _rounded(big, [v * scale for v in box], round(3.18 * PX_PER_MM * scale), (235, 240, 238))
    x0, y0, x1, y1 = (v * scale for v in BAR)
    big[y0:y1, x0:x1] = (40, 30, 30)
    return _photographed(big, rng)


# A US quarter, 24.257 mm across (31 U.S.C. 5112: 0.955 in), a millimetre rule, and a second card.
COIN_PX, COIN_MM = (420.0, 240.0), 24.257
RULE = (250, 450, 750)  # from x, y of the strokes' ends, to x
SECOND = (700, 120, 700 + 428, 120 + 270)


def sources_photo(path: Path, *, cards: int = 0) -> Path:
    """Write a photo from straight above, five pixels to a millimetre, of the bar and things of known size."""
    path.write_bytes(_sources(cards))
    return path


@cache
def _sources(cards: int) -> bytes:
    scale, rng = 4, np.random.default_rng(11)
    big = np.full((SIZE_PX[1] * scale, SIZE_PX[0] * scale, 3), (96, 120, 130), np.uint8)
    for box in (CARD, SECOND)[:cards]:
        _rounded(big, [v * scale for v in box], round(3.18 * PX_PER_MM * scale), (235, 240, 238))
    if cards == 0:
        centre = [round(v * scale) for v in COIN_PX]
        cv2.circle(big, (centre[0], centre[1]), round(COIN_MM * PX_PER_MM * scale / 2), (225, 228, 230), -1)
    x0, y, x1 = RULE
    big[(y - 60) * scale : y * scale, (x0 - 20) * scale : (x1 + 20) * scale] = (200, 226, 232)
    for number, x in enumerate(range(x0, x1 + 1, round(PX_PER_MM))):
        long = 45 if number % 10 == 0 else 35 if number % 5 == 0 else 25
        big[(y - long) * scale : y * scale, x * scale - 3 : x * scale + 3] = (40, 40, 40)
    x0, y0, x1, y1 = (v * scale for v in BAR)
    big[y0:y1, x0:x1] = (40, 30, 30)
    return _photographed(big, rng)


# Of the bar in the photo of the target.
TARGET_BAR_ENDS = [[299.5, 839.5], [699.5, 839.5]]


def target_photo(path: Path) -> Path:
    """Write a photo of the printed target, four pixels to a millimetre, and a bar of 100 mm below it."""
    path.write_bytes(_target())
    return path


@cache
def _target() -> bytes:
    from calibration.printed_target.layout import TARGET

    board = TARGET.board().generateImage((720 * 4, 912 * 4), marginSize=0)
    big = np.full((SIZE_PX[1] * 4, SIZE_PX[0] * 4, 3), 240, np.uint8)
    big[60 * 4 : 780 * 4, 100 * 4 : 1012 * 4] = cv2.rotate(board, cv2.ROTATE_90_CLOCKWISE)[..., None]
    big[820 * 4 : 860 * 4, 300 * 4 : 700 * 4] = (40, 30, 30)
    return _photographed(big, np.random.default_rng(13))


def _photographed(big: np.ndarray, rng: np.random.Generator) -> bytes:
    small = cv2.resize(big, SIZE_PX, interpolation=cv2.INTER_AREA).astype(np.float64)
    noisy = np.clip(cv2.GaussianBlur(small, (0, 0), 0.7) + rng.normal(0.0, 2.0, small.shape), 0, 255)
    return cv2.imencode(".jpg", noisy.astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 95])[1].tobytes()


def _rounded(image: np.ndarray, box: list[int], radius: int, colour: tuple[int, int, int]) -> None:
    x0, y0, x1, y1 = box
    cv2.rectangle(image, (x0 + radius, y0), (x1 - radius - 1, y1 - 1), colour, -1)
    cv2.rectangle(image, (x0, y0 + radius), (x1 - 1, y1 - radius - 1), colour, -1)
    for x in (x0 + radius, x1 - radius - 1):
        for y in (y0 + radius, y1 - radius - 1):
            cv2.circle(image, (x, y), radius, colour, -1)


def left_over(photo_bytes: bytes) -> bytes:
    """Return a JPEG with damage to be cautioned of: coded data that belong to no pixel before its end."""
    return photo_bytes[:-2] + bytes(40) + photo_bytes[-2:]


def bar_ends() -> list[list[float]]:
    """Return the middle of the bar's left and right edge, in pixels with centres at whole numbers."""
    x0, y0, x1, y1 = BAR
    return [[x0 - 0.5, (y0 + y1) / 2 - 0.5], [x1 - 0.5, (y0 + y1) / 2 - 0.5]]
