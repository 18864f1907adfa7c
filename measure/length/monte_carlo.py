"""Where the linear propagation of uncertainty fails, and the Monte Carlo that replaces it there.

References
----------
JCGM 101:2008, propagation of distributions using a Monte Carlo method.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from calibration.camera import Array
from calibration.errors import GeometryError
from measure.length.value import NORMAL_COVERAGE_FACTOR

# Takes plane inputs (B, M) and own inputs (B, K), all in standard uncertainties; gives values (B,) in mm.
Values = Callable[[Array, Array], Array]

# Second-order effects above these shares of u need a Monte Carlo: a shift of 0.1 u or a spread of 0.2 u
# changes the coverage of a 95 % interval by about half a per cent.
_SHIFT_SHARE, _SPREAD_SHARE = 0.1, 0.2
_DRAWS = 4000
# Fixed, so that the same clicks give the same figures.
_SEED = 20_081


@dataclass(frozen=True, slots=True)
class Spread:
    """What a Monte Carlo finds.

    Attributes
    ----------
    mean_mm : float
        Mean of the values.
    standard_uncertainty_mm : float
        Root mean square deviation from the best estimate, its bias included.
    expanded_uncertainty_mm : float
        Half-width of the interval about the best estimate that holds 95 % of the values.
    """

    mean_mm: float
    standard_uncertainty_mm: float
    expanded_uncertainty_mm: float


def is_nonlinear(value: float, up: Array, down: Array) -> bool:
    """Tell whether second-order effects matter.

    Parameters
    ----------
    value : float
        Best estimate.
    up, down : (S,) arrays
        The value with each input one standard uncertainty higher and lower.

    Notes
    -----
    Per input, half the sum of the two changes is the second-order term: the sum of these terms shifts the
    mean, and the root of the sum of their squares, times the root of two, widens the distribution. Cross
    terms are left out.
    """
    linear = float(np.linalg.norm((up - down) / 2.0))
    second = (up + down) / 2.0 - value
    if linear == 0.0:
        return bool(np.any(second != 0.0))
    shift, spread = abs(float(second.sum())), float(np.sqrt(2.0) * np.linalg.norm(second))
    return shift > _SHIFT_SHARE * linear or spread > _SPREAD_SHARE * linear


def monte_carlo(
    values: Values, shared: int, own: int, value: float, *, rng: np.random.Generator, draws: int
) -> Spread:
    """Propagate normal distributions of all inputs through a measurement.

    Parameters
    ----------
    values : callable
        The measurement as a function of all inputs.
    shared, own : int
        How many inputs the plane has, and how many the measurement itself.
    value : float
        Best estimate, about which the interval lies.
    rng : Generator
        Source of randomness.
    draws : int
        Number of draws, taken in pairs of opposite sign.

    Raises
    ------
    GeometryError
        More than one draw in forty gives no length, so that no 95 % interval exists.
    """
    half = rng.standard_normal((draws // 2, shared + own))
    inputs = np.concatenate([half, -half])
    found = values(inputs[:, :shared], inputs[:, shared:])
    good = np.isfinite(found)
    if np.mean(good) < 0.975:
        raise GeometryError(
            "the points lie so near the horizon of the card's plane that no length can be stated: "
            "take the photo from higher up"
        )
    misses = np.where(good, np.abs(found - value), np.inf)
    root_mean_square = float(np.sqrt(np.mean(misses[good] ** 2)))
    return Spread(
        float(found[good].mean()), root_mean_square, float(np.quantile(misses, 0.95, method="higher"))
    )


def beyond_linear(values: Values, shared: int, own: int, found: Array) -> tuple[float, float]:
    """Return what non-linearity adds to u, in mm, and the coverage factor for 95 %.

    Parameters
    ----------
    values, shared, own
        As for `monte_carlo`.
    found : (1 + 2 S,) array
        The value, then with each input one standard uncertainty up, then down.

    Returns
    -------
    extra_mm, coverage_factor : float
        Zero and 1.96 where the linear propagation holds.
    """
    size = shared + own
    value, up, down = float(found[0]), found[1 : size + 1], found[size + 1 :]
    if not is_nonlinear(value, up, down):
        return 0.0, NORMAL_COVERAGE_FACTOR
    spread = monte_carlo(values, shared, own, value, rng=np.random.default_rng(_SEED), draws=_DRAWS)
    linear = float(np.linalg.norm((up - down) / 2.0))
    total = max(linear, spread.standard_uncertainty_mm)
    extra = float(np.sqrt(max(total**2 - linear**2, 0.0)))
    return extra, spread.expanded_uncertainty_mm / total
