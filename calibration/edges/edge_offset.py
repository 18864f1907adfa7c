"""How far a part's true outline may lie from the steepest point of its edge in the photo.

A moulded edge is rounded. Where the light comes from the other side, the rounding shades itself: the steepest
change lies where the shade begins, and the outline, where the part ends, lies outside it, often with hardly
any contrast left. The error is the same all along the edge, so the scatter doesn't show it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.camera import Array
from calibration.edges.profiles import Path, encoded_across

# The shaded strip of a rounding of half a millimetre, as rectangular limits; toys' edges have 0.3 to 1 mm
# (common practice, no source).
SHAPE_STD_MM = 0.1
# The shade of such an edge is never wider than half of the largest of those roundings.
_WIDEST_SHADE_MM = 0.5
# A step as sharp as the lens allows can hide a strip of about a pixel; a wider one shows in the profile.
_MOST_HIDDEN_PX = 0.7
# Half the width, at an eighth of its peak, of the derivative of a step that a good lens blurred.
_SHARP_PX = 1.7
_SHARE = 0.12
_STEP_PX, _REACH_PX, _GAP_PX = 0.25, 9.0, 1.0


def hidden_px(px_per_mm: float) -> float:
    """Return by how much a part's outline may lie beside a step that is as sharp as the lens allows.

    Parameters
    ----------
    px_per_mm : float
        Scale at the edge.

    Returns
    -------
    float
        Standard uncertainty of the outline across the edge, px.
    """
    return min(SHAPE_STD_MM * px_per_mm, _MOST_HIDDEN_PX)


@dataclass(frozen=True, slots=True)
class Fading:
    """How far an edge fades beyond the blur of a sharp step.

    Attributes
    ----------
    left_px, right_px : float
        On either side, seen in the picture walking from start to end; 0 for a step as sharp as a lens gives.
    left_darker : bool
        Whether the photo is darker on the left of the edge than on its right.
    """

    left_px: float
    right_px: float
    left_darker: bool

    @property
    def std_px(self) -> float:
        """Standard uncertainty of an outline that may be anywhere in the wider of the two."""
        return float(max(self.left_px, self.right_px) / np.sqrt(3.0))


def fades_px(fading: Fading, *, outside_left: bool) -> tuple[float, float]:
    """Return how far an edge fades outside a part that may shade itself there, and inside it.

    Parameters
    ----------
    fading : Fading
        Of the edge.
    outside_left : bool
        On which side of the edge the part ends.

    Returns
    -------
    outside_px, inside_px : float
        How far the edge fades on either side of its steepest point, beyond what a lens does; both 0 where the
        part can't shade itself.

    Notes
    -----
    A shade is darker than the part's face, and lies outside its steepest point. Where the photo brightens
    outward, that point is the outline itself.
    """
    if fading.left_darker != outside_left:
        return 0.0, 0.0
    both = fading.left_px, fading.right_px
    return both if outside_left else both[::-1]


def outline_in_shade(outside_px: float, inside_px: float, px_per_mm: float) -> tuple[float, float]:
    """Estimate how far outside an edge's steepest point the part's outline lies.

    Parameters
    ----------
    outside_px, inside_px : float
        How far the edge fades on either side, beyond what a lens does to a sharp step.
    px_per_mm : float
        Scale there.

    Returns
    -------
    shift_px : float
        The best estimate, outward from the steepest point.
    std_px : float
        Its standard uncertainty.

    Notes
    -----
    Defocus fades an edge equally on both sides; a shade is the excess on the outside.
    Rectangular limits, JCGM 100:2008, 4.3.7: the outline may be anywhere in what fades outside, and the
    middle of the shade is the best estimate. What exceeds any rounding's shade adds uncertainty only.
    """
    shade_px = max(outside_px - inside_px, 0.0)
    shift_px = 0.5 * min(shade_px, _WIDEST_SHADE_MM * px_per_mm)
    return shift_px, float(np.hypot(outside_px / 12.0**0.5, 0.5 * outside_px - shift_px))


def softness_px(pixels: NDArray[np.uint8], start: Array, end: Array) -> float:
    """Return the standard uncertainty of an outline within the strip over which its edge fades.

    Parameters
    ----------
    pixels, start, end
        As for `fading`.

    Returns
    -------
    float
        Zero for a step as sharp as a lens gives; else what the longer side of the profile has beyond that, as
        rectangular limits: the outline may be anywhere in it.
    """
    return fading(pixels, start, end).std_px


def fading(pixels: NDArray[np.uint8], start: Array, end: Array) -> Fading:
    """Measure how far an edge fades on either side of its steepest point.

    Parameters
    ----------
    pixels : (H, W, 3) array
        The photo.
    start, end : (2,) arrays
        Two points (x, y) on the fitted edge, px.

    Returns
    -------
    Fading
        How far it fades to the left and to the right, and which side is darker.

    Notes
    -----
    Profiles are taken as encoded in the file, close to what the eye sees: in light, the far end of a shade
    fades away. The strip ends where the change stays below an eighth of its peak for a pixel.
    """
    path = Path(np.asarray(start, dtype=float), np.asarray(end, dtype=float))
    offsets = np.arange(-_REACH_PX, _REACH_PX + _STEP_PX / 2, _STEP_PX)
    colours = encoded_across(pixels, path, np.linspace(0.05, 0.95, 24), offsets).mean(axis=0)
    taps = np.exp(-0.5 * (np.arange(-4, 5) * _STEP_PX / 0.4) ** 2)
    smooth = np.stack([np.convolve(np.gradient(c, _STEP_PX), taps / taps.sum(), "same") for c in colours.T])
    change = np.linalg.norm(smooth, axis=0)
    near = np.flatnonzero(np.abs(offsets) <= 1.5)
    peak = int(near[change[near].argmax()])
    right, left = (max(abs(float(offsets[_last(change, peak, way)])) - _SHARP_PX, 0.0) for way in (-1, 1))
    return Fading(left, right, bool(smooth[:, peak].sum() < 0.0))


def _last(change: Array, peak: int, way: int) -> int:
    """Return the last position, going out from the peak, at which the change still counts."""
    last = at = peak
    while 0 < at + way < len(change) - 1 and abs(at - last) * _STEP_PX < _GAP_PX:
        at += way
        if change[at] > _SHARE * change[peak]:
            last = at
    return last
