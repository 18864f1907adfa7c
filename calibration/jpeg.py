"""JPEG files decoded without a second copy of their pixels, where nothing about the file is in doubt.

Pillow and OpenCV share the decoder, so the pixels are the same; but on the way from Pillow to an array there
are three copies of them, and the interpreter waits meanwhile. OpenCV on the other hand says nothing of a file
that is damaged, so only files that are whole, marker by marker, are decoded here.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

_FLAGS = cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION
_START, _END, _SCAN = 0xD8, 0xD9, 0xDA
# Markers that may follow each other between the start and the end of a picture (ITU-T T.81, table B.1).
_SEGMENTS = frozenset([*range(0xC0, 0xD0), *range(0xDA, 0xE0), *range(0xE0, 0xF0), 0xFE]) - {0xC8}


def decode_whole(data: bytes) -> NDArray[np.uint8] | None:
    """Decode a JPEG file as stored, its Exif orientation left alone.

    Parameters
    ----------
    data : bytes
        The file, in grey or in colour of three components.

    Returns
    -------
    (H, W, 3) uint8 array or None
        Blue, green, red; None where the file is not whole or the decoder gives up.
    """
    if not is_whole(data):
        return None
    try:
        pixels = cv2.imdecode(np.frombuffer(data, np.uint8), _FLAGS)
    except cv2.error:
        return None
    return None if pixels is None else np.asarray(pixels, np.uint8)


def is_whole(data: bytes) -> bool:
    """Tell whether a JPEG's first picture is complete: markers in order, from its start to its end.

    References
    ----------
    ITU-T T.81, annex B: in coded data a byte of ones is followed by zero or by a restart marker; any other
    byte there begins the next segment.
    """
    if data[:2] != bytes([0xFF, _START]):
        return False
    marks = _marks_in_scans(data)
    place = 2
    while place + 4 <= len(data) and data[place] == 0xFF:
        kind = data[place + 1]
        if kind == 0xFF:  # fill before a marker
            place += 1
            continue
        if kind not in _SEGMENTS:
            return False
        place += 2 + int.from_bytes(data[place + 2 : place + 4], "big")
        if kind == _SCAN:
            after = int(np.searchsorted(marks, place))
            if after == len(marks):
                return False
            place = int(marks[after])
            if data[place + 1] == _END:
                return True
    return False


def _marks_in_scans(data: bytes) -> NDArray[np.intp]:
    """Return where a marker would end coded data."""
    stored = np.frombuffer(data, np.uint8)
    ones = np.flatnonzero(stored[:-1] == 0xFF)
    after = stored[ones + 1]
    return np.asarray(ones[(after != 0) & (after != 0xFF) & ((after < 0xD0) | (after > 0xD7))], np.intp)
