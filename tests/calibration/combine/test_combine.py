"""Several references in one photo."""

from dataclasses import replace

import numpy as np
import pytest

from calibration.cards.finder import FoundCard
from calibration.cautions import CautionCode
from calibration.combine.references import combine
from calibration.errors import GeometryError
from calibration.objects import ID1, TRADING
from calibration.plane.fit import fit_plane
from measure.kinds.span import measure_span
from tests.calibration.sources.test_sources import CAMERA
from tests.synthetic.shapes import View

VIEW = View(tilt_deg=(10.0, 5.0, 0.0), distance_mm=420.0, looked=(110.0, 30.0))
RNG = np.random.default_rng(2)


def seen(card, at, *, scale=1.0, height_mm=0.0, std_px=0.15, rng=None):
    w, h = card.width_mm * scale, card.height_mm * scale
    corners = VIEW.see(np.array([[0, 0], [w, 0], [w, h], [0, h]]) + at, height_mm)
    if rng is not None:
        corners = corners + rng.normal(0, std_px, (4, 2))
    return FoundCard(card, corners, np.eye(8) * std_px**2, 0.95, accepted=True)


def test_a_card_at_each_end_makes_a_long_part_more_certain():
    ends = VIEW.see([[5, 80], [225, 80]])
    one, other = seen(ID1, (0, 0)), seen(ID1, (140, 5))
    both = measure_span(combine(CAMERA, [one, other]).plane, ends, standoff_std_mm=0.0, click_std_px=0.3)
    alone = measure_span(
        fit_plane(CAMERA, ID1, one.corners_px, one.corners_cov_px2),
        ends,
        standoff_std_mm=0.0,
        click_std_px=0.3,
    )
    assert both.value_mm == pytest.approx(220.0, abs=0.05)
    assert both.standard_uncertainty_mm < 0.6 * alone.standard_uncertainty_mm


def test_cards_of_two_kinds_that_agree_are_combined():
    thinner = TRADING.thickness_mm - ID1.thickness_mm
    found = combine(CAMERA, [seen(ID1, (0, 0), rng=RNG), seen(TRADING, (130, 0), height_mm=thinner, rng=RNG)])
    assert found.agree
    assert found.cautions == ()


def test_a_card_that_is_two_per_cent_small_is_reported():
    found = combine(CAMERA, [seen(ID1, (0, 0)), seen(ID1, (140, 0), scale=0.98)])
    assert not found.agree
    assert CautionCode.CONTRADICTION in [one.code for one in found.cautions]
    sizes = [one for one in found.cautions if one.code == CautionCode.SIZE_BY_OTHERS]
    assert [(one["stretch"], one["number"]) for one in sizes] == [("diagonal", 1), ("diagonal", 2)]
    assert sizes[1]["stated_mm"] == pytest.approx(101.2, abs=0.05)


def test_one_card_is_nothing_to_combine():
    with pytest.raises(GeometryError, match="two references"):
        combine(CAMERA, [seen(ID1, (0, 0))])


def test_cards_that_are_what_they_are_said_to_be_seldom_disagree():
    """The camera is exact here, so misfits are a little smaller than stated, never larger."""
    rng = np.random.default_rng(7)
    chances = []
    for _ in range(60):
        cards = []
        for at in ((0, 0), (140, 0)):
            card = replace(
                ID1,
                width_mm=ID1.width_mm + rng.normal(0, ID1.width_std_mm),
                height_mm=ID1.height_mm + rng.normal(0, ID1.height_std_mm),
            )
            lifted = seen(card, at, height_mm=rng.normal(0, ID1.flatness_std_mm, 4), rng=rng)
            cards.append(replace(lifted, object=ID1))
        chances.append(combine(CAMERA, cards).chance)
    assert np.mean(np.array(chances) < 0.01) < 0.06
    assert 0.4 < np.mean(chances) < 0.9
