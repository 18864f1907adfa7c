"""JCGM 100:2008, H.2, resistance and reactance (data as in public tests of suncal)."""

import numpy as np

from measure.length.monte_carlo import monte_carlo
from measure.length.value import Contribution, Length
from tests.published.printed import agrees

VOLTS = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
MILLIAMPERES = np.array([19.663, 19.639, 19.640, 19.685, 19.678])
RADIANS = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])
READINGS = np.stack([VOLTS, MILLIAMPERES * 1e-3, RADIANS])
MEANS, COV = READINGS.mean(axis=1), np.cov(READINGS) / 5
EFFECTS = np.linalg.cholesky(COV)  # three independent unit inputs


def correlated(row: int) -> Length:
    parts = {f"input-{i}": Contribution("reading", True, float(mm)) for i, mm in enumerate(EFFECTS[row])}
    return Length(float(MEANS[row]), parts)


def test_the_impedance_keeps_the_correlation_of_its_readings() -> None:
    ratio = correlated(0) / correlated(1)
    assert agrees(ratio.value, "254.260")
    assert agrees(ratio.standard_uncertainty, "0.236")  # 0.204 without the correlation


def test_resistance_and_reactance_have_the_tables_uncertainties() -> None:
    for turn, value, uncertainty in ((np.cos, "127.732", "0.071"), (np.sin, "219.847", "0.295")):

        def values(inputs: np.ndarray, _: np.ndarray, turn: np.ufunc = turn) -> np.ndarray:
            volts, amperes, phase = (MEANS + inputs @ EFFECTS.T).T
            return volts / amperes * turn(phase)

        best = float(values(np.zeros((1, 3)), np.zeros((1, 0)))[0])
        assert agrees(best, value)
        spread = monte_carlo(values, 3, 0, best, rng=np.random.default_rng(2), draws=200_000)
        assert agrees(spread.standard_uncertainty_mm, uncertainty, units=3)
