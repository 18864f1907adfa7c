from dataclasses import replace

import cv2
import numpy as np
import pytest

from calibration.cards.by_hand import HAND_STD_PX, refine_corners
from calibration.cards.cautions import why_none
from calibration.cards.finder import FoundCard, find_cards
from calibration.cards.geometry.quadrilateral import apply_homography, homography, rectangle_shape, tilt_deg
from calibration.cards.geometry.rectangle_view import fit_kinds
from calibration.cautions import CautionCode, NoAnswerCode
from calibration.errors import GeometryError
from calibration.image.photo import decode_photo
from calibration.objects import A4, CARD_OBJECTS, ID1, LETTER, TRADING, TRADING_METRIC, rectangle
from tests.synthetic.one_card import FOCAL_PX, camera, corners_of, photo_of, project

CENTRE = camera().principal_point_px


def best(photo, **options):
    cards = find_cards(photo, camera(**options))
    return cards[0] if cards else None


def corner_error_px(card, corners):
    return min(np.abs(card.corners_px - np.roll(corners, k, axis=0)).max() for k in (0, 2))


# Views that fill the picture to about a third.
VIEWS = {ID1: 260.0, TRADING: 280.0, A4: 900.0, LETTER: 850.0}


@pytest.mark.parametrize("kind", VIEWS, ids=lambda kind: kind.key)
def test_a_plain_card_is_found_recognised_and_placed(kind):
    photo, corners = photo_of(kind, distance_mm=VIEWS[kind])
    card = best(photo)
    assert card.accepted
    assert card.object.key.split("-")[0] == kind.key
    assert corner_error_px(card, corners) < 0.2


def test_a_small_sheet_is_not_taken_for_a_card():
    # Seen small and soft, its sharp corners look a little rounded.
    photo, _ = photo_of(A4, distance_mm=2200.0, blur_px=1.6, card=(235, 235, 235))
    card = best(photo)
    assert card.object is A4
    assert not card.alternatives


def test_print_along_a_side_does_not_count_as_a_cover():
    view = {"distance_mm": 260.0}
    photo, _ = photo_of(ID1, **view)
    pixels = photo.pixels_bgr.copy()
    dots_mm = np.array([[x, ID1.height_mm - 0.9] for x in np.arange(6.0, 80.0, 4.0)])
    for x, y in np.rint(16.0 * project(ID1, dots_mm, **view)).astype(int).tolist():
        cv2.circle(pixels, (x, y), 64, (60, 60, 40), -1, cv2.LINE_AA, 4)
    printed = decode_photo(cv2.imencode(".png", pixels)[1].tobytes(), "printed.png")
    assert min(best(printed).support) > 0.9


def test_a_printed_frame_is_not_taken_for_the_rim():
    photo, corners = photo_of(ID1, frame=2.5, distance_mm=260.0)
    card = best(photo)
    assert card.accepted
    assert corner_error_px(card, corners) < 0.3


def test_pale_on_pale_is_found():
    photo, corners = photo_of(ID1, card=(214, 216, 215), table=(196, 200, 202), distance_mm=260.0)
    card = best(photo)
    assert card.accepted
    assert corner_error_px(card, corners) < 0.4


def test_a_steep_view_is_found():
    photo, corners = photo_of(ID1, tilt_deg=58.0, distance_mm=240.0)
    assert corner_error_px(best(photo), corners) < 0.5


def test_a_small_card_is_found():
    # 4 % of the picture's width.
    photo, corners = photo_of(ID1, distance_mm=1600.0, noise=1.0)
    assert corner_error_px(best(photo), corners) < 0.5


def test_a_covered_corner_is_no_obstacle():
    photo, corners = photo_of(ID1, distance_mm=240.0)
    pixels = photo.pixels_bgr.copy()
    cv2.circle(pixels, tuple(int(v) for v in corners[1]), 90, (60, 60, 60), -1, cv2.LINE_AA)
    covered = decode_photo(cv2.imencode(".png", pixels)[1].tobytes(), "covered.png")
    card = best(covered)
    assert corner_error_px(card, corners) < 0.6


def test_corners_run_clockwise_with_the_width_first():
    photo, _ = photo_of(TRADING, distance_mm=280.0)
    x, y = best(photo).corners_px.T
    sides = np.hypot(np.diff(x), np.diff(y))
    assert sides[0] < sides[1]
    assert np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) > 0


def test_stated_corner_uncertainty_holds_the_error():
    z = []
    for seed in range(2):
        photo, corners = photo_of(ID1, distance_mm=260.0, seed=seed, turn_deg=20.0 * seed + 5.0, noise=3.0)
        card = best(photo)
        order = min((0, 2), key=lambda k: np.abs(card.corners_px - np.roll(corners, k, axis=0)).max())
        error = (card.corners_px - np.roll(corners, order, axis=0)).ravel()
        z.append(error @ np.linalg.solve(card.corners_cov_px2, error) / 8)
    assert 0.01 < np.mean(z) < 3.0


