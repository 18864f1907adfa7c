"""Reading a photograph: decoding, turning upright, Exif facts and the limits on what is taken."""

import hashlib
import io
import threading
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration import jpeg
from calibration.errors import PhotoError
from calibration.exif import ExifFacts, facts_from_exif

if TYPE_CHECKING:
    from PIL.Image import Image

# 108-megapixel telephones exist; beyond this the memory for one photo passes half a gigabyte.
MAX_MEGAPIXELS = 128.0
MIN_SIDE_PX = 64
MAX_FILE_BYTES = 512 * 2**20
FORMATS = ("JPEG", "MPO", "PNG", "TIFF", "WEBP", "HEIF", "AVIF")
_WANTED = "expected a JPEG, PNG, TIFF, WebP or HEIC photo"
# Strips keep a single copy of the pixels beside the decoder's own: 190 MB less at 48 megapixels.
_STRIP_PX = 256

_TURNS: dict[int, Callable[[NDArray[np.uint8]], object]] = {
    2: lambda stored: cv2.flip(stored, 1),
    3: lambda stored: cv2.rotate(stored, cv2.ROTATE_180),
    4: lambda stored: cv2.flip(stored, 0),
    5: cv2.transpose,
    6: lambda stored: cv2.rotate(stored, cv2.ROTATE_90_CLOCKWISE),
    7: lambda stored: cv2.rotate(cv2.transpose(stored), cv2.ROTATE_180),
    8: lambda stored: cv2.rotate(stored, cv2.ROTATE_90_COUNTERCLOCKWISE),
}

# Pillow's size warning is process-wide state, so only one thread may silence it at a time.
_OPENING = threading.Lock()


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
    """

    pixels_bgr: NDArray[np.uint8]
    name: str
    sha256: str
    exif: ExifFacts

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

    Raises
    ------
    PhotoError
        The file is missing, empty, truncated, too large or no photo.
    """
    return decode_photo(photo_bytes(Path(path), str(path)), str(path))


def photo_bytes(path: Path, name: str) -> bytes:
    """Return what a photo's file holds, called `name` in messages.

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

    Raises
    ------
    PhotoError
        Empty, truncated, too large, too small or no photo.
    """
    if not data:
        raise PhotoError(f"{name}: the file is empty; {_WANTED}")
    image = _open(data, name)
    _check_size(image, name)
    facts = facts_from_exif(_exif(image))
    turn = _orientation_to_apply(image, facts)
    pixels = _decode(image, data, name)
    image.close()
    pixels = turn_upright(pixels, turn)
    pixels.setflags(write=False)
    return Photo(pixels, Path(name).name, hashlib.sha256(data).hexdigest(), facts)


def turn_upright(pixels: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    """Apply an Exif orientation (1..8) to an image array; anything else leaves it alone.

    Notes
    -----
    Exif tag 0x0112 names where row 0 and column 0 of the stored picture belong in the upright one.
    """
    # cv2 turns in blocks that fit the processor's cache, five times quicker than a strided copy.
    turn = _TURNS.get(orientation)
    return pixels if turn is None else np.asarray(turn(pixels), np.uint8)


def _open(data: bytes, name: str) -> "Image":
    import pillow_heif
    from PIL import Image, UnidentifiedImageError

    pillow_heif.register_heif_opener()
    Image.init()  # registers the plug-ins, once
    try:
        with _OPENING, warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return Image.open(io.BytesIO(data), formats=[f for f in FORMATS if f in Image.OPEN])
    except UnidentifiedImageError as error:
        raise PhotoError(f"{name}: not a photo that can be read; {_WANTED}") from error
    except Image.DecompressionBombError as error:
        raise PhotoError(
            f"{name}: more than {MAX_MEGAPIXELS:.0f} megapixels; save a smaller copy and use that"
        ) from error
    except Exception as error:  # a damaged header makes a plug-in raise nearly anything
        raise PhotoError(
            f"{name}: the photo is damaged or cut short ({_first_line(error)}); fetch or export it again"
        ) from error


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


def _exif(image: "Image") -> "Image.Exif":  # type: ignore[name-defined]
    from PIL import Image

    try:
        return image.getexif()
    except Exception:  # a damaged block is the same as none
        return Image.Exif()


def _orientation_to_apply(image: "Image", facts: ExifFacts) -> int:
    # The HEIF decoder has turned the picture already; its container, not Exif, holds the orientation.
    return 1 if image.format in ("HEIF", "AVIF") else facts.orientation


def _decode(image: "Image", data: bytes, name: str) -> NDArray[np.uint8]:
    if image.format in ("JPEG", "MPO") and image.mode in ("RGB", "L"):
        pixels = jpeg.decode_whole(data)
        if pixels is not None and pixels.shape[1::-1] == image.size:
            return pixels
    try:
        with _OPENING, warnings.catch_warnings():
            warnings.simplefilter("ignore")
            if image.format == "TIFF" and image.mode not in ("RGB", "RGBA", "L", "LA", "P", "CMYK", "1"):
                return _decode_deep(data, name)
            image.load()
        return _to_bgr(image)
    except PhotoError:
        raise
    except MemoryError as error:
        raise PhotoError(
            f"{name}: not enough memory for this photo; save a smaller copy and use that"
        ) from error
    except Exception as error:  # decoders raise whatever the damage makes of it
        raise PhotoError(
            f"{name}: the photo is damaged or cut short ({_first_line(error)}); fetch or export it again"
        ) from error


def _decode_deep(data: bytes, name: str) -> NDArray[np.uint8]:
    flags = cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION
    pixels = cv2.imdecode(np.frombuffer(data, np.uint8), flags)
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


def _first_line(error: BaseException) -> str:
    text = str(error).strip() or type(error).__name__
    return text.splitlines()[0][:120]
