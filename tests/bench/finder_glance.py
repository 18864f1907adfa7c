"""Fits the weights by which the finder picks what to look at closely, on simulated photos with known truth.

    python -m tests.bench.finder_glance --first 2000 --count 60 --jobs 16

Takes every choice of sides at the best places of both stages, marks those whose corners are right to 1.5 % of
the diagonal, fits a logistic regression with a ridge, prints the table of `calibration/quads_glance.py`, and
how often the right one is among the best few of a photo (six-fold cross-validation by photo). Tuning seeds
only.
"""

import argparse
import os
from concurrent.futures import ProcessPoolExecutor

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import cv2
import numpy as np
from scipy.optimize import minimize

from tests.synthetic.layout import LEVELS
from tests.synthetic.scenes import TUNING_SEEDS, make_scene

RIGHT_SHARE = 0.015
PLACES = (6, 18)
RIDGE = 3.0
FOLDS = 6
AMONG = (1, 2, 3, 4, 6)


def examine(job):
    """Features of all choices in one photo, and whether each is right."""
    from calibration import quads, quads_glance
    from calibration.camera import camera_from_photo
    from calibration.objects import CARD_OBJECTS
    from calibration.photo import decode_photo

    level, seed, cache = job
    cv2.setNumThreads(1)
    scene = make_scene(seed, level, cache_folder=cache)
    photo = decode_photo(scene.jpeg, f"{level}-{seed}.jpg")
    camera, pyramid = camera_from_photo(photo), quads.Pyramid.of(photo.pixels_bgr)
    features, right, taken = [], [], []
    for stage, places in zip(quads._STAGES, PLACES, strict=True):
        found = quads.search(pyramid, camera, CARD_OBJECTS, segments=stage.segments, thorough=stage.thorough)
        most = len(taken) + places
        for quad, kind in zip(found.quads_px, found.kinds, strict=True):
            if len(taken) == most or quads._is_taken(quad, taken):
                continue
            taken.append(quad)
            for choice in quads.choices_at(pyramid, camera, CARD_OBJECTS, quad, CARD_OBJECTS[kind]):
                sides = choice.combination
                features.append(quads_glance.features(pyramid, choice.kind, sides, choice.rival))
                right.append(_is_right(sides.corners_px, scene.corners_px))
    return level, np.array(features), np.array(right, dtype=bool)


def _is_right(corners, truth):
    if truth is None:
        return False
    miss = min(np.abs(np.roll(corners, turn, axis=0) - truth).max() for turn in range(4))
    return miss < RIGHT_SHARE * np.linalg.norm(truth[0] - truth[2])


def fit(features, right):
    """Weights of a ridge logistic regression; the first feature is constant."""
    middle, scale = features.mean(axis=0), features.std(axis=0) + 1e-9
    middle[0], scale[0] = 0.0, 1.0
    standard, sign = (features - middle) / scale, 2.0 * right - 1.0

    def loss(weights):
        margin = np.clip(sign * (standard @ weights), -30, 30)
        pull = np.r_[0.0, weights[1:]]
        slope = -(standard.T @ (sign / (1 + np.exp(margin)))) + RIDGE * pull
        return np.log1p(np.exp(-margin)).sum() + 0.5 * RIDGE * pull @ pull, slope

    weights = minimize(loss, np.zeros(features.shape[1]), jac=True, method="L-BFGS-B").x / scale
    weights[0] -= (weights[1:] * middle[1:]).sum()
    return weights


def cross_validated(photos):
    """Share of photos per level whose right choice is among the best few."""
    fold = np.random.default_rng(0).integers(0, FOLDS, len(photos))
    hits = {level: [] for level in LEVELS if level != "none"}
    for index in range(FOLDS):
        weights = fit(*_pooled([photo for photo, own in zip(photos, fold, strict=True) if own != index]))
        for (level, features, right), own in zip(photos, fold, strict=True):
            if own == index and level != "none":
                order = np.argsort(-(features @ weights)) if len(features) else []
                hits[level].append([bool(right[order][:most].any()) for most in AMONG])
    return {level: np.mean(rows, axis=0) for level, rows in hits.items() if rows}


def _pooled(photos):
    some = [photo for photo in photos if len(photo[1])]
    return np.concatenate([photo[1] for photo in some]), np.concatenate([photo[2] for photo in some])


def main():
    """Examine, fit, print."""
    parser = argparse.ArgumentParser(description="Fit the weights of the finder's glance.")
    parser.add_argument("--first", type=int, default=2000)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--cache", help="folder that keeps the photos between runs")
    arguments = parser.parse_args()
    seeds = TUNING_SEEDS[arguments.first : arguments.first + arguments.count]
    work = [(level, seed, arguments.cache) for seed in seeds for level in LEVELS]
    with ProcessPoolExecutor(arguments.jobs) as pool:
        photos = list(pool.map(examine, work, chunksize=1))
    print("right one among the best", AMONG)
    for level, shares in cross_validated(photos).items():
        print(f"{level:8s}", " ".join(f"{share:.3f}" for share in shares))
    for weight in fit(*_pooled(photos)):
        print(f"{weight:.3f},")


if __name__ == "__main__":
    main()
