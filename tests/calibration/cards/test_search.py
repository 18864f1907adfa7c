import cv2
import numpy as np

from calibration.cards.features.rectified_patch import rectify
from calibration.cards.hypotheses.choices import Choice
from calibration.cards.hypotheses.prescreen import prescreen
from calibration.cards.hypotheses.queue import ExaminedPlaces
from calibration.cards.hypotheses.side_combinations import Combination, combinations
from calibration.cards.proposals.collinear_groups import with_collinear_groups
from calibration.cards.proposals.edge_support import EdgeMap, measure_support
from calibration.cards.proposals.junctions import closed_quads, find_junctions
from calibration.cards.proposals.search import LevelEdges, search, search_smoothed
from calibration.cards.proposals.segments import ChannelSegments, Segments
from calibration.cards.proposals.three_sides import open_quads
from calibration.image.pyramid import Pyramid
from calibration.objects import CARD_OBJECTS, ID1, TRADING
from tests.synthetic.one_card import camera, corners_of, photo_of


def apart_px(quads, corners):
    return min(np.abs(np.roll(quads, k, axis=1) - corners).max(axis=(1, 2)).min() for k in range(4))


def lines(*ends):
    ends = np.array(ends, dtype=float)
    return Segments(ends, np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1))


def sides(corners, count):
    return [(corners[i], corners[(i + 1) % 4]) for i in range(count)]


def test_four_lines_that_meet_close_one_quadrilateral():
    corners = corners_of(ID1)
    quads, _ = closed_quads(find_junctions(lines(*sides(corners, 4))))
    assert len(quads) == 1
    assert apart_px(quads, corners) < 1e-6


def test_three_sides_and_the_proportions_give_the_fourth():
    corners = corners_of(ID1, tilt_deg=35.0, turn_deg=40.0)
    three = lines(*sides(corners, 3))
    junctions = find_junctions(three)
    assert not len(closed_quads(junctions)[0])
    # The corners are those of a pinhole camera: what is completed must be exact.
    assert apart_px(open_quads(junctions, three, camera(), (ID1,), 1.0), corners) < 0.01


def test_two_sides_are_too_few():
    two = lines(*sides(corners_of(ID1), 2))
    assert not len(open_quads(find_junctions(two), two, camera(), (ID1,), 1.0))


def test_pieces_of_a_side_join_to_one_line():
    pieces = lines(*(((x, 100.0), (x + 12.0, 100.0)) for x in range(50, 350, 20)))
    nothing = Segments(np.zeros((0, 2, 2)), np.zeros(0))
    joined = with_collinear_groups(ChannelSegments((pieces, nothing, nothing))).channels[0]
    assert np.ptp(joined.ends[0, :, 0]) == 292.0
    assert len(joined) == len(pieces) + 1


def test_pieces_far_apart_stay_apart():
    pieces = lines(*(((x, 100.0), (x + 12.0, 100.0)) for x in range(50, 650, 60)))
    nothing = Segments(np.zeros((0, 2, 2)), np.zeros(0))
    assert len(with_collinear_groups(ChannelSegments((pieces, nothing, nothing))).channels[0]) == len(pieces)


def test_a_card_of_fifty_pixels_is_proposed_on_the_finer_level():
    photo, corners = photo_of(ID1, distance_mm=2300.0, noise=2.0)
    pyramid = Pyramid.of(photo.pixels_bgr)
    assert len(pyramid.levels) == 2
    found = search(LevelEdges.of(pyramid), camera(), CARD_OBJECTS, segments=600)
    assert apart_px(found.quads_px[:6], corners) < 2.0


def test_a_card_with_a_covered_side_is_proposed():
    photo, corners = photo_of(ID1, distance_mm=400.0)
    pixels = photo.pixels_bgr.copy()
    a, b = corners[1], corners[2]
    for share in np.linspace(-0.1, 1.1, 7):
        centre = tuple(int(v) for v in a + share * (b - a))
        cv2.circle(pixels, centre, 30, (int(60 + 80 * share), 90, 120), -1, cv2.LINE_AA)
    found = search(LevelEdges.of(Pyramid.of(pixels)), camera(), CARD_OBJECTS, segments=600)
    assert apart_px(found.quads_px[:10], corners) < 6.0


def printed_ground(height, width, period=24):
    """Columns of thin dark lines on pale paper, as on a newspaper."""
    ground = np.full((height, width, 3), 205, np.uint8)
    for left in range(20, width, 220):
        for row in range(10, height, period):
            cv2.rectangle(ground, (left, row), (left + 190, row + period // 2), (60, 55, 58), -1)
    return ground


def test_a_card_on_print_is_proposed_where_the_print_is_smoothed_away():
    photo, corners = photo_of(ID1, distance_mm=900.0, tilt_deg=20.0, turn_deg=25.0)
    mask = np.zeros(photo.pixels_bgr.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.int32(np.round(corners))], 255)
    pixels = cv2.copyTo(photo.pixels_bgr, mask, printed_ground(*mask.shape))
    found = search_smoothed(LevelEdges.of(Pyramid.of(pixels)), camera(), CARD_OBJECTS, segments=400)
    assert apart_px(found.quads_px[:10], corners) < 6.0


def test_a_pale_edge_beside_print_still_counts():
    picture = np.full((400, 600, 3), 210, np.uint8)
    picture[100:300, 150:450] = 232
    for row in range(120, 290, 8):
        picture[row : row + 4, 165:435] = 40
    edges = EdgeMap.of(cv2.GaussianBlur(picture, (0, 0), 0.7))
    outline = np.array([[[149.5, 99.5], [449.5, 99.5], [449.5, 299.5], [149.5, 299.5]]])
    assert measure_support(edges, outline).sides.min() > 0.95


def test_the_true_outline_passes_prescreening_and_a_shifted_one_does_not():
    photo, corners = photo_of(ID1, distance_mm=300.0)
    pyramid = Pyramid.of(photo.pixels_bgr)

    def best_prescreened(quad):
        found = combinations(rectify(pyramid, quad, ID1), camera(), CARD_OBJECTS)[0]
        return prescreen(pyramid, ID1, found, -0.3)

    assert best_prescreened(corners) > 1.0
    assert best_prescreened(corners + [0.5 * np.ptp(corners[:, 0]), 0.0]) < -2.0


def choice_at(corners, promise, kind=ID1):
    sides = Combination(corners, 1.0, np.ones(4), np.ones(4), np.zeros(4), 0.0)
    return Choice(kind, sides, -1.0, promise)


def test_no_verification_repeats_another():
    here, there = corners_of(ID1), corners_of(ID1) + 200.0
    places = ExaminedPlaces(
        [], [choice_at(here, 0.5), choice_at(here + 0.3, 0.4, TRADING), choice_at(there, -1.0)], []
    )
    looked_at = []
    for choice in places.next_choices(2):
        looked_at.append(choice.log_odds)
        places.verified.append(choice.combination.corners_px)
    assert looked_at == [0.5, -1.0]
    assert not places.waiting


def test_a_hopeless_choice_is_not_verified():
    places = ExaminedPlaces([], [choice_at(corners_of(ID1), -9.0)], [])
    assert not list(places.next_choices(2))
