"""What a record says of a photo's references gives the same plane again, without the photo."""

import json
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
import pytest

from calibration.cautions import CautionCode
from calibration.edges import straight
from calibration.errors import CalibrationError
from calibration.objects import A4, ID1
from calibration.plane.fit import fit_plane
from calibration.plane.plumb_lines import PlumbLine
from measure.errors import RecordError
from measure.kinds.on_planes import measure_by
from measure.kinds.terms import Choices
from measure.length.value import Length
from measure.record.file import parse_specimen, specimen_to_json
from measure.record.specimen import PhotoEntry, ReferenceEntry, SeenEntry, SourceEntry, Specimen
from measure.scale.from_record import looked_at, scale_of
from measure.scale.reference_entries import photo_entry
from measure.wording import Audience, all_worded
from tests.synthetic.shapes import SIZE, View, measure_kind, photo_of

VIEW = View()
PLAIN = photo_of(np.full((SIZE[1], SIZE[0], 3), 128, np.uint8))
ENDS = VIEW.see([[0.0, 0.0], [100.0, 40.0]])


def points(array: Any) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in array)


def card(at: tuple[float, float] = (0.0, 0.0), kind: Any = ID1, size: float = 1.0) -> ReferenceEntry:
    w, h = kind.width_mm, kind.height_mm
    corners = VIEW.see(np.array([[0, 0], [w, 0], [w, h], [0, h]]) * size + at)
    return ReferenceEntry(kind.key, w, h, points(corners), corner_std_px=0.15, source="by hand")


def shot(**what: Any) -> PhotoEntry:
    bare = photo_entry(PLAIN, "photo-1", "a.png", None, VIEW.plane().camera)
    return replace(bare, **what)


def again(entry: PhotoEntry) -> PhotoEntry:
    """Return the entry after a way through its file."""
    text = json.dumps(specimen_to_json(Specimen("x", photos=(entry,))))
    return parse_specimen(json.loads(text)).photos[0]


def length(entry: PhotoEntry, photo: Any = None) -> Length:
    scale = scale_of(entry, photo)
    result = measure_by(scale, "span", PLAIN, ENDS, Choices(snap=False, click_std_px=0.5)).result
    assert isinstance(result, Length)
    return result


TRUE_MM = float(np.hypot(100.0, 40.0))
RULE = SourceEntry(
    "rule",
    "rule-cm",
    points(VIEW.see([[0.0, 60.0], [110.0, 60.0]])),
    seen=SeenEntry(points(VIEW.see([[10.0 * n, 60.0] for n in range(12)])), tuple(range(12)), std_px=0.1),
)
KNOWN = SourceEntry(
    "length", marks_px=points(VIEW.see([[0.0, 30.0], [100.0, 30.0]])), length_mm=100.0, length_std_mm=0.3
)
FEATURE = replace(KNOWN, kind="feature", sheet="saltmarsh-ferry", part="paddle-wheel", feature="diameter")


def coin(diameter_mm: float = 24.257, at: tuple[float, float] = (60.0, 45.0)) -> SourceEntry:
    turn = np.linspace(0.0, 2.0 * np.pi, 60, endpoint=False)
    rim = VIEW.see(np.column_stack([np.cos(turn), np.sin(turn)]) * diameter_mm / 2.0 + at)
    (x, y), (one, other), angle_deg = cv2.fitEllipseDirect(rim.astype(np.float32).reshape(-1, 1, 2))
    turned = np.radians(angle_deg) + (np.pi / 2.0 if other > one else 0.0)
    ellipse = (x, y, max(one, other) / 2.0, min(one, other) / 2.0, float(turned))
    return SourceEntry("coin", "us-quarter", ((x, y),), seen=SeenEntry(ellipse_px=ellipse, std_px=0.3))


def target() -> SourceEntry:
    from calibration.printed_target.layout import TARGET

    drawn = TARGET.corners_mm()
    near = np.flatnonzero(np.all(drawn < 100.0, axis=1))
    return SourceEntry(
        "target",
        printed_mm=(150.0, 200.0),
        seen=SeenEntry(points(VIEW.see(drawn[near])), tuple(int(n) for n in near), std_px=0.05),
    )


