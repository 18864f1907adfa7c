"""Exported pictures: private, readable, to scale; read back with Pillow."""

import hashlib
import io

import cv2
import numpy as np
import pytest
from PIL import Image

from calibration.objects import ID1
from calibration.plane.fit import fit_plane
from measure.errors import MeasureError
from measure.writeup.draw.privacy import checked, metadata_of
from tests.writeup import scene

# What the phone wrote into the photo: none of it may leave the house.
SECRETS = (b"Quillcam", b"SN-12345", b"A. Collector", b"private", b"taken at home", b"Exif", b"GPS")


def pictures(work):
    return [path for path in work.product.files if path.suffix in (".jpg", ".png")]


def test_the_photo_has_the_metadata_that_must_not_pass(plain):
    with Image.open(plain.photo) as photo:
        assert photo.getexif().get_ifd(0x8825)[2] == (51.0, 30.0, 0.0)
        assert photo.getexif().get_ifd(0x8769)[0xA431] == "SN-12345"


def test_exported_pictures_carry_no_metadata(plain, world):
    for path in [*pictures(plain), *pictures(world)]:
        with Image.open(path) as picture:
            picture.load()
            assert len(picture.getexif()) == 0
            assert not set(picture.info) - {"jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi"}
            assert [name for name, _ in getattr(picture, "applist", ())] in ([], ["APP0"])


def test_no_file_of_the_folder_holds_what_the_camera_wrote(plain):
    for path in plain.product.files:
        data = path.read_bytes()
        assert not [secret for secret in SECRETS[:5] if secret in data], path.name


def test_metadata_is_found_where_there_is_some(plain):
    data = plain.photo.read_bytes()
    assert "exif" in metadata_of(data)
    with pytest.raises(MeasureError, match="carries metadata"):
        checked(data)
    stream = io.BytesIO()
    Image.new("RGB", (4, 4)).save(stream, "JPEG", comment=b"hello")
    assert metadata_of(stream.getvalue()) == ("COM", "comment")


def test_the_original_is_not_altered(plain):
    assert hashlib.sha256(plain.photo.read_bytes()).hexdigest() == plain.specimen.photos[0].sha256


def face(work, view):
    """Return the card's face in the exported photo, and in the original, as upright pictures of 8 px/mm."""
    plane = fit_plane(view.camera(), ID1, view.project(scene.CARD_MM), np.eye(8) * 0.15**2)
    corners = plane.to_px(scene.CARD_MM)
    flat = np.array([[0, 0], [684, 0], [684, 431], [0, 431]], np.float32)
    faces = []
    for path, scale in (
        (work.folder / "photo-1.jpg", 1600 / max(view.width_px, view.height_px)),
        (work.photo, 1.0),
    ):
        matrix = cv2.getPerspectiveTransform(((corners + 0.5) * scale - 0.5).astype(np.float32), flat)
        faces.append(cv2.warpPerspective(cv2.imread(str(path)), matrix, (684, 431)).astype(int))
    return faces


def test_the_face_of_the_card_is_covered_and_its_rim_is_not(plain):
    shown, original = face(plain, scene.View())
    number = np.s_[220:275, 64:600]  # where the digits are printed
    assert original[number].std() > 40
    corner = np.s_[30:75, 60:620]  # above the scale bar and its words
    assert np.abs(shown[corner] - shown[corner].mean(axis=(0, 1))).max() < 30
    assert np.abs(shown[corner].mean(axis=(0, 1)) - [196, 190, 182]).max() < 4
    rim = np.s_[3:6, 100:600]
    assert np.abs(shown[rim].mean(axis=(0, 1)) - [120, 60, 30]).max() < 40


def test_showing_the_card_warns(plain, world):
    assert plain.product.warnings == ()
    assert any("card's face is shown" in text for text in world.product.warnings)
    view = scene.View(width_px=900, height_px=1200, focal_px=1090.0, turn_deg=92.0, aim_mm=(95.0, 50.0))
    shown, original = face(world, view)
    number = np.s_[220:275, 64:600]
    assert np.corrcoef(shown[number].ravel(), original[number].ravel())[0, 1] > 0.9


def test_the_photo_is_shown_with_1600_px_on_its_longer_side(plain, world):
    with Image.open(plain.folder / "photo-1.jpg") as picture:
        assert picture.width == 1600
        assert picture.height > 1200  # the list of figures is below
    with Image.open(world.folder / "photo-1.jpg") as picture:
        assert picture.width == 1200
        assert picture.height > 1600


def test_a_close_up_is_to_scale(plain):
    picture = cv2.imread(str(plain.folder / "close-up-1.jpg")).astype(int)
    px_per_mm = float(plain.text("evidence.html").split("px per mm")[0].split()[-1])
    green = (picture[:, :, 1] - picture[:, :, 2] > 30) & (picture[:, :, 1] - picture[:, :, 0] > 30)
    columns = np.flatnonzero(green.sum(axis=0) > 10)
    rows = np.flatnonzero(green.sum(axis=1) > 60)
    assert np.ptp(columns) / px_per_mm == pytest.approx(160.1, abs=1.0)
    assert np.ptp(rows) / px_per_mm == pytest.approx(24.2, abs=1.0)
