"""The position of a face's edge from a profile across a card's side: all positions weighed."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calibration.cards.refine.side_fit import Explained, Task, explain
from calibration.cards.refine.side_model import (
    CAST_DEPTH,
    CAST_REACH,
    COARSE,
    CONTACT_DEPTH,
    FINE,
    LIGHT,
    LOG_BLUR,
    LOG_CAST_SOFTNESS,
    PARAMETERS,
    PLACE,
    RIM_LIGHT,
    Prior,
    Scan,
)
from calibration.edges import decode, medians

Array = NDArray[np.float64]

_OUTWARD_PX = 1.5
# Share of the steepest change of colour below which no edge of the card is sought.
_FAINT_CHANGE = 0.08
# Chi-squared per sample above which the model doesn't explain the picture: something else lies there. Of
# sides below it one in thirty is half a card's thickness off, of those above one in five (tuning seeds).
_LARGEST_REDUCED_CHI2 = 3.0
# A printed frame is looked for where the colour changes by this share of the steepest change, and the face is
# taken to begin so many blurs outside of it.
_PRINT_CHANGE, _CLEAR_OF_PRINT = 0.15, 2.5
# So much of the face, in blurs, must be seen between a printed frame and the edge.
_LEAST_FACE = 2.0
_MOST_CUTS = 3
# The model is a little wrong everywhere, and its errors along a profile are correlated.
_TEMPER = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """Where the edge of the face is, outward from where the side was fitted.

    Attributes
    ----------
    mean_px, variance_px2 : float
        Mean and variance of the place.
    range_px : tuple of float
        Within which nine tenths of the probability lie.
    reduced_chi2 : float
        Chi-squared per sample of the best explanation.
    explained : bool
        Whether face, rim, shadow and table explain what is seen; where not, the place is the fitted one.
    """

    mean_px: float
    variance_px2: float
    range_px: tuple[float, float]
    reduced_chi2: float
    explained: bool


@dataclass(frozen=True, slots=True, eq=False)
class SideView:
    """What is seen across a fitted side.

    Attributes
    ----------
    scan : Scan
        The profile; its offset 0 is the fitted side.
    thickness_px : float
        The card's thickness at the picture's scale.
    blur_px, own_blur_px : float
        Blur of the sharpest of the outline's sides, and of this one.
    """

    scan: Scan
    thickness_px: float
    blur_px: float
    own_blur_px: float

    @property
    def gap_px(self) -> float:
        """Distance between positions."""
        return float(np.clip(self.scan.reach_px / 24.0, 0.4, 1.0))


def face_posteriors(views: Sequence[SideView]) -> list[Posterior]:
    """Weigh every place of the face's edge near each fitted side.

    Where face, rim, shadow and table do not explain what is seen, they may from a printed frame outward.
    """
    found = _posteriors(views)
    cuts = [
        (index, cut)
        for index, posterior in enumerate(found)
        if not posterior.explained
        for cut in _from_print_outward(views[index])
    ]
    for (index, _), posterior in zip(cuts, _posteriors([cut for _, cut in cuts]), strict=True):
        # The more of the face an explanation holds for, the better: those come first.
        if posterior.explained and not found[index].explained:
            found[index] = posterior
    return found


def _from_print_outward(view: SideView) -> list[SideView]:
    """Leave out what lies inside of each edge that may be print, the innermost first."""
    scan = view.scan
    change = np.abs(np.gradient(scan.levels, scan.offsets_px, axis=0))
    share = (change / change.max(axis=0).clip(1e-6)).max(axis=1)
    peaks = np.flatnonzero((share[1:-1] >= share[:-2]) & (share[1:-1] > share[2:])) + 1
    noise = scan.levels_std / max(scan.offsets_px[1] - scan.offsets_px[0], 1.0)
    clear = (change > 3.0 * noise).any(axis=1) & (share > _PRINT_CHANGE)
    blur_px = max(view.own_blur_px, 0.6)
    cuts = []
    for peak in peaks[clear[peaks]]:
        begin = scan.offsets_px[peak] + _CLEAR_OF_PRINT * blur_px
        reach_px = -begin - _LEAST_FACE * blur_px
        if reach_px < 0.0:
            break
        kept = scan.offsets_px >= begin
        cut = replace(
            scan,
            offsets_px=scan.offsets_px[kept],
            levels=scan.levels[kept],
            levels_std=scan.levels_std[kept],
            reach_px=min(reach_px, scan.reach_px),
        )
        cuts.append(replace(view, scan=cut))
    return cuts[:_MOST_CUTS]


def _posteriors(views: Sequence[SideView]) -> list[Posterior]:
    if not views:
        return []
    tasks = [_task(view) for view in views]
    return [
        _posterior(view, task.places_px, found)
        for view, task, found in zip(views, tasks, explain(tasks), strict=True)
    ]


def _task(view: SideView) -> Task:
    scan, gap_px = view.scan, view.gap_px
    places = _plausible_places(scan, np.arange(-scan.reach_px, _OUTWARD_PX + 0.01, gap_px), gap_px)
    prior = _prior(scan, view.thickness_px, view.blur_px, gap_px)
    starts, of_place = _starts(scan, places, prior, view.thickness_px, view.own_blur_px)
    return Task(scan, places, starts, of_place, prior)


def _posterior(view: SideView, places: Array, found: Explained) -> Posterior:
    gap_px = view.gap_px
    reduced_chi2 = float(found.misfit.min()) / view.scan.levels.size
    if reduced_chi2 > _LARGEST_REDUCED_CHI2:
        return Posterior(0.0, gap_px**2, (0.0, 0.0), reduced_chi2, False)
    temper = max(_TEMPER, reduced_chi2)
    centres = places + found.theta[:, PLACE]
    # Within its cell a place is a piece of a normal distribution, or evenly likely where that is wider.
    inside = np.minimum(temper * found.variance_px2, gap_px**2 / 12.0)
    weight = np.exp((found.cost.min() - found.cost) / temper) * np.sqrt(inside)
    weight /= weight.sum()
    mean = float(weight @ centres)
    variance = float(weight @ ((centres - mean) ** 2 + inside))
    order = np.argsort(centres)
    total = np.cumsum(weight[order])
    low, high = (float(centres[order][np.searchsorted(total, q)]) for q in (0.05, 0.95))
    return Posterior(mean, variance, (low, high), reduced_chi2, True)


def _plausible_places(scan: Scan, places: Array, gap_px: float) -> Array:
    """Leave out places where neither the face nor the foot of its rim would be at any change of colour."""
    step = scan.offsets_px[1] - scan.offsets_px[0]
    change = np.abs(np.gradient(scan.levels, step, axis=0))
    noise = scan.levels_std / max(step, 1.0)
    clear = (change > np.maximum(_FAINT_CHANGE * change.max(axis=0), noise)).any(axis=1)
    at = scan.offsets_px[clear]
    edges = np.concatenate([at, at - scan.foot_px, [0.0, -scan.foot_px]])
    near = np.abs(places[:, None] - edges).min(axis=1) < max(0.75 * gap_px, 0.5 * step)
    return np.asarray(places[near])


def _prior(scan: Scan, thickness_px: float, blur_px: float, gap_px: float) -> Prior:
    inner, outer = (decode(medians(ends.T)) for ends in (scan.levels[:4], scan.levels[-4:]))
    brighter = np.maximum(inner, outer)
    # The rim is of the card's own material, and usually gets less light than the face.
    mean = np.stack([inner, 0.75 * inner, outer], axis=1).ravel()
    std = np.stack([np.full(3, 0.15), 0.3 * brighter + 0.03, np.full(3, 0.15)], axis=1).ravel()
    t = thickness_px
    # Mean, standard deviation, least and most of each parameter.
    table = np.empty((PARAMETERS, 4))
    table[LIGHT] = np.stack([mean, std, np.full(9, -0.05), np.full(9, 1.3)], axis=1)
    table[CONTACT_DEPTH] = 0.1, 0.15, 0.0, 0.6
    table[CAST_DEPTH] = 0.1, 0.2, 0.0, 0.8
    table[CAST_REACH] = 0.8 * t, 0.5 * t, 0.0, 2.6 * t
    table[LOG_CAST_SOFTNESS] = np.log(0.4 * t), 0.5, np.log(0.07 * t), np.log(1.3 * t)
    table[FINE] = table[COARSE] = 0.15, 0.4, 0.0, 2.5
    table[LOG_BLUR] = np.log(max(blur_px, 0.6)), 0.3, np.log(0.3), np.log(5.0)
    table[PLACE] = 0.0, 5.0 * gap_px, -0.5 * gap_px, 0.5 * gap_px
    return Prior(*np.ascontiguousarray(table.T))


def _starts(
    scan: Scan, places: Array, prior: Prior, thickness_px: float, own_blur_px: float
) -> tuple[Array, NDArray[np.intp]]:
    """Start with a typical shadow, and with one that ends where the side was fitted; see `explain`."""
    usual = np.tile(prior.mean, (len(places), 1))
    middles = places + 0.5 * scan.foot_px
    levels = [np.interp(middles, scan.offsets_px, channel) for channel in scan.levels.T]
    usual[:, RIM_LIGHT] = decode(np.stack(levels, axis=1))
    reach = -places - scan.foot_px
    shaded = np.flatnonzero(reach > 0.25 * thickness_px)
    ending = usual[shaded]
    ending[:, CONTACT_DEPTH], ending[:, CAST_DEPTH] = 0.05, 0.35
    ending[:, CAST_REACH] = np.minimum(reach[shaded], prior.high[CAST_REACH])
    ending[:, LOG_CAST_SOFTNESS] = np.clip(
        np.log(max(own_blur_px, 0.1)), prior.low[LOG_CAST_SOFTNESS], prior.high[LOG_CAST_SOFTNESS]
    )
    return np.concatenate([usual, ending]), np.concatenate([np.arange(len(places)), shaded])
