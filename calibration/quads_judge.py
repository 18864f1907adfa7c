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

# A kind is an alternative to the best where its evidence is not this much weaker (logarithm of the odds).
_TELL_APART = 3.5
_SHAPE_WEIGHT = 5.0
_ROUGH_SIZE = 0.035
_SHARP_ALLOWANCE = 0.45
_VAGUE_LOG_AREA = -6.0


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

    def _size_is_rough(self) -> bool:
        """Whether the kind is a size that the user stated, which a rule gives to a few per cent."""
        return self.fit.object not in CARD_OBJECTS and self.fit.error < _ROUGH_SIZE

    def features(self) -> Array:
        """Numbers that the confidence is computed from."""
        shares, shapes = np.sort(self.shares), np.sort(self.shapes)
        if self.fit.object.corner_radius_mm == 0.0:
            # A sharp corner never reaches the likeness of a rounded one: its two edges blur into an arc.
            shapes = np.minimum(shapes + _SHARP_ALLOWANCE, 0.75)
        seen = np.sort([side.share for side in self.refined.sides])
        scatter = max(side.residual_px for side in self.refined.sides)
        blurs = [side.blur_px for side in self.refined.sides]
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
                min(self.fit.chi2, 30.0) if not self._size_is_rough() else min(self.fit.chi2, 4.0),
                max(self.rival, -0.5),
                float(np.log10(max(scatter, 0.05))),
                float(np.log10(min(spans))),
                self.beyond,
                max(self.fit.tilt_deg - 40.0, 0.0) / 10.0,
                float(np.log10(max(min(side.contrast for side in self.refined.sides), 1.0))),
                float(np.log10((max(blurs) + 0.4) / (min(blurs) + 0.4))),
                0.0 if self._size_is_rough() else max(self.fit.log_area - _VAGUE_LOG_AREA, 0.0),
            ]
        )


# The last weight is not fitted: it is that of Bayes, where a shape is uncertain by itself. The others:
# logistic regression with a ridge, signs held to what each feature can mean, on 390 outlines examined in 55
# simulated photos (plain, cluttered, hostile and without a card; tuning seeds only), 2026-11-25.
_WEIGHTS = np.array(
    [
        -13.319,
        9.282,
        0.0,
        0.0,
        0.0,
        5.739,
        2.382,
        -0.249,
        -7.584,
        -0.764,
        -0.324,
        -5.824,
        0.0,
        0.658,
        -5.902,
        -1.0,
    ]
)


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
