"""Turns a simulated picture into a JPEG file with the Exif that a phone writes."""

import struct

import cv2
import numpy as np
from PIL import Image


def jpeg_file(pixels_bgr: np.ndarray, quality: int, *, focal_35mm_mm: int | None, orientation: int) -> bytes:
    """JPEG bytes; focal_35mm_mm None leaves the focal length out; pixels are upright and stored turned."""
    stored = _turned(pixels_bgr, orientation)
    ok, encoded = cv2.imencode(".jpg", stored, [cv2.IMWRITE_JPEG_QUALITY, quality])
    if not ok:
        raise RuntimeError("the picture could not be encoded")
    data = encoded.tobytes()
    exif = Image.Exif()
    exif[0x0112] = orientation
    if focal_35mm_mm is not None:
        exif[0x010F], exif[0x0110] = "Saltmarsh Optical", "Harbour 3"
        part = exif.get_ifd(0x8769)
        part[0xA405] = focal_35mm_mm
        part[0x920A] = round(focal_35mm_mm / 5.6, 2)
    block = exif.tobytes()
    if not block.startswith(b"Exif\x00\x00"):
        block = b"Exif\x00\x00" + block
    return data[:2] + b"\xff\xe1" + struct.pack(">H", len(block) + 2) + block + data[2:]


def _turned(pixels: np.ndarray, orientation: int) -> np.ndarray:
    if orientation == 6:  # to be turned clockwise for viewing, so stored turned the other way
        return cv2.rotate(pixels, cv2.ROTATE_90_COUNTERCLOCKWISE)
    if orientation == 8:
        return cv2.rotate(pixels, cv2.ROTATE_90_CLOCKWISE)
    if orientation == 3:
        return cv2.rotate(pixels, cv2.ROTATE_180)
    return pixels