def test_the_two_trading_sizes_are_never_told_apart():
    photo, _ = photo_of(TRADING, distance_mm=280.0)
    card = best(photo)
    assert {card.object.key, *(kind.key for kind in card.alternatives)} >= {"trading", "trading-metric"}


def test_an_empty_table_has_no_card():
    rng = np.random.default_rng(5)
    grain = cv2.GaussianBlur(rng.normal(120, 60, (600, 800, 3)), (0, 0), 3)
    data = cv2.imencode(".png", np.clip(grain, 0, 255).astype(np.uint8))[1].tobytes()
    assert not any(card.accepted for card in find_cards(decode_photo(data, "grain.png"), camera()))


@pytest.mark.slow
def test_a_rectangle_of_no_known_proportions_is_not_accepted():
    photo, _ = photo_of(rectangle(100.0, 58.0), distance_mm=300.0)
    card = best(photo)
    assert card is None or not card.accepted


def sheet_seen_aslant():
    """At 60 degrees, by a lens of which nothing is known."""
    photo, _ = photo_of(LETTER, distance_mm=900.0, tilt_deg=60.0, turn_deg=20.0)
    return photo, camera(log_focal_std=0.25)


def test_proportions_that_any_rectangle_has_do_not_name_a_kind():
    photo, lens = sheet_seen_aslant()
    card = find_cards(photo, lens)[0]
    assert card.vague
    assert not card.accepted
    why = why_none(card, CARD_OBJECTS)
    assert why.code == NoAnswerCode.ANY_RECTANGLE
    assert (why["likely_key"], why["naming_helps"]) == ("letter", True)


@pytest.mark.parametrize(
    ("confidence", "objects", "advised"),
    [(0.5, CARD_OBJECTS, True), (0.05, CARD_OBJECTS, False), (0.5, (ID1,), False)],
)
def test_naming_the_kind_is_advised_where_that_alone_would_do(confidence, objects, advised):
    _, corners = photo_of(ID1)
    card = FoundCard(ID1, corners, np.eye(8), confidence, accepted=False, support=(1.0,) * 4)
    why = why_none(card, objects)
    assert (why["likely_key"], why["naming_helps"]) == ("id1", advised)


def test_they_suffice_where_the_user_names_the_kind():
    photo, lens = sheet_seen_aslant()
    card = find_cards(photo, lens, (LETTER,))[0]
    assert card.accepted
    assert not card.vague


@pytest.mark.parametrize("radius_mm", [0.5, 8.0])
@pytest.mark.slow
def test_a_thing_with_a_cards_proportions_and_other_corners_is_less_sure(radius_mm):
    tile = replace(ID1, corner_radius_mm=radius_mm)
    photo, _ = photo_of(tile, distance_mm=300.0)
    other, own = best(photo), best(photo_of(ID1, distance_mm=300.0)[0])
    assert other is None or other.object is not ID1 or other.confidence < own.confidence - 0.1


def test_a_rectangle_of_stated_size_is_found_when_named():
    kind = rectangle(100.0, 58.0)
    photo, corners = photo_of(kind, distance_mm=300.0)
    card = find_cards(photo, camera(), (kind,))[0]
    assert card.accepted
    assert corner_error_px(card, corners) < 0.2


@pytest.mark.parametrize("tilt", [0.0, 25.0, 50.0])
def test_kinds_agree_with_their_own_projection_only(tilt):
    corners = corners_of(ID1, tilt_deg=tilt, turn_deg=30.0, distance_mm=300.0)
    fits = fit_kinds(corners, 0.01 * np.eye(8), camera(), CARD_OBJECTS)
    assert fits[0].object is ID1
    assert fits[0].chi2 < 0.1
    assert fits[1].chi2 > 20.0
    assert fits[0].tilt_deg == pytest.approx(tilt, abs=1.0)


FAR_OFF_CENTRE = {"tilt_deg": 18.0, "distance_mm": 1800.0, "shift_mm": (700.0, 400.0)}


def test_a_bowed_sheet_far_off_still_agrees_with_its_kind():
    lift_mm = 1.0
    bowed = np.array([[0, 0, lift_mm], [210, 0, -lift_mm], [210, 297, lift_mm], [0, 297, -lift_mm]])
    fit = fit_kinds(project(A4, bowed, **FAR_OFF_CENTRE), 0.04 * np.eye(8), camera(), (A4,))[0]
    assert fit.chi2 < 4.0
    assert fit.error < 0.01


def test_no_bow_explains_other_proportions():
    corners = corners_of(rectangle(210.0, 240.0), **FAR_OFF_CENTRE)
    fit = fit_kinds(corners, 0.04 * np.eye(8), camera(), (A4,))[0]
    assert fit.chi2 > 100.0
    assert fit.error > 0.15


