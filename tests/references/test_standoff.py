"""One statement of a stand-off is one error, in however many lengths and photos it is used."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from references import judge
from references.errors import FindingError
from references.inference import DEFAULT_OPTIONS, Finding, infer_with_chain, sort_findings
from references.inference.enumeration import infer_posterior
from references.inference.options import JudgeOptions
from references.release_sheet.values import Normal
from tests.references.making import dimension, known_well, length, sheet
from tests.references.test_verdict import FERRY

NOTHING_ELSE = JudgeOptions(gross_error_rate=0.0, misplaced_rate=0.0, none_rate=0.0, unlisted_rate=0.0)


def at_standoff(feature, value_mm, std_mm, standoff_mm, photo):
    return Finding("plate", feature, value_mm, std_mm, 0.0, photo, standoff_std_mm=standoff_mm)


@pytest.mark.parametrize("values", [(101.0, 51.0), (99.2, 49.5), (101.5, 49.0)])
def test_two_lengths_at_one_standoff_are_a_bivariate_normal(values):
    # Closed form: both true lengths normal, both errors normal, the stand-off's common to both.
    spreads, own, common = (0.6, 0.4), (0.3, 0.2), (0.9, 0.5)
    width, depth = Normal(100.0, spreads[0]), Normal(50.0, spreads[1])
    plate = [dimension("width", a=width, b=width), dimension("depth", a=depth, b=depth)]
    given = sheet({"plate": plate}, missing_rate=0.0, swap_rate=0.0, recast_rate=0.0)
    findings = [
        at_standoff(key, value, math.hypot(o, c), c, photo)
        for key, value, o, c, photo in zip(
            ("width", "depth"), values, own, common, ("photo-1", "photo-2"), strict=True
        )
    ]
    belief = infer_posterior(given, sort_findings(given, findings), NOTHING_ELSE)
    covariance = np.diag(np.square(spreads) + np.square(own)) + np.outer(common, common)
    expected = stats.multivariate_normal([100.0, 50.0], covariance).logpdf(values)
    assert belief.log_evidence == pytest.approx(expected, abs=1e-3)


def test_one_length_alone_shares_its_standoff_with_nothing():
    alone = length("bow-plate", "width", 177.0, 0.6, 0.2)
    told = judge(FERRY, [replace(alone, standoff_std_mm=0.5)])
    assert told.posterior == pytest.approx(judge(FERRY, [alone]).posterior)


def test_a_wrong_standoff_in_two_photos_makes_no_copy():
    readings = [
        replace(
            length("bow-plate", key, value, 0.5, 0.1, photo), standoff_std_mm=0.45 if key == "width" else 0.05
        )
        for photo in ("photo-1", "photo-2")
        for key, value in (("width", 174.6), ("depth", 20.1))
    ]
    given = known_well(FERRY)
    shared = judge(given, readings).recast.probability
    apart = judge(given, [replace(one, standoff_std_mm=0.0) for one in readings]).recast.probability
    assert shared < apart


def test_a_standoff_cannot_be_more_uncertain_than_the_length():
    wrong = replace(length("bow-plate", "width", 177.0, 0.5, 0.4), standoff_std_mm=0.4)
    with pytest.raises(FindingError, match=r"uncertainty of the stand-off 0\.4; expected from 0 up"):
        judge(FERRY, [wrong])


def test_the_evidence_adds_up_to_the_posterior_where_a_standoff_is_shared():
    readings = [
        replace(length("bow-plate", "width", 177.6, 0.5, 0.1, photo), standoff_std_mm=0.45)
        for photo in ("photo-1", "photo-2")
    ]
    by_part = sort_findings(FERRY, readings)
    belief, chain = infer_with_chain(FERRY, by_part, DEFAULT_OPTIONS)
    last = np.exp(chain.log_joint[-1] - np.logaddexp.reduce(chain.log_joint[-1]))
    assert last == pytest.approx([*belief.releases, belief.unlisted_probability], abs=1e-9)
