"""The likelihoods of many lengths at once: the same numbers as one by one, without the call overhead."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from references.inference.densities import OUT_OF_SIGHT, even_density, normal_density
from references.inference.finding import Reading
from references.inference.likelihood import LengthModel
from references.inference.options import JudgeOptions

Array = NDArray[np.float64]


def can_join(model: LengthModel) -> bool:
    """Tell whether a dimension is simple enough: ranges only, apart from that of parts of unlisted origin."""
    return len(model.normals) == 1


def single_reading_likelihoods(
    models: Sequence[LengthModel],
    readings: Sequence[Reading],
    shifts_mm: Array,
    shrink: Array,
    options: JudgeOptions,
) -> list[Array]:
    """Return for each dimension the likelihood of its one reading.

    Parameters
    ----------
    models, readings : sequences of LengthModel and of Reading
        One of each per dimension; every model passes `can_join`.
    shifts_mm : (dimensions, N) array
        Shared error of each reading at each node.
    shrink : (S,) array
        Shares by which a copy is smaller.
    options : JudgeOptions
        Gives the rate of gross errors.

    Returns
    -------
    list of (releases + 1, S, N) arrays
        As `references.inference.likelihood.length_likelihood` gives them.
    """
    stretch = 1 / (1 - shrink[:, None])
    values = np.array([reading.value_mm for reading in readings])[:, None, None]
    own = np.array([reading.own_std_mm for reading in readings])[:, None, None]
    x_mm, std_mm = (values - shifts_mm[:, None, :]) * stretch, own * stretch
    sizes = [model.middle_mm.size for model in models]
    ranges = _ranges(models, sizes, x_mm, std_mm)
    centres = np.array([model.normals[-1].mean_mm for model in models])[:, None, None]
    sds = np.array([model.normals[-1].sd_mm for model in models])[:, None, None]
    unlisted = normal_density(x_mm - centres, np.hypot(std_mm, sds))
    placed = 1 - options.misplaced_rate
    weight = placed * (1 - options.gross_error_rate) * stretch
    ranges *= weight
    unlisted *= weight
    found, start = [], 0
    for row, (model, reading, size) in enumerate(zip(models, readings, sizes, strict=True)):
        each = np.concatenate([ranges[start : start + size], unlisted[row : row + 1]])[model.index]
        misplaced = model.misplaced_density(reading.value_mm, reading.std_mm, options)
        each += placed * options.gross_error_rate * model.gross_error_density(reading.value_mm)
        each += (options.misplaced_rate * misplaced)[:, None, None]
        found.append(each)
        start += size
    return found


def _ranges(models: Sequence[LengthModel], sizes: Sequence[int], x_mm: Array, std_mm: Array) -> Array:
    """Return the density of every range of every dimension, one after the other."""
    of = np.repeat(np.arange(len(models)), sizes)
    middle = np.concatenate([model.middle_mm for model in models])
    half = np.concatenate([model.half_width_mm for model in models])
    soft = np.concatenate([model.soft_std_mm for model in models])
    reach = half + OUT_OF_SIGHT * np.hypot(std_mm.max(axis=(1, 2))[of], soft)
    lowest, highest = x_mm.min(axis=(1, 2))[of], x_mm.max(axis=(1, 2))[of]
    near = ((highest > middle - reach) & (lowest < middle + reach)).nonzero()[0]
    density = np.zeros((of.size, *x_mm.shape[1:]))
    wide = (near, None, None)
    spread = np.hypot(std_mm[of[near]], soft[wide])
    density[near] = even_density(x_mm[of[near]] - middle[wide], half[wide], spread)
    return density
