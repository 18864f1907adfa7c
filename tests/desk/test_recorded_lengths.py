"""Differences of lengths that stand in the record only, by hand or while their photo isn't open."""

from typing import Any

import pytest

from measure.desk.effects.instrument import Instrument
from measure.desk.effects.measures import measured
from measure.record import BudgetEntry, MeasurementEntry, PhotoEntry, ResultEntry, Specimen
from measure.redo import recorded_length


def result(value_mm: float, *lines: BudgetEntry, u_mm: float) -> ResultEntry:
    return ResultEntry(value_mm, u_mm, 1.96 * u_mm, 1.96, lines)


def entry(key: str, told: ResultEntry | None, photo: str | None = None, **more: Any) -> MeasurementEntry:
    return MeasurementEntry(key, more.pop("kind", "span"), photo, None, None, key, result=told, **more)


def settled(*entries: MeasurementEntry) -> tuple[MeasurementEntry, ...]:
    shot = PhotoEntry("photo-1", "a.jpg", "0" * 64, 100, 100, None)
    specimen = Specimen("toy", photos=(shot,), measurements=entries)
    # No photo is open.
    return measured(specimen, {}, Instrument(), lambda shot: None).specimen.measurements


def test_lengths_by_hand_have_errors_of_their_own() -> None:
    one, other = (entry(key, result(value, u_mm=0.3)) for key, value in (("m1", 30.0), ("m2", 20.0)))
    found = settled(one, other, entry("m3", None, kind="difference", extra={"of": ["m1", "m2"]}))[-1].result
    assert found is not None
    assert found.standard_uncertainty_mm == pytest.approx(0.3 * 2**0.5)


def test_a_recorded_difference_counts_until_its_photo_is_open() -> None:
    budget = (BudgetEntry("card corners", 0.4, shared=True), BudgetEntry("click", 0.3))
    lengths = [entry(key, result(30.0, *budget, u_mm=0.5), "photo-1") for key in ("m1", "m2")]
    kept = result(0.0, BudgetEntry("click", 0.42), BudgetEntry("card corners", 0.1, shared=True), u_mm=0.43)
    difference = entry("m3", kept, kind="difference", extra={"of": ["m1", "m2"]})
    assert settled(*lengths, difference)[-1] == difference


def test_what_the_lengths_of_one_photo_share_stays_shared() -> None:
    budget = (BudgetEntry("card corners", 0.4, shared=True), BudgetEntry("click", 0.3))
    told = result(30.0, *budget, u_mm=0.5)
    one, twin = (recorded_length(entry(key, told, "photo-1")) for key in ("m1", "m2"))
    assert (one - twin).standard_uncertainty_mm == pytest.approx(0.3 * 2**0.5)
    assert (one - recorded_length(entry("m1", told, "photo-2"))).standard_uncertainty_mm == pytest.approx(
        0.5 * 2**0.5
    )
    assert (one - recorded_length(entry("m1", told, "photo-1"), "other")).shared_std_mm == pytest.approx(
        0.4 * 2**0.5
    )


def test_two_lines_of_one_source_both_count() -> None:
    told = result(30.0, BudgetEntry("click", 0.3), BudgetEntry("click", 0.4), u_mm=0.5)
    assert recorded_length(entry("m1", told)).standard_uncertainty_mm == pytest.approx(0.5)
