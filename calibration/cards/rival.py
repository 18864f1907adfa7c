"""Something else that an outline may be."""

from dataclasses import dataclass

from calibration.rectangles import Rectangle


@dataclass(frozen=True, slots=True)
class Rival:
    """Something else that an outline may be.

    Attributes
    ----------
    kind : Rectangle
        What.
    probability : float
        That it is this.
    scale_factor : float
        Lengths would be so many times what they are by the kind taken.
    """

    kind: Rectangle
    probability: float
    scale_factor: float

    def __post_init__(self) -> None:
        """Refuse the impossible."""
        if not (0.0 <= self.probability <= 1.0 and self.scale_factor > 0.0):
            raise ValueError("a rival has a probability from 0 to 1 and a positive factor")
