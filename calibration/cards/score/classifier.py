"""How far a refined quadrilateral can be trusted, from everything that is seen of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.camera import Camera
from calibration.cards.additive_model import log_odds
from calibration.cards.features import (
    OwnSupport,
    SideColours,
    colour_contrasts,
    colour_spreads,
    own_support,
    rectify,
    side_colours,
)
from calibration.cards.geometry import KindFit, fit_kinds
from calibration.cards.refine import RefinedQuad
from calibration.cards.score.classifier_weights import ALONE, BESIDE, CORNER_RADII, RIGHT_ANGLES
from calibration.image import Pyramid
from calibration.objects import CARD_OBJECTS, ReferenceObject

Array = NDArray[np.float64]

# A kind is an alternative to the best if its evidence is less than this much weaker (log odds).
_TELL_APART = 3.5
_SHAPE_WEIGHT = 5.0
# Small sheets look slightly rounded; no card looks as little rounded as this (tuning seeds).
_LOOKS_ROUNDED = 0.3
_ROUGH_SIZE = 0.035
_SHARP_ALLOWANCE = 0.45
_USUAL_LOG_AREA, _LOG_AREAS = -7.0, (-12.0, 1.0)
_FULL_CONTRAST = 2.0
_ERROR_STEP = 0.003
# The log-odds margin of a runner-up is capped at this.
_LARGEST_MARGIN = 6.0
# Margins of another radius are capped at this, for the three best corners and for the worst.
_MOST_OF_THREE, _MOST_OF_WORST = 0.5, 0.8


@dataclass(frozen=True, slots=True, eq=False)
class Hypothesis:
    """The hypothesis that a quadrilateral is one kind of object, and the evidence for it.

    Attributes
    ----------
    fit : KindFit
        The kind, and how well the proportions agree with it.
    refined : RefinedQuad
        Corner 0 -> corner 1 is the object's width.
    edge_support, shapes : (4,) arrays
        Share of each side seen, and likeness of each corner to the object's (see `OwnSupport`).
    beyond : float
        Share of the sides' continuations past the corners that has an edge too.
    alternatives : tuple of ReferenceObject
        Other kinds that agree about as well.
    runner_up : float
        Score of the best other choice of parallel edges minus this one's; negative where this is the best.
    colours : tuple of SideColours
        What each side looks like along it and beyond its ends.
    photo_area_px2 : float
        Area of the whole photo.
    reduced_chi2 : tuple of float
        Per side, how badly a card's face, rim and shadow explain what is seen across it (chi-squared per
        sample); empty for an outline that was not settled on a card's face.
    radius_margins : (4,) array or None
        By how much another radius explains each corner better (`radius_margins`); None for a kind with sharp
        corners.
    right_angle_consistency : float or None
        How square the corners of other objects are on its plane (see `RightAngles`); None if the focal
        length is known, or if this wasn't examined.
    """

    fit: KindFit
    refined: RefinedQuad
    edge_support: Array
    shapes: Array
    beyond: float
    alternatives: tuple[ReferenceObject, ...]
    runner_up: float
    colours: tuple[SideColours, ...]
    photo_area_px2: float
    reduced_chi2: tuple[float, ...] = ()
    radius_margins: Array | None = None
    right_angle_consistency: float | None = None

    def _size_is_rough(self) -> bool:
        """Whether the kind is a size that the user stated, which a rule gives to a few per cent."""
        return self.fit.object not in CARD_OBJECTS and self.fit.error < _ROUGH_SIZE

    def features(self) -> Array:
        """Numbers that the confidence is computed from, in the order of `classifier_weights`."""
        shapes = own = np.sort(self.shapes)
        if self.is_sharp:
            # A sharp corner never reaches the likeness of a rounded one: its two edges blur into an arc.
            shapes = np.minimum(own + _SHARP_ALLOWANCE, 0.75)
        sides = self.refined.sides
        blurs = [side.blur_px for side in sides]
        signs = np.sort([side.polarity_consistency for side in self.colours])
        edge_continuation = np.sort([share for side in self.colours for share in side.edge_continuation])
        chi2, rough = self.fit.chi2, self._size_is_rough()
        contrasts = np.sort([max(1.0, side.contrast) for side in sides])
        ordered_chi2 = np.sort(self.reduced_chi2 or (0.0,) * 4)
        return np.array(
            [
                float(self.edge_support.min()),
                float(shapes[1:].mean()),
                shapes[0],
                min(chi2, 4.0 if rough else 30.0),
                max(self.runner_up, -0.5),
                float(np.log10(max(0.05, *(side.residual_px for side in sides)))),
                self.beyond,
                float(np.log10((max(blurs) + 0.4) / (min(blurs) + 0.4))),
                _USUAL_LOG_AREA if rough else float(np.clip(self.fit.log_area, *_LOG_AREAS)),
                float(np.log10(contrasts[0])),
                signs[0],
                signs[1],
                edge_continuation[-1],
                edge_continuation[-2],
                float(edge_continuation.mean()),
                float(np.log(max(self.area_px2, 1.0) / self.photo_area_px2)),
                *own,
                *colour_spreads(self.colours),
                float(np.log(max(self.area_px2, 1.0))),
                self.fit.tilt_deg,
                *np.log10(1.0 + ordered_chi2[-2:]),
                float(not self.reduced_chi2),
                float(np.log10((0.0 if rough else self.fit.error) + _ERROR_STEP)),
                min(side.share for side in sides),
                float(np.log10(contrasts[0] / contrasts[-1])),
                *np.minimum(colour_contrasts(self.colours), _FULL_CONTRAST),
            ]
        )

    @property
    def is_sharp(self) -> bool:
        """Whether the kind has sharp corners."""
        return self.fit.object.corner_radius_mm == 0.0

    @property
    def blur_px(self) -> float:
        """Typical width of the sides' edges, full-resolution px."""
        return float(np.median([side.blur_px for side in self.refined.sides]))

    @property
    def area_px2(self) -> float:
        """Area of the outline."""
        return float(abs(cv2.contourArea(self.refined.corners_px.astype(np.float32))))


