"""Listing texts: what they say, how they round, and that they claim no more than the verdict."""

from dataclasses import replace

import pytest

from calibration.cautions import Caution, CautionCode
from measure.record.specimen import ResultEntry
from measure.record.verdict_reading import read_verdict
from measure.verdict_words import percent
from measure.writeup.evidence_sheet import evidence_sheet
from measure.writeup.gather.evidence import Evidence, tidy
from measure.writeup.gather.figures import figures
from measure.writeup.gather.gathering import gather
from measure.writeup.gather.words import headline
from measure.writeup.listing import long_listing, short_listing
from measure.writeup.pages.html import page_html
from measure.writeup.pages.text import escaped, markdown, plain_text
from references import shipped_sheet

CAUTION = "Measured from a photograph: evidence, not an authentication or an appraisal."


def one_line(text):
    return " ".join(text.split())


def test_short_listing_says_sizes_doubts_and_what_was_not_checked(plain):
    text = one_line(plain.text("listing-short.txt"))
    assert "Saltmarsh Ferry (Tern & Tallow Toy Works)" in text
    assert "- Bow plate, width: 160.1 ± 1.6 mm (6.303 ± 0.064 in, about 6 1/4 in)" in text
    assert "- Hull, stamp under the stern: could not see" in text
    assert "Not checked: Paddle wheel, diameter; Deck rail, posts; Hull, stamp under the stern." in text
    assert "± is the expanded uncertainty U for about 95 % coverage, k = 1.96." in text
    assert text.endswith(CAUTION)


@pytest.mark.parametrize(
    "name", ["listing-short.txt", "listing-long.txt", "listing-short.md", "listing-long.md"]
)
def test_every_text_says_that_it_is_no_appraisal(plain, name):
    assert CAUTION in one_line(plain.text(name))


def test_long_listing_adds_verdict_reasons_checks_and_method(plain):
    text = plain.text("listing-long.txt")
    for heading in (
        "Lengths",
        "Counts and traits",
        "Part by part",
        "Why",
        "What would settle more",
        "How it was measured",
    ):
        assert f"\n{heading}\n---" in text
    assert "Date: 2026-03-31" in text


def test_inches_first(world):
    assert "6.303 ± 0.0" in world.text("listing-short.txt").split("160.1")[0]


def verdict(outcome, release=None, **more):
    posterior = {"first": 0.02, "second": 0.91, "third": 0.01, "export": 0.06}
    return read_verdict({"outcome": outcome, "release": release, "posterior": posterior, **more})


@pytest.fixture(scope="module")
def evidence(plain) -> Evidence:
    return gather(plain.record).evidence


def said(evidence, found):
    return headline(replace(evidence, verdict=found))


def test_a_release_is_named_with_its_probability(evidence):
    text = said(evidence, verdict("release", "second"))
    assert text == (
        "What was checked fits the second release (1961-1963) (probability 91 %, given the release sheet)."
    )


@pytest.mark.parametrize(
    ("features", "parts", "text"),
    [
        (7, 5, "What was checked, 7 of 9 features, fits the second release (1961-1963) (probability"),
        (1, 1, "Only 1 of 9 features of the release sheet was checked; it points to the second release"),
        (2, 2, "Only 2 of 9 features of the release sheet were checked; they point to the second release"),
    ],
)
def test_how_much_was_checked_is_told(evidence, features, parts, text):
    checked = {"features": features, "of_features": 9, "parts": parts, "of_parts": 7}
    assert said(evidence, verdict("release", "second", checked=checked)).startswith(text)


def test_a_release_is_not_said_to_fit_where_a_part_speaks_against_it(evidence):
    wheel = {"part": "paddle-wheel", "name": "Paddle wheel", "outcome": "fits", "releases": ["first"],
             "foreign_probability": 0.76, "findings": [{"feature": "axle"}]}  # fmt: skip
    text = said(evidence, verdict("release", "second", parts=[wheel]))
    assert "fits" not in text
    assert text.endswith("In doubt: Paddle wheel (not its own with a probability of 76 %).")
    slipped = {"part": "hull", "name": "Hull", "outcome": "fits", "releases": ["second"],
               "findings": [{"feature": "length", "blunder_probability": 0.99}]}  # fmt: skip
    assert "In doubt: Hull." in said(evidence, verdict("release", "second", parts=[slipped]))


def test_what_cannot_be_told_is_not_told(evidence):
    text = said(evidence, verdict("cannot tell"))
    assert "does not settle" in text
    assert "fits" not in text


