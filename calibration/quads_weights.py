"""Weights of the finder's confidence, fitted and not to be edited by hand.

Logistic regression with a ridge on 2799 outlines examined in 360 simulated photos (90 each plain, cluttered,
hostile and without a card; tuning seeds 1200 to 1289, scenes version 6), 2026-11-25. Made by
``python -m tests.bench.finder_confidence``.
"""

import numpy as np

# Log odds of an outline by itself, per feature of `quads_judge.Evidence.features`.
WEIGHTS = np.array(
    [
        -11.098,  # constant
        7.973,  # least share of a side seen
        0.000,  # mean likeness of the three best corners, sharp ones allowed for
        0.075,  # likeness of the worst corner, likewise
        -0.131,  # misfit of the proportions
        -4.943,  # lead of the best other choice of parallel edges
        -1.247,  # log10 of the largest scatter about a side, px
        -0.577,  # share of the sides' prolongations near the corners that has an edge
        0.000,  # log10 of the largest over the smallest blur
        -1.000,  # how little the proportions are constrained
        0.797,  # log10 of the weakest contrast
        0.610,  # least sameness of a side's contrast
        0.000,  # second least
        -2.261,  # largest share of a prolongation showing the side's own step
        -2.598,  # second largest
        -0.509,  # mean of these shares
        0.249,  # log of the area's share of the photo
        1.404,  # likeness of the corners, worst first
        2.859,
        0.000,
        0.859,
        -0.885,  # sharp corners
    ]
)

# The same beside the other outlines of the photo: three more, the leads (log odds) of the best one inside it,
# the best one around it and the best one elsewhere.
BESIDE_WEIGHTS = np.array(
    [
        -8.808,
        5.124,
        0.000,
        0.000,
        -0.101,
        -0.825,
        -0.970,
        -0.986,
        0.000,
        -1.000,
        0.147,
        0.000,
        0.000,
        -1.344,
        -1.472,
        -0.538,
        0.492,
        0.206,
        1.181,
        0.176,
        0.782,
        -0.439,
        -0.366,
        -0.423,
        -0.264,
    ]
)
