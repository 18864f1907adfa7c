"""What keeps a release from being named, although the sheet's model makes it all but certain."""

import json
from dataclasses import replace

import numpy as np
import pytest

from references import Finding, judge, shipped_sheet
from references.inference.agreement import chance_of_scatter
from references.inference.options import DEFAULT_OPTIONS
from references.verdict import Reason
from tests.references.making import length
from tests.references.test_verdict import COPY, FIRST, KNOWN, MIXED, SECOND, SEEN_TWICE
from tests.synthetic.specimens import Circumstances, draw_findings, draw_truth

FERRY = shipped_sheet("saltmarsh-ferry")
TIP = length("funnel-cap", "tip-radius", 0.6, 0.1, 0.02)
WHOLE = [*FIRST, TIP]


def scaled(findings, factor, but=()):
    return [
        replace(f, value=f.value * factor) if isinstance(f.value, float) and f.feature not in but else f
        for f in findings
    ]


def codes(verdict):
    return [doubt.code for doubt in verdict.doubts]


def test_four_of_five_lengths_half_the_size_are_off_by_one_factor():
    verdict = judge(FERRY, scaled(WHOLE, 0.5, but=["tip-radius"]))
    assert (verdict.outcome, verdict.release, codes(verdict)) == ("scale in doubt", None, ["common factor"])
    doubt = verdict.doubts[0]
    assert doubt.probability > 0.99
    assert doubt.factor == pytest.approx(0.5, abs=doubt.factor_expanded_uncertainty)
    assert len(doubt.lengths) == 5


@pytest.mark.parametrize("factor", [1.03, 1.1, 1.41, 2.0, 25.4, 1 / 25.4, 0.9, 0.94])
@pytest.mark.parametrize("findings", [WHOLE, WHOLE[:4]], ids=["with counts and traits", "lengths alone"])
def test_a_factor_on_all_lengths_is_told_with_its_size(findings, factor):
    verdict = judge(FERRY, scaled(findings, factor))
    assert (verdict.outcome, verdict.release, codes(verdict)[0]) == ("scale in doubt", None, "common factor")
    doubt = verdict.doubts[0]
    assert doubt.factor == pytest.approx(factor, abs=1.5 * doubt.factor_expanded_uncertainty)
    assert doubt.factor_expanded_uncertainty < 0.1 * factor


@pytest.mark.parametrize("shrink", [0.01, 0.015, 0.02, 0.025])
def test_a_recast_is_no_factor(shrink):
    verdict = judge(KNOWN, scaled(WHOLE, 1 - shrink))
    assert verdict.doubts == ()
    assert verdict.outcome == ("recast" if shrink >= 0.02 else verdict.outcome)


def test_a_copy_smaller_than_recasts_are_is_not_given_a_recasts_size():
    verdict = judge(FERRY, scaled(WHOLE, 0.96))
    assert (verdict.outcome, codes(verdict)) == ("cannot tell", ["common factor"])
    assert verdict.doubts[0].factor == pytest.approx(0.96, abs=0.01)


@pytest.mark.parametrize("photo", ["photo-1", "photo-2"])
def test_two_readings_of_one_width_that_contradict_each_other_are_both_named(photo):
    readings = [length("bow-plate", "width", 177.5), length("bow-plate", "width", 160.3, photo=photo)]
    verdict = judge(FERRY, [*readings, *WHOLE[1:]])
    assert (verdict.outcome, verdict.release, codes(verdict)) == ("cannot tell", None, ["contradiction"])
    told = [(each.value_mm, each.expanded_uncertainty_mm) for each in verdict.doubts[0].lengths]
    assert told == [(160.3, pytest.approx(1.96 * 0.4)), (177.5, pytest.approx(1.96 * 0.4))]
    assert not any(reason.code == "slip" for reason in verdict.reasons)
    told = next(reason for reason in verdict.reasons if reason.get("feature") == "width")
    assert [(each.value_mm, each.readings) for each in told["readings"]] == [(160.3, 1), (177.5, 1)]
    assert told["readings"][0].expanded_uncertainty_mm == pytest.approx(1.96 * 0.4)
    assert told["bearing"] == "none"


def test_readings_within_their_uncertainty_are_averaged():
    more = length("bow-plate", "width", 178.4, photo="photo-2")
    verdict = judge(FERRY, [more, *WHOLE])
    assert (verdict.release, verdict.doubts) == ("first", ())
    told = next(reason for reason in verdict.reasons if reason.get("feature") == "width")
    assert [each.readings for each in told["readings"]] == [2]
    assert 177.5 < told["readings"][0].value_mm < 178.4


def test_the_birge_ratio_is_judged_at_its_99_per_cent_point():
    # Chi-squared, 99 % points for 1 and 4 degrees of freedom (NIST/SEMATECH e-Handbook, 1.3.6.7.4).
    half = (6.635 / 2) ** 0.5
    assert chance_of_scatter([10 - half, 10 + half], [1.0, 1.0]) == pytest.approx(0.01, abs=5e-6)
    arm = (13.277 / 2) ** 0.5
    values, stds = [5 - 2 * arm, 5.0, 5.0, 5.0, 5 + 2 * arm], [2.0] * 5
    assert chance_of_scatter(values, stds) == pytest.approx(0.01, abs=5e-6)
    assert chance_of_scatter([7.0], [1.0]) == 1.0


