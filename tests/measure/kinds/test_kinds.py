"""Kinds of measurement: exact views, laws, rendered edges."""

import cv2
import numpy as np
import pytest

from calibration.cautions import NoAnswer
from measure.cautions import NoLengthCode
from measure.desk.state.kinds import OFFERS
from measure.desk.state.scale_kinds import SCALE_KINDS
from measure.errors import SpanError
from measure.kinds.difference import measure_difference
from measure.kinds.gap import clicked_edge, measure_gap
from measure.kinds.rise import measure_rise
from measure.kinds.round import fit_circle, measure_round
from measure.kinds.span import measure_span
from measure.kinds.terms import KINDS, Choices
from measure.length.value import Length
from measure.record import KINDS as RECORDED
from measure.record.specimen import SOURCE_KINDS
from references.release_sheet import MEASURED_AS
from tests.synthetic.shapes import View, measure_kind, photo_of

VIEW = View()
PLANE = VIEW.plane()
BLANK = photo_of(np.full((900, 1200, 3), 128, np.uint8))


def circle(centre, radius, count=12):
    phases = np.arange(count) * 2 * np.pi / count
    return np.asarray(centre) + radius * np.column_stack([np.cos(phases), np.sin(phases)])


# ------------------------------------------------------------------------------------------------- gap


def test_a_gap_between_exact_edges_is_exact() -> None:
    ends = VIEW.see([[10, 60], [90, 60], [12, 77.5], [95, 77.5]], 20.0)
    length = measure_gap(PLANE, [clicked_edge(ends[:2]), clicked_edge(ends[2:])], standoff_mm=20.0)
    assert length.value_mm == pytest.approx(17.5, abs=1e-3)


def test_a_gap_does_not_care_in_which_order_an_edge_was_clicked() -> None:
    ends = VIEW.see([[10, 60], [90, 61], [12, 77.5], [95, 77.0]])
    forward = measure_gap(PLANE, [clicked_edge(ends[:2]), clicked_edge(ends[2:])])
    turned = measure_gap(PLANE, [clicked_edge(ends[1::-1]), clicked_edge(ends[2:])])
    assert turned.value_mm == pytest.approx(forward.value_mm, rel=1e-9)


def test_edges_that_cross_are_no_gap() -> None:
    ends = VIEW.see([[10, 60], [90, 60], [12, 77], [95, 110]])
    with pytest.raises(SpanError, match="parallel"):
        measure_gap(PLANE, [clicked_edge(ends[:2]), clicked_edge(ends[2:])])


def test_the_same_edge_twice_is_no_gap() -> None:
    ends = VIEW.see([[10, 60], [90, 60], [20, 60], [80, 60]])
    with pytest.raises(SpanError, match="one line"):
        measure_gap(PLANE, [clicked_edge(ends[:2]), clicked_edge(ends[2:])])


@pytest.fixture(scope="module")
def bar() -> object:
    return VIEW.photo(lambda mm: (np.abs(mm[:, 1] - 75.0) < 9.0) & (mm[:, 0] > -10) & (mm[:, 0] < 110))


@pytest.mark.parametrize("count", [2, 4])
def test_a_gap_snaps_to_rendered_edges(bar: object, count: int) -> None:
    marks = [[30, 66], [70, 66], [30, 84], [70, 84]] if count == 4 else [[50, 66], [50, 84]]
    clicks = VIEW.see(marks) + [1.5, -1.2]
    found = measure_kind("gap", bar, PLANE, clicks, Choices(standoff_std_mm=0.0))
    assert found.snapped
    assert isinstance(found.result, Length)
    assert found.result.value_mm == pytest.approx(18.0, abs=0.03)


def test_a_gap_of_two_clicks_needs_an_edge_beside_them() -> None:
    with pytest.raises(SpanError, match="no clear straight edge"):
        measure_kind("gap", BLANK, PLANE, VIEW.see([[50, 66], [50, 84]]))


# ----------------------------------------------------------------------------------------------- round


def test_a_round_is_corrected_for_perspective_where_the_ellipse_is_not() -> None:
    steep = View(tilt_deg=(40.0, 0.0, 0.0), looked=(43.0, 30.0))
    rim = steep.see(circle([70, 30], 20.0), 10.0)
    length = measure_round(steep.plane(), rim, standoff_mm=10.0)
    assert length.value_mm == pytest.approx(40.0, abs=1e-3)


