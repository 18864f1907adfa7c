"""The one or two choices of parallel edges at a place that are worth verifying."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.camera import Camera
from calibration.cards.features import rectify
from calibration.cards.geometry import aspect_errors, rectangle_shape
from calibration.cards.hypotheses.prescreen import prescreen
from calibration.cards.hypotheses.side_combinations import Combination, combinations
from calibration.cards.proposals import WIDEST_ASPECT_ERROR
from calibration.image import Pyramid
from calibration.objects import ReferenceObject

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """One choice of sides at one place, before refinement.

    Attributes
    ----------
    kind : ReferenceObject
        The kind that the choice was taken for.
    combination : Combination
        Its sides.
    runner_up : float
        Score of the best other choice at the place, minus this one's.
    log_odds : float
        Its prescreening log odds.
    """

    kind: ReferenceObject
    combination: Combination
    runner_up: float
    log_odds: float


def choices_at(
    pyramid: Pyramid,
    camera: Camera,
    objects: tuple[ReferenceObject, ...],
    quad_px: Array,
    kind: ReferenceObject,
    *,
    most: int = 2,
) -> Iterator[Choice]:
    """Find which parallel edges may be the sides of a rough candidate; each is prescreened on demand.

    Parameters
    ----------
    pyramid : Pyramid
        The photo.
    camera : Camera
        By which proportions are judged.
    objects : tuple of ReferenceObject
        The kinds looked for.
    quad_px : (4, 2) array
        Corners (x, y) of the candidate, full-resolution px, clockwise in the picture.
    kind : ReferenceObject
        The kind that the candidate resembles most.
    most : int
        Upper limit of the choices, and of those of each corner shape before these are compared.

    Yields
    ------
    Choice
        Best score first.
    """
    result = []
    for each in (kind, *_otherwise_cornered(camera, objects, quad_px, kind)):
        choices = combinations(rectify(pyramid, _width_first(quad_px, camera, each), each), camera, objects)
        for choice in _worth_refining(choices, most):
            runner_up = max(
                (other.score - choice.score for other in choices if _differs(choice, other)), default=-1.0
            )
            result.append((each, choice, runner_up))
    for each, choice, runner_up in sorted(result, key=lambda entry: -entry[1].score)[:most]:
        yield Choice(each, choice, runner_up, prescreen(pyramid, each, choice, runner_up))


def _otherwise_cornered(
    camera: Camera, objects: tuple[ReferenceObject, ...], quad_px: Array, kind: ReferenceObject
) -> tuple[ReferenceObject, ...]:
    """Return the likeliest kind with the other corner shape: on a small outline they look alike."""
    others = tuple(o for o in objects if (o.corner_radius_mm > 0.0) != (kind.corner_radius_mm > 0.0))
    if not others:
        return ()
    unit_px = float(np.linalg.norm(quad_px[2] - quad_px[0])) / 100.0
    errors = aspect_errors(quad_px[None], camera, others, corner_std_px=0.3 * unit_px)[0]
    best = int(errors.argmin())
    return (others[best],) if errors[best] < 0.5 * WIDEST_ASPECT_ERROR else ()


def _width_first(quad_px: Array, camera: Camera, kind: ReferenceObject) -> Array:
    """Reorder the corners so that the first side is the object's width."""
    ratio, _ = rectangle_shape(
        camera.undistort_px(quad_px)[None], camera.principal_point_px, np.array([camera.focal_px])
    )
    wide = ratio[0, 0] > 0.0
    return quad_px if wide == (kind.width_mm >= kind.height_mm) else np.roll(quad_px, -1, axis=0)


def _worth_refining(choices: list[Combination], most: int) -> list[Combination]:
    chosen: list[Combination] = []
    for choice in choices[: 6 * most]:
        if choice.score < choices[0].score - 0.06 * most:
            break
        if all(_differs(choice, other) for other in chosen):
            chosen.append(choice)
        if len(chosen) == most:
            break
    return chosen


def _differs(one: Combination, other: Combination) -> bool:
    return bool(np.abs(one.outward_units - other.outward_units).max() > 0.8)
