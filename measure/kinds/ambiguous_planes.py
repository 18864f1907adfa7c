"""A length if the photo allows more than one plane: measured on each, with the spread included."""

from collections.abc import Callable, Sequence

import numpy as np

from calibration.plane import Plane, PlaneFamily
from measure.length import NORMAL_COVERAGE_FACTOR, Contribution, Length


def over_family(
    family: PlaneFamily, measure: Callable[[Plane], Length], *, photo_id: str = "photo"
) -> Length:
    """Measure on every plane of a family and combine.

    Parameters
    ----------
    family : PlaneFamily
        The planes and their weights.
    measure : callable
        Any kind of measurement, given a plane.
    photo_id : str
        Names the inputs that tell the planes apart.

    Returns
    -------
    Length
        The weighted mean; each plane's departure from it is an input of its own, shared by all lengths of the
        photo, so that their differences and ratios account for the tilt in both.

    Notes
    -----
    Law of total variance: the mean of the budgets, and the variance between the planes. The coverage factor
    is the one that holds 95 % of the mixture of normal distributions, if that is larger than 1.96.
    """
    lengths = [measure(plane) for plane in family.planes]
    weights = np.array(family.weights)
    values = np.array([length.value_mm for length in lengths])
    mean = float(weights @ values)
    parts = _mean_contributions(lengths, weights)
    for index, (value, weight) in enumerate(zip(values, weights, strict=True)):
        key = f"{photo_id}:plane-{index + 1}"
        parts[key] = Contribution(family.source, True, float(weight**0.5 * (value - mean)))
    within = np.array([length.standard_uncertainty_mm for length in lengths])
    combined = Length(mean, parts)
    u_mm = combined.standard_uncertainty_mm
    return Length(mean, parts, _coverage_factor(values - mean, within, weights, u_mm))


def _mean_contributions(lengths: Sequence[Length], weights: np.ndarray) -> dict[str, Contribution]:
    """Root-mean-square contribution of each input over the planes, with the sign of its mean."""
    parts: dict[str, Contribution] = {}
    for key, first in lengths[0].contributions.items():
        effects = np.array(
            [length.contributions[key].mm if key in length.contributions else 0.0 for length in lengths]
        )
        size = float(np.sqrt(weights @ effects**2))
        parts[key] = Contribution(first.source, first.shared, size if weights @ effects >= 0 else -size)
    return parts


def _coverage_factor(away: np.ndarray, within: np.ndarray, weights: np.ndarray, u_mm: float) -> float:
    from scipy import optimize, special

    if not u_mm > 0.0 or float(np.abs(away).max()) < 0.1 * u_mm:
        return NORMAL_COVERAGE_FACTOR
    spread = np.maximum(within, 1e-9)

    def missed(k: float) -> float:
        inside = special.ndtr((k * u_mm - away) / spread) - special.ndtr((-k * u_mm - away) / spread)
        return float(weights @ inside) - 0.95

    k = optimize.brentq(missed, 0.1, 20.0)  # type: ignore[no-untyped-call]
    return max(NORMAL_COVERAGE_FACTOR, float(k))