def test_three_points_give_the_circle_through_them() -> None:
    found = fit_circle(np.array([[0.0, 5.0], [5.0, 0.0], [-5.0, 0.0]]))
    assert found.radius_mm == pytest.approx(5.0)
    assert found.centre_mm == pytest.approx([0.0, 0.0], abs=1e-9)


def test_more_points_on_the_rim_make_a_round_more_certain() -> None:
    few = measure_round(PLANE, VIEW.see(circle([50, 40], 20, 4)))
    many = measure_round(PLANE, VIEW.see(circle([50, 40], 20, 16)))
    assert many.standard_uncertainty_mm < few.standard_uncertainty_mm


def test_points_in_line_are_no_rim() -> None:
    with pytest.raises(SpanError, match="on one line"):
        measure_round(PLANE, VIEW.see([[10, 10], [20, 20], [30, 30], [50, 50]]))


def test_a_round_snaps_to_a_rendered_rim() -> None:
    photo = VIEW.photo(lambda mm: np.linalg.norm(mm - [60, 70], axis=1) < 21.0, height_mm=5.0)
    clicks = VIEW.see(circle([60, 70], 21.0, 3), 5.0) + [[2, -1], [-2, 1], [1, 2]]
    found = measure_kind("round", photo, PLANE, clicks, Choices(standoff_mm=5.0, standoff_std_mm=0.0))
    assert found.snapped
    assert isinstance(found.result, Length)
    assert found.result.value_mm == pytest.approx(42.0, abs=0.05)


# ------------------------------------------------------------------------------------------------ rise


def test_a_rise_equals_the_height_computed_from_vertical_vanishing_point_and_horizon() -> None:
    """Single-view height by the cross-ratio form, with nothing of the code under test but the points.

    Criminisi, Reid and Zisserman, Single view metrology, IJCV 40(2), 2000:
    alpha Z = - |b x t| / ((l . b) |v x t|) with base b, top t, vertical vanishing point v and horizon l;
    alpha comes from a reference height (formula from memory).
    """
    view = View(tilt_deg=(50.0, 5.0, 3.0), distance_mm=420.0)
    R = cv2_rotation(view.rvec)
    vertical = view.K @ R[:, 2]
    horizon = np.cross(view.K @ R[:, 0], view.K @ R[:, 1])

    def alpha_z(foot, top):
        b, t = (np.append(point, 1.0) for point in (foot, top))
        return -np.linalg.norm(np.cross(b, t)) / ((horizon @ b) * np.linalg.norm(np.cross(vertical, t)))

    table = -0.76
    reference = view.see([[10, 20], [10, 20]], [table, table + 30.0])
    asked = view.see([[70, -20], [70, -20]], [table, table + 83.0])
    independent = 30.0 * alpha_z(*asked) / alpha_z(*reference)
    assert independent == pytest.approx(83.0, rel=1e-6)
    assert measure_rise(view.plane(), asked).value_mm == pytest.approx(independent, abs=0.01)


def cv2_rotation(rvec: np.ndarray) -> np.ndarray:
    import cv2

    return np.asarray(cv2.Rodrigues(rvec)[0])


def test_a_rise_seen_from_straight_above_is_refused() -> None:
    above = View(tilt_deg=(0.0, 0.0, 0.0))
    with pytest.raises(SpanError, match="straight down"):
        measure_rise(above.plane(), above.see([[60, 40], [60, 40]], [-0.76, 40.0]) + [[0, 0], [0.2, 0.3]])


def test_a_top_that_is_not_above_the_foot_is_refused() -> None:
    view = View(tilt_deg=(50.0, 0.0, 0.0), distance_mm=420.0)
    with pytest.raises(SpanError, match="off from straight above"):
        measure_rise(view.plane(), view.see([[40, 20], [75, 20]], [-0.76, 50.0]))


# ------------------------------------------------------------------------------------------------- tip


def corner(radius: float) -> object:
    """A square corner at (60, 60) mm, open to +x and +y, rounded."""

    def inside(mm: np.ndarray) -> np.ndarray:
        local = mm - 60.0
        square = np.all((local > 0) & (local < 60), axis=1)
        cut = np.all(local < radius, axis=1) & (np.linalg.norm(local - radius, axis=1) > radius)
        return square & ~cut

    return inside


