"""From errors of independent inputs to the contributions of a length, for all kinds of measurement."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calibration.camera import Array
from calibration.plane import Plane
from measure.errors import SpanError
from measure.length.monte_carlo import Values, beyond_linear
from measure.length.value import Contribution, Length

# As deep as a reference's sides are long, at most.
_DEEPEST_MM = 5000.0
CLICK, EDGE, STANDOFF, NONLINEARITY = "click", "edge fit", "stand-off", "non-linearity"


@dataclass(frozen=True, slots=True)
class OwnInput:
    """An independent input that belongs to one measurement alone.

    Attributes
    ----------
    key : str
        Its name within the measurement.
    source : str
        The influence quantity, for people.
    """

    key: str
    source: str


def propagated(plane: Plane, values: Values, own: Sequence[OwnInput], *, photo_id: str, name: str) -> Length:
    """Return a length with the effect of each input, by central differences of one standard uncertainty.

    Where second-order effects matter, a Monte Carlo gives what they add and the coverage factor.

    Parameters
    ----------
    plane : Plane
        Its latent variables are the shared inputs.
    values : callable
        The measurement as a function of all inputs, many sets at once.
    own : sequence of OwnInput
        What belongs to this measurement.
    photo_id, name : str
        Prefixes of the identifiers.

    Returns
    -------
    Length
        In mm, its contributions named by photo for what other lengths share, by photo and measurement for its
        own.

    Raises
    ------
    SpanError
        A change of one standard uncertainty takes the measurement beyond the horizon.
    """
    shared, mine = len(plane.error_sources), len(own)
    size = shared + mine
    one = np.eye(size)
    inputs = np.concatenate([np.zeros((1, size)), one, -one])
    found = values(inputs[:, :shared], inputs[:, shared:])
    if not np.all(np.isfinite(found)):
        raise SpanError(
            "the points look along the card's plane or past its horizon, where nothing can be measured:"
            " take the photo from higher up"
        )
    effects = (found[1 : size + 1] - found[size + 1 :]) / 2.0
    parts = {
        f"{photo_id}:{key}": Contribution(source, True, float(effect))
        for (key, source), effect in zip(plane.error_sources, effects[:shared], strict=True)
    }
    for entry, effect in zip(own, effects[shared:], strict=True):
        parts[f"{photo_id}:{name}:{entry.key}"] = Contribution(entry.source, False, float(effect))
    extra_mm, coverage_factor = beyond_linear(values, shared, mine, found)
    if extra_mm > 0.0:
        parts[f"{photo_id}:{name}:{NONLINEARITY}"] = Contribution(NONLINEARITY, False, extra_mm)
    return Length(float(found[0]), parts, coverage_factor)


def default_standoff_std_mm(plane: Plane) -> float:
    """Return the default standard uncertainty of a stand-off: 1 mm, less in a close-up.

    Parameters
    ----------
    plane : Plane
        Its distance counts.

    Returns
    -------
    float
        In mm, above 0 and at most 1.
    """
    return min(1.0, plane.distance_mm / 400.0)


def checked_standoff(plane: Plane, standoff_mm: float, standoff_std_mm: float | None) -> tuple[float, float]:
    """Return one stand-off that lies between the plane's far side and the camera, and its uncertainty.

    Parameters
    ----------
    plane : Plane
        Of the reference.
    standoff_mm : float
        Height above the reference's face.
    standoff_std_mm : float or None
        Its standard uncertainty; the default if None.

    Returns
    -------
    float, float
        Stand-off and standard uncertainty, in mm.

    Raises
    ------
    SpanError
        It isn't finite or reaches the camera, or its uncertainty is negative.
    """
    if not np.isfinite(standoff_mm):
        raise SpanError("a stand-off is a height in mm above the card's face")
    if standoff_mm < -_DEEPEST_MM:
        raise SpanError(
            f"a stand-off of {standoff_mm:g} mm lies more than {_DEEPEST_MM:g} mm below the card:"
            " give the height of the edge above the card's face in mm, negative below it"
        )
    if standoff_mm >= 0.95 * plane.distance_mm:
        raise SpanError(
            f"a stand-off of {standoff_mm:g} mm reaches the camera,"
            f" which is {plane.distance_mm:.0f} mm above the card"
        )
    std_mm = default_standoff_std_mm(plane) if standoff_std_mm is None else standoff_std_mm
    if not (np.isfinite(std_mm) and std_mm >= 0.0):
        raise SpanError("the uncertainty of the stand-off must be a number of mm from 0 up")
    return float(standoff_mm), float(std_mm)


def points_of(clicks_px: object, least: int, what: str) -> Array:
    """Return clicks as an (N, 2) array.

    Parameters
    ----------
    clicks_px : array_like
        Points (x, y), px.
    least : int
        How many the measurement needs.
    what : str
        What needs them, for the message: "a round".

    Returns
    -------
    (N, 2) array
        N from `least` up.

    Raises
    ------
    SpanError
        Fewer than `least` finite points.
    """
    points = np.asarray(clicks_px, dtype=float)
    if points.ndim != 2 or points.shape[1:] != (2,) or len(points) < least or not np.all(np.isfinite(points)):
        given = len(points) if points.ndim == 2 else 0
        raise SpanError(f"{what} needs at least {least} points (x, y) in pixels; {given} given")
    return points
