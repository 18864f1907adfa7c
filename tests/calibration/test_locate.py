import cv2
import numpy as np
import pytest

from calibration import locate, read_photo
from calibration.cautions import CautionCode, NoAnswer, NoAnswerCode
from calibration.errors import GeometryError, ObjectError
from calibration.image.photo import decode_photo
from calibration.objects import A4, ID1, TRADING
from tests.real_photos.manifest import having
from tests.real_photos.needing import needs_real_photos
from tests.synthetic.one_card import camera, photo_of


@pytest.fixture(scope="module")
def bank_card():
    return photo_of(ID1, distance_mm=260.0)


@pytest.fixture(scope="module")
def located(bank_card):
    return locate(bank_card[0], camera=camera())


def test_a_card_gives_a_plane(located, bank_card):
    assert located.reason is None
    assert located.found.object is ID1
    assert located.plane.tilt_deg == pytest.approx(20.0, abs=0.5)
    flat = located.plane.to_mm(bank_card[1])
    sides = np.linalg.norm(np.roll(flat, -1, axis=0) - flat, axis=1)
    assert np.sort(sides) == pytest.approx([53.98, 53.98, 85.6, 85.6], abs=0.1)


def test_the_distance_to_the_plane_is_that_of_the_view(located):
    assert located.plane.distance_mm == pytest.approx(260.0 * np.cos(np.radians(20.0)), rel=0.05)


def test_the_two_trading_sizes_are_stated_as_a_caution_and_settled_by_name():
    photo, _ = photo_of(TRADING, distance_mm=280.0)
    free = locate(photo, camera=camera())
    told = [one for one in free.cautions if one.code == CautionCode.IDENTITY]
    assert any("trading" in (one["key"], *(rival.kind.key for rival in one["rivals"])) for one in told)
    named = locate(photo, object_key="trading", camera=camera())
    assert named.found.object is TRADING
    assert CautionCode.IDENTITY not in [one.code for one in named.cautions]


def test_a_steep_view_is_cautioned():
    photo, _ = photo_of(ID1, tilt_deg=57.0, distance_mm=230.0)
    codes = {one.code for one in locate(photo, camera=camera()).cautions}
    assert codes & {CautionCode.STEEP_OUTLINE, CautionCode.STEEP_PLANE}


def test_a_photo_without_a_card_says_why_and_what_to_do():
    flat = np.full((600, 800, 3), 140, np.uint8)
    none = locate(decode_photo(cv2.imencode(".png", flat)[1].tobytes(), "table.png"))
    assert none.plane is None
    assert none.found is None
    assert none.reason == NoAnswer.of(NoAnswerCode.NO_OUTLINE, name=None)


def test_another_kind_than_the_one_named_is_not_accepted(bank_card):
    other = locate(bank_card[0], object_key="a4", camera=camera())
    assert other.plane is None
    assert other.reason["name"] == A4.name


def test_corners_by_hand_are_always_possible():
    flat = np.full((600, 800, 3), 140, np.uint8)
    photo = decode_photo(cv2.imencode(".png", flat)[1].tobytes(), "table.png")
    corners = [[200, 200], [600, 205], [590, 455], [205, 450]]
    by_hand = locate(photo, object_key="id1", corners_px=corners)
    assert by_hand.plane is not None
    assert by_hand.found.corners_px == pytest.approx(np.array(corners, float))
    assert by_hand.found.source == "by hand"


def test_impossible_corners_are_an_error(bank_card):
    with pytest.raises(GeometryError):
        locate(bank_card[0], object_key="id1", corners_px=[[0, 0], [10, 0], [20, 0], [30, 0]])


def test_an_unknown_kind_is_an_error(bank_card):
    with pytest.raises(ObjectError, match="no reference object"):
        locate(bank_card[0], object_key="credit")


@needs_real_photos("detection")
@pytest.mark.parametrize("name", ["playing_card_scene", "omr_omr_survey_1", "omr_angle-3"])
def test_real_reference_objects_are_outlined(name):
    entry = next(e for e in having("detection") if e["id"] == name)
    reference = entry["reference"]
    # An A4 sheet that nobody names may as well be another of that shape, which gives no plane.
    key = (
        reference["kind"]
        if reference["kind"] != "rect"
        else f"{reference['width_mm']}x{reference['height_mm']}"
    )
    found = locate(read_photo(entry["path"]), object_key=key)
    truth = np.array(reference["corners_px"])
    apart = min(
        np.linalg.norm(found.found.corners_px - np.roll(truth, k, axis=0), axis=1).max() for k in range(4)
    )
    assert found.plane is not None
    # The corners were set by hand, to 1 to 3 px.
    assert apart < 3.0 + entry["corner_uncertainty_px"]
