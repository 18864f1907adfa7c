"""Repeated measurements of one length: their mean, with their scatter."""

from collections.abc import Sequence
from math import sqrt

from measure.errors import SpanError
from measure.length.propagation import CLICK
from measure.length.value import NORMAL_COVERAGE_FACTOR, Contribution, Length, mean_length

SCATTER = "repeatability"
CONTRADICTION_AT = 0.01
"""Repeats whose scatter is less likely than this by chance are not of one length."""


def coverage_factor(degrees_of_freedom: float, probability: float = 0.95) -> float:
    """Return Student's two-sided factor; the normal one for infinite degrees of freedom.

    Parameters
    ----------
    degrees_of_freedom : float
        More than 0.
    probability : float
        Coverage probability.

    References
    ----------
    JCGM 100:2008, Table G.2.
    """
    from scipy.special import stdtrit

    return float(stdtrit(degrees_of_freedom, (1.0 + probability) / 2.0))


def effective_degrees_of_freedom(parts: Sequence[tuple[float, float]]) -> float:
    """Return the degrees of freedom of a combined uncertainty, by Welch and Satterthwaite.

    Parameters
    ----------
    parts : sequence of (float, float)
        Standard uncertainty and degrees of freedom of each component; the latter may be infinite.

    References
    ----------
    JCGM 100:2008, G.4.1, equation G.2b.
    """
    total = sum(u**2 for u, _ in parts)
    below = sum(u**4 / freedom for u, freedom in parts)
    return total**2 / below if below > 0 else float("inf")


def repeated(lengths: Sequence[Length], *, name: str = "repeats") -> Length:
    """Return the mean of repeated measurements of one span, clicked again each time.

    If they scatter more than their stated clicks explain, the scatter is used, with Student's factor for
    its degrees of freedom.

    Parameters
    ----------
    lengths : sequence of Length
        One photo's, each with its own clicks. Only these are independent: the stand-off is one, and so is the
        edge that they snapped to, whatever the inputs are called.
    name : str
        Identifies the scatter among the inputs.

    Returns
    -------
    Length
        The mean; its coverage factor is never below that of any of them.

    Raises
    ------
    SpanError
        There are none.

    References
    ----------
    JCGM 100:2008, 4.2, for the scatter of a mean.
    """
    if not lengths:
        raise SpanError("a mean needs at least one measurement")
    mean = mean_length([_with_common(length) for length in lengths])
    count = len(lengths)
    if count == 1:
        return mean
    scatter = sqrt(sum((length.value_mm - mean.value_mm) ** 2 for length in lengths) / (count - 1) / count)
    stated = sqrt(sum(part.mm**2 for part in mean.contributions.values() if _scatters(part)))
    if scatter <= stated:
        return mean
    extra = sqrt(scatter**2 - stated**2)
    parts = {**mean.contributions, name: Contribution(SCATTER, False, extra)}
    common = sqrt(sum(part.mm**2 for part in mean.contributions.values() if not _scatters(part)))
    freedom = effective_degrees_of_freedom([(common, float("inf")), (scatter, count - 1)])
    return Length(
        mean.value_mm, parts, max(mean.coverage_factor, coverage_factor(freedom), NORMAL_COVERAGE_FACTOR)
    )


def contradict(lengths: Sequence[Length]) -> bool:
    """Tell whether readings of one length lie so far apart that their mean is meaningless.

    Each counts with its whole uncertainty, although repeats on one photo share most of it: smaller
    scatter is that of the clicks, which `repeated` includes.

    Parameters
    ----------
    lengths : sequence of Length
        Readings of one feature on one photo.

    Returns
    -------
    bool
        False for fewer than two, and where one is stated without uncertainty.
    """
    from references.inference import chance_of_scatter

    stds = [length.standard_uncertainty_mm for length in lengths]
    if len(lengths) < 2 or min(stds) <= 0:
        return False
    return chance_of_scatter([length.value_mm for length in lengths], stds) < CONTRADICTION_AT


def _scatters(part: Contribution) -> bool:
    return part.source == CLICK and not part.shared


def _with_common(length: Length) -> Length:
    """Return the length with all inputs except its clicks under names that the other repeats share."""
    parts: dict[str, Contribution] = {}
    counts: dict[str, int] = {}
    for key, part in length.contributions.items():
        if part.shared or _scatters(part):
            parts[key] = part
            continue
        counts[part.source] = counts.get(part.source, 0) + 1
        parts[f"repeats:{part.source}:{counts[part.source]}"] = part
    return Length(length.value_mm, parts, length.coverage_factor)
