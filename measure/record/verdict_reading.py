"""Reads the verdict that a record holds; what an older or other program left out has a default."""

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar, cast

from measure.errors import RecordError
from measure.record.checks import Check, flag_at, mapping_at, number_at, point_at, tuple_of, whole_at, wrong
from measure.record.verdict_entry import VerdictEntry

if TYPE_CHECKING:
    from references.verdict import (
        Checked,
        Doubt,
        DoubtedLength,
        FindingVerdict,
        Lead,
        NextCheck,
        PartVerdict,
        Recast,
        ReleaseFit,
    )

_T = TypeVar("_T")


def read_verdict(values: Mapping[str, Any]) -> VerdictEntry:
    """Return a record's verdict as a value.

    Parameters
    ----------
    values : mapping
        As `VerdictEntry.to_json` returns it; a missing key, or null, has a default.

    Returns
    -------
    VerdictEntry

    Raises
    ------
    RecordError
        A field is of another type, or a probability isn't one; the message names the field.
    """
    from references.errors import VerdictError

    try:
        return _entry(_Fields(values, "verdict"))
    except (ValueError, VerdictError) as error:
        raise RecordError(f"the recorded verdict can't be read: {error}") from error


class _Fields:
    """The fields of an object at a place in the record."""

    def __init__(self, value: Any, where: str) -> None:
        self._values = mapping_at(value, where)
        self._where = where

    def get(self, name: str, check: Check, default: _T) -> _T:
        value = self._values.get(name)
        return default if value is None else cast("_T", check(value, f"{self._where}.{name}"))

    def text(self, name: str, default: str = "") -> str:
        return self.get(name, _text_at, default)

    def number(self, name: str) -> float:
        return self.get(name, number_at, 0.0)

    def number_or_none(self, name: str) -> float | None:
        return self.get(name, number_at, cast("float | None", None))

    def texts(self, name: str) -> tuple[str, ...]:
        return self.get(name, tuple_of(_text_at), cast("tuple[str, ...]", ()))

    def shares(self, name: str) -> dict[str, float]:
        return self.get(name, _each(number_at), cast("dict[str, float]", {}))


def _text_at(value: Any, where: str) -> str:
    """Return a text, of any length: a verdict's sentences list whatever was found."""
    if not isinstance(value, str):
        raise wrong(where, "text", value)
    return value


def _found_at(value: Any, where: str) -> float | int | str:
    return value if isinstance(value, str) else value if isinstance(value, int) else number_at(value, where)


def _each(check: Check) -> Check:
    """Return a check for an object whose values are alike."""
    return lambda value, where: {
        key: check(item, f"{where}.{key}") for key, item in mapping_at(value, where).items()
    }


def _entry(fields: _Fields) -> VerdictEntry:
    from references.verdict import Verdict

    doubts_told = fields.get("doubts", tuple_of(_told_at), cast("tuple[str, ...]", ()))
    parts = fields.get("parts", tuple_of(_part_at), cast("tuple[PartVerdict, ...]", ()))
    checks = fields.get("next_checks", tuple_of(_check_at), cast("tuple[NextCheck, ...]", ()))
    measured = {(part.part, finding.feature) for part in parts for finding in part.findings}
    verdict = Verdict(
        subject=fields.text("subject"),
        sheet=fields.text("sheet"),
        outcome=cast("Any", fields.text("outcome", "cannot tell")),
        release=fields.text("release") or None,
        candidates=fields.texts("candidates"),
        posterior=fields.shares("posterior"),
        unlisted_probability=fields.number("unlisted_probability"),
        recast=fields.get("recast", _recast_at, cast("Recast | None", None)),
        parts=parts,
        doubts=fields.get("doubts", tuple_of(_doubt_at), cast("tuple[Doubt, ...]", ())),
        reasons=(),
        next_checks=tuple(replace(one, again=(one.part, one.feature) in measured) for one in checks),
        decision_rule=None,
        checked=fields.get("checked", _checked_at, cast("Checked | None", None)),
    )
    return VerdictEntry(
        specimen=fields.text("specimen"),
        verdict=verdict,
        doubts_told=doubts_told,
        reasons_told=fields.texts("reasons")[len(doubts_told) :],  # which begin with the doubts
        checks_told=fields.get("next_checks", tuple_of(_told_at), cast("tuple[str, ...]", ())),
        rule_told=fields.text("decision_rule"),
        caution=fields.text("caution"),
    )


