"""A measurement of any kind on the plane of a photo, or on all planes that its source of scale allows."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from numpy.typing import ArrayLike

from calibration.cautions import Caution, NoAnswer
from measure.errors import SpanError
from measure.kinds.ambiguous_planes import over_family
from measure.kinds.measuring import on_planes
from measure.kinds.span_cautions import span_cautions
from measure.kinds.terms import Choices, Measured
from measure.length import Length, default_standoff_std_mm
from measure.wording import Audience, worded

if TYPE_CHECKING:
    from calibration.cards import FoundCard
    from calibration.image import Photo
    from calibration.plane import Plane, PlaneFamily


@dataclass(frozen=True, slots=True, eq=False)
class Scale:
    """What gives a photo's scale.

    Attributes
    ----------
    plane : Plane
        The most likely plane.
    family : PlaneFamily or None
        All planes that the source of scale allows, where it leaves the tilt open.
    found : tuple of FoundCard
        The references as seen, the one that defines the plane first; empty if not requested.
    cautions : tuple of Caution
        What the user should know of them.
    """

    plane: "Plane"
    family: "PlaneFamily | None" = None
    found: tuple["FoundCard", ...] = ()
    cautions: tuple[Caution, ...] = ()


def measure_by(
    scale: Scale, kind: str, photo: "Photo", clicks_px: ArrayLike, choices: Choices | None = None
) -> Measured:
    """Measure what was clicked, by the rules of its kind, on every plane that the scale allows.

    Parameters
    ----------
    scale : Scale
        The plane, and its family where there is one.
    kind : str
        One of `measure.kinds.terms.KINDS`.
    photo : Photo
        For the edges beside the clicks.
    clicks_px : (N, 2) array
        The points that the kind asks for.
    choices : Choices, optional
        How.

    Returns
    -------
    Measured
        A length in mm with the points that were used, or the reason for none; of a span also what the user
        should know of its stand-off and place.

    Raises
    ------
    SpanError, GeometryError
        As of `measure.kinds.measuring.on_planes`.
    """
    asked = choices or Choices()
    how = asked
    if asked.standoff_std_mm is None:  # one default for all planes, by the likeliest
        how = replace(asked, standoff_std_mm=default_standoff_std_mm(scale.plane))
    measure = on_planes(kind, photo, clicks_px, how)
    measured = measure(scale.plane)
    if isinstance(measured.result, NoAnswer):
        return measured

    def on(plane: "Plane") -> Length:
        again = measure(plane).result
        if isinstance(again, NoAnswer):
            raise SpanError(worded(again, Audience.COMMAND))
        return again

    if scale.family is not None:
        measured = replace(measured, result=over_family(scale.family, on, photo_id=how.photo_id))
    return _cautioned(scale.plane, measured, asked) if kind == "span" else measured


def _cautioned(plane: "Plane", measured: Measured, how: Choices) -> Measured:
    assert isinstance(measured.result, Length)
    unstated = how.standoff_mm == 0.0 and how.standoff_std_mm is None
    told = span_cautions(
        plane, measured.used_px, measured.result, standoff_mm=None if unstated else how.standoff_mm
    )
    return replace(measured, cautions=(*measured.cautions, *told))