@pytest.mark.parametrize(
    "entry",
    [
        shot(reference=card()),
        shot(reference=card(), also=(card((90.0, 0.0)),)),
        shot(reference=card(), sources=(coin(),)),
        shot(sources=(coin(),)),
        shot(sources=(RULE,)),
        shot(sources=(KNOWN,)),
        shot(sources=(FEATURE,)),
        shot(sources=(target(),)),
        shot(reference=card(), straight_px=(points(VIEW.see([[-20.0, 80], [40, 80], [100, 80]])),)),
    ],
    ids=[
        "card",
        "two cards",
        "card and coin",
        "coin",
        "rule",
        "length",
        "feature",
        "target",
        "straight edge",
    ],
)
def test_a_length_is_the_same_from_the_file_and_right(entry: PhotoEntry) -> None:
    first, second = length(entry), length(again(entry))
    assert second == first
    assert abs(first.value_mm - TRUE_MM) <= first.expanded_uncertainty_mm


def test_one_card_gives_the_plane_that_the_fit_gives() -> None:
    entry = shot(reference=card())
    assert entry.reference is not None
    assert entry.reference.corners_px is not None
    corners = np.array(entry.reference.corners_px)
    plane = fit_plane(VIEW.plane().camera, ID1, corners, np.eye(8) * 0.15**2)
    assert np.array_equal(scale_of(entry).plane.parameters, plane.parameters)


def test_a_second_card_makes_a_length_better_known() -> None:
    one = length(shot(reference=card()))
    two = length(shot(reference=card(), also=(card((90.0, 0.0)),)))
    assert two.shared_std_mm < 0.9 * one.shared_std_mm


def test_a_straight_edge_tells_of_the_lens() -> None:
    line = points(VIEW.see([[-40.0, 95.0], [20.0, 95.0], [60.0, 95.0], [140.0, 95.0]]))
    plain, told = shot(reference=card()), shot(reference=card(), straight_px=(line,))
    spread = [
        {part.source: part.u_mm for part in length(entry).budget}["lens distortion"]
        for entry in (plain, told)
    ]
    assert spread[1] < spread[0]
    corners = np.array(told.reference.corners_px)  # type: ignore[union-attr]
    by_hand = fit_plane(
        VIEW.plane().camera, ID1, corners, np.eye(8) * 0.15**2, lines=[PlumbLine(np.array(line))]
    )
    assert np.array_equal(scale_of(told).plane.parameters, by_hand.parameters)


@pytest.mark.parametrize(
    ("other", "named"),
    [
        (replace(KNOWN, length_mm=104.0), "104"),
        (coin(25.2), "quarter"),
        (replace(RULE, object="rule-in8"), "rule"),
        (replace(target(), printed_mm=(154.0, 205.0)), "target"),
    ],
    ids=["length", "coin", "rule", "target"],
)
def test_a_source_that_contradicts_the_card_is_told(other: SourceEntry, named: str) -> None:
    cautions = scale_of(shot(reference=card(kind=A4, size=0.4), sources=())).cautions
    assert CautionCode.CONTRADICTION not in [one.code for one in cautions]
    cautions = all_worded(scale_of(shot(reference=card(), sources=(other,))).cautions, Audience.COMMAND)
    assert any("contradict" in text for text in cautions)
    assert any(text.startswith("Measured by the others") and named in text for text in cautions)


@pytest.mark.parametrize("other", [KNOWN, coin(), RULE, target()], ids=["length", "coin", "rule", "target"])
def test_a_source_that_agrees_with_the_card_makes_a_length_no_worse_known(other: SourceEntry) -> None:
    plain, both = shot(reference=card()), shot(reference=card(), sources=(other,))
    assert CautionCode.CONTRADICTION not in [one.code for one in scale_of(both).cautions]
    assert len(scale_of(both).found) == 2
    assert abs(length(both).value_mm - TRUE_MM) < length(both).expanded_uncertainty_mm
    assert length(both).standard_uncertainty_mm <= 1.0001 * length(plain).standard_uncertainty_mm


