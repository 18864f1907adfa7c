"""Reading a photograph: decoding, turning upright, Exif facts and the limits on what is taken."""

import hashlib
import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.cautions import Caution, CautionCode
from calibration.errors import PhotoError
from calibration.image import check_sums, jpeg
from calibration.image.decoders import DAMAGE, first_line, heard
from calibration.image.exif import ExifFacts, read_exif
from calibration.image.jpeg_seam import seam_start_px

if TYPE_CHECKING:
    from PIL.Image import Image

# 108-megapixel telephones exist; beyond this the memory for one photo passes half a gigabyte.
MAX_MEGAPIXELS = 128.0
MIN_SIDE_PX = 64
MAX_FILE_BYTES = 512 * 2**20
# The JPEG plug-in opens a JPEG of several pictures (MPO), too. AVIF is there where Pillow was built with it.
_FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "HEIF", "AVIF")
_WANTED = "expected a JPEG, PNG, TIFF, WebP or HEIC photo"
# Strips keep a single copy of the pixels beside the decoder's own: 190 MB less at 48 megapixels.
_STRIP_PX = 256
# Stands among the decoder's complaints for a step that we found ourselves.
_STEP = "step"

_TURNS: dict[int, Callable[[NDArray[np.uint8]], object]] = {
    2: lambda stored: cv2.flip(stored, 1),
    3: lambda stored: cv2.rotate(stored, cv2.ROTATE_180),
    4: lambda stored: cv2.flip(stored, 0),
    5: cv2.transpose,
    6: lambda stored: cv2.rotate(stored, cv2.ROTATE_90_CLOCKWISE),
    7: lambda stored: cv2.rotate(cv2.transpose(stored), cv2.ROTATE_180),
    8: lambda stored: cv2.rotate(stored, cv2.ROTATE_90_COUNTERCLOCKWISE),
}

# TIFF 6.0 and Adobe's technical notes: Compression, and offsets and byte counts of strips or else tiles.
_TIFF_COMPRESSION, _TIFF_DEFLATE = 259, (8, 32946)
_TIFF_PIECES = ((273, 279), (324, 325))


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """A decoded photograph, turned upright.

    Attributes
    ----------
    pixels_bgr : (H, W, 3) uint8 array, read-only
        Rows from the top, columns from the left, after the Exif orientation is applied.
    name : str
        File name, for messages.
    sha256 : str
        Digest of the file as it was read.
    exif : ExifFacts
        What the camera wrote.
    cautions : tuple of Caution
        What is damaged about the file and may spoil a measurement.
    """

    pixels_bgr: NDArray[np.uint8]
    name: str
    sha256: str
    exif: ExifFacts
    cautions: tuple[Caution, ...] = ()

    @property
    def width_px(self) -> int:
        """Width of the upright photo."""
        return int(self.pixels_bgr.shape[1])

    @property
    def height_px(self) -> int:
        """Height of the upright photo."""
        return int(self.pixels_bgr.shape[0])


def read_photo(path: str | Path) -> Photo:
    """Read a photo from a file.

    Parameters
    ----------
    path : str or Path
        A JPEG, PNG, TIFF, WebP or HEIC file.

    Returns
    -------
    Photo
        Decoded and upright.

    Raises
    ------
    PhotoError
        The file is missing, empty, truncated, too large or no photo.
    """
    return decode_photo(photo_bytes(Path(path), str(path)), str(path))


def photo_bytes(path: Path, name: str) -> bytes:
    """Return what a photo's file holds.

    Parameters
    ----------
    path : Path
        The file.
    name : str
        What to call it in messages.

    Returns
    -------
    bytes
        The whole file.

    Raises
    ------
    PhotoError
        The file is missing, no regular file, too large or can't be read.
    """
    try:
        if not path.is_file():
            # A pipe or a device may have no end, or keep its reader waiting.
            there = "is a folder" if path.is_dir() else "is a pipe or a device"
            raise PhotoError(f"{name}: {there if path.exists() else 'no such file'}; {_WANTED}")
        if path.stat().st_size > MAX_FILE_BYTES:
            raise PhotoError(
                f"{name}: {path.stat().st_size / 2**20:.0f} MB; at most {MAX_FILE_BYTES >> 20} MB are read"
            )
        return path.read_bytes()
    except OSError as error:
        raise PhotoError(
            f"{name}: can't be read ({error.strerror or error}); check the path and its permissions"
        ) from error


