"""How far a refined quadrilateral can be trusted, from everything that is seen of it."""

from dataclasses import dataclass
from math import exp

import numpy as np
from numpy.typing import NDArray

from calibration.camera import Camera
from calibration.objects import CARD_OBJECTS, ReferenceObject
from calibration.quads_kinds import KindFit, fit_kinds
from calibration.quads_lines import Pyramid
from calibration.quads_patch import OwnSupport, own_support, rectify
from calibration.quads_refine import RefinedQuad

Array = NDArray[np.float64]

# A kind is an alternative to the best where its evidence is not this much weaker (natural logarithm of the odds).
_TELL_APART = 3.5
_SHAPE_WEIGHT = 5.0


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """What speaks for one quadrilateral being one kind of object.

    Attributes
    ----------
    fit : KindFit
    refined : RefinedQuad
        Corner 0 -> corner 1 is the object's width.
    shares, shapes : (4,) arrays
        Share of each side seen, and likeness of each corner to the object's (see `OwnSupport`).
    beyond : float
        Share of the sides' continuations past the corners that has an edge too.
    alternatives : tuple of ReferenceObject
        Other kinds that agree about as well.
    rival : float
        Score of the best other choice of parallel edges less this one's; negative where this is the best.
    """

    fit: KindFit
    refined: RefinedQuad
    shares: Array
    shapes: Array
    beyond: float
    alternatives: tuple[ReferenceObject, ...]
    rival: float

    def features(self) -> Array:
        """Numbers that the confidence is computed from."""
        shares, shapes = np.sort(self.shares), np.sort(self.shapes)
        seen = np.sort([side.share for side in self.refined.sides])
        scatter = max(side.residual_px for side in self.refined.sides)
        spans = [float(np.linalg.norm(side.end - side.start)) for side in self.refined.sides]
        return np.array(
            [
                1.0,
                shares[0],
                shares[1],
                seen[0],
                seen[1],
                float(shapes[1:].mean()),
                shapes[0],
                min(self.fit.chi2, 30.0),
                max(self.rival, -0.5),
                float(np.log10(max(scatter, 0.05))),
                float(np.log10(min(spans))),
                self.beyond,
                max(self.fit.tilt_deg - 40.0, 0.0) / 10.0,
                float(np.log10(max(min(side.contrast for side in self.refined.sides), 1.0))),
            ]
        )


# Logistic regression; see tests/bench for how it is fitted.
_WEIGHTS = np.array([-13.0, 3.0, 6.0, 2.0, 4.0, 5.0, 0.5, -0.15, -3.0, -0.5, 0.0, -4.0, -0.5, 0.0])


def confidence(evidence: Evidence) -> float:
    """Return the probability that all four sides are the object's own."""
    return 1.0 / (1.0 + exp(-float(np.clip(_WEIGHTS @ evidence.features(), -30.0, 30.0))))


def weigh(
    pyramid: Pyramid, camera: Camera, refined: RefinedQuad, objects: tuple[ReferenceObject, ...], rival: float
) -> Evidence | None:
    """Find the kind that suits a refined quadrilateral best and collect what speaks for it."""
    fits = fit_kinds(refined.corners_px, refined.cov_px2, camera, objects)
    near = [fit for fit in fits if fit.chi2 < fits[0].chi2 + 2.0 * (_TELL_APART + 2.0 * _SHAPE_WEIGHT)]
    looked: dict[tuple[float, bool, bool], OwnSupport] = {}
    judged = []
    for fit in near[:6]:
        corners = np.roll(refined.corners_px, -1, axis=0) if fit.turned else refined.corners_px
        # The view from above depends on the kind only through its proportions and its corner radius.
        key = (
            round(fit.object.corner_radius_mm / fit.object.diagonal_mm, 3),
            fit.turned,
            fit.object in CARD_OBJECTS,
        )
        if key not in looked:
            looked[key] = own_support(rectify(pyramid, corners, fit.object))
        shape = float(np.sort(looked[key].shapes)[1:].mean())
        judged.append((-0.5 * fit.chi2 + _SHAPE_WEIGHT * shape, fit, looked[key]))
    judged.sort(key=lambda entry: -entry[0])
    best, fit, own = judged[0]
    others: dict[str, ReferenceObject] = {}
    for value, other, _ in judged[1:]:
        if value > best - _TELL_APART and other.object.key != fit.object.key:
            others.setdefault(other.object.key, other.object)
    laid = turn(refined) if fit.turned else refined
    return Evidence(fit, laid, own.shares, own.shapes, own.beyond, tuple(others.values()), rival)


def turn(refined: RefinedQuad) -> RefinedQuad:
    """Start the corners one further around."""
    order = np.r_[2:8, 0:2]
    return RefinedQuad(
        np.roll(refined.corners_px, -1, axis=0),
        refined.cov_px2[np.ix_(order, order)],
        (*refined.sides[1:], refined.sides[0]),
    )
