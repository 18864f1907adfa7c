"""Whatever the sheet and the findings, the verdict is made of finite numbers and adds up."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from references import Finding, judge
from references.release_sheet.values import ABSENT, UNKNOWN, Counts, Normal, Range, Traits
from tests.references.making import count, dimension, length, sheet, trait

sizes = st.floats(0.2, 900.0)
widths, examples = st.floats(0, 20), st.sampled_from([None, 2, 6])
ranges = st.builds(lambda low, width, n: Range(low, low + width, n), sizes, widths, examples)
spreads = st.builds(Normal, sizes, st.floats(0.01, 10), st.sampled_from([None, 2, 3, 30]))
lengths = st.one_of(ranges, spreads, st.just(UNKNOWN))
sure_counts = st.integers(0, 20).map(lambda n: Counts({n: 1.0}))
counts = st.one_of(sure_counts, st.just(UNKNOWN), st.just(Counts({3: 0.5, 8: 0.5})))
words = st.sampled_from([Traits({"x": 1.0}), Traits({"x": 0.2, "y": 0.8}), UNKNOWN])
RELEASES = ("a", "b", "c")


@st.composite
def cases(draw):
    releases = RELEASES[: draw(st.integers(1, 3))]
    without = draw(st.sampled_from([(), releases[:1], releases[1:]]))

    def by_release(values):
        return {release: ABSENT if release in without else draw(values) for release in releases}

    plate = [dimension("width", **by_release(lengths)), dimension("depth", **by_release(lengths))]
    spokes = count("spokes", **{release: draw(counts) for release in releases})
    wheel = [spokes, trait("hub", ("x", "y"), **{release: draw(words) for release in releases})]
    priors = {release: 1 / len(releases) for release in releases}
    if len(releases) == 2 and draw(st.booleans()):
        priors = {"a": 1.0, "b": 0.0}
    rate = st.sampled_from([0.0, 0.05, 0.4])
    rates = {key: draw(rate) for key in ("swap_rate", "missing_rate", "recast_rate")}
    made = sheet({"plate": plate, "wheel": wheel}, priors, **rates)
    findings = [
        length("plate", feature, draw(sizes), u, shared * u, draw(st.sampled_from(["p", "q"])))
        for feature in draw(st.lists(st.sampled_from(["width", "depth"]), max_size=4))
        for u, shared in [(draw(st.floats(0.01, 20)), draw(st.floats(0, 1)))]
    ]
    about_wheel = [[], [Finding("wheel", "spokes", 8)], [Finding("wheel", state="not present")]]
    findings += draw(st.sampled_from(about_wheel))
    if not any(finding.part == "wheel" for finding in findings):
        findings += draw(st.sampled_from([[], [Finding("wheel", "hub", "other")]]))
    return made, findings


@settings(derandomize=True, deadline=None, max_examples=60)
@given(cases())
def test_the_verdict_is_finite_and_adds_up(case):
    made, findings = case
    verdict = judge(made, findings)
    found = json.loads(json.dumps(verdict.to_json(), allow_nan=False))
    assert sum(found["posterior"].values()) + found["unlisted_probability"] == pytest.approx(1, abs=1e-9)
    assert verdict.reasons
    assert all(0 <= check["expected_gain_bits"] <= 4 for check in found["next_checks"])
    for part in found["parts"]:
        if part["present"]:
            assert sum(part["posterior"].values()) == pytest.approx(1, abs=1e-6)
