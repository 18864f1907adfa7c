"""The check sums that files carry and decoders pass over: a PNG's blocks and a TIFF's deflated strips."""

import zlib
from collections.abc import Sequence

_SIGNATURE = b"\x89PNG\r\n\x1a\n"


def is_png(data: bytes) -> bool:
    """Tell whether a file begins as a PNG does."""
    return data.startswith(_SIGNATURE)


def png_damage(data: bytes) -> str | None:
    """Return what is damaged in a PNG file, or None where every block is as it was written.

    References
    ----------
    ISO/IEC 15948 (PNG, third edition), 5.3: each block holds its length, its name, its data and the CRC-32 of
    name and data; the last block is IEND.
    """
    view, place = memoryview(data), len(_SIGNATURE)
    while place + 12 <= len(data):
        length = int.from_bytes(view[place : place + 4], "big")
        end = place + 12 + length
        name = bytes(view[place + 4 : place + 8])
        if not name.isalpha() or not name.isascii():
            return f"what stands at byte {place} is no block of a PNG"
        if end > len(data):
            break
        if zlib.crc32(view[place + 4 : end - 4]) != int.from_bytes(view[end - 4 : end], "big"):
            return f"its block {name.decode('ascii')} at byte {place} fails its check sum"
        if name == b"IEND":
            return None
        place = end
    return "it ends before its last block"


def strip_damage(data: bytes, offsets: Sequence[int], lengths: Sequence[int]) -> str | None:
    """Return what is damaged in a TIFF's deflated strips or tiles, or None where each is as it was written.

    References
    ----------
    RFC 1950, 2.2: a stream ends with the Adler-32 of what was packed. libtiff stops when it has its pixels.
    """
    for number, (offset, length) in enumerate(zip(offsets, lengths, strict=False)):
        try:
            zlib.decompress(memoryview(data)[offset : offset + length])
        except zlib.error as error:
            return f"its strip {number + 1} of {len(offsets)}: {error}"
    return None
