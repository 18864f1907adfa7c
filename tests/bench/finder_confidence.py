"""Fits the weights of the finder's confidence on simulated photos whose truth is known.

    python -m tests.bench.finder_confidence --first 3000 --count 280 --jobs 16

Examines every outline that the finder verifies, marks those whose four corners are right, fits an
additive logistic model, and prints the tables of `cards/score/classifier_weights.py`, with what a six-fold
cross-validation by photo gives. With --near-present curves are drawn to the present ones, for which fewer
photos do. What the corners' radii add, and then what the right angles of other things add where the focal
length is but assumed, is fitted last, to what is doubtful without. Tuning seeds only.
"""

import argparse
import os
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from typing import Any

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from collections.abc import Sequence

import cv2
import numpy as np
from scipy.optimize import minimize

from calibration.cards.additive_model import Additive
from calibration.cards.score.classifier import (
    corner_radius_terms,
    right_angle_term,
    with_corner_radii,
    with_right_angles,
)
from tests.bench.additive_fit import fit
from tests.synthetic.layout import LEVELS
from tests.synthetic.scenes import TUNING_SEEDS, make_scene

RIGHT_PX, RIGHT_SHARE = 3.0, 0.006
FOLDS = 6
LARGEST_MARGIN = 6.0


@dataclass
class Row:
    """One outline: its photo, whether it is right, its features and corners, whether these are sharp.

    With them what the corners' radii tell (None for sharp ones), how square other things are on its plane
    (None where nobody looked), and whether it could be believed at all.
    """

    photo: tuple[str, int]
    right: bool
    features: np.ndarray
    corners: np.ndarray
    sharp: bool
    radius_margins: np.ndarray | None
    right_angle_consistency: float | None
    possible: bool


def examine(job: tuple[str, int]) -> list[Row]:
    """Look at one photo as the finder does; the outlines that it weighs against each other."""
    from calibration.camera.prior import camera_from_photo
    from calibration.cards import finder
    from calibration.image.photo import decode_photo
    from calibration.objects import CARD_OBJECTS

    level, seed = job
    cv2.setNumThreads(1)
    scene = make_scene(seed, level)
    photo = decode_photo(scene.jpeg, f"{level}-{seed}.jpg")
    rows = []
    for outline in finder.find_outlines(photo, camera_from_photo(photo), CARD_OBJECTS):
        hypothesis, corners = outline.hypothesis, outline.hypothesis.refined.corners_px
        right = is_right(corners, scene.corners_px)
        looked = hypothesis.is_sharp, hypothesis.radius_margins, hypothesis.right_angle_consistency
        possible = finder.is_possible(hypothesis)
        rows.append(Row((level, seed), right, hypothesis.features(), corners, *looked, possible))
    return rows


def is_right(corners: np.ndarray, truth: np.ndarray | None) -> bool:
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
    "margin of the best other choice of edges": "-",
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
    "log10 of the second largest reduced chi-squared": "-",
    "log10 of the largest reduced chi-squared": "-",
    "not settled": "-",
    "log10 of the disagreement of the proportions": "-",
    "least share of a side in its fit": "+",
    "log10 of the weakest over the strongest contrast": "+",
    "least contrast of colours inside and outside": "+",
    "the same of a side against the other three": "+",
    "margin of an outline inside": "-",
    "margin of an outline around": "-",
    "margin of an outline elsewhere": "-",
}
MARGINS = 3


def meanings_of(count: int) -> dict[str, str]:
    """What so many columns mean: with or without the margins, which come last."""
    return FEATURES if count == len(FEATURES) else dict(list(FEATURES.items())[:-MARGINS])


def cross_validated(
    features: np.ndarray, right: np.ndarray, sharp: np.ndarray, folds: np.ndarray, present: Additive | None
) -> np.ndarray:
    scores = np.zeros(len(right))
    for fold in range(FOLDS):
        out = folds == fold
        model = fit(features[~out], right[~out], sharp[~out], meanings_of(features.shape[1]), present)
        scores[out] = model.scores(features[out], sharp[out])
    return scores


def margins(rows: list[Row], scores: np.ndarray) -> np.ndarray:
    """Return, for each outline, the margins of the best other one inside it, around it and elsewhere."""
    result = np.full((len(rows), 3), -LARGEST_MARGIN)
    by_photo: dict[Any, list[int]] = {}
    for index, row in enumerate(rows):
        by_photo.setdefault(row.photo, []).append(index)
    for group in by_photo.values():
        for own in group:
            for other in group:
                place = _place(rows[own].corners, rows[other].corners) if other != own else None
                if place is not None:
                    margin = np.clip(scores[other] - scores[own], -LARGEST_MARGIN, LARGEST_MARGIN)
                    result[own, place] = max(result[own, place], margin)
    return result


def _place(own: np.ndarray, other: np.ndarray) -> int | None:
    first, second = own.astype(np.float32), other.astype(np.float32)
    area, area_other = abs(cv2.contourArea(first)), abs(cv2.contourArea(second))
    if min(np.abs(np.roll(other, turn, axis=0) - own).max() for turn in range(4)) < 0.01 * area**0.5:
        return None
    if cv2.intersectConvexConvex(first, second)[0] > 0.7 * min(area, area_other):
        return int(area_other > area)
    return 2