@pytest.mark.parametrize(
    ("one", "other"),
    [(RULE, KNOWN), (coin(), RULE), (coin(), coin(at=(140.0, 20.0)))],
    ids=["rule and length", "coin and rule", "two coins"],
)
def test_two_sources_that_leave_the_tilt_open_tell_more_together(
    one: SourceEntry, other: SourceEntry
) -> None:
    alone = [length(shot(sources=(each,))).standard_uncertainty_mm for each in (one, other)]
    both = length(shot(sources=(one, other)))
    assert both.standard_uncertainty_mm < 0.6 * min(alone)
    assert abs(both.value_mm - TRUE_MM) < both.expanded_uncertainty_mm
    turned = length(shot(sources=(other, one)))
    # Heights count from the first one, and how much higher the other lies is uncertain.
    assert abs(both.value_mm - turned.value_mm) < both.standard_uncertainty_mm


def test_the_marks_are_looked_at_once_and_kept() -> None:
    inside = View().homography()
    assert inside is not None
    photo = VIEW.photo(lambda mm: np.hypot(*(mm.reshape(-1, 2) - [60.0, 45.0]).T) < 24.257 / 2.0)
    mark = points(VIEW.see([[60.0, 45.0]]))
    entry = replace(shot(sources=(SourceEntry("coin", "us-quarter", mark),)), sha256=photo.sha256)
    with pytest.raises(RecordError, match=r"keep a\.png beside the record"):
        scale_of(entry)
    kept = looked_at(entry, photo)
    assert length(again(kept)) == length(entry, photo)
    assert abs(length(kept).value_mm - TRUE_MM) <= length(kept).expanded_uncertainty_mm


def test_the_edges_of_a_span_are_looked_for_once_whatever_the_number_of_planes(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    sought: list[tuple[float, float]] = []

    def counted(pixels: Any, point: Any, direction: Any, **how: Any) -> straight.SnappedPoint:
        sought.append(point)
        return snap_to_edge(pixels, point, direction, **how)

    snap_to_edge = straight.snap_to_edge
    monkeypatch.setattr("calibration.edges.snap_to_edge", counted)
    photo = VIEW.photo(lambda mm: np.all(np.abs(mm - [50.0, 30.0]) < [40.0, 20.0], axis=1))
    scale = scale_of(shot(sources=(KNOWN,)))
    assert scale.family is not None
    ends = VIEW.see([[10.0, 30.0], [90.0, 30.0]])
    measured = measure_by(scale, "span", photo, ends)
    assert sought == [tuple(end) for end in ends.tolist()]
    # Each plane still counts the shade of a rounded edge by its own scale.
    alone = [measure_kind("span", photo, one, ends).std_px for one in scale.family.planes]
    assert len(set(alone)) > 1
    assert measured.snapped
    assert alone[0] == measured.std_px


def test_a_photo_without_references_gives_no_scale() -> None:
    with pytest.raises(RecordError, match="no reference"):
        scale_of(shot())


def test_an_unknown_coin_is_refused_by_name() -> None:
    with pytest.raises(CalibrationError, match="no coin 'us-third'"):
        scale_of(shot(sources=(replace(coin(), object="us-third"),)))


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("colour", "red", "sources\\[0\\].colour: unknown field"),
        ("kind", "stick", "sources\\[0\\].kind: expected one of coin, rule"),
        ("marks_px", [[1, 2], [3, 4]], "expected one point inside, or three"),
        ("object", None, "sources\\[0\\].object: missing; a coin needs it"),
        ("printed_mm", [1, 2, 3], "check rules across and down"),
        ("seen", {"ellipse_px": [1, 2, 3, 4, 0]}, "the longer one first"),
        ("seen", {"points_px": [[1, 2]]}, "numbers: expected one for each"),
        ("seen", {"points_px": [[1, 2]], "numbers": [0], "tint": 1}, "seen.tint: unknown field"),
    ],
)
def test_a_wrong_field_of_a_source_is_named(field: str, value: object, said: str) -> None:
    data = json.loads(json.dumps(specimen_to_json(Specimen("x", photos=(shot(sources=(coin(),)),)))))
    data["photos"][0]["sources"][0][field] = value
    with pytest.raises(ValueError, match=said):
        parse_specimen(data)


def test_further_cards_need_a_first_one() -> None:
    data = specimen_to_json(Specimen("x", photos=(shot(reference=card(), also=(card((90.0, 0.0)),)),)))
    data["photos"][0]["reference"] = None
    with pytest.raises(ValueError, match=r"photos\[0\]\.also"):
        parse_specimen(data)