def test_a_mixed_specimen_names_the_foreign_part_and_the_rest(evidence):
    parts = [{"part": "bow-plate", "name": "Bow plate", "foreign": True}, {"part": "hull", "name": "Hull"}]
    text = said(evidence, verdict("mixed", "first", parts=parts))
    assert "Bow plate does not belong with the rest. The rest fits the first release" in text
    assert "not all of one release" in said(evidence, verdict("mixed"))
    doubtful = {"part": "hull", "name": "Hull", "outcome": "cannot tell", "findings": [{"feature": "stamp"}]}
    text = said(evidence, verdict("mixed", "first", parts=[parts[0], doubtful]))
    assert "The rest points to the first release" in text
    assert text.endswith("In doubt: Hull.")


def test_a_recast_is_said_to_point_to_one(evidence):
    recast = {"probability": 0.97, "shrink_percent": 1.8, "u_percent": 0.3}
    text = said(evidence, verdict("recast", "second", recast=recast))
    assert "points to a later recast of the second release" in text
    assert "about 1.8 %" in text


def test_without_sheet_or_verdict_nothing_is_said_of_a_release(evidence):
    assert "does not say which release" in headline(replace(evidence, verdict=None, sheet=None))
    assert "not judged" in headline(replace(evidence, verdict=None))
    for blocks in (
        short_listing(replace(evidence, verdict=None)),
        long_listing(replace(evidence, verdict=None)),
    ):
        assert "fits" not in plain_text(blocks)


@pytest.mark.parametrize(
    ("probability", "text"), [(0.0, "under 0.1 %"), (1.0, "over 99.9 %"), (0.9953, "99.5 %"), (0.42, "42 %")]
)
def test_probabilities_never_claim_certainty(probability, text):
    assert percent(probability) == text


# 25.4 mm to the inch, exactly (1959 agreement); rounding by JCGM 100:2008, 7.2.6.
@pytest.mark.parametrize(
    ("value", "expanded", "phrase"),
    [
        (228.347, 0.4632, "228.35 ± 0.46 mm (8.990 ± 0.018 in, about 9 in)"),
        (227.0, 0.5, "227.00 ± 0.50 mm (8.937 ± 0.020 in, about 8 15/16 in)"),
        (203.1846, 0.0996, "203.18 ± 0.10 mm (7.9994 ± 0.0039 in, about 8 in)"),
        (3.04, 0.31, "3.04 ± 0.31 mm (0.120 ± 0.012 in)"),
        (160.0, 20.0, "160 ± 20 mm (6.30 ± 0.79 in)"),
        (160.0, 4.0, "160.0 ± 4.0 mm (6.30 ± 0.16 in, about 6 1/4 in)"),
    ],
)
def test_figures_in_both_units(value, expanded, phrase):
    assert figures(ResultEntry(value, expanded / 2, expanded, 2.0)).phrase == phrase


def test_markdown_shows_names_as_they_are(world):
    parser = pytest.importorskip("markdown_it").MarkdownIt("commonmark")
    html = parser.render(world.text("listing-long.md"))
    assert "*Bought* at a &lt;fair&gt; | as seen, № 5" in html
    for awkward in ("# one", "1. two", "- three", "a_b_c", "[x](y)", "`z`", "<b>", "a\\*b"):
        shown = parser.render(escaped(awkward))
        assert shown == parser.render(shown[3:-5]) or "<h1>" not in shown
        assert not any(tag in shown for tag in ("<em>", "<li>", "<a ", "<code>", "<b>", "<h1>"))


def test_markdown_tables_are_not_broken_by_a_bar():
    from measure.writeup.pages.blocks import Table

    text = markdown((Table("T", ("a", "b"), (("x|y", "z"),), (1, 1)),))
    assert "| x\\|y | z |" in text


def test_control_characters_and_line_breaks_leave_names():
    assert tidy("a\nb\x00\t c") == "a b c"


def test_right_to_left_names_are_kept_from_turning_figures_around():
    assert tidy("גובה") == "\u200eגובה\u200e"


def test_every_dimension_of_the_sheet_counts_as_unchecked_without_findings(evidence):
    from measure.writeup.gather.observed import unchecked_features

    bare = replace(evidence.specimen, measurements=(), observations=())
    sheet = shipped_sheet("saltmarsh-ferry")
    assert len(unchecked_features(bare, sheet)) == sum(len(part.features) for part in sheet.parts)


def test_what_is_damaged_about_a_photo_is_among_the_cautions(evidence):
    shot = evidence.photos[0]
    damaged = Caution.of(CautionCode.PIXELS_DAMAGED, decoder="cut short")
    spoilt = replace(shot, photo=replace(shot.photo, cautions=(damaged,)))
    sheet = evidence_sheet(replace(evidence, photos=(spoilt,)), (), (), ())
    assert "file is damaged (cut short)" in page_html(sheet)
