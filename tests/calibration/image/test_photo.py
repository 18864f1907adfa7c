"""Reading photographs: formats, orientation, Exif facts, and files that are no use."""

import contextlib
import io

import numpy as np
import pillow_heif
import pytest
from PIL import Image

from calibration.errors import PhotoError
from calibration.image import jpeg
from calibration.image.photo import decode_photo, read_photo, turn_upright

FIRST_PIXELS = np.arange(6, dtype=np.uint8).reshape(2, 3)
# Exif 2.32, tag 0x0112: where row 0 and column 0 belong. Upright pictures of [[0 1 2] [3 4 5]].
UPRIGHT = {
    1: [[0, 1, 2], [3, 4, 5]],
    2: [[2, 1, 0], [5, 4, 3]],
    3: [[5, 4, 3], [2, 1, 0]],
    4: [[3, 4, 5], [0, 1, 2]],
    5: [[0, 3], [1, 4], [2, 5]],
    6: [[3, 0], [4, 1], [5, 2]],
    7: [[5, 2], [4, 1], [3, 0]],
    8: [[2, 5], [1, 4], [0, 3]],
}


def quarters() -> Image.Image:
    """Return a picture whose four quarters differ in colour."""
    pixels = np.full((96, 128, 3), 200, np.uint8)
    pixels[:48, :64] = (250, 0, 0)
    pixels[:48, 64:] = (0, 250, 0)
    pixels[48:, :64] = (0, 0, 250)
    return Image.fromarray(pixels)


def encoded(picture: Image.Image, file_format: str, **options: object) -> bytes:
    stream = io.BytesIO()
    picture.save(stream, file_format, **options)
    return stream.getvalue()


@pytest.mark.parametrize("orientation", UPRIGHT)
def test_each_orientation_turns_the_picture_upright(orientation: int) -> None:
    assert turn_upright(FIRST_PIXELS, orientation).tolist() == UPRIGHT[orientation]


@pytest.mark.parametrize("orientation", UPRIGHT)
def test_the_orientation_of_a_jpeg_is_applied_once(orientation: int) -> None:
    from PIL import ImageOps

    exif = Image.Exif()
    exif[0x0112] = orientation
    data = encoded(quarters(), "JPEG", exif=exif, quality=95)
    photo = decode_photo(data, "turned.jpg")
    # Pillow's own transposition is the second method.
    expected = np.asarray(ImageOps.exif_transpose(Image.open(io.BytesIO(data))))[..., ::-1]
    assert np.array_equal(photo.pixels_bgr, expected)
    assert photo.exif.orientation == orientation


@pytest.mark.parametrize("file_format", ["JPEG", "PNG", "TIFF", "WEBP"])
def test_each_format_is_read_in_colour(file_format: str) -> None:
    photo = decode_photo(encoded(quarters(), file_format), f"photo.{file_format.lower()}")
    assert (photo.width_px, photo.height_px) == (128, 96)
    assert photo.pixels_bgr[10, 10, 2] > 200
    assert photo.pixels_bgr[80, 10, 0] > 200


def test_a_telephone_photo_in_heic_is_read() -> None:
    pillow_heif.register_heif_opener()
    photo = decode_photo(encoded(quarters(), "HEIF"), "phone.heic")
    assert (photo.width_px, photo.height_px) == (128, 96)
    assert photo.pixels_bgr[10, 10, 2] > 200


@pytest.mark.parametrize("mode", ["L", "LA", "P", "RGBA", "CMYK", "1", "I;16"])
def test_each_pixel_layout_becomes_three_channels(mode: str) -> None:
    if mode == "I;16":
        picture = Image.fromarray(np.full((96, 128), 257 * 100, np.uint16))
    else:
        picture = quarters().convert(mode)
    photo = decode_photo(encoded(picture, "TIFF" if mode == "CMYK" else "PNG"), "photo")
    assert photo.pixels_bgr.shape == (96, 128, 3)
    if mode == "I;16":
        assert photo.pixels_bgr[0, 0].tolist() == [100, 100, 100]


def test_a_deep_tiff_is_read() -> None:
    import cv2

    deep = np.zeros((96, 128, 3), np.uint16)
    deep[..., 2] = 257 * 120
    photo = decode_photo(cv2.imencode(".tiff", deep)[1].tobytes(), "deep.tiff")
    assert photo.pixels_bgr[0, 0].tolist() == [0, 0, 120]


def test_exif_facts_are_read() -> None:
    exif = Image.Exif()
    exif[0x010F] = "Halyard"
    block = exif.get_ifd(0x8769)
    block[0xA405] = 26
    block[0x920A] = 5.7
    block[0xA404] = 2.0
    facts = decode_photo(encoded(quarters(), "JPEG", exif=exif), "a.jpg").exif
    assert (facts.make, facts.focal_35mm_mm, facts.digital_zoom) == ("Halyard", 26.0, 2.0)
    assert facts.focal_mm == pytest.approx(5.7)