def score(hypothesis: Hypothesis) -> float:
    """Return the log odds of an outline by itself, without its corners' radii.

    Parameters
    ----------
    hypothesis : Hypothesis
        The outline and the evidence for it.

    Returns
    -------
    float
        Natural logarithm of the odds that all four sides are the object's own.
    """
    return log_odds(ALONE, hypothesis.features(), sharp=hypothesis.is_sharp)


def confidences(found: Sequence[Hypothesis], kinds: int = len(CARD_OBJECTS)) -> list[float]:
    """Return the probability of each outline, given all others.

    The fewer kinds are looked for, the fewer rectangles have the proportions of one by chance; the curves
    were fitted with all kinds.

    An outline inside or around another is less certain the better the other is; so are
    two outlines in different places, since only one of them gives the scale.

    Parameters
    ----------
    found : sequence of Hypothesis
        All outlines found in one photo.
    kinds : int
        How many kinds were looked for.

    Returns
    -------
    list of float
        For each outline, the probability, 0 to 1, that all four sides are the object's own.
    """
    scores = [score(hypothesis) for hypothesis in found]
    fewer = _log_odds_of_fewer(kinds)
    odds = []
    for index, one in enumerate(found):
        value = with_corner_radii(_beside_others(found, scores, index), one.radius_margins)
        odds.append(with_right_angles(value, one.right_angle_consistency) + fewer)
    return [1.0 / (1.0 + exp(-value)) for value in odds]


def confidence_if_named(confidence: float, kinds: int) -> float:
    """Return what the confidence would be if the outline's kind were the only one looked for.

    Parameters
    ----------
    confidence : float
        As `confidences` returns it, 0 to 1.
    kinds : int
        How many kinds were looked for.

    Returns
    -------
    float
        The probability, 0 to 1.
    """
    odds = confidence / max(1.0 - confidence, 1e-12)
    odds *= exp(_log_odds_of_fewer(1) - _log_odds_of_fewer(kinds))
    return odds / (1.0 + odds)


def _log_odds_of_fewer(kinds: int) -> float:
    return log(len(CARD_OBJECTS) / min(kinds, len(CARD_OBJECTS)))


def with_corner_radii(
    value: float, radius_margins: Array | None, weights: tuple[float, float, float, float] = CORNER_RADII
) -> float:
    """Add what the corners' radii tell to the log odds of an outline."""
    if radius_margins is None:
        return value
    constant, share, per_three, per_worst = weights
    three, worst = corner_radius_terms(radius_margins)
    return constant + share * value + per_three * three + per_worst * worst


def corner_radius_terms(radius_margins: Array) -> tuple[float, float]:
    """Return the summed margins of the three best corners, and that of the worst, which may be covered."""
    ordered = np.sort(radius_margins)
    return min(float(ordered[:3].sum()), _MOST_OF_THREE), min(float(ordered[3]), _MOST_OF_WORST)


def with_right_angles(
    value: float, right_angle_consistency: float | None, weights: tuple[float, float, float] = RIGHT_ANGLES
) -> float:
    """Add what the right angles of other objects tell to the log odds of an outline."""
    if right_angle_consistency is None:
        return value
    constant, share, per_unit = weights
    return constant + share * value + per_unit * right_angle_term(right_angle_consistency)


