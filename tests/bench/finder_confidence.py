"""Fits the weights of the finder's confidence on simulated photos whose truth is known.

    python -m tests.bench.finder_confidence --first 3000 --count 280 --jobs 16

Examines every outline that the finder looks at closely, marks those whose four corners are right, fits an
additive logistic model, and prints the two tables of `calibration/quads_weights.py`, with what a six-fold
cross-validation by photo gives. With --near-present curves are drawn to the present ones, for which fewer
photos do. Tuning seeds only.
"""

import argparse
import os
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import cv2
import numpy as np
from scipy.optimize import minimize

from tests.synthetic.layout import LEVELS
from tests.synthetic.scenes import TUNING_SEEDS, make_scene

RIGHT_PX, RIGHT_SHARE = 3.0, 0.006
FOLDS = 6
LARGEST_LEAD = 6.0


@dataclass
class Row:
    """One outline: its photo, whether it is right, its features and corners, whether these are sharp."""

    photo: tuple[str, int]
    right: bool
    features: np.ndarray
    corners: np.ndarray
    sharp: bool


def examine(job):
    """Look at one photo as the finder does; the outlines that it weighs against each other."""
    from calibration import quads
    from calibration.camera import camera_from_photo
    from calibration.objects import CARD_OBJECTS
    from calibration.photo import decode_photo

    level, seed = job
    cv2.setNumThreads(1)
    scene = make_scene(seed, level)
    photo = decode_photo(scene.jpeg, f"{level}-{seed}.jpg")
    rows = []
    for outline in quads.look(photo, camera_from_photo(photo), CARD_OBJECTS):
        corners, features = outline.evidence.refined.corners_px, outline.evidence.features()
        right = is_right(corners, scene.corners_px)
        rows.append(Row((level, seed), right, features, corners, outline.evidence.is_sharp))
    return rows


def is_right(corners, truth):
    if truth is None:
        return False
    miss = min(np.linalg.norm(corners - np.roll(truth, turn, axis=0), axis=1).max() for turn in range(4))
    return bool(miss < max(RIGHT_PX, RIGHT_SHARE * np.linalg.norm(truth[0] - truth[2])))


# What each feature can mean: more of it speaks for (+) or against (-) an outline, or either way (0).
FEATURES = {
    "least share of a side seen": "+",
    "mean likeness of the three best corners": "+",
    "likeness of the worst corner": "+",
    "misfit of the proportions": "-",
    "lead of the best other choice of edges": "-",
    "log10 of the largest scatter about a side, px": "-",
    "share of the prolongations with an edge": "-",
    "log10 of the largest over the smallest blur": "-",
    "how little the proportions are constrained": "-",
    "log10 of the weakest contrast": "+",
    "least sameness of a side's contrast": "+",
    "second least": "+",
    "largest share of a prolongation running on": "-",
    "second largest": "-",
    "mean of these": "-",
    "log of the area's share of the photo": "0",
    "likeness of the corners, worst first": "+",
    "second": "+",
    "third": "+",
    "best": "+",
    "spread of the colours inside": "-",
    "spread of the colours outside": "-",
    "log of the area, px": "0",
    "tilt, degrees": "0",
    "log10 of the second largest strangeness": "-",
    "log10 of the largest strangeness": "-",
    "not settled": "-",
    "log10 of the disagreement of the proportions": "-",
    "lead of an outline inside": "-",
    "lead of an outline around": "-",
    "lead of an outline elsewhere": "-",
}
PIECES = 4


def knots_of(values):
    """Quantiles of a feature, as few as are distinct."""
    return np.unique(np.round(np.quantile(values, np.linspace(0.0, 1.0, PIECES + 1)), 4))


def pieces(values, knots):
    """Share of each piece between knots that lies below a value, (N, P): the curve is their weighted sum."""
    if len(knots) < 2:
        return np.zeros((len(values), 0))
    return np.clip((values[:, None] - knots[:-1]) / np.diff(knots), 0.0, 1.0)


def fit(features, right, sharp, present=None):
    """Fit the curves, monotone where that makes sense; kinds with sharp corners have curves of their own.

    Ridges draw both sorts of kinds to common curves, these to straight lines, and all to a present model.
    """
    names = names_of(features.shape[1])
    signs = [FEATURES[name] for name in names]
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
        [*_steps(known, names, knots), [present.rounded, present.sharp] if known else [0, 0]]
    )
    old = np.concatenate(
        [np.full(part.shape[1], name in known) for name, part in zip(names, parts, strict=True)]
    )
    size, same = np.where(old, NEAR, SIZE), np.where(old, NEAR, SAME)

    def cost(weights):
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

    found = minimize(cost, start, jac=True, bounds=bounds, method="L-BFGS-B")
    return Model(knots, starts, found.x[:count], found.x[count : 2 * count], found.x[-2:])


# Ridges on steps, on what sets the two sorts of kinds apart, on bends, and on departure from present curves.
SIZE, SAME, SMOOTH, NEAR = 0.5, 1.0, 0.5, 20.0
LEADS = 3


def names_of(count):
    """The features of so many columns: with or without the leads, which come last."""
    return list(FEATURES) if count == len(FEATURES) else list(FEATURES)[:-LEADS]


