"""What the verdict says of the sample toy, and the laws it keeps."""

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from references import Finding, judge, shipped_sheet
from references.errors import FindingError
from references.inference.enumeration import infer_posterior
from references.inference.finding import sort_findings
from references.inference.options import DEFAULT_OPTIONS
from references.verdict import Reason
from tests.references.making import known_well, length, two_parts

FERRY = shipped_sheet("saltmarsh-ferry")
quick = settings(derandomize=True, deadline=None, max_examples=25)

KNOWN = known_well(FERRY)
FIRST = [
    length("bow-plate", "width", 177.6),
    length("bow-plate", "depth", 20.4),
    length("wheelhouse", "height", 82.1),
    length("paddle-wheel", "diameter", 62.1),
    Finding("lifeboat", "screws", 5),
    Finding("paddle-wheel", "axle", "through-rod"),
    Finding("deck-rail", "posts", 12),
    Finding("hull", "stamp", "none"),
]
SECOND = [
    length("bow-plate", "width", 160.1),
    length("wheelhouse", "height", 88.3),
    Finding("lifeboat", "screws", 4),
    Finding("paddle-wheel", "axle", "plug-in"),
    Finding("deck-rail", "posts", 12),
]
MIXED = [length("bow-plate", "width", 160.1), length("bow-plate", "depth", 24.8), *FIRST[2:]]
COPY = [length("bow-plate", "width", 173.9), length("bow-plate", "depth", 20.0)]
SEEN_TWICE = [*COPY, length("bow-plate", "width", 173.9, photo="photo-2")]


def test_a_whole_first_release_is_named():
    verdict = judge(FERRY, FIRST)
    assert (verdict.outcome, verdict.release) == ("release", "first")
    assert not any(part.foreign for part in verdict.parts)


def test_a_second_release_without_its_stamp_is_named():
    verdict = judge(FERRY, [*SECOND, Finding("hull", "stamp", "none")])
    assert (verdict.outcome, verdict.release) == ("release", "second")


def test_second_and_export_cannot_be_told_apart_without_the_stamp():
    verdict = judge(FERRY, SECOND)
    assert (verdict.outcome, verdict.release) == ("cannot tell", None)
    assert set(verdict.candidates) == {"second", "export"}
    assert verdict.next_checks[0].feature == "stamp"
    left = Reason.of("one check left", first="second", second="export", checks=(("hull", "stamp"),))
    assert left in verdict.reasons


def test_a_second_release_plate_on_a_first_release_hull_is_foreign():
    verdict = judge(FERRY, MIXED)
    assert (verdict.outcome, verdict.release) == ("mixed", "first")
    assert [part.part for part in verdict.parts if part.foreign] == ["bow-plate"]
    assert next(part for part in verdict.parts if part.part == "bow-plate").releases == ("second", "export")


def test_a_copy_that_is_two_per_cent_small_is_a_recast_of_the_first():
    verdict = judge(KNOWN, SEEN_TWICE)
    assert (verdict.outcome, verdict.release) == ("recast", "first")
    assert verdict.recast.probability > 0.9
    assert verdict.recast.shrink_percent == pytest.approx(2.0, abs=2 * verdict.recast.u_percent)
    assert verdict.parts[0].outcome == "fits none"


def test_one_length_that_is_small_may_be_of_another_edge():
    verdict = judge(KNOWN, COPY)
    assert (verdict.outcome, verdict.candidates) == ("cannot tell", ("first",))
    assert 0.5 < verdict.recast.probability < 0.9


def test_a_copy_that_may_be_genuine_is_not_named_either_way():
    verdict = judge(FERRY, [length("bow-plate", "width", 174.6), length("bow-plate", "depth", 20.1)])
    assert (verdict.outcome, verdict.release, verdict.candidates) == ("cannot tell", None, ("first",))
    assert 0.1 < verdict.recast.probability < 0.9
    assert verdict.reasons[0] == Reason.of(
        "release or copy", releases=("first",), probability=verdict.recast.probability
    )


def test_a_plate_between_all_ranges_fits_none_once_its_edges_are_sure():
    once = length("bow-plate", "width", 169.0)
    assert judge(FERRY, [once]).parts[0].outcome == "cannot tell"
    again = [length("bow-plate", "width", 169.0, photo=f"photo-{number}") for number in (2, 3)]
    verdict = judge(FERRY, [once, *again])
    assert verdict.parts[0].outcome == "fits none"
    assert verdict.outcome == "cannot tell"


def test_a_blurred_length_cannot_tell_and_says_what_uncertainty_would():
    verdict = judge(FERRY, [length("wheelhouse", "height", 85.2, 2.0, 1.5)])
    assert verdict.parts[0].outcome == "cannot tell"
    wide = next(reason for reason in verdict.reasons if reason.code == "wide uncertainty")
    assert (wide["part"], wide["feature"]) == ("wheelhouse", "height")
    assert wide["gap_mm"] == pytest.approx(4.2)
    assert wide["expanded_uncertainty_mm"] == pytest.approx(1.96 * 2.0)


def test_nine_against_eight_inches_is_settled_by_a_poor_photo():
    # Common practice, no source: plate widths an inch apart.
    from references import read_sheet

    text = """
format = "cardspan-sheet/1"
subject = "Plates"
unit = "in"
[[release]]
id = "early"
[[release]]
id = "late"
[[part]]
id = "plate"
[[part.feature]]
id = "width"
kind = "dimension"
[part.feature.by_release]
early = { min = "8 15/16 in", max = 9 }
late = { min = 8, max = "8 1/16 in" }
"""
    verdict = judge(read_sheet(text), [length("plate", "width", 226.0, 5.0, 4.0)])
    assert (verdict.outcome, verdict.release) == ("release", "early")