@pytest.mark.parametrize("radius", [0.3, 1.0, 3.0])
def test_a_tip_of_known_radius_is_found_at_4_px_per_mm(radius: float) -> None:
    photo = VIEW.photo(corner(radius), blur_px=1.0)
    clicks = VIEW.see([[80, 60], [70, 60], [60, 70], [60, 80]]) + [[1, 1], [-1, 0.5], [0.5, -1], [-1, 1]]
    found = measure_kind("tip", photo, PLANE, clicks)
    assert isinstance(found.result, Length)
    assert found.result.value_mm == pytest.approx(radius, abs=0.3)
    assert abs(found.result.value_mm - radius) <= found.result.expanded_uncertainty_mm


def test_a_tip_in_a_blurred_photo_cannot_be_told() -> None:
    far = View(distance_mm=1500.0)
    photo = far.photo(corner(0.4), blur_px=3.0, noise=6.0)
    found = measure_kind("tip", photo, far.plane(), far.see([[100, 60], [80, 60], [60, 80], [60, 100]]))
    assert isinstance(found.result, NoAnswer)
    assert found.result.code == NoLengthCode.RADIUS_VAGUE


@pytest.mark.parametrize("grain_px", [2.0, 5.0, 12.0])
def test_a_tip_on_mottled_ground_cannot_be_told(grain_px: float) -> None:
    rng = np.random.default_rng(5)
    noise = cv2.GaussianBlur(rng.normal(size=(900, 1200)), (0, 0), grain_px)
    grey = np.clip(128 + 25 * noise / noise.std(), 0, 255).astype(np.uint8)
    photo = photo_of(np.repeat(grey[..., None], 3, axis=2))
    clicks = VIEW.see([[80, 60], [70, 60], [60, 70], [60, 80]])
    told = 0
    for _ in range(6):
        spot = clicks + rng.uniform(-150, 150, 2)
        told += isinstance(measure_kind("tip", photo, PLANE, spot).result, Length)
    assert told == 0


def test_a_tip_on_a_blank_photo_cannot_be_told() -> None:
    found = measure_kind("tip", BLANK, PLANE, VIEW.see([[80, 60], [70, 60], [60, 70], [60, 80]]))
    assert isinstance(found.result, NoAnswer)


# ------------------------------------------------------------------------------------------ difference


def two_spans() -> tuple[Length, Length]:
    one = measure_span(PLANE, VIEW.see([[-20, 70], [120, 70]], 20.0), standoff_mm=20.0, span_id="a")
    other = measure_span(PLANE, VIEW.see([[-20, 85], [113.65, 85]], 20.0), standoff_mm=20.0, span_id="b")
    return one, other


def test_a_difference_in_one_photo_cancels_what_both_share() -> None:
    one, other = two_spans()
    found = measure_difference(one, other)
    assert found.value_mm == pytest.approx(6.35, abs=1e-3)
    assert found.standard_uncertainty_mm < np.hypot(
        one.standard_uncertainty_mm, other.standard_uncertainty_mm
    )


def test_a_common_stand_off_cancels_too() -> None:
    one, other = two_spans()
    apart = measure_difference(one, other)
    together = measure_difference(one, other, same_standoff=True)
    assert together.standard_uncertainty_mm < apart.standard_uncertainty_mm
    assert abs(together.value_mm) > together.expanded_uncertainty_mm


def test_a_length_does_not_differ_from_itself() -> None:
    one, _ = two_spans()
    assert measure_difference(one, one).standard_uncertainty_mm == pytest.approx(0.0, abs=1e-12)


# ---------------------------------------------------------------------------------------------- door


def test_an_unknown_kind_is_named() -> None:
    with pytest.raises(SpanError, match="no kind"):
        measure_kind("volume", BLANK, PLANE, [[1, 1], [2, 2]])


@pytest.mark.parametrize("kind", list(KINDS))
def test_too_few_points_are_refused_with_what_is_needed(kind: str) -> None:
    with pytest.raises(SpanError, match="needs at least"):
        measure_kind(kind, BLANK, PLANE, [[100, 100]])


def test_each_kind_that_sheets_name_can_be_measured_kept_and_chosen_on_the_page() -> None:
    assert tuple(KINDS) == MEASURED_AS
    assert tuple(dict.fromkeys(one.kind for one in OFFERS)) == RECORDED


def test_the_page_asks_for_as_many_points_as_the_core_takes() -> None:
    for one in OFFERS:
        if not one.of_two:
            known = KINDS[one.kind]
            assert known.least <= one.least <= one.most
            assert known.most == 0 or one.most <= known.most


def test_the_page_offers_every_source_of_scale_that_the_record_knows() -> None:
    assert {one.key for one in SCALE_KINDS} == {"card", *SOURCE_KINDS}