def test_a4_and_letter_blur_into_each_other_without_focal_length_at_a_steep_view():
    corners = corners_of(A4, tilt_deg=60.0, turn_deg=90.0, distance_mm=1200.0)
    far = {
        fit.object.key: fit.chi2
        for fit in reversed(fit_kinds(corners, 0.04 * np.eye(8), camera(0.25), (A4, LETTER)))
    }
    near = {
        fit.object.key: fit.chi2
        for fit in reversed(fit_kinds(corners, 0.04 * np.eye(8), camera(0.01), (A4, LETTER)))
    }
    assert far["letter"] < near["letter"]


def test_side_ratio_is_that_of_zhang_and_he():
    # Zhang and He, Whiteboard Scanning and Image Enhancement, MSR-TR-2003-39, equations 11, 14 and 20.
    corners = corners_of(ID1, tilt_deg=35.0, turn_deg=20.0, distance_mm=300.0)
    m1, m2, m4, m3 = (np.append(corner - CENTRE, 1.0) for corner in corners)
    k2 = np.cross(m1, m4) @ m3 / (np.cross(m2, m4) @ m3)
    k3 = np.cross(m1, m4) @ m2 / (np.cross(m3, m4) @ m2)
    n2, n3 = k2 * m2 - m1, k3 * m3 - m1
    weight = np.diag([1 / FOCAL_PX**2, 1 / FOCAL_PX**2, 1.0])
    expected = 0.5 * np.log(n2 @ weight @ n2 / (n3 @ weight @ n3))
    log_ratio, cosine = rectangle_shape(corners[None], CENTRE, np.array([FOCAL_PX]))
    assert log_ratio[0, 0] == pytest.approx(expected, abs=1e-9)
    assert expected == pytest.approx(np.log(85.6 / 53.98), abs=1e-6)
    assert cosine[0, 0] == pytest.approx(0.0, abs=1e-9)


def test_homography_is_opencvs():
    source = np.array([[0.0, 0], [85.6, 0], [85.6, 53.98], [0, 53.98]])
    target = corners_of(ID1)
    ours = homography(source, target)
    theirs = cv2.getPerspectiveTransform(source.astype(np.float32), target.astype(np.float32))
    points = np.array([[10.0, 20.0], [70.0, 5.0]])
    assert apply_homography(ours, points) == pytest.approx(
        cv2.perspectiveTransform(points[None], theirs)[0], abs=1e-3
    )


def test_tilt_is_that_of_the_view():
    corners = corners_of(ID1, tilt_deg=40.0, turn_deg=70.0)
    assert tilt_deg(corners[None], CENTRE, np.array([FOCAL_PX]))[0, 0] == pytest.approx(40.0, abs=0.01)


def test_rough_corners_by_hand_move_onto_the_edges():
    photo, corners = photo_of(ID1, distance_mm=260.0)
    rough = corners + np.array([[1.5, -1], [-1, 1.2], [0.8, 1.0], [-1.4, 0.6]])
    card = refine_corners(photo, rough, ID1, camera=camera())
    assert np.abs(card.corners_px - corners).max() < 0.2
    assert card.corner_std_px < 0.3
    assert card.source == "by hand"


def test_corners_by_hand_stay_where_no_edge_is():
    flat = np.full((400, 600, 3), 128, np.uint8)
    photo = decode_photo(cv2.imencode(".png", flat)[1].tobytes(), "flat.png")
    corners = np.array([[100.0, 100], [400, 110], [390, 300], [105, 290]])
    card = refine_corners(photo, corners, ID1)
    assert card.corners_px == pytest.approx(corners)
    assert np.sqrt(np.diag(card.corners_cov_px2)) == pytest.approx(np.full(8, HAND_STD_PX))
    assert card.cautions[0].code == CautionCode.CORNERS_AS_GIVEN


def test_corners_by_hand_are_not_drawn_to_a_distant_edge():
    photo, corners = photo_of(ID1, distance_mm=260.0)
    inside = corners + 8.0 * np.sign(corners.mean(axis=0) - corners)
    card = refine_corners(photo, inside, ID1, camera=camera())
    assert np.abs(card.corners_px - inside).max() <= 3.0


def test_corners_by_hand_may_run_the_other_way_round():
    photo, corners = photo_of(ID1, distance_mm=260.0)
    card = refine_corners(photo, corners[[1, 0, 3, 2]], ID1, camera=camera())
    assert corner_error_px(card, corners) < 0.2


def test_the_longer_side_given_first_is_understood():
    photo, corners = photo_of(TRADING_METRIC, distance_mm=260.0)
    card = refine_corners(photo, np.roll(corners, -1, axis=0), TRADING_METRIC, camera=camera())
    assert corner_error_px(card, corners) < 0.2


@pytest.mark.parametrize(
    "corners",
    [
        [[0, 0], [10, 0], [20, 0], [0, 10]],
        [[0, 0], [100, 0], [100, 100]],
        [[0, 0], [100, 0], [100, float("nan")], [0, 100]],
    ],
)
def test_impossible_corners_are_refused(corners):
    photo, _ = photo_of(ID1)
    with pytest.raises(GeometryError, match="corners"):
        refine_corners(photo, corners, ID1)
