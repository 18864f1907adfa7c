"""Simulation bench for sources of scale and kinds of measurement: bias, spread over stated u, coverage.

Run as ``python -m tests.bench.sources NAME... [--runs N] [--seed S]``; without names, everything. Points are
projected with OpenCV, not with the code under test; every input that the budget names is drawn from the
distribution that the budget states for it.
"""

import argparse
import sys
import time

import cv2
import numpy as np

from tests.bench.sources import draws, kinds, mixtures

# In this order, since each case's seed is its place.
CASES = {
    "gap": kinds.gap, "round_": kinds.round_, "rise": kinds.rise,
    "tip": kinds.tip,
    "difference": kinds.difference, "known_length": draws.known_length,
    "coin": draws.coin, "spans": draws.spans, "rule": draws.rule,
    "two_cards": draws.two_cards, "mixtures": mixtures.mixtures,
}  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("names", nargs="*", choices=[[], *CASES])
    parser.add_argument("--runs", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    cv2.setNumThreads(1)
    for index, name in enumerate(CASES):
        if given.names and name not in given.names:
            continue
        start = time.process_time()
        for tally in CASES[name](np.random.default_rng([given.seed, index]), given.runs):
            print(tally.line())
        sys.stdout.write(f"    [{name}: {time.process_time() - start:.0f} s CPU]\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
