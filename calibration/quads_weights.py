"""Weights of the finder's confidence, fitted and not to be edited by hand.

Logistic regression with a ridge on 2799 outlines examined in 360 simulated photos (90 each plain, cluttered,
hostile and without a card; tuning seeds 1200 to 1289, scenes version 6), 2026-11-25. Made by
``python -m tests.bench.finder_confidence``.
"""

import numpy as np

# Log odds of an outline by itself, per feature of `quads_judge.Evidence.features`.
WEIGHTS = np.array(
    [
        -11.120,  # constant
        7.779,  # least share of a side seen
        -0.384,  # mean likeness of the three best corners, sharp ones allowed for
        0.179,  # likeness of the worst corner, likewise
        -0.130,  # misfit of the proportions
        -5.045,  # lead of the best other choice of parallel edges
        -1.339,  # log10 of the largest scatter about a side, px
        -0.548,  # share of the sides' prolongations near the corners that has an edge
        0.910,  # log10 of the largest over the smallest blur
        0.590,  # how little the proportions are constrained
        0.874,  # log10 of the weakest contrast
        0.878,  # least sameness of a side's contrast
        -0.316,  # second least
        -2.303,  # largest share of a prolongation showing the side's own step
        -2.539,  # second largest
        -0.792,  # mean of these shares
        0.265,  # log of the area's share of the photo
        1.413,  # likeness of the corners, worst first
        3.062,
        -0.369,
        1.292,
        -0.798,  # sharp corners
    ]
)

# The same beside the other outlines of the photo: three more, the leads (log odds) of the best one inside it,
# the best one around it and the best one elsewhere.
BESIDE_WEIGHTS = np.array(
    [
        -9.089,
        5.063,
        -0.079,
        -0.183,
        -0.101,
        -0.921,
        -1.041,
        -1.080,
        1.182,
        0.376,
        0.353,
        0.337,
        -0.503,
        -1.310,
        -1.375,
        -0.796,
        0.512,
        0.244,
        1.115,
        0.440,
        0.691,
        -0.312,
        -0.362,
        -0.425,
        -0.265,
    ]
)
