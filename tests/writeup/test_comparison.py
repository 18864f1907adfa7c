"""Two specimens: differences, and what their uncertainties share."""

from math import hypot

import pytest

from measure.writeup.comparison import compare, comparison_document
from measure.writeup.gather.gathering import gather
from measure.writeup.pages.text import plain_text
from measure.writeup.tables import comparison_csv
from tests.writeup import scene

SHORTER = tuple(
    scene.replace(span, ends_mm=ends)
    for span, ends in zip(
        scene.SPANS,
        (((12, 102), (169.2, 102)), ((92, 90), (92, 114.2)), ((155, -20), (155, 66.0))),
        strict=True,
    )
)


@pytest.fixture(scope="module")
def pairs(tmp_path_factory):
    """The same two sets of spans, once on one photo and once on two of another view each."""
    one, two = tmp_path_factory.mktemp("one"), tmp_path_factory.mktemp("two")
    record = scene.save(one, scene.specimen(one))
    same = scene.save(one, scene.specimen(one, spans=SHORTER, name="Other"), "other.specimen.json")
    apart = scene.save(two, scene.specimen(two, spans=SHORTER, view=scene.View(tilt_deg=14.0), name="Other"))
    first = gather(record).evidence
    return compare(first, gather(same).evidence), compare(first, gather(apart).evidence)


def root_sum(pair):
    return hypot(pair.one.result.standard_uncertainty_mm, pair.other.result.standard_uncertainty_mm)


def test_difference_of_independent_photos_adds_in_squares(pairs):
    # JCGM 100:2008, 5.1.2: independent inputs.
    for pair in pairs[1].pairs:
        assert not pair.shared
        assert pair.difference.standard_uncertainty_mm == pytest.approx(root_sum(pair), rel=1e-6)


def test_errors_of_one_photo_cancel_in_the_difference(pairs):
    # JCGM 100:2008, 5.2.2: correlated inputs; own clicks and stand-offs stay.
    for pair in pairs[0].pairs:
        assert pair.shared
        own = [
            hypot(*(line.u_mm for line in item.result.budget if not line.shared))
            for item in (pair.one, pair.other)
        ]
        assert hypot(*own) <= pair.difference.standard_uncertainty_mm + 1e-9
        assert pair.difference.standard_uncertainty_mm < 0.99 * root_sum(pair)


def test_true_differences_lie_within_their_uncertainty(pairs):
    for comparison in pairs:
        for pair, true_mm in zip(comparison.pairs, (2.9, 0.0, 2.3), strict=True):
            assert abs(pair.difference.value_mm - true_mm) < pair.difference.expanded_uncertainty_mm


def test_only_what_exceeds_its_uncertainty_counts_as_a_difference(pairs):
    outcomes = [pair.outcome for pair in pairs[0].pairs]
    assert outcomes == ["the first is larger", "no difference shown", "the first is larger"]


def test_the_document_sets_both_side_by_side(pairs):
    text = " ".join(plain_text(comparison_document(pairs[1], (), ()).blocks).split())
    assert "First: Ferry from the harbour sale" in text
    assert "Second: Other" in text
    assert "Bow plate, width: First 160.1 ± 1.6 mm; Second" in text
    assert "not an authentication" in text


def test_the_table_has_a_row_for_each_pair(pairs):
    lines = comparison_csv(pairs[0]).splitlines()
    assert len(lines) == 1 + 3
    assert lines[1].split(",")[-2:] == ["yes", "the first is larger"]


def test_what_only_one_has_is_named(pairs):
    from dataclasses import replace

    one = pairs[0].one
    comparison = compare(one, replace(one, items=one.items[1:], noted=one.noted[1:]))
    assert comparison.alone == ("Bow plate, width (first only)",)
    assert comparison.noted[0] == ("Lifeboat, screws", "4", "not noted", "")