def decode_photo(data: bytes, name: str) -> Photo:
    """Decode a photo held in memory.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        What to call it in messages; the photo keeps its last part.

    Returns
    -------
    Photo
        Upright; its cautions tell of damage that leaves it readable.

    Raises
    ------
    PhotoError
        Empty, truncated, too large, too small or no photo.
    """
    of_metadata: list[str] = []
    of_pixels: list[str] = []
    image = open_photo(data, name, of_metadata)
    pixels = _decode(image, data, name, of_pixels)
    # Exif comes after the pixels: looking for it may decode them, and would hide what that finds.
    facts, trouble = read_exif(image)
    turn = upright_turn(image, facts)
    image.close()
    pixels = turn_upright(pixels, turn)
    pixels.setflags(write=False)
    of_metadata += [] if trouble is None else [trouble]
    cautions = (*map(_spoilt, of_pixels[:1]), *map(_doubtful, of_metadata[:1]))
    return Photo(pixels, Path(name).name, hashlib.sha256(data).hexdigest(), facts, cautions)


def turn_upright(pixels: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    """Apply an Exif orientation to an image.

    Parameters
    ----------
    pixels : (H, W, 3) uint8 array
        The picture as stored.
    orientation : int
        1 to 8; anything else leaves the picture alone.

    Returns
    -------
    (H, W, 3) or (W, H, 3) uint8 array
        The upright picture; the very array given where nothing has to be turned.

    References
    ----------
    Exif 2.32 (CIPA DC-008), tag 0x0112: where row 0 and column 0 of the stored picture belong in the upright
    one.
    """
    # cv2 turns in blocks that fit the processor's cache, five times quicker than a strided copy.
    turn = _TURNS.get(orientation)
    return pixels if turn is None else np.asarray(turn(pixels), np.uint8)


def open_photo(data: bytes, name: str, told: list[str] | None = None) -> "Image":
    """Open a photo held in memory, without decoding its pixels.

    Parameters
    ----------
    data, name
        As of `decode_photo`.
    told : list of str, optional
        Gets what the decoder warns of: what is wrong with the metadata.

    Returns
    -------
    PIL.Image.Image
        Not decoded, as stored: its Exif orientation is not applied.

    Raises
    ------
    PhotoError
        Empty, damaged so far as can be seen without decoding, too large, too small or no photo.
    """
    import pillow_heif
    from PIL import Image, UnidentifiedImageError

    if not data:
        raise PhotoError(f"{name}: the file is empty; {_WANTED}")
    if check_sums.is_png(data) and (why := check_sums.png_damage(data)):
        raise _damaged(name, why)
    pillow_heif.register_heif_opener()
    Image.init()  # registers the plug-ins, once
    try:
        with heard([] if told is None else told):
            image = Image.open(io.BytesIO(data), formats=[f for f in _FORMATS if f in Image.OPEN])
    except UnidentifiedImageError as error:
        raise PhotoError(f"{name}: not a photo that can be read; {_WANTED}") from error
    except Image.DecompressionBombError as error:
        raise PhotoError(
            f"{name}: more than {MAX_MEGAPIXELS:.0f} megapixels; save a smaller copy and use that"
        ) from error
    except DAMAGE as error:
        raise _damaged(name, first_line(error)) from error
    _check_size(image, name)
    return image


def _damaged(name: str, why: str) -> PhotoError:
    return PhotoError(f"{name}: the photo is damaged or cut short ({why}); fetch or export it again")


def _spoilt(why: str) -> Caution:
    if why == _STEP:
        return Caution.of(CautionCode.PIXELS_STEP)
    return Caution.of(CautionCode.PIXELS_DAMAGED, decoder=why)


def _doubtful(why: str) -> Caution:
    return Caution.of(CautionCode.METADATA_DAMAGED, decoder=why)


def _check_size(image: "Image", name: str) -> None:
    width_px, height_px = image.size
    if width_px * height_px > MAX_MEGAPIXELS * 1e6:
        size = f"{width_px} x {height_px} is {width_px * height_px / 1e6:.0f} megapixels"
        raise PhotoError(
            f"{name}: {size}; at most {MAX_MEGAPIXELS:.0f} are read: save a smaller copy and use that"
        )
    if min(width_px, height_px) < MIN_SIDE_PX:
        raise PhotoError(
            f"{name}: {width_px} x {height_px} pixels is too small to measure on;"
            f" at least {MIN_SIDE_PX} a side are needed: ask for the full-size photo"
        )


def upright_turn(image: "Image", facts: ExifFacts) -> int:
    """Return the Exif orientation that still has to be applied to an opened picture.

    Parameters
    ----------
    image : PIL.Image.Image
        For its format.
    facts : ExifFacts
        Of the same picture.

    Returns
    -------
    int
        1 to 8, for `turn_upright`.
    """
    # The HEIF decoder has turned the picture already; its container, not Exif, holds the orientation.
    return 1 if image.format in ("HEIF", "AVIF") else facts.orientation


def _decode(image: "Image", data: bytes, name: str, told: list[str]) -> NDArray[np.uint8]:
    try:
        if image.format in ("JPEG", "MPO"):
            pixels = _decode_jpeg(image, data, name, told)
            if pixels is not None:
                return pixels
        if image.format == "TIFF" and (why := _tiff_damage(image, data)):
            raise _damaged(name, why)
        with heard(told):
            if image.format == "TIFF" and image.mode not in ("RGB", "RGBA", "L", "LA", "P", "CMYK", "1"):
                return _decode_deep(data, name)
            image.load()
        return _to_bgr(image)
    except MemoryError as error:
        raise PhotoError(
            f"{name}: not enough memory for this photo; save a smaller copy and use that"
        ) from error
    except DAMAGE as error:
        raise _damaged(name, first_line(error)) from error


def _decode_jpeg(image: "Image", data: bytes, name: str, told: list[str]) -> NDArray[np.uint8] | None:
    """Return a JPEG's pixels, or None where Pillow has to decide."""
    pixels, complaint = jpeg.decode_strictly(data)
    if jpeg.is_made_up(complaint):
        raise _damaged(name, complaint)
    if complaint:
        told.append(complaint)
    if pixels is None or image.mode not in ("RGB", "L") or pixels.shape[1::-1] != image.size:
        return None
    if seam_start_px(pixels, jpeg.row_px(data)) is not None:
        told.append(_STEP)
    return pixels


def _tiff_damage(image: "Image", data: bytes) -> str | None:
    tags = getattr(image, "tag_v2", {})
    if tags.get(_TIFF_COMPRESSION) not in _TIFF_DEFLATE:
        return None
    for offsets, lengths in _TIFF_PIECES:
        if offsets in tags and lengths in tags:
            return check_sums.strip_damage(data, tags[offsets], tags[lengths])
    return None


def _decode_deep(data: bytes, name: str) -> NDArray[np.uint8]:
    flags = cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION
    try:
        pixels = cv2.imdecode(np.frombuffer(data, np.uint8), flags)
    except cv2.error as error:
        raise _damaged(name, "the decoder gives up") from error
    if pixels is None:
        raise PhotoError(f"{name}: this kind of TIFF can't be read; export it as 8-bit TIFF, PNG or JPEG")
    return np.asarray(pixels, np.uint8)


def _to_bgr(image: "Image") -> NDArray[np.uint8]:
    width_px, height_px = image.size
    pixels = np.empty((height_px, width_px, 3), np.uint8)
    for top in range(0, height_px, _STRIP_PX):
        bottom = min(top + _STRIP_PX, height_px)
        pixels[top:bottom] = _strip_to_bgr(image.crop((0, top, width_px, bottom)))
    return pixels


def _strip_to_bgr(image: "Image") -> NDArray[np.uint8]:
    from PIL import Image

    if image.mode.startswith("I;16") or image.mode == "I":
        deep = np.asarray(image).astype(np.float64)
        grey = np.clip(np.rint(deep / 257.0), 0, 255).astype(np.uint8)
        return np.asarray(cv2.cvtColor(grey, cv2.COLOR_GRAY2BGR), np.uint8)
    if image.has_transparency_data:
        # What lies behind a cut-out is unknown; white is what listing pages show.
        page = Image.new("RGBA", image.size, (255, 255, 255, 255))
        image = Image.alpha_composite(page, image.convert("RGBA"))
    if image.mode == "L":
        return np.asarray(cv2.cvtColor(np.asarray(image), cv2.COLOR_GRAY2BGR), np.uint8)
    return np.asarray(cv2.cvtColor(np.asarray(image.convert("RGB")), cv2.COLOR_RGB2BGR), np.uint8)
