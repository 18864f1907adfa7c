"""How closely a person marks a point: from the zoom at the click, the picture's size and the blur there."""

from math import hypot, sqrt

# A careful person points to within 0.7 to 1 screen pixel in each coordinate (common practice, no source).
_POINTING_SCREEN_PX = 0.85
# Where the zoom at a click isn't known, the picture filled a screen of about this width and height, and the
# point was typed in whole pixels (common practice, no source)...
_SCREEN_PX = (1500.0, 1000.0)
# ...or it was enlarged until a point was known to this (own trials with a magnifier).
_MOST_STD_PX = 1.0
# Nobody sees into a pixel: rectangular limits of half a pixel (JCGM 100:2008, 4.3.7). The rounding of a point
# that is typed in whole pixels is the same.
_PIXEL_STD_PX = 1.0 / sqrt(12.0)
# The eye finds the middle of a blurred edge to about a third of the blur's deviation (our judgement).
_BLUR_SHARE = 0.3
# More than this is no blur but another edge nearby.
_MOST_BLUR_PX = 10.0


def click_std_px(
    size_px: tuple[int, int], *, zoom_factor: float | None = None, blur_px: float = 0.0
) -> float:
    """Return the standard uncertainty of each coordinate of a point that a person marked.

    Parameters
    ----------
    size_px : (width, height)
        Of the upright picture.
    zoom_factor : float, optional
        Screen pixels per pixel of the photo at the click; if unknown, the picture filled a usual screen
        or was enlarged beyond it.
    blur_px : float
        Standard deviation of the blur across the edge that was marked; 0 if unknown.

    Returns
    -------
    float
        In px of the photo. Without a zoom it is 1 px from 1130 px of height on, and 0.5 px for 640 x 480.

    Notes
    -----
    A point that moved to an edge has the uncertainty of that edge instead, see `measure.kinds.snapping`.
    """
    if zoom_factor is None:
        width_px, height_px = size_px
        fitted = min(_SCREEN_PX[0] / width_px, _SCREEN_PX[1] / height_px)
        pointing_px = min(hypot(_POINTING_SCREEN_PX / fitted, _PIXEL_STD_PX), _MOST_STD_PX)
    else:
        pointing_px = max(_POINTING_SCREEN_PX / zoom_factor, _PIXEL_STD_PX)
    return hypot(pointing_px, _BLUR_SHARE * min(blur_px, _MOST_BLUR_PX))