def test_a_quarter_inch_at_two_feet_needs_a_good_photo():
    # Common practice, no source: a height of two feet that differs by a quarter inch.
    from references import read_sheet

    text = """
format = "cardspan-sheet/1"
subject = "Heights"
unit = "in"
[[release]]
id = "early"
[[release]]
id = "late"
[[part]]
id = "body"
[[part.feature]]
id = "height"
kind = "dimension"
[part.feature.by_release]
early = { min = "23 15/16 in", max = 24 }
late = { min = "24 1/4 in", max = "24 5/16 in" }
"""
    sheet = read_sheet(text)
    assert judge(sheet, [length("body", "height", 609.0, 6.0, 5.0)]).outcome == "cannot tell"
    assert judge(sheet, [length("body", "height", 609.0, 1.0, 0.8)]).release == "early"


def test_one_absurd_outlier_is_reported_and_overturns_nothing():
    absurd = [*FIRST[:1], length("bow-plate", "depth", 210.0), *FIRST[2:]]
    verdict = judge(FERRY, absurd)
    assert (verdict.outcome, verdict.release) == ("release", "first")
    slip = next(reason for reason in verdict.reasons if reason.code == "slip")
    assert (slip["part"], slip["feature"], slip["value_mm"]) == ("bow-plate", "depth", 210.0)
    assert slip["probability"] > 0.5


def test_a_lost_part_and_a_part_that_never_was_are_told_apart():
    third = [Finding("bow-plate", state="not present"), Finding("deck-rail", "posts", 8), SECOND[1]]
    assert judge(FERRY, third).release == "third"
    lost = judge(FERRY, [Finding("bow-plate", state="not present"), *FIRST[2:]])
    assert lost.release == "first"


def test_the_json_is_plain_and_complete():
    found = json.loads(json.dumps(judge(FERRY, MIXED).to_json(), allow_nan=False))
    assert found["format"] == "cardspan-verdict/1"
    assert set(found["posterior"]) == set(FERRY.release_ids)
    assert found["parts"][0]["findings"][0]["by_release"]["second"]["conformance_probability"] > 0.9
    assert found["parts"][0]["findings"][0]["by_release"]["third"] == {
        "conformance_probability": None,
        "likelihood": 0.0,
    }
    assert {"part", "feature", "again", "expected_gain_bits", "needed_uncertainty_mm", "leads"} == set(
        found["next_checks"][0]
    )
    assert (found["decision_rule"]["inside_probability"], found["decision_rule"]["name_at"]) == (0.95, 0.9)


@pytest.mark.parametrize(
    ("finding", "names"),
    [
        (Finding("sail", "width", 1.0), "sail"),
        (Finding("bow-plate", "length", 1.0), "length"),
        (Finding("bow-plate", "width", 160.0), "uncertainty"),
        (Finding("bow-plate", "width", float("nan"), 0.4), "nan"),
        (Finding("bow-plate", "width", 160.0, 0.4, 0.5, "photo-1"), "shared"),
        (Finding("lifeboat", "screws", 4.5), "4.5"),
        (Finding("paddle-wheel", "axle", "glued"), "glued"),
        (Finding("hull", state="maybe"), "maybe"),
    ],
)
def test_a_finding_that_does_not_match_the_sheet_is_named(finding, names):
    with pytest.raises(FindingError, match=names):
        judge(FERRY, [finding])


def test_a_part_cannot_be_gone_and_measured():
    with pytest.raises(FindingError, match="not present"):
        judge(FERRY, [FIRST[0], Finding("bow-plate", state="not present")])


@quick
@given(st.permutations(MIXED))
def test_the_order_of_findings_does_not_matter(findings):
    assert judge(FERRY, findings).to_json() == judge(FERRY, MIXED).to_json()


@quick
@given(st.sampled_from([FIRST, SECOND, MIXED, COPY]), st.sampled_from(FERRY.parts))
def test_a_part_that_could_not_be_seen_changes_nothing_but_what_to_check(findings, part):
    more = [*findings, Finding(part.id, state="could not see")]
    seen = part.id in [finding.part for finding in findings]
    expected = judge(FERRY, findings).to_json()
    expected["next_checks"] = [check for check in expected["next_checks"] if seen or check["part"] != part.id]
    assert judge(FERRY, more).to_json() == expected


@quick
@given(st.integers(0, len(FIRST) - 1), st.floats(3.0, 25.0))
def test_no_single_wrong_length_overturns_the_rest(index, factor):
    wrong = FIRST[index % 4]
    findings = [length(f.part, f.feature, f.value * factor) if f is wrong else f for f in FIRST]
    assert judge(FERRY, findings).release == "first"


def expected_entropy_bits(sheet, std_mm):
    """Entropy of the release left after measuring one plate, averaged over everything that may be read."""
    grid = np.linspace(85.0, 125.0, 81)
    total = weight = 0.0
    for mm in grid:
        belief = infer_posterior(
            sheet,
            sort_findings(sheet, [length("plate", "width", float(mm), std_mm, 0.5 * std_mm)]),
            DEFAULT_OPTIONS,
        )
        chance = np.exp(belief.log_evidence)
        total -= chance * float((belief.posterior * np.log2(belief.posterior)).sum())
        weight += chance
    return total / weight


def test_a_less_certain_length_never_makes_the_verdict_more_certain_on_average():
    left = [expected_entropy_bits(two_parts(), std) for std in (0.6, 2.0, 5.0)]
    assert left == sorted(left)
    assert left[0] < 0.75 * left[-1]
