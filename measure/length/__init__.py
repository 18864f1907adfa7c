"""A length with its uncertainty: budget, propagation, rounding."""

from measure.length.monte_carlo import Values
from measure.length.propagation import (
    CLICK,
    EDGE,
    STANDOFF,
    OwnInput,
    checked_standoff,
    default_standoff_std_mm,
    points_of,
    propagated,
)
from measure.length.repeats import contradict, repeated
from measure.length.units import (
    MM_PER_INCH,
    format_fraction,
    format_inches,
    format_mm,
    parse_length,
    round_with_uncertainty,
)
from measure.length.value import NORMAL_COVERAGE_FACTOR, Contribution, Length

__all__ = [
    "CLICK",
    "EDGE",
    "MM_PER_INCH",
    "NORMAL_COVERAGE_FACTOR",
    "STANDOFF",
    "Contribution",
    "Length",
    "OwnInput",
    "Values",
    "checked_standoff",
    "contradict",
    "default_standoff_std_mm",
    "format_fraction",
    "format_inches",
    "format_mm",
    "parse_length",
    "points_of",
    "propagated",
    "repeated",
    "round_with_uncertainty",
]
