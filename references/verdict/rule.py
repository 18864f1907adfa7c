"""When a verdict commits to an answer, and what it assumes: the numbers that it is worked out with."""

from dataclasses import dataclass

from references.inference import DEFAULT_OPTIONS, JudgeOptions
from references.release_sheet import Sheet
from references.verdict.gate import FEW_READINGS, FEWEST_DISMISSED
from references.verdict.part_verdict import FITS_WITHIN, INSIDE_AT, OUTSIDE_AT


@dataclass(frozen=True, slots=True)
class Rates:
    """How often a verdict by a sheet assumes what, as shares from 0 to 1.

    Attributes
    ----------
    gross_error_rate, misplaced_rate, misplaced_mm, misplaced_share, miscount_rate, misread_rate, none_rate
        As in `JudgeOptions`.
    unlisted_rate, scale_rate, shrink_low, shrink_high : float
        As in `JudgeOptions`.
    swap_rate, missing_rate, recast_rate : float
        As in the sheet.
    """

    gross_error_rate: float
    misplaced_rate: float
    misplaced_mm: float
    misplaced_share: float
    miscount_rate: float
    misread_rate: float
    none_rate: float
    unlisted_rate: float
    scale_rate: float
    shrink_low: float
    shrink_high: float
    swap_rate: float
    missing_rate: float
    recast_rate: float


@dataclass(frozen=True, slots=True)
class DecisionRule:
    """When a verdict commits to an answer.

    Attributes
    ----------
    inside_probability, outside_probability : float
        Conformance probabilities (JCGM 106:2012) from and up to which a length fits a release's limits, and
        does not.
    part_ratio : float
        A part fits a release that explains it no worse than this many times less well than the best one.
    name_at, evidence_ratio, foreign_at, chance_at : float
        As in `JudgeOptions`.
    fewest_slips, few_lengths : int
        So many lengths that look like slips forbid a name; among more lengths than `few_lengths` only where
        chance brings so many to less than `chance_at`.
    rates : Rates
        What it assumes.
    """

    inside_probability: float
    outside_probability: float
    part_ratio: float
    name_at: float
    evidence_ratio: float
    foreign_at: float
    chance_at: float
    fewest_slips: int
    few_lengths: int
    rates: Rates


def decision_rule(sheet: Sheet, options: JudgeOptions = DEFAULT_OPTIONS) -> DecisionRule:
    """Return the rule and the rates that verdicts by a sheet are worked out with.

    Parameters
    ----------
    sheet : Sheet
        Gives the rates of parts swapped, lost and recast.
    options : JudgeOptions
        Gives all others.

    Returns
    -------
    DecisionRule
    """
    return DecisionRule(
        inside_probability=INSIDE_AT,
        outside_probability=OUTSIDE_AT,
        part_ratio=1 / FITS_WITHIN,
        name_at=options.name_at,
        evidence_ratio=options.evidence_ratio,
        foreign_at=options.foreign_at,
        chance_at=options.chance_at,
        fewest_slips=FEWEST_DISMISSED,
        few_lengths=FEW_READINGS,
        rates=Rates(
            gross_error_rate=options.gross_error_rate,
            misplaced_rate=options.misplaced_rate,
            misplaced_mm=options.misplaced_mm,
            misplaced_share=options.misplaced_share,
            miscount_rate=options.miscount_rate,
            misread_rate=options.misread_rate,
            none_rate=options.none_rate,
            unlisted_rate=options.unlisted_rate,
            scale_rate=options.scale_rate,
            shrink_low=options.shrink_low,
            shrink_high=options.shrink_high,
            swap_rate=sheet.swap_rate,
            missing_rate=sheet.missing_rate,
            recast_rate=sheet.recast_rate,
        ),
    )
