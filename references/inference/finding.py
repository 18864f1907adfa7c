"""Findings on a specimen, checked against the sheet and sorted by part."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from references.errors import FindingError
from references.limits import (
    LARGEST_COUNT,
    LEAST_MM,
    LONGEST_MM,
    MOST_READINGS,
    number_of,
    shortened,
    whole_of,
)
from references.release_sheet import Feature, Part, Sheet

State = Literal["seen", "not present", "could not see"]
STATES: tuple[State, ...] = ("seen", "not present", "could not see")
OTHER = "other"
"""A trait that matches none of the sheet's alternatives."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One observed value of a feature, or the state of a part.

    Attributes
    ----------
    part : str
        Key of the part.
    feature : str or None
        Key of the feature; None where the finding is about the part as a whole.
    value : float, int, str or None
        A length in mm, a count, or an alternative of a trait (or ``"other"``).
    standard_uncertainty_mm : float or None
        Standard uncertainty of a length.
    shared_std_mm : float
        The component of it that all lengths of the same photo share (scale, tilt, lens).
    photo : str or None
        Key of the photo; lengths without one share nothing of it.
    standoff_std_mm : float
        The component that all lengths of the same part share, in whatever photo: their height above the card
        is one statement.
    state : str
        ``"seen"``; ``"not present"``: looked, and the toy has no such part; ``"could not see"``: says
        nothing.
    """

    part: str
    feature: str | None = None
    value: float | int | str | None = None
    standard_uncertainty_mm: float | None = None
    shared_std_mm: float = 0.0
    photo: str | None = None
    state: State = "seen"
    standoff_std_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Reading:
    """One length as the arithmetic needs it: independent and shared standard uncertainty separate.

    Attributes
    ----------
    value_mm, own_std_mm : float
    shared_std_mm : float
        What the lengths of its photo share.
    photo : str or None
    standoff_std_mm : float
        What the lengths of its part share.
    """

    value_mm: float
    own_std_mm: float
    shared_std_mm: float
    photo: str | None
    standoff_std_mm: float = 0.0

    @property
    def std_mm(self) -> float:
        """Combined standard uncertainty."""
        return math.hypot(self.own_std_mm, self.shared_std_mm, self.standoff_std_mm)


@dataclass(frozen=True, slots=True)
class FeatureFindings:
    """All findings on one feature: readings of a dimension, or the counts or words seen."""

    feature: Feature
    readings: tuple[Reading, ...] = ()
    counts: tuple[int, ...] = ()
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PartFindings:
    """All findings on one part.

    ``present`` is None if nothing is known about it; ``out_of_sight``: it could not be seen.
    """

    part: Part
    present: bool | None
    features: tuple[FeatureFindings, ...] = ()
    out_of_sight: bool = False

    @property
    def readings(self) -> tuple[Reading, ...]:
        """Every length found on the part."""
        return tuple(reading for findings in self.features for reading in findings.readings)


NOTHING_SHARED = 1e-6
LEAST_OWN_SHARE = 0.05
"""Share of the uncertainty that is always the length's own: no click is ever repeated exactly."""


def sort_findings(sheet: Sheet, findings: Iterable[Finding]) -> tuple[PartFindings, ...]:
    """Check findings against the sheet and sort them by its parts and features, in whatever order they come.

    Parameters
    ----------
    sheet : Sheet
        Gives parts and features, and their order.
    findings : iterable of Finding
        In any order; a part that could not be seen says nothing.

    Returns
    -------
    tuple of PartFindings
        One for each part of the sheet, in its order; values of a feature rise, so that equal findings give
        equal arithmetic.

    Raises
    ------
    FindingError
        Where a finding names what the sheet does not have, lacks its uncertainty, or contradicts another.
    """
    by_part: dict[str, list[Finding]] = {part.id: [] for part in sheet.parts}
    for finding in findings:
        if finding.part not in by_part:
            raise FindingError(
                f'part "{shortened(finding.part)}": not in the sheet; expected one of {", ".join(by_part)}',
            )
        if finding.state not in STATES:
            raise FindingError(
                f'part "{finding.part}": state "{finding.state}"; expected one of {", ".join(STATES)}'
            )
        by_part[finding.part].append(finding)
    return tuple(_sort_part(part, by_part[part.id]) for part in sheet.parts)


