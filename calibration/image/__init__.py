"""From a file to upright pixels and what its Exif block says."""

from calibration.image.exif import ExifFacts, read_exif
from calibration.image.jpeg import decode_strictly
from calibration.image.photo import (
    Photo,
    decode_photo,
    open_photo,
    photo_bytes,
    read_photo,
    turn_upright,
    upright_turn,
)
from calibration.image.pyramid import Pyramid

__all__ = [
    "ExifFacts",
    "Photo",
    "Pyramid",
    "decode_photo",
    "decode_strictly",
    "open_photo",
    "photo_bytes",
    "read_exif",
    "read_photo",
    "turn_upright",
    "upright_turn",
]
