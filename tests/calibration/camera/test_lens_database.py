"""The database of cameras and lenses, and what a camera of it adds to what Exif says."""

import lensfunpy
import numpy as np
import pytest

from calibration.camera import lens_database
from calibration.camera.lens_database import known_camera
from calibration.camera.prior import camera_from_exif
from calibration.image import ExifFacts

EOS = ExifFacts(make="Canon", model="Canon EOS 30D", focal_mm=24.0, taken="2007:05:01 12:00:00")
NIKON = ExifFacts(make="NIKON CORPORATION", model="NIKON D80", focal_mm=35.0)


@pytest.mark.parametrize(
    ("facts", "sensor_mm"),
    [
        # Makers' sensor sizes, from memory.
        (EOS, (22.5, 15.0)),
        (NIKON, (23.6, 15.8)),
        (ExifFacts(make="SONY", model="ILCE-7M3", focal_mm=50.0), (35.6, 23.8)),
        (ExifFacts(make="OLYMPUS IMAGING CORP.", model="E-M10", focal_mm=25.0), (17.3, 13.0)),
    ],
)
def test_the_equivalent_focal_length_compares_the_sensors_diagonal(facts, sensor_mm):
    known = known_camera(facts)
    assert known.equivalent_mm == pytest.approx(
        facts.focal_mm * np.hypot(36, 24) / np.hypot(*sensor_mm), rel=0.02
    )
    assert 0.005 < known.equivalent_log_std < 0.05


@pytest.mark.parametrize(
    "facts",
    [
        ExifFacts(),
        ExifFacts(make="Canon", model="Canon EOS 30D"),
        ExifFacts(make="No Such Maker", model="Nothing 1", focal_mm=4.0),
        ExifFacts(make="\x1b[2J", model='"><&', focal_mm=4.0),
    ],
)
def test_a_camera_that_is_not_listed_or_named_tells_nothing(facts):
    assert known_camera(facts) is None


def test_a_camera_without_the_35_mm_equivalent_gets_its_focal_length_from_the_crop_factor():
    camera = camera_from_exif(3504, 2336, EOS)
    assert camera.focal_px == pytest.approx(24.0 / 22.5 * 3504, rel=0.02)
    assert camera.log_focal_std < 0.06
    assert camera.source == "Exif focal length and a database of cameras"


def test_the_division_coefficient_bends_as_the_database_s_own_functions_do():
    """Independent: the displacements that the library itself computes for this lens."""
    database = lensfunpy.Database()
    name = "Canon EF 24-105mm f/4L IS USM"
    body = database.find_cameras("Canon", "Canon EOS 30D")[0]
    lens = database.find_lenses(body, None, name)[0]
    width_px, height_px = 3504, 2336
    modifier = lensfunpy.Modifier(lens, body.crop_factor, width_px, height_px)
    modifier.initialize(24.0, 8.0, 1000.0, flags=lensfunpy.ModifyFlags.DISTORTION)
    bent_px = modifier.apply_geometry_distortion()[::400, ::400].reshape(-1, 2)
    straight_px = np.stack(
        np.meshgrid(np.arange(0, width_px, 400), np.arange(0, height_px, 400)), axis=-1
    ).reshape(-1, 2)
    centre_px = np.array([(width_px - 1) / 2, (height_px - 1) / 2])
    focal_px = 24.0 / (36.0 / body.crop_factor) * width_px
    bent, straight = (np.linalg.norm(at - centre_px, axis=1) / focal_px for at in (bent_px, straight_px))

    old = ExifFacts(
        make="Canon", model="Canon EOS 30D", focal_mm=24.0, lens=name, taken="2006:01:01 00:00:00"
    )
    # Nine in ten of pictures so old are as the lens drew them.
    division = known_camera(old).division / 0.9
    ours = bent / (1.0 + division * bent**2)
    # The scale is the focal length's affair.
    scale = float(ours @ straight / (straight @ straight))
    assert division < -0.01
    assert np.abs(ours / scale - straight).max() < 0.15 * np.abs(bent - straight).max()


def test_pictures_since_2009_may_have_been_straightened():
    old = known_camera(EOS)
    recent = known_camera(
        ExifFacts(make="Canon", model="Canon EOS 30D", focal_mm=24.0, taken="2019:01:01 00:00:00")
    )
    assert abs(recent.division) < abs(old.division)


def test_a_listed_lens_counts_only_where_the_stated_angle_of_view_is_its_own():
    """An action camera's equivalent focal length belongs to its mode, not to the lens as listed."""
    stated = ExifFacts(make="GoPro", model="HERO4 Silver", focal_mm=3.0, focal_35mm_mm=15.0)
    unlisted = ExifFacts(make="GoPro", model="Nothing", focal_mm=3.0, focal_35mm_mm=15.0)
    assert camera_from_exif(4000, 3000, stated) == camera_from_exif(4000, 3000, unlisted)


@pytest.mark.parametrize(
    "size_px",
    [
        (4000, 3000),
        (3872, 2592),
        (4032, 3024),
        (5344, 3000),
        (1836, 3264),
        (378, 504),
        (912, 2000),
        (960, 960),
    ],
)
def test_shapes_that_cameras_write_do_not_count_as_cropped(size_px):
    assert not camera_from_exif(*size_px, None).cautions


@pytest.mark.parametrize("size_px", [(3769, 2085), (2957, 2172), (1865, 1872), (1054, 1238), (1280, 524)])
def test_a_shape_that_no_camera_writes_counts_as_cropped(size_px):
    width_px, height_px = size_px
    rewritten = ExifFacts(
        make="samsung",
        model="SM-F936B",
        focal_mm=5.4,
        focal_35mm_mm=23.0,
        stated_width_px=width_px,
        stated_height_px=height_px,
    )
    for facts in (rewritten, None):
        camera = camera_from_exif(width_px, height_px, facts)
        assert camera.cautions
        assert camera.principal_point_std_px > 0.04 * max(size_px)


def test_a_machine_without_the_library_does_without_the_database(monkeypatch):
    lens_database._looked_up.cache_clear()
    monkeypatch.setattr(lens_database, "_database", lambda: None)
    assert known_camera(EOS) is None
    lens_database._looked_up.cache_clear()
