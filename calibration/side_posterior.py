"""What a profile across a card's side tells of the place of its face's edge: all places weighed."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.side_model import (
    CAST,
    NEAR,
    PLACE,
    REACH,
    SOFT,
    Explained,
    Prior,
    Scan,
    decode,
    explain,
)

Array = NDArray[np.float64]

_OUTWARD_PX = 1.5
_FINE_PX = 0.15
# Places whose log evidence is so much smaller than the best one's are not looked at finely.
_FAINT = 9.0
# Chi-squared per sample from which the picture is not what the model can show: something else lies there.
_STRANGE = 11.0
# The model is a little wrong everywhere, and its errors along a profile go together.
_TEMPER = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """Where the edge of the face is, outward from where the side was fitted.

    Attributes
    ----------
    mean_px, variance_px2 : float
    range_px : tuple of float
        Within which nine tenths of the probability lie.
    misfit : float
        Chi-squared per sample of the best explanation.
    explained : bool
        Whether face, rim, shadow and table explain what is seen; where not, the place is the fitted one.
    """

    mean_px: float
    variance_px2: float
    range_px: tuple[float, float]
    misfit: float
    explained: bool


def face_posterior(scan: Scan, thickness_px: float, blur_px: float, own_blur_px: float) -> Posterior:
    """Weigh every place of the face's edge near a fitted side.

    Parameters
    ----------
    scan : Scan
        The profile; its offset 0 is the fitted side.
    thickness_px : float
        The card's thickness at the picture's scale.
    blur_px, own_blur_px : float
        Blur of the sharpest of the four sides, and of this one.
    """
    gap_px = float(np.clip(scan.reach_px / 20.0, 0.5, 1.2))
    places = np.arange(-scan.reach_px, _OUTWARD_PX + 0.01, gap_px)
    prior = _prior(scan, thickness_px, blur_px, gap_px)
    coarse = explain(scan, places, _starts(scan, places, prior, thickness_px, own_blur_px), prior)
    fine_places, starts = _closer(places, coarse, gap_px)
    fine = explain(scan, fine_places, starts[None], _fixed(prior), rounds=6, again=1)
    strange = float(fine.misfit.min()) / scan.levels.size
    if strange > _STRANGE:
        return Posterior(0.0, gap_px**2, (0.0, 0.0), strange, False)
    weight = np.exp((fine.cost.min() - fine.cost) / max(_TEMPER, strange))
    weight /= weight.sum()
    mean = float(weight @ fine_places)
    variance = float(weight @ (fine_places - mean) ** 2)
    order = np.argsort(fine_places)
    total = np.cumsum(weight[order])
    low, high = (float(fine_places[order][np.searchsorted(total, q)]) for q in (0.05, 0.95))
    return Posterior(mean, variance, (low, high), strange, True)


def _prior(scan: Scan, thickness_px: float, blur_px: float, gap_px: float) -> Prior:
    inner, outer = decode(np.median(scan.levels[:4], axis=0)), decode(np.median(scan.levels[-4:], axis=0))
    brighter = np.maximum(inner, outer)
    # The rim is of the card's own stuff, in less light than the face, mostly.
    mean = np.stack([inner, 0.75 * inner, outer], axis=1).ravel()
    std = np.stack([np.full(3, 0.15), 0.3 * brighter + 0.03, np.full(3, 0.15)], axis=1).ravel()
    t = thickness_px
    rest = np.array(
        [  # mean, standard deviation, least, most
            [0.1, 0.15, 0.0, 0.6],
            [0.1, 0.2, 0.0, 0.8],
            [0.8 * t, 0.5 * t, 0.0, 2.6 * t],
            [np.log(0.4 * t), 0.5, np.log(0.07 * t), np.log(1.3 * t)],
            [0.15, 0.4, 0.0, 2.5],
            [0.15, 0.4, 0.0, 2.5],
            [np.log(max(blur_px, 0.6)), 0.3, np.log(0.3), np.log(5.0)],
            [0.0, gap_px, -gap_px, gap_px],
        ]
    )
    return Prior(
        np.concatenate([mean, rest[:, 0]]),
        np.concatenate([std, rest[:, 1]]),
        np.concatenate([np.full(9, -0.05), rest[:, 2]]),
        np.concatenate([np.full(9, 1.3), rest[:, 3]]),
    )


def _fixed(prior: Prior) -> Prior:
    """Return the prior with the place held where it is asked for."""
    std, low, high = prior.std.copy(), prior.low.copy(), prior.high.copy()
    std[PLACE], low[PLACE], high[PLACE] = 1e-4, -1e-4, 1e-4
    return Prior(prior.mean, std, low, high)


def _starts(scan: Scan, places: Array, prior: Prior, thickness_px: float, own_blur_px: float) -> Array:
    """Begin with a usual shadow, and with one that ends where the side was fitted, (2, P, PARAMETERS)."""
    starts = np.tile(prior.mean, (2, len(places), 1))
    middles = places + 0.5 * scan.foot_px
    for channel in range(3):
        levels = np.interp(middles, scan.offsets_px, scan.levels[:, channel])
        starts[:, :, 3 * channel + 1] = decode(levels)
    starts[1, :, NEAR], starts[1, :, CAST] = 0.05, 0.35
    starts[1, :, REACH] = np.clip(-places - scan.foot_px, 0.1 * thickness_px, prior.high[REACH])
    starts[1, :, SOFT] = np.clip(np.log(max(own_blur_px, 0.1)), prior.low[SOFT], prior.high[SOFT])
    return starts


def _closer(places: Array, coarse: Explained, gap_px: float) -> tuple[Array, Array]:
    """Divide the neighbourhood of every place that may be it, and begin where the nearest one ended."""
    hopeful = np.flatnonzero(coarse.cost < coarse.cost.min() + _FAINT)
    found = places[hopeful] + coarse.theta[hopeful, PLACE]
    apart = np.abs(places[:, None] - found)
    near = apart.min(axis=1) < 0.8 * gap_px
    near[apart.min(axis=1).argmin()] = True
    source = hopeful[apart.argmin(axis=1)][near]
    count = int(np.ceil(gap_px / _FINE_PX))
    within = gap_px * ((np.arange(count) + 0.5) / count - 0.5)
    return (places[near][:, None] + within).ravel(), np.repeat(coarse.theta[source], count, axis=0)
