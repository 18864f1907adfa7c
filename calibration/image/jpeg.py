"""JPEG files decoded by a decoder that says when it had to make something of damage.

Pillow, OpenCV and simplejpeg share the decoder, so the pixels are the same. But after damage to the coded
data libjpeg goes on with a mere warning, and of the three simplejpeg alone passes the warning on. It is also
the quickest: there is one copy of the pixels, in the order that is wanted.
"""

import numpy as np
from numpy.typing import NDArray
from simplejpeg import decode_jpeg, decode_jpeg_header

_APP0, _APP14, _SCAN = 0xE0, 0xEE, 0xDA
_SEQUENTIAL = (0xC0, 0xC1)
_FULL_SCAN = bytes([0, 63, 0])
# What libjpeg says (jerror.h, "Corrupt JPEG data" and "Premature end") where it fills pixels in by itself.
_MADE_UP = ("premature end", "bad huffman code", "bad arithmetic code", "instead of rst")


def decode_strictly(data: bytes, *, shrink: int = 1) -> tuple[NDArray[np.uint8] | None, str]:
    """Decode a JPEG file as stored, its Exif orientation left alone.

    Parameters
    ----------
    data : bytes
        The file; what follows its first picture is not looked at.
    shrink : int
        1, 2, 4 or 8: a smaller picture for less work; sides are rounded up.

    Returns
    -------
    pixels : (H, W, 3) uint8 array or None
        Blue, green, red; None where the decoder complains.
    complaint : str
        The first thing that the decoder found wrong, in its words; empty where nothing is.
    """
    sound = _without_quirks(data)
    least = {}
    try:
        if shrink > 1:
            height_px, width_px = (int(side) for side in decode_jpeg_header(sound)[:2])
            least = {"min_height": -(-height_px // shrink), "min_width": -(-width_px // shrink)}
        return np.asarray(decode_jpeg(sound, "BGR", strict=True, **least), np.uint8), ""
    except ValueError as error:
        return None, str(error).strip() or "the decoder doesn't say why"


def is_made_up(complaint: str) -> bool:
    """Tell whether a complaint means that pixels without a source stand in the picture."""
    return any(words in complaint.lower() for words in _MADE_UP)


def row_px(data: bytes) -> int:
    """Return the height in pixels of the units that a JPEG is coded by, row after row: 8, 16 or more.

    References
    ----------
    ITU-T T.81, A.2.3 and B.2.2: 8 times the largest vertical sampling factor of its components; a picture of
    one component counts by 8 whatever it states.
    """
    for place, kind in _segments(data):
        if 0xC0 <= kind <= 0xCF and kind not in (0xC4, 0xC8, 0xCC):
            count = data[place + 9] if place + 9 < len(data) else 0
            factors = [data[at] & 15 for at in range(place + 11, place + 10 + 3 * count, 3) if at < len(data)]
            return 8 * max(factors) if len(factors) > 1 and max(factors) else 8
    return 8


def _without_quirks(data: bytes) -> bytes:
    """Put right what the decoder grumbles about in sound files, for it tells of its first trouble only.

    None of it touches the pixels: a JFIF version to come, a colour transform that it takes for the usual one,
    and the spectral selection of a sequential picture, which some telephones leave at nonsense (T.81, B.3).
    """
    mended, sequential = bytearray(data), False
    for place, kind in _segments(data):
        body = place + 4
        if kind == _APP0 and data[body : body + 5] == b"JFIF\0":
            mended[body + 5 : body + 6] = b"\x01"
        elif kind == _APP14 and data[body : body + 5] == b"Adobe" and data[body + 11 : body + 12] > b"\x02":
            mended[body + 11] = 1
        elif kind in _SEQUENTIAL:
            sequential = True
        elif kind == _SCAN and sequential:
            end = place + 2 + int.from_bytes(data[place + 2 : place + 4], "big")
            mended[end - 3 : end] = _FULL_SCAN
    return bytes(mended) if mended != data else data


def _segments(data: bytes) -> list[tuple[int, int]]:
    """Return place and kind of the markers up to the first scan, as far as they follow each other."""
    found: list[tuple[int, int]] = []
    place = 2
    while place + 4 <= len(data) and data[place] == 0xFF:
        kind = data[place + 1]
        if kind == 0xFF:  # fill before a marker
            place += 1
            continue
        found.append((place, kind))
        if kind == _SCAN:
            break
        place += 2 + int.from_bytes(data[place + 2 : place + 4], "big")
    return found
