"""Fits the weights of the finder's confidence on simulated photos whose truth is known.

    python -m tests.bench.finder_confidence --first 1200 --count 90 --jobs 16

Examines every outline that the finder looks at closely, marks those whose four corners are right, fits a
logistic regression with a ridge, and prints the two tables of `calibration/quads_weights.py`, with what a
six-fold cross-validation by photo gives. Tuning seeds only.
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
RIDGE = 1.0 / 0.3
FOLDS = 6
LARGEST_LEAD = 6.0


@dataclass
class Row:
    """One outline examined: its photo, whether it is right, its features, corners and area."""

    photo: tuple[str, int]
    right: bool
    features: np.ndarray
    corners: np.ndarray


def examine(job):
    """Examine one photo with every stage of the search, without stopping early."""
    from calibration import quads
    from calibration.camera import camera_from_photo
    from calibration.objects import CARD_OBJECTS
    from calibration.photo import decode_photo
    from calibration.quads_lines import Pyramid

    level, seed = job
    cv2.setNumThreads(1)
    quads._SURE = np.inf
    scene = make_scene(seed, level)
    photo = decode_photo(scene.jpeg, f"{level}-{seed}.jpg")
    camera, pyramid = camera_from_photo(photo), Pyramid.of(photo.pixels_bgr)
    rows, places = [], quads._Places([], [])
    for stage in quads._STAGES:
        candidates = quads.search(
            pyramid, camera, CARD_OBJECTS, segments=stage.segments, thorough=stage.thorough
        )
        for evidence in quads._examine(pyramid, camera, CARD_OBJECTS, candidates, stage=stage, places=places):
            corners = evidence.refined.corners_px
            rows.append(Row((level, seed), is_right(corners, scene.corners_px), evidence.features(), corners))
    return rows


def is_right(corners, truth):
    if truth is None:
        return False
    miss = min(np.linalg.norm(corners - np.roll(truth, turn, axis=0), axis=1).max() for turn in range(4))
    return bool(miss < max(RIGHT_PX, RIGHT_SHARE * np.linalg.norm(truth[0] - truth[2])))


# What each feature can mean: more of it speaks for (+) or against (-) an outline, or either way (0). How
# vague the proportions are (*) counts by Bayes: a wrong outline suits some kind by chance as that area grows.
SIGNS = "0+++---" + "--*+" + "++---+++++0" + "---"


def fit(features, right):
    """Fit a logistic regression with a ridge on standardised features and with the signs that make sense."""
    count = features.shape[1]
    middle, scale = features.mean(axis=0), np.maximum(features.std(axis=0), 1e-9)
    middle[0], scale[0] = 0.0, 1.0
    design = (features - middle) / scale
    limits = {"0": (None, None), "+": (0.0, None), "-": (None, 0.0)}
    vague = SIGNS.index("*")
    bounds = [limits.get(sign, (-scale[vague], -scale[vague])) for sign in SIGNS[:count]]

    def cost(weights):
        score = design @ weights
        loss = np.sum(np.logaddexp(0.0, score) - right * score) + 0.5 * RIDGE * np.sum(weights[1:] ** 2)
        slope = design.T @ (1.0 / (1.0 + np.exp(-score)) - right)
        slope[1:] += RIDGE * weights[1:]
        return loss, slope

    start = np.clip(
        np.zeros(count), [low or -np.inf for low, _ in bounds], [high or np.inf for _, high in bounds]
    )
    start[vague] = -scale[vague]
    plain = minimize(cost, start, jac=True, bounds=bounds, method="L-BFGS-B").x / scale
    plain[0] -= plain[1:] @ middle[1:]
    return plain


def cross_validated(features, right, folds):
    scores = np.zeros(len(right))
    for fold in range(FOLDS):
        scores[folds == fold] = features[folds == fold] @ fit(features[folds != fold], right[folds != fold])
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
        for threshold in (0.5, 0.7, 0.9):
            taken = [right for score, right in chosen if score > np.log(threshold / (1 - threshold))]
            print(f"{level:8} from {threshold}: {len(taken)} taken, {sum(taken)} right, of {len(chosen)}")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--first", type=int, default=1200)
    parser.add_argument("--count", type=int, default=90)
    parser.add_argument("--jobs", type=int, default=os.cpu_count())
    choice = parser.parse_args()
    seeds = range(choice.first, choice.first + choice.count)
    assert set(seeds) <= set(TUNING_SEEDS), "weights may be fitted on tuning seeds only"
    jobs = [(level, seed) for seed in seeds for level in LEVELS]
    with ProcessPoolExecutor(choice.jobs) as pool:
        rows = [row for found in pool.map(examine, jobs) for row in found]
    features, right = np.array([row.features for row in rows]), np.array([row.right for row in rows], float)
    numbers = {photo: index for index, photo in enumerate(dict.fromkeys(row.photo for row in rows))}
    folds = np.array([numbers[row.photo] % FOLDS for row in rows])
    alone = cross_validated(features, right, folds)
    beside = np.column_stack([features, leads(rows, alone)])
    report(rows, cross_validated(beside, right, folds))
    for name, table in (("WEIGHTS", fit(features, right)), ("BESIDE_WEIGHTS", fit(beside, right))):
        print(name, np.round(table, 3).tolist())


if __name__ == "__main__":
    main()
