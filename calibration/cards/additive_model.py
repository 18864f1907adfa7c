"""Log odds as a sum of curves, one per feature: an additive logistic model."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_LARGEST = 30.0


@dataclass(frozen=True, slots=True)
class Curve:
    """What one feature adds to the log odds: straight between its knots, level beyond them.

    Attributes
    ----------
    feature : str
    knots : tuple of float
        Ascending values of the feature.
    rounded, sharp : tuple of float
        Log odds at the knots for kinds with rounded and with sharp corners.
    """

    feature: str
    knots: tuple[float, ...]
    rounded: tuple[float, ...]
    sharp: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Additive:
    """A constant, for kinds with rounded and with sharp corners, and a curve per feature."""

    rounded: float
    sharp: float
    curves: tuple[Curve, ...]


def log_odds(model: Additive, features: Array, *, sharp: bool) -> float:
    """Return the log odds that the model gives to features, (F,) in the order of its curves.

    References
    ----------
    Hastie and Tibshirani, Generalized Additive Models, Statistical Science 1 (1986): the form of the model.
    """
    total = model.sharp if sharp else model.rounded
    for curve, value in zip(model.curves, features, strict=True):
        total += float(np.interp(value, curve.knots, curve.sharp if sharp else curve.rounded))
    return float(np.clip(total, -_LARGEST, _LARGEST))
