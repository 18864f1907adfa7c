"""Where a part may come from, before anything is known about it."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from references.inference.options import JudgeOptions
from references.release_sheet import Part, Sheet

Array = NDArray[np.float64]


def origin_shares(sheet: Sheet, part: Part, options: JudgeOptions) -> Array:
    """Return the probability of each origin of a part, and that it is present.

    Parameters
    ----------
    sheet : Sheet
        Gives the releases' shares, and how often parts are swapped, lost or recast.
    part : Part
        A part of that sheet; on some releases it may be absent.
    options : JudgeOptions
        Gives the share of parts from none of the releases.

    Returns
    -------
    (releases, 2 releases + 1) array
        One row for each release of the specimen: the part genuine from each release, a recast of each, from
        none. A row adds up to the probability that the part is there. The array is kept and read-only.
    """
    has = tuple(not part.absent_from(release) for release in sheet.release_ids)
    prior = tuple(release.prior for release in sheet.releases)
    return _shares(
        has,
        prior,
        swap=sheet.swap_rate,
        missing=sheet.missing_rate,
        recast=sheet.recast_rate,
        none=options.none_rate,
    )


@lru_cache(maxsize=256)
def _shares(
    has: tuple[bool, ...],
    priors: tuple[float, ...],
    *,
    swap: float,
    missing: float,
    recast: float,
    none: float,
) -> Array:
    present = np.array(has)
    others = np.where(np.eye(len(has), dtype=bool), 0.0, np.array(priors) * present)
    total = others.sum(axis=1, keepdims=True)
    swapped = np.divide(swap * others, total, out=np.zeros_like(others), where=total > 0)
    releases = np.diag((1 - swap * (total[:, 0] > 0) - none) * present) + swapped
    unlisted = np.full((len(has), 1), none)
    shares = np.hstack([releases * (1 - recast), releases * recast, unlisted]) * (1 - missing)
    shares.setflags(write=False)
    return np.asarray(shares)
