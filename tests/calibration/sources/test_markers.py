"""The printed target: drawing, finding it whole and in part, its plane, its print scale."""

import cv2
import numpy as np
import pytest

from calibration.camera.prior import Camera
from calibration.cautions import CautionCode, NoAnswer, NoAnswerCode
from calibration.errors import ObjectError
from calibration.image.pyramid import Pyramid
from calibration.objects import object_from_key
from calibration.printed_target.layout import TARGET, PrintScale, print_scale
from calibration.printed_target.markers import FoundTarget, find_target
from calibration.sources.target import (
    may_show_target,
    outline_of_target,
    plane_of_target,
    shows_target,
    target_object,
)
from tests.synthetic.shapes import photo_of

SIZE = (1600, 1200)
FOCAL = 1700.0
CAMERA = Camera(*SIZE, FOCAL, 0.03, ((SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2), 8.0, k1_std=0.02)


def drawn(px_per_mm=8):
    """The board with a white margin of 12 mm, from OpenCV's own drawing; the first corner is at 12 mm."""
    board = TARGET.board().generateImage((int(180 * px_per_mm), int(228 * px_per_mm)), marginSize=0)
    edge = 12 * px_per_mm
    return cv2.copyMakeBorder(board, edge, edge, edge, edge, cv2.BORDER_CONSTANT, value=255), px_per_mm


@pytest.fixture(scope="module")
def view():
    """A tilted photo of a print 0.4 % small, and the true map from its mm to pixels."""
    picture, px_per_mm = drawn()
    rvec = np.radians([25.0, -15.0, 75.0])
    R = cv2.Rodrigues(rvec)[0]
    tvec = np.array([0, 0, 420.0]) - R @ [90.0, 114.0, 0]
    K = CAMERA.matrix
    H = K @ np.column_stack([R[:, 0], R[:, 1], tvec]) @ np.diag([0.996, 0.996, 1.0])
    # Texel centres lie half a texel in; the board starts 12 mm from the picture's edge.
    texel = np.array(
        [[1 / px_per_mm, 0, 0.5 / px_per_mm - 12], [0, 1 / px_per_mm, 0.5 / px_per_mm - 12], [0, 0, 1]]
    )
    big = cv2.warpPerspective(
        picture,
        np.array([[2, 0, 0.5], [0, 2, 0.5], [0, 0, 1]]) @ H @ texel,
        (3200, 2400),
        flags=cv2.INTER_AREA,
        borderValue=120,
    )
    grey = cv2.GaussianBlur(cv2.resize(big, SIZE, interpolation=cv2.INTER_AREA), (0, 0), 0.8)
    rng = np.random.default_rng(5)
    return np.clip(grey[..., None] * 0.8 + 20 + rng.normal(0, 2, (SIZE[1], SIZE[0], 3)), 0, 255).astype(
        np.uint8
    ), H


def true_px(H, points_mm):
    return cv2.perspectiveTransform(np.asarray(points_mm, float).reshape(-1, 1, 2), H).reshape(-1, 2)


def test_all_corners_are_found_to_a_few_hundredths_of_a_pixel(view):
    pixels, H = view
    found = find_target(photo_of(pixels))
    assert isinstance(found, FoundTarget)
    assert found.seen_share > 0.98
    error = found.corners_px - true_px(H, TARGET.corners_mm()[found.corner_ids])
    assert np.sqrt(np.mean(error**2)) < 0.06
    assert np.abs(error.mean(axis=0)).max() < 0.03
    assert found.corner_std_px >= np.sqrt(np.mean(error**2)) * 0.8


def test_a_half_covered_target_is_found_and_measures_what_lies_on_the_cover(view):
    pixels, H = view
    covered = pixels.copy()
    outline = true_px(H, [[60, -20], [200, -20], [200, 250], [60, 250]]).astype(np.int32)
    cv2.fillPoly(covered, [outline], (90, 120, 160))
    found = find_target(photo_of(covered), scale=print_scale(150 * 0.996, 200 * 0.996))
    assert isinstance(found, FoundTarget)
    assert found.seen_share < 0.5
    plane = plane_of_target(CAMERA, found)
    ends = true_px(H, np.array([[90, 30], [165, 180]]))
    length = float(np.linalg.norm(np.diff(plane.to_mm(ends), axis=0)))
    assert length == pytest.approx(0.996 * np.hypot(75, 150), rel=2e-3)


def test_a_target_half_out_of_the_frame_is_found(view):
    pixels, _ = view
    assert isinstance(find_target(photo_of(pixels[:, :800])), FoundTarget)


def test_a_target_turned_upside_down_keeps_its_frame(view):
    pixels, _ = view
    turned = find_target(photo_of(pixels[::-1, ::-1]))
    assert isinstance(turned, FoundTarget)
    upright = find_target(photo_of(pixels))
    first = dict(zip(upright.corner_ids.tolist(), upright.corners_px, strict=True))
    for number, (x, y) in zip(turned.corner_ids.tolist()[::25], turned.corners_px[::25], strict=True):
        assert [SIZE[0] - 1 - x, SIZE[1] - 1 - y] == pytest.approx(first[number], abs=0.15)


def test_no_target_gives_the_reason():
    found = find_target(photo_of(np.full((600, 800, 3), 90, np.uint8)))
    assert isinstance(found, NoAnswer)
    assert found.code == NoAnswerCode.TARGET_UNSEEN
    assert found["count"] < found["least"] == 8


def test_prescreening_tells_a_target_from_none(view):
    pixels, _ = view
    assert shows_target(Pyramid.of(pixels))
    noise = np.random.default_rng(1).integers(0, 255, (900, 1200, 3), dtype=np.uint8)
    assert not shows_target(Pyramid.of(cv2.blur(noise, (9, 9))))


def test_a_small_target_that_prescreening_misses_is_suspected_at_twice_the_size(view):
    pixels = np.full((3000, 4000, 3), 120, np.uint8)
    pixels[1000:2008, 1000:2344] = cv2.resize(view[0], (1344, 1008), interpolation=cv2.INTER_AREA)
    pyramid = Pyramid.of(pixels)
    assert isinstance(find_target(photo_of(pixels)), FoundTarget)
    assert not shows_target(pyramid)
    assert may_show_target(pyramid)


def test_the_checked_print_scale_goes_into_every_length(view):
    pixels, _ = view
    found = find_target(photo_of(pixels), scale=print_scale(150.0 * 1.01, 200.0 * 1.01))
    plain = find_target(photo_of(pixels), scale=print_scale(150.0, 200.0))
    larger, smaller = plane_of_target(CAMERA, found), plane_of_target(CAMERA, plain)
    ends = [[500.0, 500.0], [900.0, 700.0]]
    ratio = np.linalg.norm(np.diff(larger.to_mm(ends), axis=0)) / np.linalg.norm(
        np.diff(smaller.to_mm(ends), axis=0)
    )
    assert ratio == pytest.approx(1.01, rel=1e-4)


def test_an_unchecked_print_is_cautioned_and_widens_the_uncertainty(view):
    pixels, _ = view
    unchecked = find_target(photo_of(pixels))
    assert CautionCode.PRINT_UNCHECKED in [one.code for one in unchecked.cautions]
    assert unchecked.scale.across_std > 5 * print_scale(149.9, 199.8).across_std


@pytest.mark.parametrize("measured", [99.6, 0.0, float("nan"), 200.0])
def test_a_reading_of_the_wrong_rule_is_refused(measured):
    with pytest.raises(ObjectError, match="check rule across"):
        print_scale(measured)


def test_the_object_of_an_unchecked_print_is_the_one_that_records_know():
    made, known = target_object(PrintScale()), object_from_key("target")
    assert (made.width_mm, made.height_mm, made.source) == (known.width_mm, known.height_mm, known.source)
    assert made.height_std_mm == pytest.approx(known.height_std_mm)


def test_the_outline_is_the_boards(view):
    pixels, H = view
    found = find_target(photo_of(pixels), scale=print_scale(150 * 0.996, 200 * 0.996))
    outline = outline_of_target(found, plane_of_target(CAMERA, found))
    assert outline.corners_px == pytest.approx(true_px(H, [[0, 0], [180, 0], [180, 228], [0, 228]]), abs=0.3)
    assert outline.object.key == "target"


def test_marker_geometry_is_the_published_one():
    """OpenCV 4.6 ArUco tutorial: 4 x 4 data bits and a border one cell wide, so 6 x 6 cells."""
    bits = cv2.aruco.generateImageMarker(TARGET.board().getDictionary(), 0, 6)
    assert bits.shape == (6, 6)
    assert not bits[0].any()
    assert not bits[:, -1].any()
