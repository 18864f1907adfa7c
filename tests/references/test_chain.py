"""What each finding adds: worked by hand, and adding up to the posterior."""

import dataclasses

import numpy as np
import pytest

from references import Finding
from references.inference import DEFAULT_OPTIONS, infer_with_chain, sort_findings
from references.release_sheet.values import ABSENT
from tests.references.making import count, sheet
from tests.references.test_verdict import FERRY, FIRST, MIXED, SECOND, SEEN_TWICE

PLAIN = dataclasses.replace(DEFAULT_OPTIONS, none_rate=0.0, unlisted_rate=0.0, miscount_rate=0.02)


def chain_of(given, findings, options=DEFAULT_OPTIONS):
    return infer_with_chain(given, sort_findings(given, findings), options)


@pytest.mark.parametrize("findings", [FIRST, SECOND, MIXED, SEEN_TWICE, []])
def test_the_last_row_is_the_posterior(findings):
    belief, chain = chain_of(FERRY, findings)
    last = np.exp(chain.log_joint[-1] - np.logaddexp.reduce(chain.log_joint[-1]))
    assert last[:-1] == pytest.approx(belief.releases)
    assert last[-1] == pytest.approx(belief.unlisted_probability)


def test_the_first_row_is_the_prior():
    _, chain = chain_of(FERRY, FIRST)
    shares = [(1 - DEFAULT_OPTIONS.unlisted_rate) * release.prior for release in FERRY.releases]
    assert np.exp(chain.log_joint[0]) == pytest.approx([*shares, DEFAULT_OPTIONS.unlisted_rate])


def test_a_row_is_the_posterior_of_the_findings_so_far():
    findings = [Finding("lifeboat", "screws", 5), Finding("deck-rail", "posts", 12)]
    _, chain = chain_of(FERRY, findings)
    belief, _ = chain_of(FERRY, findings[:1])
    row = chain.log_joint[chain.places.index(("lifeboat", "screws")) + 1]
    assert np.exp(row - np.logaddexp.reduce(row))[:-1] == pytest.approx(belief.releases)


def test_a_count_is_worked_by_hand():
    given = dataclasses.replace(
        sheet({"plate": [count("clips", a=2, b=3)]}), swap_rate=0.1, missing_rate=0.2, recast_rate=0.0
    )
    _, chain = chain_of(given, [Finding("plate", "clips", 2)], PLAIN)
    assert chain.places == (("plate", None), ("plate", "clips"))
    # 2 clips: 98 % read right and 0.8 % by a miscount of one; nine parts in ten are the specimen's own.
    of_a, of_b = 0.9 * 0.98 + 0.1 * 0.008, 0.1 * 0.98 + 0.9 * 0.008
    assert np.exp(np.diff(chain.log_odds(0))) == pytest.approx([1.0, of_a / of_b])


def test_a_part_that_is_lost_or_never_was_is_worked_by_hand():
    given = dataclasses.replace(
        sheet({"plate": [count("clips", a=2, b=ABSENT)]}), swap_rate=0.0, missing_rate=0.05, recast_rate=0.0
    )
    _, chain = chain_of(given, [Finding("plate", state="not present")], PLAIN)
    assert np.exp(np.diff(chain.log_odds(1))) == pytest.approx([1 / 0.05])
