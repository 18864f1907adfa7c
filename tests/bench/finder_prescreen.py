"""Fits the weights by which the finder picks what to verify, on simulated photos with known truth.

    python -m tests.bench.finder_prescreen --first 6000 --count 200 --jobs 16

Takes every choice of sides at the best places of all stages, marks those whose corners are right to 1.5 % of
the diagonal, fits an additive logistic model, prints `calibration/cards/hypotheses/prescreen_weights.py`, and
how often the right one is among the best few of a photo (six-fold cross-validation by photo). Tuning seeds
only.
"""

import argparse
import os
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from typing import Any

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import cv2
import numpy as np

from calibration.cards.hypotheses.queue import is_examined, repeats
from tests.bench.additive_fit import Model, fit
from tests.synthetic.layout import LEVELS
from tests.synthetic.scenes import TUNING_SEEDS, make_scene

RIGHT_SHARE = 0.015
FOLDS = 6
AMONG = (1, 2, 4, 6, 8, 12, 16)
# What more of each feature means for a choice of sides, as in `additive_fit.fit`.
FEATURES = {
    "score among the choices on the same view from above": "+",
    "least share of a side seen": "+",
    "second share": "+",
    "third share": "+",
    "largest share": "+",
    "likeness of the worst corner": "+",
    "second likeness": "+",
    "third likeness": "+",
    "best likeness": "+",
    "disagreement of the proportions": "-",
    "log of the area's share of the photo": "0",
    "least sameness of a side's contrast": "+",
    "second least": "+",
    "largest share of a prolongation running on": "-",
    "second largest": "-",
    "margin of the best other choice": "-",
    "log of the area, px": "0",
}


@dataclass
class Examined:
    """The choices of sides in one photo: their features, whether for sharp corners, right, and where."""

    level: str
    features: np.ndarray
    sharp: np.ndarray
    right: np.ndarray
    corners: np.ndarray


def examine(job: tuple[str, int, str | None]) -> Examined:
    """All choices that the finder would prescreen in one photo, whatever it finds."""
    from calibration.camera.prior import camera_from_photo
    from calibration.cards import finder
    from calibration.cards.hypotheses import prescreen
    from calibration.cards.hypotheses.choices import choices_at
    from calibration.cards.proposals.search import LevelEdges
    from calibration.image.photo import decode_photo
    from calibration.image.pyramid import Pyramid
    from calibration.objects import CARD_OBJECTS

    level, seed, cache = job
    cv2.setNumThreads(1)
    scene = make_scene(seed, level, cache_folder=cache)
    photo = decode_photo(scene.jpeg, f"{level}-{seed}.jpg")
    camera, pyramid = camera_from_photo(photo), Pyramid.of(photo.pixels_bgr)
    seen = LevelEdges.of(pyramid)
    examined: list[np.ndarray] = []
    found: list[tuple[Any, ...]] = []
    for stage in finder.STAGES:
        rough = stage.search(seen, camera, CARD_OBJECTS, segments=stage.segments)
        most = len(examined) + stage.places
        for quad, kind in zip(rough.quads_px, rough.kinds, strict=True):
            if len(examined) == most:
                break
            if is_examined(quad, examined, stage.apart):
                continue
            examined.append(quad)
            for choice in choices_at(
                pyramid, camera, CARD_OBJECTS, quad, CARD_OBJECTS[kind], most=stage.choices
            ):
                sides, corners = choice.combination, choice.combination.corners_px
                features = prescreen.features(pyramid, choice.kind, sides, choice.runner_up)
                sharp = choice.kind.corner_radius_mm == 0.0
                found.append((features, sharp, _is_right(corners, scene.corners_px), corners))
    columns = [np.array(column) for column in zip(*found, strict=True)] or [np.zeros(0)] * 4
    return Examined(level, columns[0].reshape(-1, len(FEATURES)), *columns[1:])


def _is_right(corners: np.ndarray, truth: np.ndarray | None) -> bool:
    if truth is None:
        return False
    miss = min(np.abs(np.roll(corners, turn, axis=0) - truth).max() for turn in range(4))
    return bool(miss < RIGHT_SHARE * np.linalg.norm(truth[0] - truth[2]))


def fitted(photos: list[Examined]) -> Model:
    """The model of all choices in these photos."""
    some = [photo for photo in photos if len(photo.right)]
    features, sharp, right = (
        np.concatenate([getattr(photo, name) for photo in some]).astype(float)
        for name in ("features", "sharp", "right")
    )
    return fit(features, right, sharp, FEATURES)


def cross_validated(photos: list[Examined]) -> dict[str, np.ndarray]:
    """Share of photos per level whose right choice is among the best few that do not repeat each other."""
    fold = np.random.default_rng(0).integers(0, FOLDS, len(photos))
    hits: dict[str, list[list[bool]]] = {level: [] for level in LEVELS if level != "none"}
    for index in range(FOLDS):
        model = fitted([photo for photo, own in zip(photos, fold, strict=True) if own != index])
        for photo, own in zip(photos, fold, strict=True):
            if own == index and photo.level != "none":
                rank = _rank_of_right(photo, model) if len(photo.right) else np.inf
                hits[photo.level].append([rank < most for most in AMONG])
    return {level: np.mean(rows, axis=0) for level, rows in hits.items() if rows}


def _rank_of_right(photo: Examined, model: Model) -> float:
    picked: list[np.ndarray] = []
    for index in np.argsort(-model.scores(photo.features, photo.sharp.astype(float))):
        if repeats(photo.corners[index], picked):
            continue
        if photo.right[index]:
            return len(picked)
        picked.append(photo.corners[index])
        if len(picked) == AMONG[-1]:
            break
    return np.inf


def main() -> None:
    """Examine, fit, print."""
    parser = argparse.ArgumentParser(description="Fit the weights of the finder's prescreening.")
    parser.add_argument("--first", type=int, default=6000)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--jobs", type=int, default=os.cpu_count())
    parser.add_argument("--cache", help="folder that keeps the photos between runs")
    arguments = parser.parse_args()
    seeds = TUNING_SEEDS[arguments.first : arguments.first + arguments.count]
    work = [(level, seed, arguments.cache) for seed in seeds for level in LEVELS]
    with ProcessPoolExecutor(arguments.jobs) as pool:
        photos = list(pool.map(examine, work, chunksize=1))
    print("right one among the best", AMONG)
    for level, edge_support in cross_validated(photos).items():
        print(f"{level:8s}", " ".join(f"{share:.3f}" for share in edge_support))
    print(fitted(photos).text("CHOICE"))


if __name__ == "__main__":
    main()