def right_angle_term(right_angle_consistency: float) -> float:
    """Return the log odds, reduced since corners of one object are correlated."""
    return -sqrt(max(-right_angle_consistency, 0.0))


def _beside_others(found: Sequence[Hypothesis], scores: Sequence[float], index: int) -> float:
    own, margins = found[index], np.full(3, -_LARGEST_MARGIN)
    outline = own.refined.corners_px.astype(np.float32)
    for other, value in zip(found, scores, strict=True):
        if other is own or _same_outline(own, other):
            continue
        shared = cv2.intersectConvexConvex(outline, other.refined.corners_px.astype(np.float32))[0]
        place = 2
        if shared > 0.7 * min(own.area_px2, other.area_px2):
            place = int(other.area_px2 > own.area_px2)
        margin = float(np.clip(value - scores[index], -_LARGEST_MARGIN, _LARGEST_MARGIN))
        margins[place] = max(margins[place], margin)
    return log_odds(BESIDE, np.concatenate([own.features(), margins]), sharp=own.is_sharp)


def _same_outline(one: Hypothesis, other: Hypothesis) -> bool:
    corners, others = one.refined.corners_px, other.refined.corners_px
    apart = min(float(np.abs(np.roll(others, turn, axis=0) - corners).max()) for turn in range(4))
    return bool(apart < 0.01 * one.area_px2**0.5)


def build_hypothesis(
    pyramid: Pyramid,
    camera: Camera,
    refined: RefinedQuad,
    objects: tuple[ReferenceObject, ...],
    runner_up: float,
    *,
    reduced_chi2: tuple[float, ...] = (),
) -> Hypothesis | None:
    """Find the kind that fits a refined quadrilateral best, and collect the evidence for it.

    Parameters
    ----------
    pyramid : Pyramid
        The photo.
    camera : Camera
        By which proportions are judged.
    refined : RefinedQuad
        The outline, clockwise in the picture.
    objects : tuple of ReferenceObject
        The kinds looked for.
    runner_up : float
        Score of the best other choice of parallel edges at the place, minus this one's.
    reduced_chi2 : tuple of float
        See `Hypothesis`.

    Returns
    -------
    Hypothesis
        For the likeliest kind, its first side the kind's width.
    """
    fits = fit_kinds(refined.corners_px, refined.cov_px2, camera, objects)
    near = [fit for fit in fits if fit.chi2 < fits[0].chi2 + 2.0 * (_TELL_APART + 2.0 * _SHAPE_WEIGHT)]
    supports: dict[tuple[float, bool, bool], OwnSupport] = {}
    ranked = []
    for fit in near[:6]:
        corners = np.roll(refined.corners_px, -1, axis=0) if fit.turned else refined.corners_px
        # The view from above depends on the kind only through its proportions and its corner radius.
        key = (
            round(fit.object.corner_radius_mm / fit.object.diagonal_mm, 3),
            fit.turned,
            fit.object in CARD_OBJECTS,
        )
        if key not in supports:
            supports[key] = own_support(rectify(pyramid, corners, fit.object))
        shape = float(np.sort(supports[key].shapes)[1:].mean())
        if fit.object.corner_radius_mm == 0.0:
            shape += _LOOKS_ROUNDED
        ranked.append((-0.5 * fit.chi2 + _SHAPE_WEIGHT * shape, fit, supports[key]))
    ranked.sort(key=lambda entry: -entry[0])
    best, fit, own = ranked[0]
    others: dict[str, ReferenceObject] = {}
    for value, other, _ in ranked[1:]:
        if value > best - _TELL_APART and other.object.key != fit.object.key:
            others.setdefault(other.object.key, other.object)
    width_first = shift_corners(refined) if fit.turned else refined
    pixels = pyramid.levels[0]
    return Hypothesis(
        fit,
        width_first,
        own.edge_support,
        own.shapes,
        own.beyond,
        tuple(others.values()),
        runner_up,
        side_colours(pixels, width_first.sides),
        float(pixels.shape[0] * pixels.shape[1]),
        reduced_chi2,
    )


def shift_corners(refined: RefinedQuad) -> RefinedQuad:
    """Shift the order of the corners by one.

    Parameters
    ----------
    refined : RefinedQuad
        An outline.

    Returns
    -------
    RefinedQuad
        The same outline, beginning at what was corner 1.
    """
    order = np.r_[2:8, 0:2]
    return RefinedQuad(
        np.roll(refined.corners_px, -1, axis=0),
        refined.cov_px2[np.ix_(order, order)],
        (*refined.sides[1:], refined.sides[0]),
    )
