"""Where a part may come from, before anything is found out about it."""

import numpy as np
from numpy.typing import NDArray

from references.options import JudgeOptions
from references.sheet import Part, Sheet

Array = NDArray[np.float64]


def origin_shares(sheet: Sheet, part: Part, options: JudgeOptions) -> Array:
    """Return the probability of each origin of a part, and that it is there.

    Returns
    -------
    (releases, 2 releases + 1) array
        One row for each release of the specimen; a row adds up to the probability that the part is there.
    """
    has = np.array([not part.absent_from(release) for release in sheet.release_ids])
    prior = np.array([release.prior for release in sheet.releases]) * has
    others = np.where(np.eye(len(has), dtype=bool), 0.0, prior)
    total = others.sum(axis=1, keepdims=True)
    swapped = np.divide(sheet.swap_rate * others, total, out=np.zeros_like(others), where=total > 0)
    own = np.diag((1 - sheet.swap_rate * (total[:, 0] > 0) - options.none_rate) * has)
    releases = own + swapped
    stranger = np.full((len(has), 1), options.none_rate)
    shares = [releases * (1 - sheet.recast_rate), releases * sheet.recast_rate, stranger]
    return np.asarray(np.hstack(shares) * (1 - sheet.missing_rate))