def report(rows: list[Row], scores: Sequence[float]) -> None:
    """Print how many photos' best outlines are taken at a few thresholds, and how many rightly."""
    best = {row.photo: (-np.inf, False) for row in rows}
    for row, score in zip(rows, scores, strict=True):
        if row.possible and score > best[row.photo][0]:
            best[row.photo] = (score, row.right)
    for level in LEVELS:
        chosen = [value for photo, value in best.items() if photo[0] == level]
        for threshold in (0.5, 0.6, 0.7, 0.8, 0.9):
            taken = [right for score, right in chosen if score > np.log(threshold / (1 - threshold))]
            print(f"{level:8} from {threshold}: {len(taken)} taken, {sum(taken)} right, of {len(chosen)}")


# Outlines whose log odds so far lie between these are doubtful.
DOUBTFUL = (-4.0, 3.5)


def fit_corners(rows: list[Row], scores: np.ndarray) -> np.ndarray:
    """Weights of `with_corner_radii`, drawn to those that change nothing."""
    terms = [None if row.radius_margins is None else corner_radius_terms(row.radius_margins) for row in rows]
    return _fit_added(rows, scores, terms)


def fit_squares(rows: list[Row], scores: Sequence[float]) -> np.ndarray:
    """Weights of `with_right_angles`, drawn to those that change nothing."""
    terms = [
        None if row.right_angle_consistency is None else (right_angle_term(row.right_angle_consistency),)
        for row in rows
    ]
    return _fit_added(rows, scores, terms)


def _fit_added(
    rows: list[Row], scores: Sequence[float] | np.ndarray, terms: Sequence[Sequence[float] | None]
) -> np.ndarray:
    """A constant, a factor for the scores and one for each of the terms, where there are any."""
    rows_of_terms: list[list[float]] = []
    truths: list[bool] = []
    for row, score, own in zip(rows, scores, terms, strict=True):
        if own is not None and row.possible and DOUBTFUL[0] < score < DOUBTFUL[1]:
            rows_of_terms.append([1.0, score, *own])
            truths.append(row.right)
    design, right = np.array(rows_of_terms), np.array(truths, float)
    size = np.r_[1.0, design[:, 1:].std(axis=0) + 1e-9]
    start, pulled = np.zeros(len(size)), np.r_[0.0, np.ones(len(size) - 1)]
    start[1] = size[1]

    def cost(weights: np.ndarray) -> tuple[float, np.ndarray]:
        score, pull = design / size @ weights, (weights - start) * pulled
        slope = (design / size).T @ (1.0 / (1.0 + np.exp(-score)) - right) + pull
        return np.sum(np.logaddexp(0.0, score) - right * score) + 0.5 * pull @ pull, slope

    found = minimize(cost, start, jac=True, method="L-BFGS-B")  # type: ignore[no-untyped-call]
    weights: np.ndarray = found.x / size
    return weights


def _three(weights: np.ndarray) -> tuple[float, float, float]:
    constant, factor, one = weights.tolist()
    return constant, factor, one


def _four(weights: np.ndarray) -> tuple[float, float, float, float]:
    constant, factor, one, other = weights.tolist()
    return constant, factor, one, other


def main() -> None:
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


def tables(rows: list[Row], *, near_present: bool = False) -> list[str]:
    """Cross-validate, report, and fit the tables on all rows."""
    from calibration.cards.score.classifier_weights import ALONE, BESIDE

    present = (ALONE, BESIDE) if near_present else (None, None)
    features, right = np.array([row.features for row in rows]), np.array([row.right for row in rows], float)
    sharp = np.array([row.sharp for row in rows], float)
    photos = list(dict.fromkeys(row.photo for row in rows))
    folds = np.array([photos.index(row.photo) % FOLDS for row in rows])
    alone = cross_validated(features, right, sharp, folds, present[0])
    beside = np.column_stack([features, margins(rows, alone)])
    scores = cross_validated(beside, right, sharp, folds, present[1])
    corners = _four(fit_corners(rows, scores))
    by_radii = [
        with_corner_radii(value, row.radius_margins, corners) for value, row in zip(scores, rows, strict=True)
    ]
    squares = _three(fit_squares(rows, by_radii))
    report(
        rows,
        [
            with_right_angles(value, row.right_angle_consistency, squares)
            for value, row in zip(by_radii, rows, strict=True)
        ],
    )
    return [
        f"CORNERS = ({', '.join(f'{weight:.3f}' for weight in corners)})",
        f"SQUARES = ({', '.join(f'{weight:.3f}' for weight in squares)})",
        *(
            fit(table, right, sharp, meanings_of(table.shape[1]), model).text(name)
            for name, table, model in zip(("ALONE", "BESIDE"), (features, beside), present, strict=True)
        ),
    ]


if __name__ == "__main__":
    main()