def _sort_part(part: Part, findings: Sequence[Finding]) -> PartFindings:
    gone = [finding for finding in findings if finding.state == "not present"]
    seen = [finding for finding in findings if finding.state == "seen"]
    if gone and seen:
        raise FindingError(
            f'part "{part.id}": noted as not present, yet it has findings; remove one or the other'
        )
    if gone:
        return PartFindings(part, present=False)
    for finding in seen:
        if finding.feature is not None and part.feature(finding.feature) is None:
            known = ", ".join(feature.id for feature in part.features)
            given = shortened(finding.feature)
            raise FindingError(f'part "{part.id}": no feature "{given}"; expected one of {known}')
    features = tuple(
        _sort_feature(part, feature, found)
        for feature in part.features
        if (found := [finding for finding in seen if finding.feature == feature.id])
    )
    hidden = bool(findings) and not seen
    present = True if seen else None
    return _shared_standoff(PartFindings(part, present=present, features=features, out_of_sight=hidden))


def _shared_standoff(findings: PartFindings) -> PartFindings:
    """Leave a stand-off's error by itself only where several lengths share it."""
    if sum(reading.standoff_std_mm > 0 for reading in findings.readings) > 1:
        return findings
    features = tuple(
        replace(each, readings=tuple(_on_its_own(reading) for reading in each.readings))
        for each in findings.features
    )
    return replace(findings, features=features)


def _on_its_own(reading: Reading) -> Reading:
    own_mm = math.hypot(reading.own_std_mm, reading.standoff_std_mm)
    return replace(reading, own_std_mm=own_mm, standoff_std_mm=0.0)


def _sort_feature(part: Part, feature: Feature, findings: Sequence[Finding]) -> FeatureFindings:
    where = f'part "{part.id}", feature "{feature.id}"'
    if len(findings) > MOST_READINGS:
        raise FindingError(
            f"{where}: {len(findings)} findings; at most {MOST_READINGS} are weighed: remove some"
        )
    if feature.kind == "dimension":
        return FeatureFindings(
            feature, readings=tuple(sorted((_reading(where, f) for f in findings), key=_order))
        )
    if feature.kind == "count":
        return FeatureFindings(feature, counts=tuple(sorted(_count(where, finding) for finding in findings)))
    return FeatureFindings(
        feature, words=tuple(sorted(_word(where, feature, finding) for finding in findings))
    )


def _order(reading: Reading) -> tuple[float, float, str]:
    return reading.value_mm, reading.own_std_mm, reading.photo or ""


def _reading(where: str, finding: Finding) -> Reading:
    value = number_of(finding.value, LEAST_MM, LONGEST_MM)
    std = number_of(finding.standard_uncertainty_mm, LEAST_MM, LONGEST_MM)
    if value is None:
        given = shortened(repr(finding.value))
        raise FindingError(
            f"{where}: {given} is not a length; expected from {LEAST_MM:g} to {LONGEST_MM:g} mm"
        )
    if std is None:
        given = shortened(repr(finding.standard_uncertainty_mm))
        raise FindingError(
            f"{where}: standard uncertainty {given}; expected from {LEAST_MM:g} to {LONGEST_MM:g} mm"
        )
    shared = finding.shared_std_mm if finding.photo is not None else 0.0
    if not 0 <= shared <= std * (1 + 1e-6):
        raise FindingError(
            f"{where}: shared uncertainty {shared!r}; expected from 0 up to the whole, {std} mm"
        )
    standoff = finding.standoff_std_mm
    rest = std * std - shared * shared
    if not 0 <= standoff * standoff <= rest + 1e-6 * std * std:
        raise FindingError(
            f"{where}: uncertainty of the stand-off {standoff!r}; expected from 0 up to what is not shared,"
            f" {math.sqrt(max(rest, 0.0))} mm"
        )
    own = max(math.sqrt(max(rest - standoff * standoff, 0.0)), LEAST_OWN_SHARE * std)
    common = (float(each) if each > NOTHING_SHARED * std else 0.0 for each in (shared, standoff))
    photo_std_mm, standoff_std_mm = common
    return Reading(value, own, photo_std_mm, finding.photo, standoff_std_mm)


def _count(where: str, finding: Finding) -> int:
    value = finding.value
    count = whole_of(
        int(value) if isinstance(value, float) and value.is_integer() else value, 0, LARGEST_COUNT
    )
    if count is None:
        given = shortened(repr(value))
        raise FindingError(
            f"{where}: {given} is not a count; expected a whole number from 0 to {LARGEST_COUNT}"
        )
    return count


def _word(where: str, feature: Feature, finding: Finding) -> str:
    if finding.value not in (*feature.alternatives, OTHER):
        known = ", ".join((*feature.alternatives, OTHER))
        given = shortened(repr(finding.value))
        raise FindingError(f"{where}: {given} is not known; expected one of {known}")
    return str(finding.value)
