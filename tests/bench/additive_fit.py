"""Fits additive logistic models: what the finder's judgements of outlines are made of."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize

from calibration.cards.additive_model import Additive, Curve

PIECES = 4


def knots_of(values: np.ndarray) -> np.ndarray:
    """Quantiles of a feature, as few as are distinct."""
    return np.unique(np.round(np.quantile(values, np.linspace(0.0, 1.0, PIECES + 1)), 4))


def pieces(values: np.ndarray, knots: np.ndarray) -> np.ndarray:
    """Share of each piece between knots that lies below a value, (N, P): the curve is their weighted sum."""
    if len(knots) < 2:
        return np.zeros((len(values), 0))
    shares: np.ndarray = np.clip((values[:, None] - knots[:-1]) / np.diff(knots), 0.0, 1.0)
    return shares


def fit(
    features: np.ndarray,
    right: np.ndarray,
    sharp: np.ndarray,
    meanings: Mapping[str, str],
    present: Additive | None = None,
) -> "Model":
    """Fit the curves, monotone where that makes sense; kinds with sharp corners have curves of their own.

    Ridges draw both sorts of kinds to common curves, these to straight lines, and all to a present model.
    `meanings` tells of each column what more of it means: it speaks for (+), against (-) or either way (0).
    """
    names, signs = list(meanings), list(meanings.values())
    known = {curve.feature: curve for curve in present.curves} if present else {}
    knots = [
        np.array(known[name].knots) if name in known else knots_of(column)
        for name, column in zip(names, features.T, strict=True)
    ]
    parts = [pieces(column, own) for column, own in zip(features.T, knots, strict=True)]
    basis = np.column_stack(parts)
    count = basis.shape[1]
    design = np.column_stack([basis * (1 - sharp)[:, None], basis * sharp[:, None], 1 - sharp, sharp])
    limits = {"0": (None, None), "+": (0.0, None), "-": (None, 0.0)}
    each = [limits[sign] for sign, part in zip(signs, parts, strict=True) for _ in range(part.shape[1])]
    bounds = [*each, *each, (None, None), (None, None)]
    starts = np.cumsum([0] + [part.shape[1] for part in parts])
    inner = np.ones(count - 1)
    inner[starts[(starts > 0) & (starts < count)] - 1] = 0.0
    start = np.concatenate(
        [*_steps(known, names, knots), [present.rounded, present.sharp] if present else [0, 0]]
    )
    old = np.concatenate(
        [np.full(part.shape[1], name in known) for name, part in zip(names, parts, strict=True)]
    )
    size, same = np.where(old, NEAR, SIZE), np.where(old, NEAR, SAME)

    def cost(weights: np.ndarray) -> tuple[float, np.ndarray]:
        score = design @ weights
        loss = np.sum(np.logaddexp(0.0, score) - right * score)
        slope = design.T @ (1.0 / (1.0 + np.exp(-score)) - right)
        one, two = (weights - start)[:count], (weights - start)[count : 2 * count]
        apart = one - two
        loss += 0.5 * np.sum(size * (one**2 + two**2)) + 0.5 * np.sum(same * apart**2)
        slope[:count] += size * one + same * apart
        slope[count : 2 * count] += size * two - same * apart
        for begin, own in ((0, one), (count, two)):
            bend = np.diff(own) * inner
            loss += 0.5 * SMOOTH * np.sum(bend**2)
            slope[begin : begin + count - 1] -= SMOOTH * bend
            slope[begin + 1 : begin + count] += SMOOTH * bend
        return loss, slope

    found = minimize(cost, start, jac=True, bounds=bounds, method="L-BFGS-B")  # type: ignore[no-untyped-call]
    return Model(names, knots, starts, found.x[:count], found.x[count : 2 * count], found.x[-2:])


# Ridges on steps, on what sets the two sorts of kinds apart, on bends, and on departure from present curves.
SIZE, SAME, SMOOTH, NEAR = 1.0, 2.0, 0.5, 20.0


def _steps(known: Mapping[str, Curve], names: list[str], knots: list[np.ndarray]) -> Iterator[np.ndarray]:
    """Steps of the present curves, for rounded and for sharp corners; zero where there is none."""
    for sort in ("rounded", "sharp"):
        for name, own in zip(names, knots, strict=True):
            curve = known.get(name)
            yield np.diff(np.interp(own, curve.knots, getattr(curve, sort))) if curve else 0.0 * own[1:]


@dataclass
class Model:
    """Fitted steps of the curves for round and for sharp corners, and the two constants."""

    names: list[str]
    knots: list[np.ndarray]
    starts: np.ndarray
    rounded: np.ndarray
    sharp: np.ndarray
    constants: np.ndarray

    def scores(self, features: np.ndarray, sharp: np.ndarray) -> np.ndarray:
        basis = np.column_stack(
            [pieces(column, own) for column, own in zip(features.T, self.knots, strict=True)]
        )
        scores: np.ndarray = np.where(
            sharp > 0.5, basis @ self.sharp + self.constants[1], basis @ self.rounded + self.constants[0]
        )
        return scores

    def text(self, name: str) -> str:
        """The table as Python source."""
        lines = [f"{name} = Additive({self.constants[0]:.3f}, {self.constants[1]:.3f}, ("]
        for curve in self.additive().curves:
            values = [
                "(" + ", ".join(f"{value:.{digits}f}" for value in row) + ",)"
                for row, digits in zip((curve.knots, curve.rounded, curve.sharp), (4, 3, 3), strict=True)
            ]
            lines += [f'    Curve("{curve.feature}",', *(f"          {row}," for row in values[:2])]
            lines.append(f"          {values[2]}),")
        return "\n".join([*lines, "))"])

    def additive(self) -> Additive:
        """The model as the finder evaluates it."""
        curves = []
        for index, (name, knots) in enumerate(zip(self.names, self.knots, strict=True)):
            part = slice(self.starts[index], self.starts[index + 1])
            rounded, sharp = (
                tuple(np.r_[0.0, np.cumsum(own[part])].tolist()) for own in (self.rounded, self.sharp)
            )
            curves.append(Curve(name, tuple(knots.tolist()), rounded, sharp))
        return Additive(float(self.constants[0]), float(self.constants[1]), tuple(curves))
