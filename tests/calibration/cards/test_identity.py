"""What else an outline may be: sizes and commonness from the catalogue, the rest from the picture."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from calibration import locate
from calibration.cards.features.corner_radii import radius_log_likelihoods
from calibration.cards.found_card import FoundCard
from calibration.cards.identity import (
    as_kind,
    identified,
    identity_caution,
    is_doubtful,
    likelier_kind,
    what_it_is_open,
)
from calibration.cautions import CautionCode, NoAnswerCode
from calibration.image.pyramid import Pyramid
from calibration.objects import A4, CARD_OBJECTS, ID1, TRADING, from_rectangle, object_from_key
from calibration.plane.fit import fit_plane
from calibration.rectangles import by_key, catalogue
from tests.synthetic.one_card import camera, corners_of, photo_of

BRIDGE = from_rectangle(by_key()["bridge"])


def taken(shown, kind, *, std_px=0.15, said=False, radii=()):
    """The outline of one thing, taken for another kind, with all that else it may be."""
    corners, cov = corners_of(shown), np.eye(8) * std_px**2
    if (shown.width_mm > shown.height_mm) != (kind.width_mm > kind.height_mm):
        corners = np.roll(corners, -1, axis=0)
    card = FoundCard(kind, corners, cov, 1.0, accepted=True, said=said, radii=radii)
    return identified(camera(), card, fit_plane(camera(), kind, corners, cov))


def keys(card):
    return [rival.kind.key for rival in card.rivals]


def test_the_catalogue_has_the_sizes_of_the_kinds_looked_for():
    assert len({one.key for one in catalogue()}) == len(catalogue()) == 191
    for kind in CARD_OBJECTS:
        listed = by_key()[kind.key]
        sides = sorted((kind.width_mm, kind.height_mm))
        assert sides == pytest.approx([listed.short_mm, listed.long_mm])
        assert listed.radius_least_mm <= kind.corner_radius_mm <= listed.radius_most_mm


def test_every_thing_of_the_catalogue_names_a_source():
    assert all(one.source and one.known in {"read", "memory"} for one in catalogue())


def test_a_rectangle_of_the_catalogue_refuses_the_impossible():
    listed = by_key()["bridge"]
    for wrong in ({"short_mm": 100.0}, {"weight": 0.0}, {"radius_most_mm": 40.0}, {"long_std_mm": 0.0}):
        with pytest.raises(ValueError, match="bridge"):
            replace(listed, **wrong)


def test_a_thing_of_the_catalogue_is_a_reference_by_its_key():
    assert object_from_key("bridge") == BRIDGE
    assert (BRIDGE.width_mm, BRIDGE.height_mm) == (88.9, 57.15)


def test_a_playing_card_taken_for_a_bank_card_is_told_with_what_lengths_would_be():
    card = taken(BRIDGE, ID1)
    assert keys(card)[0] == "bridge"
    assert card.rivals[0].scale_factor == pytest.approx((88.9 * 57.15 / 85.6 / 53.98) ** 0.5)
    caution = identity_caution(card)
    assert caution.code == CautionCode.IDENTITY
    assert (caution["key"], caution["said"]) == ("id1", False)
    assert caution["rivals"][0].kind.key == "bridge"
    assert caution["rivals"][0].scale_factor == pytest.approx(1.049, abs=0.0005)


def test_a_bank_card_seen_well_is_not_doubted_but_what_else_it_may_be_is_told_from_1_percent_on():
    card = taken(ID1, ID1, std_px=0.1)
    assert not is_doubtful(card)
    assert what_it_is_open(card) is None
    others = sum(one.probability for one in card.rivals)
    assert 0.01 < others < 0.1
    assert identity_caution(card)["probability"] == pytest.approx(others)
    sure = replace(card, rivals=tuple(replace(one, probability=0.0005) for one in card.rivals))
    assert identity_caution(sure) is None


def test_an_outline_is_taken_for_the_likeliest_of_the_kinds_looked_for():
    metric = object_from_key("trading-metric")
    card = taken(TRADING, metric)
    likelier = likelier_kind(card, CARD_OBJECTS)
    assert likelier == TRADING
    assert likelier_kind(taken(TRADING, TRADING), CARD_OBJECTS) is None
    assert as_kind(card, likelier).object == TRADING
    assert not as_kind(card, likelier).rivals


def test_an_outline_turns_with_a_kind_that_is_listed_the_other_way_round():
    card = taken(TRADING, TRADING)
    upright = as_kind(card, object_from_key("poker"))
    assert_allclose(upright.corners_px, np.roll(card.corners_px, -1, axis=0))
    assert upright.object.width_mm == 88.9


def test_what_is_more_likely_something_else_gives_no_plane_until_someone_says_what_it_is():
    card = taken(BRIDGE, ID1)
    open_still = what_it_is_open(card)
    assert open_still.code == NoAnswerCode.IDENTITY_OPEN
    assert open_still["probability"] > 0.5
    assert open_still["rivals"][0].kind.key == "bridge"
    assert what_it_is_open(replace(card, said=True)) is None


@pytest.mark.parametrize("shown", ["a4", "a5", "a6", "b5"])
def test_sheets_of_one_shape_are_always_told(shown):
    card = taken(object_from_key(shown), A4)
    assert {"a5", "a6"} <= set(keys(card))
    assert {"b5", "jis-b5"} & set(keys(card))
    assert is_doubtful(card)
    factors = [one.scale_factor for one in identity_caution(card)["rivals"]]
    assert any(factor == pytest.approx(1.0 - 0.294, abs=0.0005) for factor in factors)


def test_a_size_that_changes_lengths_by_less_than_their_uncertainty_is_no_rival():
    assert "bc-85x54-round" not in keys(taken(ID1, ID1))


def test_the_probabilities_of_all_rivals_make_less_than_one():
    for shown, kind in ((ID1, ID1), (BRIDGE, ID1), (A4, A4), (TRADING, TRADING)):
        assert 0.0 <= sum(one.probability for one in taken(shown, kind).rivals) <= 1.0


def test_a_kind_that_a_person_names_is_believed_unless_another_fits_far_better():
    assert not is_doubtful(taken(A4, A4, said=True))
    assert not is_doubtful(taken(ID1, ID1, said=True))
    half = object_from_key("half-letter")  # 1.545 against 1.586: too far for a bank card
    wrong = taken(half, ID1, std_px=0.02, said=True)
    assert is_doubtful(wrong)
    caution = identity_caution(wrong)
    assert caution["said"]
    assert caution["name"] == ID1.name


def test_a_stated_size_is_told_where_a_common_thing_fits_far_better():
    wrong = taken(ID1, object_from_key("85x50"), std_px=0.02)
    assert keys(wrong)[0] == "id1"
    assert is_doubtful(wrong)


def test_corners_seen_tell_round_things_from_sharp_ones():
    seen = {}
    for name in ("bc-eu", "bc-eu-round"):
        kind = object_from_key(name)
        photo, corners = photo_of(kind)
        hypothesis = radius_log_likelihoods(Pyramid.of(photo.pixels_bgr), corners, ID1, 0.8)
        assert hypothesis[0][0] == 0.0
        assert max(log for _, log in hypothesis) == 0.0
        seen[name] = dict(hypothesis)[0.0]
    assert seen["bc-eu"] > -1.0
    assert seen["bc-eu-round"] < -4.0


def test_the_corners_seen_decide_between_things_of_one_shape():
    sharp = taken(object_from_key("bc-eu"), ID1, radii=((0.0, 0.0), (0.05, -9.0), (0.15, -9.0)))
    round_ = taken(object_from_key("bc-eu"), ID1, radii=((0.0, -9.0), (0.05, 0.0), (0.15, -9.0)))
    assert "bc-eu" in keys(sharp)[:2]
    assert "bc-eu" not in keys(round_)


def told_rivals(location):
    """Return the keys of what else the outline may be, as its cautions tell."""
    told = [one for one in location.cautions if one.code == CautionCode.IDENTITY]
    return [rival.kind.key for one in told for rival in one["rivals"]]


def test_a_playing_card_in_a_photo_is_taken_with_a_caution_that_its_name_removes():
    photo, _ = photo_of(BRIDGE, distance_mm=280.0)
    free = locate(photo, camera=camera())
    assert free.plane is None or "bridge" in told_rivals(free)
    named = locate(photo, object_key="bridge", camera=camera())
    assert named.plane is not None
    assert told_rivals(named) == []


def test_corners_by_hand_without_a_kind_are_asked_about_too():
    photo, corners = photo_of(BRIDGE, distance_mm=280.0)
    told = locate(photo, corners_px=corners, camera=camera())
    assert "bridge" in told_rivals(told)
    assert [one["key"] for one in told.cautions if one.code == CautionCode.IDENTITY] == ["id1"]
