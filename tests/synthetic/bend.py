"""Paper and cards do not lie flat: a smooth bow over the whole, and at times a corner that curls up."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from calibration.objects import ReferenceObject


@dataclass(frozen=True, slots=True)
class Bend:
    """Height of the face above its mean plane, toward the camera.

    Attributes
    ----------
    width_mm, height_mm : float
        Of the flat object.
    bow_mm, angle : float
        Rise from the middle to the farthest corner along a direction, radians.
    curl_mm, corner : float, int
        Rise of the tip of one corner; only the last quarter of the way from the middle to it is lifted.
    """

    width_mm: float
    height_mm: float
    bow_mm: float = 0.0
    angle: float = 0.0
    curl_mm: float = 0.0
    corner: int = 0

    def _unit(self, xy_mm: ArrayLike) -> np.ndarray:
        return 2 * np.asarray(xy_mm) / (self.width_mm, self.height_mm) - 1

    def _bow(self, unit: np.ndarray) -> np.ndarray:
        along = unit @ np.array([np.cos(self.angle), np.sin(self.angle)])
        bow_mm: np.ndarray = self.bow_mm * np.minimum(along**2, 4.0) / 2
        return bow_mm

    def height(self, xy_mm: np.ndarray, *, curled: bool = True) -> np.ndarray:
        """Heights (...) of points (..., 2); the mean over the four corners, without the curl, is zero."""
        unit = self._unit(xy_mm)
        corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], float)
        out = self._bow(unit) - self._bow(corners).mean()
        if curled and self.curl_mm:
            toward = unit @ corners[self.corner] / 2  # 1 at that corner, 0 in the middle
            out = out + self.curl_mm * (np.clip(toward - 0.7, 0, 0.4) / 0.3) ** 2
        values: np.ndarray = out
        return values

    def raised(self, xyz_mm: np.ndarray, *, curled: bool = True) -> np.ndarray:
        """Points (N, 3) of the flat object, moved with the bend."""
        out = np.array(xyz_mm, float)
        out[:, 2] -= self.height(out[:, :2], curled=curled)
        return out


def draw_bend(rng: np.random.Generator, card: ReferenceObject) -> Bend:
    """Bowed sheets of a millimetre or so, bowed cards of a tenth; one sheet in five curls at a corner."""
    sheet = card.corner_radius_mm == 0
    bow = min(rng.exponential(1.2), 5.0) if sheet else min(abs(rng.normal(0, 0.12)), 0.4)
    curl = rng.uniform(1.5, 7.0) if sheet and rng.random() < 0.2 else 0.0
    sign = 1.0 if rng.random() < 0.7 else -1.0
    return Bend(card.width_mm, card.height_mm, sign * bow, rng.uniform(0, np.pi), curl, int(rng.integers(4)))
