"""From Exif, or its absence, to a camera with honest uncertainties."""

from math import hypot, log

import pytest

from calibration.camera.prior import camera_from_exif
from calibration.cautions import CautionCode
from calibration.image.exif import ExifFacts

PHONE = ExifFacts(make="Tern", model="T1", focal_35mm_mm=26.0, focal_mm=4.2)


def test_a_phones_equivalent_gives_the_focal_length_and_three_per_cent() -> None:
    camera = camera_from_exif(4032, 3024, PHONE)
    assert camera.focal_px == pytest.approx(3028.66, abs=0.01)
    assert camera.log_focal_std == pytest.approx(0.03, abs=0.001)
    assert camera.source == "Exif 35 mm equivalent"
    assert camera.principal_point_px == (2015.5, 1511.5)


def test_a_turned_photo_has_the_same_focal_length() -> None:
    assert camera_from_exif(3024, 4032, PHONE).focal_px == camera_from_exif(4032, 3024, PHONE).focal_px


def test_a_wide_crop_uses_the_whole_frames_diagonal_and_doubts_it() -> None:
    whole, wide = camera_from_exif(4032, 3024, PHONE), camera_from_exif(4032, 2268, PHONE)
    assert wide.focal_px == pytest.approx(whole.focal_px)
    # The other reading, 26 mm for the crop's own diagonal, lies within two standard uncertainties.
    other = 26.0 * hypot(4032, 2268) / hypot(36, 24)
    assert abs(log(other / wide.focal_px)) < 2 * wide.log_focal_std


def test_the_rounding_of_a_short_equivalent_counts_for_more() -> None:
    short = camera_from_exif(4000, 3000, ExifFacts(make="x", focal_35mm_mm=5.0))
    assert short.log_focal_std > camera_from_exif(4000, 3000, PHONE).log_focal_std


def test_sensor_resolution_serves_where_there_is_no_equivalent() -> None:
    facts = ExifFacts(make="x", focal_mm=5.0, focal_plane_px_per_mm=600.0)
    assert camera_from_exif(4000, 3000, facts).focal_px == pytest.approx(3000.0)


def test_a_reduced_photo_has_a_reduced_focal_length() -> None:
    facts = ExifFacts(
        make="x", focal_mm=5.0, focal_plane_px_per_mm=600.0, stated_width_px=4000, stated_height_px=3000
    )
    camera = camera_from_exif(1500, 2000, facts)
    assert camera.focal_px == pytest.approx(1500.0)
    assert camera.cautions == ()


def test_a_crop_against_the_stated_size_loosens_the_principal_point() -> None:
    facts = ExifFacts(make="x", focal_35mm_mm=26.0, stated_width_px=4032, stated_height_px=3024)
    camera = camera_from_exif(3000, 3024, facts)
    assert camera.focal_px == pytest.approx(3028.66, abs=0.01)
    assert camera.principal_point_std_px == pytest.approx(hypot(1032 / 2 / 3**0.5, 30.24), rel=0.01)
    assert CautionCode.CROPPED in [one.code for one in camera.cautions]


def test_a_shape_of_no_camera_is_taken_for_a_crop() -> None:
    camera = camera_from_exif(3000, 2600, ExifFacts(make="x", focal_35mm_mm=26.0))
    assert CautionCode.CROPPED in [one.code for one in camera.cautions]


def test_digital_zoom_widens_the_focal_length() -> None:
    zoomed = camera_from_exif(4032, 3024, ExifFacts(make="x", focal_35mm_mm=26.0, digital_zoom=2.0))
    assert zoomed.log_focal_std >= 0.25
    assert CautionCode.DIGITAL_ZOOM in [one.code for one in zoomed.cautions]


def test_a_long_lens_near_its_subject_is_less_certain() -> None:
    facts = ExifFacts(make="x", focal_35mm_mm=75.0, focal_mm=50.0)
    assert camera_from_exif(6000, 4000, facts).log_focal_std > 0.09


@pytest.mark.parametrize("facts", [None, ExifFacts(), ExifFacts(make="x", focal_35mm_mm=1.0)])
def test_without_a_sane_focal_length_one_is_assumed_within_a_quarter(facts: ExifFacts | None) -> None:
    camera = camera_from_exif(4032, 3024, facts)
    assert camera.source == "assumed"
    assert camera.log_focal_std == 0.25


def test_a_small_nameless_picture_may_be_from_any_lens() -> None:
    camera = camera_from_exif(640, 480, ExifFacts())
    # From equisolid, -3/8, to a slight pincushion: all within two standard uncertainties of the mean.
    assert camera.division - 2 * camera.k1_std < -3 / 8
    assert camera.division + 2 * camera.k1_std > 0.05


@pytest.mark.parametrize("size", [(873, 960), (960, 960), (1280, 524), (720, 1280), (378, 504)])
def test_a_small_picture_of_no_webcams_frame_is_taken_as_hardly_bent(size: tuple[int, int]) -> None:
    camera = camera_from_exif(*size, None)
    assert camera.division == 0.0
    # It may be cut from a webcam's picture all the same: more doubt than about a large one.
    assert camera.k1_std > 2 * camera_from_exif(4032, 3024, None).k1_std


@pytest.mark.parametrize("size", [(640, 480), (1280, 720), (800, 600), (352, 288), (1280, 960)])
def test_a_picture_of_a_webcams_frame_may_be_a_webcams_or_a_shrunk_one(size: tuple[int, int]) -> None:
    camera = camera_from_exif(*size, None)
    for division in (-0.16 - 0.12, 0.0):
        assert abs(division - camera.division) < 1.3 * camera.k1_std


def test_a_wide_angle_lens_may_bend_lines_and_a_phones_hardly_does() -> None:
    action = camera_from_exif(4000, 3000, ExifFacts(make="x", focal_35mm_mm=15.0))
    assert action.k1_std > 0.1
    assert camera_from_exif(4032, 3024, PHONE).k1_std == 0.02


def test_a_nameless_frame_of_video_may_be_a_webcams() -> None:
    video, phone = camera_from_exif(1920, 1080, None), camera_from_exif(1600, 1200, None)
    assert video.k1_std > 2 * phone.k1_std
    assert video.division < 0.0
    named = camera_from_exif(1920, 1080, ExifFacts(make="Tern"))
    assert named.k1_std == pytest.approx(0.02)