def _count_at(value: Any, where: str) -> int:
    return 0 if value == 0 else whole_at(value, where)


def _checked_at(value: Any, where: str) -> "Checked":
    from references.verdict import Checked

    fields = _Fields(value, where)
    names = ("features", "of_features", "parts", "of_parts")
    return Checked(*(fields.get(name, _count_at, 0) for name in names))


def _recast_at(value: Any, where: str) -> "Recast":
    from references.verdict import Recast

    fields = _Fields(value, where)
    return Recast(fields.number("probability"), fields.number("shrink_percent"), fields.number("u_percent"))


def _part_at(value: Any, where: str) -> "PartVerdict":
    from references.verdict import PartVerdict

    fields = _Fields(value, where)
    part = fields.text("part")
    return PartVerdict(
        part=part,
        name=fields.text("name") or part,
        present=fields.get("present", flag_at, True),
        outcome=cast("Any", fields.text("outcome", "cannot tell")),
        releases=fields.texts("releases"),
        posterior=fields.shares("posterior"),
        foreign=fields.get("foreign", flag_at, False),
        foreign_probability=fields.number("foreign_probability"),
        findings=fields.get("findings", tuple_of(_finding_at), cast("tuple[FindingVerdict, ...]", ())),
    )


def _finding_at(value: Any, where: str) -> "FindingVerdict":
    from references.verdict import FindingVerdict

    fields = _Fields(value, where)
    feature = fields.text("feature")
    return FindingVerdict(
        feature=feature,
        name=fields.text("name") or feature,
        value=fields.get("value", _found_at, cast("float | int | str", "")),
        standard_uncertainty_mm=fields.number_or_none("u"),
        by_release=fields.get("by_release", _each(_fit_at), cast("dict[str, ReleaseFit]", {})),
        gross_error=fields.number("blunder_probability"),
    )


def _fit_at(value: Any, where: str) -> "ReleaseFit":
    from references.verdict import ReleaseFit

    fields = _Fields(value, where)
    return ReleaseFit(fields.number_or_none("conformance_probability"), fields.number("likelihood"))


def _told_at(value: Any, where: str) -> str:
    return _Fields(value, where).text("text")


def _doubt_at(value: Any, where: str) -> "Doubt":
    from references.verdict import Doubt

    fields = _Fields(value, where)
    return Doubt(
        code=cast("Any", fields.text("code")),
        lengths=fields.get("lengths", tuple_of(_doubted_at), cast("tuple[DoubtedLength, ...]", ())),
        probability=fields.number_or_none("probability"),
        factor=fields.number_or_none("factor"),
        factor_expanded_uncertainty=fields.number_or_none("factor_expanded_uncertainty"),
        photo=fields.text("photo") or None,
    )


def _doubted_at(value: Any, where: str) -> "DoubtedLength":
    from references.verdict import DoubtedLength

    fields = _Fields(value, where)
    return DoubtedLength(
        fields.text("part"),
        fields.text("feature"),
        fields.number("length_mm"),
        fields.number("expanded_uncertainty_mm"),
    )


def _check_at(value: Any, where: str) -> "NextCheck":
    from references.verdict import NextCheck

    fields = _Fields(value, where)
    return NextCheck(
        part=fields.text("part"),
        feature=fields.text("feature"),
        again=False,
        expected_gain_bits=fields.number("expected_gain_bits"),
        needed_uncertainty_mm=fields.number_or_none("needed_uncertainty_mm"),
        leads=fields.get("leads", tuple_of(_lead_at), cast("tuple[Lead, ...]", ())),
    )


def _lead_at(value: Any, where: str) -> "Lead":
    from references.verdict import Lead

    fields = _Fields(value, where)
    return Lead(
        outcome=fields.get("outcome", _outcome_at, None),
        chance=fields.number("chance"),
        release=fields.text("release"),
        probability=fields.number("probability"),
    )


def _outcome_at(value: Any, where: str) -> int | str | tuple[float, float]:
    """Return a count, an alternative of a trait, or the two limits of a length."""
    if isinstance(value, list):
        return point_at(value, where)
    found = _found_at(value, where)
    return found if isinstance(found, str) else int(found)
