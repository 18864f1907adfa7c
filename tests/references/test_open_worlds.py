"""What the sheet's own world lacks: unlisted releases, and points on another edge than the sheet means."""

import math

import numpy as np
import pytest
from scipy import integrate, stats

from references import judge, shipped_sheet
from references.inference import Finding, length_model, sort_findings
from references.inference.enumeration import infer_posterior
from references.inference.options import DEFAULT_OPTIONS
from references.inference.unlisted import unlisted_log_evidence
from references.release_sheet.values import Range
from tests.references.making import count, dimension, length, sheet
from tests.references.test_verdict import FIRST, SECOND

FERRY = shipped_sheet("saltmarsh-ferry")
STRANGE = [
    Finding("lifeboat", "screws", 6),
    Finding("deck-rail", "posts", 10),
    Finding("hull", "stamp", "other"),
]


def test_counts_and_traits_of_no_release_are_not_on_this_sheet():
    verdict = judge(FERRY, STRANGE)
    assert (verdict.outcome, verdict.release, verdict.candidates) == ("not listed", None, ())
    assert verdict.unlisted_probability > 0.9
    assert sum(verdict.posterior.values()) + verdict.unlisted_probability == pytest.approx(1)
    unknown = ("lifeboat", "screws"), ("deck-rail", "posts"), ("hull", "stamp")
    assert (verdict.reasons[0].code, verdict.reasons[0]["unknown"]) == ("not listed", unknown)
    assert not any(part.foreign for part in verdict.parts)


@pytest.mark.parametrize(("findings", "release"), [(FIRST, "first"), ([*SECOND, STRANGE[0]], None)])
def test_a_listed_release_stays_listed(findings, release):
    verdict = judge(FERRY, findings)
    assert verdict.release == release
    assert verdict.unlisted_probability < 0.1


def test_the_evidence_of_an_unlisted_release_is_worked_by_hand():
    # Two releases, half each, with 2 and 3 clips; 3 seen. A miscount by one: 0.02 x 0.4; right: 0.98.
    given = sheet({"plate": [count("clips", a=2, b=3)]}, missing_rate=0.1, swap_rate=0.05, recast_rate=0.0)
    findings = sort_findings(given, [Finding("plate", "clips", 3)])
    a, b = 0.02 * 0.4, 0.98
    # Of unlisted origin any count from 0 to 5; the 3 noted is right, one off twice, or two or three off.
    anything = (b + 2 * a + 0.02 * 0.1 * (2 * 0.5 + 0.25)) / 6
    there = 0.9 * (2 + 0.5) / (2 + 1)
    by_hand = there * (0.5 * (a + b) / 2 + 0.5 * anything)
    assert math.exp(unlisted_log_evidence(given, findings, DEFAULT_OPTIONS)) == pytest.approx(by_hand)

    own, swapped, none = 0.94, 0.05, 0.01
    listed = 0.9 * ((own + swapped) * (a + b) / 2 + none * anything)
    belief = infer_posterior(given, findings, DEFAULT_OPTIONS)
    assert math.exp(belief.log_evidence) == pytest.approx(listed)
    rate = DEFAULT_OPTIONS.unlisted_rate
    assert belief.unlisted_probability == pytest.approx(
        rate * by_hand / (rate * by_hand + (1 - rate) * listed)
    )


def test_one_length_near_another_releases_range_accuses_no_part():
    plate = {"plate": [dimension("width", a=Range(100.0, 103.0, 9), b=Range(106.0, 109.0, 9))]}
    rest = {f"part-{number}": [count("clips", a=2, b=3)] for number in range(4)}
    given = sheet(plate | rest)
    rest_a = [Finding(f"part-{number}", "clips", 2) for number in range(4)]
    once = judge(given, [*rest_a, length("plate", "width", 107.4)])
    assert once.release == "a"
    assert not any(part.foreign for part in once.parts)
    assert 0.5 < once.parts[0].foreign_probability < 0.9
    again = judge(
        given,
        [*rest_a, *(length("plate", "width", 107.4, photo=f"photo-{number}") for number in range(3))],
    )
    assert [part.part for part in again.parts if part.foreign] == ["plate"]


def test_the_same_points_placed_again_in_one_photo_prove_nothing():
    given = sheet({"plate": [dimension("width", a=Range(100.0, 103.0, 9), b=Range(106.0, 109.0, 9))]})
    reading = length("plate", "width", 105.0)
    once, twice, elsewhere = (
        judge(given, [reading, *more]).posterior["b"]
        for more in ([], [reading], [length("plate", "width", 105.0, photo="photo-2")])
    )
    assert abs(twice - once) < abs(elsewhere - once) or elsewhere == pytest.approx(once, abs=0.02)


def test_the_density_of_points_on_another_edge_is_one():
    model = length_model(dimension("width", a=Range(100.0, 103.0, 6), b=Range(106.0, 108.0, 5)), ("a", "b"))
    grid = np.linspace(50.0, 160.0, 2001)
    density = np.array([model.misplaced_density(float(mm), 0.5, DEFAULT_OPTIONS) for mm in grid])
    assert integrate.trapezoid(density[:, :2], grid, axis=0) == pytest.approx([1.0, 1.0], abs=1e-3)
    half, soft = 1.5, Range(100.0, 103.0, 6).soft_std_mm
    std = math.sqrt(half**2 / 3 + soft**2 + 0.25 + DEFAULT_OPTIONS.misplaced_std_mm(104.0) ** 2)
    assert model.misplaced_density(104.0, 0.5, DEFAULT_OPTIONS)[0] == pytest.approx(
        stats.norm.pdf(104.0, 101.5, std)
    )


@pytest.mark.parametrize("length_mm", [0.6, 3.0, 60.0, 200.0])
def test_a_short_feature_has_no_edge_far_away(length_mm):
    assert DEFAULT_OPTIONS.misplaced_std_mm(length_mm) <= 0.5 * length_mm


@pytest.mark.parametrize("examples", [2, 3, 6, 30])
def test_one_more_part_lies_within_the_limits_of_n_as_often_as_for_any_spread(examples):
    # (n - 1) / (n + 1) of next observations, whatever the spread (Wilks 1941, from memory).
    model = length_model(dimension("width", a=Range(100.0, 103.0, examples)), ("a",))
    grid = np.linspace(100.0, 103.0, 3001)
    density = model.densities(grid[None, :], np.array([[1e-6]]))[0, 0]
    assert integrate.trapezoid(density, grid) == pytest.approx((examples - 1) / (examples + 1), abs=2e-3)


def test_the_same_limits_from_more_examples_tell_nothing():
    given = sheet({"plate": [dimension("width", a=Range(100.0, 103.0, 40), b=Range(100.0, 103.0, 4))]})
    assert judge(given, [length("plate", "width", 101.5)]).posterior["a"] < 0.52


def test_examples_of_one_length_do_not_make_the_next_one_certain():
    given = sheet({"plate": [dimension("width", a=Range(100.0, 100.0, 4), b=Range(106.0, 109.0, 9))]})
    part = judge(given, [length("plate", "width", 100.2, 0.1, 0.0)]).parts[0]
    assert part.posterior["a"] > 0.9
