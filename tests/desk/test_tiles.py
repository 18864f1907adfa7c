"""Tiles agree with the photo, whatever its size and turn."""

from io import BytesIO
from typing import Any

import cv2
import numpy as np
import pillow_heif
import pytest
from PIL import Image

from calibration.errors import PhotoError
from calibration.image.photo import decode_photo
from measure.desk.photos.pictures import out_of_memory, quick_look
from measure.desk.photos.tiles import TILE_PX, Pyramid, block_means


def ramp(width_px: int, height_px: int) -> np.ndarray:
    x, y = np.meshgrid(np.arange(width_px), np.arange(height_px))
    return np.dstack([x % 251, y % 241, (x + y) % 239]).astype(np.uint8)


def decoded(data: bytes | None) -> np.ndarray:
    assert data is not None
    return cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)


@pytest.mark.parametrize("size", [(1001, 777), (512, 512), (70, 1300)])
def test_block_means_agree_with_plain_averages(size: tuple[int, int]) -> None:
    pixels = ramp(*size)
    # The same by numpy alone, as a second method; INTER_AREA rounds to the nearest whole grey level.
    height, width = (-(-side // 4) * 4 for side in pixels.shape[:2])
    padded = np.pad(pixels, ((0, height - pixels.shape[0]), (0, width - pixels.shape[1]), (0, 0)), "edge")
    plain = padded.reshape(height // 4, 4, width // 4, 4, 3).mean(axis=(1, 3))
    assert np.abs(block_means(pixels, 2).astype(float) - plain).max() <= 0.51


def test_tiles_cover_the_photo_and_nothing_else() -> None:
    pyramid = Pyramid(np.full((700, 1100, 3), 90, np.uint8))
    sizes = {(c, r): decoded(pyramid.tile(0, c, r)).shape[:2] for c in range(3) for r in range(2)}
    assert sizes[0, 0] == (TILE_PX, TILE_PX)
    assert sizes[2, 1] == (700 - TILE_PX, 1100 - 2 * TILE_PX)
    assert pyramid.tile(0, 3, 0) is None
    assert pyramid.tile(0, 0, 2) is None
    assert pyramid.tile(0, -1, 0) is None
    assert pyramid.tile(40, 0, 0) is None


def test_a_fine_tile_holds_the_photos_own_pixels() -> None:
    smooth = cv2.GaussianBlur(
        np.random.default_rng(1).integers(0, 255, (600, 600, 3)).astype(np.uint8), (0, 0), 3
    )
    tile = decoded(Pyramid(smooth).tile(0, 1, 0)).astype(int)
    assert np.abs(tile - smooth[:TILE_PX, TILE_PX:].astype(int)).mean() < 1.0


def spot_jpeg(size_px: tuple[int, int], centre_px: tuple[float, float], **options: Any) -> bytes:
    """Return a dark photo with one soft bright spot of 40 px standard deviation."""
    x, y = np.meshgrid(np.arange(size_px[0]), np.arange(size_px[1]))
    distance_px2 = (x - centre_px[0]) ** 2 + (y - centre_px[1]) ** 2
    grey = 20.0 + 200.0 * np.exp(-0.5 * distance_px2 / 40.0**2)
    buffer = BytesIO()
    Image.fromarray(np.rint(np.dstack([grey] * 3)).astype(np.uint8)).save(buffer, "JPEG", **options)
    return buffer.getvalue()


def centroid_px(pixels: np.ndarray) -> np.ndarray:
    weight = np.clip(pixels[..., 1].astype(float) - 60.0, 0.0, None)
    rows, columns = np.indices(weight.shape)
    return np.array([(weight * columns).sum(), (weight * rows).sum()]) / weight.sum()


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("size", [(640, 480), (643, 477)])
def test_the_first_view_lies_where_the_photo_lies(size: tuple[int, int], orientation: int) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    data = spot_jpeg(size, (411.3, 217.8), quality=92, exif=exif)
    look = quick_look(data)
    assert look[2] is not None
    photo = decode_photo(data, "turned.jpg")
    assert look[:2] == (photo.width_px, photo.height_px)
    assert look[2].shape == block_means(photo.pixels_bgr, 3).shape
    # A pixel of the eighth covers eight of the photo; both count from the middle of their first pixel.
    seen_px = (centroid_px(look[2]) + 0.5) * 8.0 - 0.5
    assert np.abs(seen_px - centroid_px(photo.pixels_bgr)).max() < 0.15


@pytest.mark.parametrize("options", [{"subsampling": 0}, {"subsampling": 2}, {"progressive": True}])
def test_the_first_view_has_the_photos_own_colours(options: dict[str, Any]) -> None:
    noise = np.random.default_rng(4).integers(0, 255, (480, 640, 3)).astype(np.uint8)
    buffer = BytesIO()
    Image.fromarray(cv2.GaussianBlur(noise, (0, 0), 12.0)).save(buffer, "JPEG", quality=92, **options)
    look = quick_look(buffer.getvalue())
    assert look[2] is not None
    means = block_means(decode_photo(buffer.getvalue(), "a.jpg").pixels_bgr, 3)
    assert np.abs(means.astype(int) - look[2].astype(int)).max() <= 6


def test_a_photo_out_of_memory_holds_the_same_pixels() -> None:
    buffer = BytesIO()
    Image.fromarray(ramp(300, 200)).save(buffer, "PNG")
    photo = decode_photo(buffer.getvalue(), "ramp.png")
    moved, mapping = out_of_memory(photo)
    assert mapping is not None
    assert np.array_equal(moved.pixels_bgr, photo.pixels_bgr)
    assert not moved.pixels_bgr.flags.writeable


@pytest.mark.parametrize("file_format", ["JPEG", "MPO", "PNG", "WEBP", "TIFF", "HEIF"])
def test_the_first_look_takes_each_format(file_format: str) -> None:
    pillow_heif.register_heif_opener()
    buffer = BytesIO()
    Image.fromarray(ramp(300, 200)).save(buffer, file_format)
    assert quick_look(buffer.getvalue())[:2] == (300, 200)


@pytest.mark.parametrize("data", [b"", b"not a photo", b"\xff\xd8\xff\xe0 cut short"])
def test_what_is_no_photo_is_named_as_such(data: bytes) -> None:
    with pytest.raises(PhotoError, match=r"^drop\.jpg: "):
        quick_look(data, "drop.jpg")
