"""The next check: gain against a direct sum, and what the sheet forbids."""

import dataclasses

import numpy as np
import pytest

from references import Finding, judge, shipped_sheet
from references.release_sheet.values import Counts, Range, Traits
from references.verdict import Reason
from references.verdict.conformity import conformance_probability
from tests.references.making import count, dimension, length, sheet, trait
from tests.references.test_verdict import SECOND

FERRY = shipped_sheet("saltmarsh-ferry")


def entropy(p):
    p = np.asarray(p)
    return float(-(p[p > 0] * np.log2(p[p > 0])).sum())


def test_the_gain_of_a_trait_is_the_expected_drop_in_entropy():
    stamps = trait("stamp", ("none", "present"), a="none", b=Traits({"present": 0.85, "none": 0.15}))
    given = sheet({"hull": [stamps]}, recast_rate=0.0, missing_rate=0.0)
    check = judge(given, []).next_checks[0]
    left = total = 0.0
    for word in ("none", "present", "other"):
        belief = judge(given, [Finding("hull", "stamp", word)])
        # Chance of the word under each release: 5 % swapped, 1 % of unlisted origin, 2 % misread.
        genuine = {"a": {"none": 1.0}, "b": {"present": 0.85, "none": 0.15}}
        seen = {
            r: sum(s * (0.98 if w == word else 0.01) for w, s in shares.items())
            for r, shares in genuine.items()
        }
        other = {"a": "b", "b": "a"}
        chance = sum(0.5 * (0.94 * seen[r] + 0.05 * seen[other[r]] + 0.01 / 3) for r in "ab")
        listed = 1 - belief.unlisted_probability  # a gain is told as if the release were on the sheet
        left += chance * entropy([share / listed for share in belief.posterior.values()])
        total += chance
    assert total == pytest.approx(1, abs=1e-9)
    assert check.expected_gain_bits == pytest.approx(1 - left, abs=1e-6)


def test_a_check_that_needs_a_part_taken_off_is_not_advised_where_it_must_stay():
    clips = dataclasses.replace(count("clips", a=2, b=3), part_off=True)
    given = sheet({"plate": [clips, dimension("width", a=Range(100, 103), b=Range(101, 104))]})
    plate = given.parts[0]
    free = judge(given, [])
    assert free.next_checks[0].feature == "clips"
    fixed = dataclasses.replace(given, parts=(dataclasses.replace(plate, keep_in_place=True),))
    assert "clips" not in [check.feature for check in judge(fixed, []).next_checks]


def test_only_a_forbidden_check_is_said_to_be_the_one():
    clips = dataclasses.replace(count("clips", a=2, b=3), part_off=True)
    given = sheet({"plate": [clips]})
    fixed = dataclasses.replace(given, parts=(dataclasses.replace(given.parts[0], keep_in_place=True),))
    forbidden = Reason.of("checks forbidden", first="a", second="b", checks=(("plate", "clips"),))
    assert forbidden in judge(fixed, []).reasons


def test_releases_that_no_check_separates_are_named():
    given = sheet({"plate": [count("clips", a=2, b=2)]})
    assert Reason.of("inseparable", first="a", second="b") in judge(given, []).reasons


def test_the_uncertainty_needed_is_half_the_gap_between_the_ranges():
    check = next(check for check in judge(FERRY, []).next_checks if check.feature == "width")
    assert check.needed_uncertainty_mm == pytest.approx((176.0 - 161.5) / 2)
    u = check.needed_uncertainty_mm / 1.96
    assert conformance_probability(176.0 - 1.96 * u, u, 158.5, 161.5) <= 0.0251


def test_a_poor_length_is_worth_measuring_again():
    verdict = judge(FERRY, [length("wheelhouse", "height", 85.2, 3.0, 2.0)])
    assert any(check.feature == "height" and check.again for check in verdict.next_checks)


def test_a_made_check_is_not_advised_again():
    verdict = judge(FERRY, [Finding("lifeboat", "screws", 4), length("wheelhouse", "height", 88.0)])
    assert not {"screws", "height"} & {check.feature for check in verdict.next_checks}


def test_a_rare_alternative_is_a_smaller_gain_than_a_sure_one():
    sure = sheet({"hull": [count("rivets", a=2, b=5)]})
    rare = sheet({"hull": [count("rivets", a=2, b=Counts({2: 0.8, 5: 0.2}))]})
    assert (
        judge(sure, []).next_checks[0].expected_gain_bits > judge(rare, []).next_checks[0].expected_gain_bits
    )


def test_a_part_that_could_not_be_seen_is_not_advised():
    hidden = [Finding("lifeboat", state="could not see")]
    assert "lifeboat" in [check.part for check in judge(FERRY, []).next_checks]
    assert "lifeboat" not in [check.part for check in judge(FERRY, hidden).next_checks]


def test_a_part_seen_on_another_photo_is_still_advised():
    seen = [Finding("lifeboat", state="could not see"), Finding("lifeboat")]
    assert "lifeboat" in [check.part for check in judge(FERRY, seen).next_checks]


def test_the_lead_of_a_count_is_worked_by_hand():
    # Half each; own part 0.94, swapped 0.05, of none 0.01 (any of 0 to 5); a miscount by one 0.02 x 0.4.
    given = sheet({"plate": [count("clips", a=2, b=3)]}, missing_rate=0.0, swap_rate=0.05, recast_rate=0.0)
    (check,) = judge(given, []).next_checks
    right, off = 0.98, 0.02 * 0.4
    anything = (right + 2 * off + 0.02 * 0.1 * (2 * 0.5 + 0.25)) / 6
    own = 0.94 * right + 0.05 * off + 0.01 * anything
    other = 0.94 * off + 0.05 * right + 0.01 * anything
    leads = {lead.outcome: (lead.release, lead.probability, lead.chance) for lead in check.leads}
    probability = pytest.approx(own / (own + other))
    assert leads == {2: ("a", probability, pytest.approx(0.5)), 3: ("b", probability, pytest.approx(0.5))}


@pytest.mark.parametrize("word", ["none", "present"])
def test_a_lead_is_what_judging_the_outcome_gives(word):
    check = next(check for check in judge(FERRY, SECOND).next_checks if check.feature == "stamp")
    lead = next(lead for lead in check.leads if lead.outcome == word)
    after = judge(FERRY, [*SECOND, Finding("hull", "stamp", word)])
    listed = 1 - after.unlisted_probability
    assert after.posterior[lead.release] / listed == pytest.approx(lead.probability, abs=1e-6)


def test_absence_leads_somewhere_only_where_a_release_lacks_the_part():
    leads = {check.part: [lead.outcome for lead in check.leads] for check in judge(FERRY, []).next_checks}
    assert None in leads["bow-plate"]
    assert [part for part, outcomes in leads.items() if None in outcomes] == ["bow-plate"]
