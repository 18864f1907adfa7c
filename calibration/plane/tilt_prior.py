"""What is stated beforehand about the tilt of a photo."""

from dataclasses import dataclass

import numpy as np

# Held by hand above a table: own statement, no source.
TILT_STD_DEG = 8.0
TILT = "tilt"


@dataclass(frozen=True, slots=True, eq=False)
class TiltPrior:
    """A statement about the tilt.

    Attributes
    ----------
    mean : tuple of float
        x and y of the plane's normal in the camera's frame: about radians of tilt.
    std : float
        Standard uncertainty of each.
    """

    mean: tuple[float, float] = (0.0, 0.0)
    std: float = float(np.radians(TILT_STD_DEG))
