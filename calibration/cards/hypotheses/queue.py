"""Places already examined in a photo, and choices that wait for verification."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.cards.hypotheses.choices import Choice

Array = NDArray[np.float64]

# Prescreening log odds below which verification isn't worthwhile (tuning seeds).
_HOPELESS = -8.0
# Corners nearer than this, as a share of the root of the area, belong to outlines at one place.
_ONE_PLACE = 0.1
# Choices whose corners lie this close, as a share of the diagonal, end on the same edges when fitted.
_SAME_CHOICE = 0.003


@dataclass(frozen=True, slots=True, eq=False)
class ExaminedPlaces:
    """Places examined, choices of sides there that wait for verification, and the outlines verified.

    Attributes
    ----------
    examined : list of (4, 2) arrays
        Rough outlines at the places, full-resolution px.
    waiting : list of Choice
        In no order.
    verified : list of (4, 2) arrays
        Corners of the choices verified and of what they became, full-resolution px.
    """

    examined: list[Array]
    waiting: list[Choice]
    verified: list[Array]

    def next_choices(self, most: int) -> Iterator[Choice]:
        """Take the most promising of those that wait, but none that would repeat a verification.

        Parameters
        ----------
        most : int
            Upper limit of the choices taken.

        Yields
        ------
        Choice
            Best log odds first; it no longer waits.
        """
        self.waiting.sort(key=lambda choice: -choice.log_odds)
        for _ in range(most):
            while self.waiting and repeats(self.waiting[0].combination.corners_px, self.verified):
                del self.waiting[0]
            if not self.waiting or self.waiting[0].log_odds <= _HOPELESS:
                break
            yield self.waiting.pop(0)


def repeats(corners_px: Array, verified: list[Array]) -> bool:
    """Tell whether verifying corners, (4, 2), would end on the edges of outlines already verified."""
    near_px = _SAME_CHOICE * float(np.linalg.norm(corners_px[2] - corners_px[0]))
    return any(_apart_px(corners_px, other) < near_px for other in verified)


def is_examined(quad: Array, examined: list[Array], nearest: float) -> bool:
    """Tell whether a quadrilateral lies near one already examined.

    Parameters
    ----------
    quad : (4, 2) array
        Corners (x, y) in order around it, px.
    examined : list of (4, 2) arrays
        The same of those examined, beginning at any corner.
    nearest : float
        How far corners lie apart at most, in x or y, as a share of the root of the examined one's area.

    Returns
    -------
    bool
        True where each corner lies nearer than that to one of the same examined quadrilateral.
    """
    if not examined:
        return False
    others = np.array(examined)
    turned = quad[(np.arange(4)[:, None] + np.arange(4)) % 4]
    apart = np.abs(turned[None] - others[:, None]).max(axis=(2, 3)).min(axis=1)
    return bool((apart < nearest * np.sqrt([abs(_area(other)) for other in examined])).any())


def same_place(quad: Array, other: Array) -> bool:
    """Tell whether two outlines are at one place.

    Parameters
    ----------
    quad, other : (4, 2) arrays
        Corners (x, y) in the same sense around each, beginning at any, px.

    Returns
    -------
    bool
        True where the corners differ by less than a tenth of the root of the other's area.
    """
    return bool(_apart_px(quad, other) < _ONE_PLACE * np.sqrt(abs(_area(other))))


def _apart_px(quad: Array, other: Array) -> float:
    return min(float(np.abs(np.roll(quad, k, axis=0) - other).max()) for k in range(4))


def _area(quad: Array) -> float:
    x, y = quad[:, 0], quad[:, 1]
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
