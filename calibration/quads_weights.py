"""Weights of the finder's confidence, fitted and not to be edited by hand.

Logistic regression with a ridge on the outlines examined in 360 simulated photos (90 each plain, cluttered,
hostile and without a card; tuning seeds 1200 to 1289, scenes version 6), 2026-11-25. Made by
``python -m tests.bench.finder_confidence``.
"""

import numpy as np

# Log odds of an outline by itself, per feature of `quads_judge.Evidence.features`.
WEIGHTS = np.array(
    [
        -8.665,  # constant
        5.793,  # least share of a side seen
        0.000,  # mean likeness of the three best corners, sharp ones allowed for
        0.032,  # likeness of the worst corner, likewise
        -0.145,  # misfit of the proportions
        -4.066,  # lead of the best other choice of parallel edges
        -0.772,  # log10 of the largest scatter about a side, px
        -1.088,  # share of the sides' prolongations near the corners that has an edge
        -0.152,  # log10 of the largest over the smallest blur
        -1.000,  # how little the proportions are constrained
        0.560,  # log10 of the weakest contrast
        1.135,  # least sameness of a side's contrast
        0.000,  # second least
        -1.782,  # largest share of a prolongation showing the side's own step
        -2.831,  # second largest
        -0.174,  # mean of these shares
        0.411,  # log of the area's share of the photo
        0.574,  # likeness of the corners, worst first
        3.340,
        0.730,
        0.552,
        -0.250,  # sharp corners
    ]
)

# The same beside the other outlines of the photo: three more, the leads (log odds) of the best one inside it,
# the best one around it and the best one elsewhere.
BESIDE_WEIGHTS = np.array(
    [
        -9.296,
        4.343,
        0.251,
        0.000,
        -0.108,
        -1.637,
        -0.508,
        -0.852,
        0.000,
        -1.000,
        0.613,
        0.716,
        0.000,
        -1.260,
        -1.944,
        -0.401,
        0.400,
        0.000,
        1.805,
        1.024,
        0.000,
        0.063,
        -0.114,
        -0.432,
        -0.258,
    ]
)
