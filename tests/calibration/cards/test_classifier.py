"""How sure an outline is, by how many kinds are looked for, by corners and other things' right angles."""

import numpy as np
import pytest

from calibration.cards.features.side_colours import SideColours, colour_contrasts
from calibration.cards.score.classifier import confidence_if_named, with_corner_radii, with_right_angles


def test_of_five_kinds_one_named_makes_chance_agreement_five_times_rarer():
    # Bayes' rule for odds: 0.4 / 0.6 times five.
    assert confidence_if_named(0.4, 5) == pytest.approx((0.4 / 0.6 * 5) / (0.4 / 0.6 * 5 + 1))


def test_naming_the_only_kind_again_changes_nothing():
    assert confidence_if_named(0.4, 1) == pytest.approx(0.4)


def test_corners_of_another_radius_speak_against_an_outline():
    assert with_corner_radii(1.0, np.array([0.2, 0.3, 0.4, 0.6])) < with_corner_radii(1.0, np.zeros(4)) - 2.0


def test_a_plane_on_which_other_things_are_askew_speaks_against_an_outline():
    assert with_right_angles(1.0, -20.0) < with_right_angles(1.0, -1.0) - 1.0
    assert with_right_angles(1.0, None) == 1.0


def side(inside, outside):
    inside, outside = np.array(inside, float), np.array(outside, float)
    return SideColours(1.0, (0.0, 0.0), inside, outside, float(np.linalg.norm(outside - inside)))


CARD, TABLE = (0.8, 0.7, 0.2), (0.2, 0.3, 0.3)


def test_colours_of_a_card_on_its_table_are_far_apart_all_round():
    nearest, least = colour_contrasts([side(100 * np.array(CARD), 100 * np.array(TABLE))] * 4)
    assert nearest == pytest.approx(1.0)
    assert least == pytest.approx(1.0)


def test_a_side_with_table_on_both_sides_shows():
    card, table = 100 * np.array(CARD), 100 * np.array(TABLE)
    nearest, least = colour_contrasts([side(card, table)] * 3 + [side(table, table + 5.0)])
    assert nearest == pytest.approx(0.0)
    assert least == pytest.approx(0.0)
