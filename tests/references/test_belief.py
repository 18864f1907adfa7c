"""The exact enumeration against Bayes' rule by brute force, and the laws that it must keep."""

import numpy as np
import pytest

from references.inference.enumeration import infer_posterior
from references.inference.finding import Finding, sort_findings
from references.inference.options import DEFAULT_OPTIONS
from references.release_sheet.values import Range
from tests.references import brute_force
from tests.references.making import count, dimension, length, sheet, two_parts


def believe(given, findings):
    return infer_posterior(given, sort_findings(given, findings), DEFAULT_OPTIONS)


CASES = {
    "one length": [length("plate", "width", 101.0)],
    "between the ranges": [length("plate", "width", 104.6, 0.9, 0.8)],
    "a slip": [length("plate", "width", 140.0)],
    "two lengths of one photo": [
        length("plate", "width", 105.2, 1.0, 0.9),
        length("plate", "depth", 21.6, 0.5, 0.4),
    ],
    "a copy": [length("plate", "width", 98.8, 0.2, 0.1), length("plate", "depth", 20.1, 0.2, 0.1)],
    "two parts of one photo": [
        length("plate", "width", 104.5, 1.0, 0.9),
        length("wheel", "diameter", 61.9, 0.7, 0.6),
    ],
    "a count against a length": [length("plate", "width", 107.0), Finding("wheel", "spokes", 5)],
    "a part that is not there": [Finding("plate", state="not present"), Finding("wheel", "spokes", 6)],
}


@pytest.mark.parametrize("findings", CASES.values(), ids=CASES.keys())
def test_the_posterior_is_that_of_brute_force(findings):
    given = two_parts()
    belief = believe(given, findings)
    expected, recast = brute_force.posterior(given, findings, DEFAULT_OPTIONS)
    assert belief.posterior == pytest.approx(expected, abs=2e-4)
    whole = sum(part.recast.sum() for part in belief.parts if part) / max(
        1, sum(p is not None for p in belief.parts)
    )
    if any(finding.feature in {"width", "depth", "diameter"} for finding in findings):
        assert whole == pytest.approx(recast, abs=2e-3)


def test_two_photos_joined_by_a_part_are_integrated_together():
    given = sheet(
        {
            "plate": [
                dimension("width", a=Range(100.0, 103.0, 6), b=Range(106.0, 108.0, 5)),
                dimension("depth", a=Range(20.0, 21.0, 6), b=Range(22.0, 23.0, 5)),
            ]
        },
        recast_rate=0.0,
    )
    findings = [
        length("plate", "width", 104.4, 1.2, 1.0, "photo-1"),
        length("plate", "depth", 21.7, 0.6, 0.5, "photo-2"),
    ]
    expected, _ = brute_force.posterior(given, findings, DEFAULT_OPTIONS)
    assert believe(given, findings).posterior == pytest.approx(expected, abs=2e-4)


def test_a_shared_scale_error_counts_once():
    given = two_parts()
    values = [("width", 104.6, 1.5), ("depth", 21.55, 0.32)]
    shared = [length("plate", key, mm, u, 0.99 * u) for key, mm, u in values]
    apart = [length("plate", key, mm, u, 0.0) for key, mm, u in values]
    assert believe(given, shared).posterior != pytest.approx(believe(given, apart).posterior, abs=1e-3)


def test_several_photos_of_one_part_say_more_than_one():
    given = two_parts()
    one = believe(given, [length("plate", "width", 104.0, 1.5, 0.5, "photo-1")])
    three = believe(given, [length("plate", "width", 104.0, 1.5, 0.5, f"photo-{n}") for n in (1, 2, 3)])
    assert three.posterior.max() > one.posterior.max()


def test_repeats_on_one_photo_say_less_than_on_several():
    given = two_parts()
    same = believe(given, [length("plate", "width", 104.0, 1.5, 1.4, "photo-1") for _ in range(3)])
    several = believe(given, [length("plate", "width", 104.0, 1.5, 1.4, f"photo-{n}") for n in (1, 2, 3)])
    assert same.posterior.max() < several.posterior.max()


def test_four_photos_of_one_part_agree_with_their_mean():
    given = two_parts()
    four = believe(given, [length("plate", "width", 104.2, 2.0, 1.0, f"photo-{n}") for n in range(4)])
    mean = believe(given, [length("plate", "width", 104.2, 1.0, 0.0)])
    assert four.posterior == pytest.approx(mean.posterior, abs=0.02)


def test_probabilities_add_up():
    given = two_parts()
    belief = believe(given, [length("plate", "width", 101.0), Finding("wheel", "spokes", 6)])
    assert belief.posterior.sum() == pytest.approx(1)
    for part in belief.parts:
        assert part.origin.sum() == pytest.approx(1)
        assert 0 <= part.foreign <= 1


def test_a_part_that_a_release_never_had_points_away_from_it():
    from references.release_sheet.values import ABSENT

    given = sheet({"plate": [count("clips", a=2, b=ABSENT)], "wheel": [count("spokes", a=5, b=5)]})
    seen = believe(given, [Finding("plate", "clips", 2)])
    gone = believe(given, [Finding("plate", state="not present")])
    assert seen.posterior[0] > 0.9
    assert gone.posterior[1] > 0.9


def test_a_release_whose_value_is_unknown_is_neither_excluded_nor_favoured():
    from references.release_sheet.values import UNKNOWN

    given = sheet({"plate": [dimension("width", a=Range(100.0, 103.0, 6), b=UNKNOWN)]})
    assert believe(given, [length("plate", "width", 101.5)]).posterior[0] > 0.7
    assert believe(given, [length("plate", "width", 115.0)]).posterior[1] > 0.8


def test_the_evidence_is_a_density_that_integrates_to_one():
    given = sheet(
        {"plate": [dimension("width", a=Range(100.0, 103.0, 6), b=Range(106.0, 108.0, 5))]}, missing_rate=0.0
    )
    grid = np.linspace(20.0, 220.0, 501)
    density = [
        np.exp(believe(given, [length("plate", "width", float(mm), 1.0, 0.5)]).log_evidence) for mm in grid
    ]
    slips = DEFAULT_OPTIONS.gross_error_rate * (1 - np.log(220 / 20) / (2 * np.log(30)))
    assert np.sum(density) * (grid[1] - grid[0]) == pytest.approx(1 - slips, abs=2e-3)