def test_two_lengths_dismissed_as_slips_leave_nothing_named():
    wrong = [length("bow-plate", "width", 1776.0), length("wheelhouse", "height", 12.0)]
    verdict = judge(FERRY, [*wrong, *(f for f in WHOLE if f.feature not in ("width", "height"))])
    assert (verdict.outcome, verdict.release, codes(verdict)) == ("cannot tell", None, ["slips"])
    assert [(one.part, one.feature) for one in verdict.doubts[0].lengths] == [
        ("bow-plate", "width"),
        ("wheelhouse", "height"),
    ]
    # Binomial: two or more of five, each a slip with 1 % or else on another edge with 5 %.
    rate = 0.05 + 0.95 * 0.01
    chance = 1 - (1 - rate) ** 5 - 5 * rate * (1 - rate) ** 4
    assert verdict.doubts[0].probability == pytest.approx(chance, rel=1e-9)


def test_one_slip_is_no_doubt():
    wrong = [length("bow-plate", "width", 1776.0), *WHOLE[1:]]
    verdict = judge(FERRY, wrong)
    assert (verdict.release, verdict.doubts) == ("first", ())
    told = [reason for reason in verdict.reasons if reason.get("feature") == "width"]
    assert [reason.code for reason in told] == ["slip", "length"]
    assert (told[1]["standing"], told[1]["bearing"]) == ("dismissed", "nothing")  # it was left without weight


def test_lengths_between_all_ranges_name_nothing():
    between = [
        length("bow-plate", "width", 169.0),
        length("bow-plate", "depth", 22.8, 0.2, 0.1),
        length("wheelhouse", "height", 85.0),
        length("funnel-cap", "tip-radius", 1.6, 0.1, 0.02),
    ]
    verdict = judge(FERRY, between)
    assert (verdict.outcome, verdict.release, codes(verdict)) == ("cannot tell", None, ["nothing fits"])


def test_while_in_doubt_no_part_is_accused():
    verdict = judge(FERRY, [*scaled(MIXED, 2.0), TIP])
    assert codes(verdict) == ["common factor"]
    assert not any(part.foreign for part in verdict.parts)
    measured = {"bow-plate", "wheelhouse", "funnel-cap", "paddle-wheel"}
    for part in verdict.parts:
        if part.part in measured:
            assert (part.outcome, part.releases) == ("cannot tell", ())
    assert not {"foreign", "part in doubt"} & {reason.code for reason in verdict.reasons}


@pytest.mark.parametrize("findings", [FIRST, SECOND, MIXED, COPY])
def test_the_sample_specimens_are_in_no_doubt(findings):
    assert judge(FERRY, findings).doubts == ()


def test_honest_specimens_are_rarely_in_doubt():
    rng = np.random.default_rng(7)
    doubted = 0
    for _ in range(150):
        how = Circumstances(looked_at=float(rng.uniform(0.3, 1.0)), photos=int(rng.integers(1, 4)))
        truth = draw_truth(FERRY, DEFAULT_OPTIONS, rng)
        doubted += bool(judge(FERRY, draw_findings(FERRY, truth, how, DEFAULT_OPTIONS, rng)).doubts)
    assert doubted <= 3


def test_doubts_are_plain_values():
    found = json.loads(json.dumps(judge(FERRY, scaled(WHOLE, 2.0)).to_json(), allow_nan=False))
    assert set(found["doubts"][0]) == {
        "code", "lengths", "probability", "factor", "factor_expanded_uncertainty", "photo",
    }  # fmt: skip
    assert set(found["doubts"][0]["lengths"][0]) == {
        "part", "feature", "length_mm", "expanded_uncertainty_mm",
    }  # fmt: skip


def test_a_part_that_fits_none_is_told_with_the_probability_of_that():
    verdict = judge(KNOWN, SEEN_TWICE)
    part = verdict.parts[0]
    assert part.outcome == "fits none"
    told = next(reason for reason in verdict.reasons if reason.code == "fits none")
    assert told["probability"] == part.posterior["none"] + part.posterior["recast"]


def test_a_part_without_a_length_is_not_made_small_by_the_rest():
    verdict = judge(KNOWN, [*scaled(WHOLE, 0.98)])
    assert verdict.outcome == "recast"
    lifeboat = next(part for part in verdict.parts if part.part == "lifeboat")
    assert (lifeboat.outcome, lifeboat.releases) == ("fits", ("first",))


def test_a_value_that_no_release_has_fits_none_of_them():
    verdict = judge(FERRY, [Finding("lifeboat", "screws", 6), *FIRST[:2]])
    assert next(part for part in verdict.parts if part.part == "lifeboat").outcome == "cannot tell"
    told = next(reason for reason in verdict.reasons if reason.get("part") == "lifeboat")
    assert (told.code, told["found"], told["standing"]) == ("noted", (6,), "unknown")


def test_a_part_more_likely_foreign_than_not_is_told():
    wheel = Finding("paddle-wheel", "axle", "through-rod")
    others = [finding for finding in SECOND if finding.part != "paddle-wheel"]
    verdict = judge(FERRY, [*others, wheel, Finding("hull", "stamp", "none")])
    wheel = next(part for part in verdict.parts if part.part == "paddle-wheel")
    assert 0.5 < wheel.foreign_probability < 0.9
    doubt = Reason.of("part in doubt", part="paddle-wheel", probability=wheel.foreign_probability)
    assert doubt in verdict.reasons