def _steps(known, names, knots):
    """Steps of the present curves, for rounded and for sharp corners; zero where there is none."""
    for sort in ("rounded", "sharp"):
        for name, own in zip(names, knots, strict=True):
            curve = known.get(name)
            yield np.diff(np.interp(own, curve.knots, getattr(curve, sort))) if curve else 0.0 * own[1:]


@dataclass
class Model:
    """Fitted steps of the curves for round and for sharp corners, and the two constants."""

    knots: list
    starts: np.ndarray
    rounded: np.ndarray
    sharp: np.ndarray
    constants: np.ndarray

    def scores(self, features, sharp):
        basis = np.column_stack(
            [pieces(column, own) for column, own in zip(features.T, self.knots, strict=True)]
        )
        return np.where(
            sharp > 0.5, basis @ self.sharp + self.constants[1], basis @ self.rounded + self.constants[0]
        )

    def text(self, name):
        """The table as `calibration/quads_weights.py` has it."""
        lines = [f"{name} = Additive({self.constants[0]:.3f}, {self.constants[1]:.3f}, ("]
        for index, (feature, knots) in enumerate(zip(names_of(len(self.knots)), self.knots, strict=True)):
            part = slice(self.starts[index], self.starts[index + 1])
            curves = [np.r_[0.0, np.cumsum(own[part])] for own in (self.rounded, self.sharp)]
            values = [
                "(" + ", ".join(f"{value:.{digits}f}" for value in row) + ",)"
                for row, digits in zip((knots, *curves), (4, 3, 3), strict=True)
            ]
            lines += [f'    Curve("{feature}",', *(f"          {row}," for row in values[:2])]
            lines.append(f"          {values[2]}),")
        return "\n".join([*lines, "))"])


def cross_validated(features, right, sharp, folds, present):
    scores = np.zeros(len(right))
    for fold in range(FOLDS):
        out = folds == fold
        model = fit(features[~out], right[~out], sharp[~out], present)
        scores[out] = model.scores(features[out], sharp[out])
    return scores


def leads(rows, scores):
    """Return, for each outline, the leads of the best other one inside it, around it and elsewhere."""
    result = np.full((len(rows), 3), -LARGEST_LEAD)
    by_photo = {}
    for index, row in enumerate(rows):
        by_photo.setdefault(row.photo, []).append(index)
    for group in by_photo.values():
        for own in group:
            for other in group:
                place = _place(rows[own].corners, rows[other].corners) if other != own else None
                if place is not None:
                    lead = np.clip(scores[other] - scores[own], -LARGEST_LEAD, LARGEST_LEAD)
                    result[own, place] = max(result[own, place], lead)
    return result


def _place(own, other):
    first, second = own.astype(np.float32), other.astype(np.float32)
    area, area_other = abs(cv2.contourArea(first)), abs(cv2.contourArea(second))
    if min(np.abs(np.roll(other, turn, axis=0) - own).max() for turn in range(4)) < 0.01 * area**0.5:
        return None
    if cv2.intersectConvexConvex(first, second)[0] > 0.7 * min(area, area_other):
        return int(area_other > area)
    return 2


def report(rows, scores):
    best = {}
    for row, score in zip(rows, scores, strict=True):
        if row.photo not in best or score > best[row.photo][0]:
            best[row.photo] = (score, row.right)
    for level in LEVELS:
        chosen = [value for photo, value in best.items() if photo[0] == level]
        for threshold in (0.6, 0.75, 0.9):
            taken = [right for score, right in chosen if score > np.log(threshold / (1 - threshold))]
            print(f"{level:8} from {threshold}: {len(taken)} taken, {sum(taken)} right, of {len(chosen)}")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--first", type=int, default=3000)
    parser.add_argument("--count", type=int, default=280)
    parser.add_argument("--jobs", type=int, default=os.cpu_count())
    parser.add_argument("--near-present", action="store_true", help="draw the curves to the present ones")
    choice = parser.parse_args()
    seeds = range(choice.first, choice.first + choice.count)
    assert set(seeds) <= set(TUNING_SEEDS), "weights may be fitted on tuning seeds only"
    jobs = [(level, seed) for seed in seeds for level in LEVELS]
    with ProcessPoolExecutor(choice.jobs) as pool:
        rows = [row for found in pool.map(examine, jobs) for row in found]
    for text in tables(rows, near_present=choice.near_present):
        print(text)


def tables(rows, *, near_present=False):
    """Cross-validate, report, and fit the two tables on all rows."""
    from calibration.quads_weights import ALONE, BESIDE

    present = (ALONE, BESIDE) if near_present else (None, None)
    features, right = np.array([row.features for row in rows]), np.array([row.right for row in rows], float)
    sharp = np.array([row.sharp for row in rows], float)
    photos = list(dict.fromkeys(row.photo for row in rows))
    folds = np.array([photos.index(row.photo) % FOLDS for row in rows])
    alone = cross_validated(features, right, sharp, folds, present[0])
    beside = np.column_stack([features, leads(rows, alone)])
    report(rows, cross_validated(beside, right, sharp, folds, present[1]))
    return [
        fit(table, right, sharp, model).text(name)
        for name, table, model in zip(("ALONE", "BESIDE"), (features, beside), present, strict=True)
    ]


if __name__ == "__main__":
    main()
