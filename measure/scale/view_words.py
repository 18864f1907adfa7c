"""The viewpoint of a photo, in as many digits as its uncertainty allows."""

from typing import TYPE_CHECKING

from measure.length import NORMAL_COVERAGE_FACTOR, round_with_uncertainty

if TYPE_CHECKING:
    from calibration.plane import Plane, PlaneFamily, Viewpoint

Rounded = tuple[str, str]


def view_words(plane: "Plane", family: "PlaneFamily | None" = None) -> tuple[Rounded, Rounded, Rounded]:
    """Return tilt in degrees, height in mm and the side of a pixel in mm, each with its ± for 95 %.

    Parameters
    ----------
    plane : Plane
        The most likely one.
    family : PlaneFamily, optional
        All that are possible, where the source of scale leaves the tilt open.

    Returns
    -------
    three pairs of str
        Value and expanded uncertainty (k = 1.96) of tilt, height and pixel; rounded to match.
    """
    view = view_of(plane, family)
    return (
        _rounded(view.tilt_deg, view.tilt_std_deg),
        _rounded(view.height_mm, view.height_std_mm),
        _rounded(view.mm_per_px, view.mm_per_px_std),
    )


def view_of(plane: "Plane", family: "PlaneFamily | None" = None) -> "Viewpoint":
    """Return the viewpoint of a plane, or of all that are possible in one.

    Parameters
    ----------
    plane, family
        As for `view_words`.
    """
    from calibration.plane import mean_viewpoint, viewpoint

    if family is None:
        return viewpoint(plane)
    return mean_viewpoint([viewpoint(one) for one in family.planes], family.weights)


def _rounded(value: float, std: float) -> Rounded:
    return round_with_uncertainty(value, NORMAL_COVERAGE_FACTOR * std)