def test_a_focal_length_of_zero_means_unknown() -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = 0
    assert decode_photo(encoded(quarters(), "JPEG", exif=exif), "a.jpg").exif.focal_35mm_mm is None


def test_pixels_can_not_be_changed() -> None:
    photo = decode_photo(encoded(quarters(), "PNG"), "a.png")
    with pytest.raises(ValueError, match="read-only"):
        photo.pixels_bgr[0, 0] = 0


def test_a_photo_cut_short_is_refused() -> None:
    data = encoded(quarters(), "JPEG")
    with pytest.raises(PhotoError, match=r"cut.jpg: the photo is damaged or cut short"):
        decode_photo(data[: len(data) // 2], "cut.jpg")


@pytest.mark.parametrize(
    ("data", "said"),
    [(b"", "is empty"), (b"<html>no</html>", "not a photo"), (b"\xff\xd8\xff", "not a photo")],
)
def test_what_is_no_photo_is_refused(data: bytes, said: str) -> None:
    with pytest.raises(PhotoError, match=said):
        decode_photo(data, "odd.jpg")


def test_a_bomb_is_refused_before_it_is_decoded() -> None:
    bomb = encoded(Image.new("1", (20_000, 20_000)), "PNG")
    with pytest.raises(PhotoError, match="megapixels"):
        decode_photo(bomb, "bomb.png")


def test_a_thumbnail_is_refused() -> None:
    with pytest.raises(PhotoError, match="too small"):
        decode_photo(encoded(Image.new("RGB", (40, 40)), "PNG"), "thumb.png")


def test_a_missing_file_and_a_folder_are_named(tmp_path: object) -> None:
    with pytest.raises(PhotoError, match="no such file"):
        read_photo(f"{tmp_path}/none.jpg")
    with pytest.raises(PhotoError, match="is a folder"):
        read_photo(str(tmp_path))


@pytest.mark.parametrize(
    "options",
    [
        {"quality": 95, "subsampling": 0},
        {"quality": 85, "subsampling": 1},
        {"quality": 70, "subsampling": 2, "progressive": True},
        {"quality": 70, "restart_marker_rows": 2},
        {"quality": 80, "optimize": True, "comment": b"\xff\xd9 in a comment"},
    ],
)
def test_a_jpeg_has_the_pixels_that_pillow_reads(options: dict[str, object]) -> None:
    noise = np.random.default_rng(3).integers(0, 256, (101, 133, 3)).astype(np.uint8)
    data = encoded(Image.fromarray(noise), "JPEG", **options)
    assert jpeg.decode_strictly(data)[1] == ""
    # Pillow is the second method.
    assert np.array_equal(
        decode_photo(data, "a.jpg").pixels_bgr, np.asarray(Image.open(io.BytesIO(data)))[..., ::-1]
    )


def test_a_grey_jpeg_and_one_with_a_trailer_are_read() -> None:
    grey = encoded(quarters().convert("L"), "JPEG")
    assert decode_photo(grey + b"trailer", "a.jpg").pixels_bgr.shape == (96, 128, 3)


def refused(data: bytes) -> bool:
    try:
        decode_photo(data, "cut.jpg")
    except PhotoError:
        return True
    return False


def test_each_missing_byte_of_a_jpeg_is_noticed() -> None:
    data = encoded(quarters(), "JPEG", progressive=True)
    assert all(refused(data[:size]) for size in range(len(data)))
    # Transfers that break off often leave a file of the full length.
    assert all(refused(data[:size] + bytes(len(data) - size)) for size in range(0, len(data), 7))


def test_damage_is_refused_where_pillow_refuses_it() -> None:
    rng = np.random.default_rng(11)
    picture = Image.fromarray(rng.integers(0, 256, (80, 80, 3)).astype(np.uint8))
    sound = encoded(picture, "JPEG", quality=60)
    for _ in range(200):
        data = bytearray(sound)
        for place in rng.integers(0, len(data), 3):
            data[place] = int(rng.integers(256))
        try:
            expected = np.asarray(Image.open(io.BytesIO(bytes(data))).convert("RGB"))[..., ::-1]
        except Exception:  # whatever its decoder makes of the damage
            assert refused(bytes(data))
        else:
            # Where Pillow goes on in silence, the picture is at least the same, if it is not refused.
            assert refused(bytes(data)) or np.array_equal(
                decode_photo(bytes(data), "damaged.jpg").pixels_bgr, expected
            )


def test_random_damage_never_gives_a_traceback() -> None:
    rng = np.random.default_rng(5)
    sound = encoded(quarters(), "JPEG")
    for _ in range(300):
        data = bytearray(sound)
        for place in rng.integers(0, len(data), 6):
            data[place] = int(rng.integers(256))
        with contextlib.suppress(PhotoError):
            decode_photo(bytes(data), "damaged.jpg")
