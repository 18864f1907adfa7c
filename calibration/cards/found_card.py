"""A card's outline as found in a photo."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.cards.rival import Rival
from calibration.cautions import Caution
from calibration.objects import ReferenceObject

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class FoundCard:
    """A card's outline in a photo.

    Attributes
    ----------
    object : ReferenceObject
        The kind that it is taken for.
    corners_px : (4, 2) array
        In order around it, clockwise in the picture; corner 0 -> corner 1 is its width.
    corners_cov_px2 : (8, 8) array
        Covariance of x0, y0, x1, y1, ...
    confidence : float
        Probability that all four sides are the card's own.
    accepted : bool
        Whether the confidence suffices to measure without asking.
    alternatives : tuple of ReferenceObject
        Other kinds that the outline fits as well.
    cautions : tuple of Caution
        What may spoil a measurement by it.
    blur_px, contrast : float
        Blur (standard deviation) of the sides, px, and the weakest side's step, grey levels.
    support : tuple of float
        Share of each side that is seen on its line.
    tilt_deg, aspect_error : float
        Tilt to the picture plane, and disagreement of the proportions with the object's (log), at the focal
        length that fits best.
    vague : bool
        Whether the proportions are so loosely known that any rectangle's would agree.
    source : str
        "found", or "by hand".
    said : bool
        Whether a person said what kind it is.
    radii : tuple of (float, float)
        How well corners of each radius explain its own, see `radius_log_likelihoods`; empty where
        that was not examined.
    rivals : tuple of Rival
        What else it may be, likeliest first; empty until `identity.identified` has looked.
    """

    object: ReferenceObject
    corners_px: Array
    corners_cov_px2: Array
    confidence: float
    accepted: bool
    alternatives: tuple[ReferenceObject, ...] = ()
    cautions: tuple[Caution, ...] = ()
    blur_px: float = 0.0
    contrast: float = 0.0
    support: tuple[float, ...] = (0.0,) * 4
    tilt_deg: float = 0.0
    aspect_error: float = 0.0
    vague: bool = False
    source: str = "found"
    said: bool = False
    radii: tuple[tuple[float, float], ...] = ()
    rivals: tuple[Rival, ...] = ()

    @property
    def corner_std_px(self) -> float:
        """Root mean square standard uncertainty of the corner coordinates."""
        return float(np.sqrt(np.trace(self.corners_cov_px2) / 8.0))
