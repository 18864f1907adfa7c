"""Finds a card of known size in a photo, and says how far the find can be trusted."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from calibration.camera import Camera
from calibration.cards.features import RightAngles, radius_margins
from calibration.cards.found_card import FoundCard
from calibration.cards.geometry import ASSUMED_FROM
from calibration.cards.hypotheses import Choice, ExaminedPlaces, choices_at, is_examined, same_place
from calibration.cards.proposals import Candidates, LevelEdges, search, search_smoothed
from calibration.cards.refine import RefinedQuad, fit_face_edges, refine_through, side_cautions
from calibration.cards.score import Hypothesis, build_hypothesis, confidences, score, shift_corners
from calibration.cautions import Caution
from calibration.image import Photo, Pyramid
from calibration.objects import CARD_OBJECTS, ReferenceObject

__all__ = ["ACCEPT_CONFIDENCE", "LARGEST_ASPECT_ERROR", "FoundCard", "find_cards"]

Array = NDArray[np.float64]

# Cross-validated, eight of 930 simulated photos without a card exceed it.
ACCEPT_CONFIDENCE = 0.65
# Proportions that are further off than this (log) name no kind, however loosely they are known.
LARGEST_ASPECT_ERROR = 0.06
# Proportions known no better than this (logarithm of the product of the standard uncertainties of log ratio
# and corner) fit any rectangle seen obliquely. More of those have sharp corners.
_VAGUE_SHARP, _VAGUE_ROUNDED = -5.0, -4.5
# Log odds of an outline by itself above which the search stops: right as often as the surer ones (94 %).
_SURE = 1.5


# The best outlines are moved to the card's face: this many, no further (log odds) behind the best and
# no less likely than that.
_MOST_ON_FACE, _FAR_BEHIND, _UNLIKELY = 3, 3.0, -5.0
# Corners of other objects are sought among this many segments.
_FOR_RIGHT_ANGLES = 400


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of the search, and its limits.

    Attributes
    ----------
    search : callable
        Gives rough candidates, as `search` does.
    segments : int
        Most straight segments used.
    places : int
        Most new places examined.
    apart : float
        How far a candidate must lie from a place already examined to be a new one, as a share of its size.
    choices : int
        Most choices of parallel edges prescreened per place.
    verifications : int
        Most choices verified, best prescreened first.
    """

    search: Callable[..., Candidates]
    segments: int
    places: int
    apart: float
    choices: int
    verifications: int


SEGMENTS_FIRST = 320
STAGES = (
    Stage(partial(search, thorough=False), SEGMENTS_FIRST, places=6, apart=0.1, choices=2, verifications=2),
    Stage(search, 600, places=9, apart=0.1, choices=2, verifications=4),
    Stage(search_smoothed, 400, places=24, apart=0.05, choices=4, verifications=12),
)
# Prescreening log odds (tuning seeds) above which verification is worthwhile at once: 19 of 20 are right.
_PROMISING = 1.0


def find_cards(
    photo: Photo,
    camera: Camera,
    objects: tuple[ReferenceObject, ...] = CARD_OBJECTS,
    *,
    effort: int = 3,
    seen: LevelEdges | None = None,
) -> tuple[FoundCard, ...]:
    """Find cards of known kinds.

    Parameters
    ----------
    photo : Photo
        What to search.
    camera : Camera
        The camera by which proportions are judged.
    objects : tuple of ReferenceObject
        The kinds looked for.
    effort : int
        Number of stages tried, 1 to 3; a later one runs only if the earlier ones find nothing convincing.
    seen : LevelEdges, optional
        What the most reduced level shows, if already computed.

    Returns
    -------
    tuple of FoundCard
        Best first; even the first may not be accepted. Empty if nothing resembles a card.
    """
    outlines = find_outlines(photo, camera, objects, effort=effort, seen=seen)
    sure = confidences([outline.hypothesis for outline in outlines], len(objects))
    cards = [
        as_card(outline, probability, objects) for outline, probability in zip(outlines, sure, strict=True)
    ]
    order = sorted(range(len(outlines)), key=lambda index: (not cards[index].accepted, -sure[index]))
    return tuple(cards[index] for index in _different(outlines, order))


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """A verified outline: its hypothesis, and what the user should check."""

    hypothesis: Hypothesis
    cautions: tuple[Caution, ...] = ()


def find_outlines(
    photo: Photo,
    camera: Camera,
    objects: tuple[ReferenceObject, ...],
    *,
    effort: int = 3,
    seen: LevelEdges | None = None,
) -> list[Outline]:
    """Look for outlines and weigh the promising ones; arguments as for `find_cards`."""
    seen = seen or LevelEdges.of(Pyramid.of(photo.pixels_bgr))
    pyramid = seen.pyramid
    found: list[Hypothesis] = []
    places = ExaminedPlaces([], [], [])
    for stage in STAGES[:effort]:
        candidates = stage.search(seen, camera, objects, segments=stage.segments)
        found += _examine(pyramid, camera, objects, candidates, stage=stage, places=places)
        if any(score(hypothesis) >= _SURE for hypothesis in found):
            break
    found.sort(key=score, reverse=True)
    best = score(found[0]) if found else 0.0
    on_face = [
        on_the_face(pyramid, camera, objects, hypothesis)
        if rank < _MOST_ON_FACE and score(hypothesis) > max(best - _FAR_BEHIND, _UNLIKELY)
        else Outline(hypothesis)
        for rank, hypothesis in enumerate(found)
    ]
    right_angles = None
    if camera.log_focal_std >= ASSUMED_FROM:
        right_angles = RightAngles.of(pyramid, seen.lines.strongest(_FOR_RIGHT_ANGLES), camera)
    return [_with_details(pyramid, camera, right_angles, outline) for outline in on_face]


def _with_details(
    pyramid: Pyramid, camera: Camera, right_angles: RightAngles | None, outline: Outline
) -> Outline:
    """Add what is examined last, since no step of the search depends on it."""
    hypothesis = outline.hypothesis
    corners_px, margins, consistency = hypothesis.refined.corners_px, None, None
    if not hypothesis.is_sharp:
        margins = radius_margins(pyramid, corners_px, hypothesis.fit.object, hypothesis.blur_px)
    if right_angles is not None and score(hypothesis) > _UNLIKELY:
        consistency = right_angles.log_likelihood_ratio(corners_px, camera, hypothesis.fit.focal_px)
    return replace(
        outline, hypothesis=replace(hypothesis, radius_margins=margins, right_angle_consistency=consistency)
    )


def on_the_face(
    pyramid: Pyramid, camera: Camera, objects: tuple[ReferenceObject, ...], hypothesis: Hypothesis
) -> Outline:
    """Tell the card's face from the foot of its rim, which makes proportions and kind more accurate."""
    outline, refined = Outline(hypothesis), hypothesis.refined
    for _ in range(2):
        fit = outline.hypothesis.fit
        face = fit_face_edges(pyramid.levels[0], camera, refined, fit)
        reduced_chi2 = tuple(side.reduced_chi2 for side in face.sides)
        renewed = build_hypothesis(
            pyramid, camera, face.refined, objects, hypothesis.runner_up, reduced_chi2=reduced_chi2
        )
        if renewed is None:
            return outline
        outline = Outline(renewed, side_cautions(face, renewed.fit.object))
        if renewed.fit.object == fit.object:
            break
        # The rim's width in the picture depends on the kind: repeat, since that changed.
        refined = shift_corners(refined) if renewed.fit.turned else refined
    return outline


def _examine(
    pyramid: Pyramid,
    camera: Camera,
    objects: tuple[ReferenceObject, ...],
    candidates: Candidates,
    *,
    stage: Stage,
    places: ExaminedPlaces,
) -> list[Hypothesis]:
    """Prescreen the best candidate of each of the best places, and verify the best of these.

    Places examined before are skipped; choices still waiting there compete again.
    """
    found: list[Hypothesis] = []
    for choice in _worth_verifying(pyramid, camera, objects, candidates, stage=stage, places=places):
        found += _verify(pyramid, camera, objects, choice, verified=places.verified)
        if found and score(found[-1]) >= _SURE:
            break
    return found


def _worth_verifying(
    pyramid: Pyramid,
    camera: Camera,
    objects: tuple[ReferenceObject, ...],
    candidates: Candidates,
    *,
    stage: Stage,
    places: ExaminedPlaces,
) -> Iterator[Choice]:
    """Yield what is promising at each new place, then the best of what is waiting."""
    most = len(places.examined) + stage.places
    for quad, index in zip(candidates.quads_px, candidates.kinds, strict=True):
        if len(places.examined) >= most:
            break
        if is_examined(quad, places.examined, stage.apart):
            continue
        places.examined.append(quad)
        for choice in choices_at(pyramid, camera, objects, quad, objects[index], most=stage.choices):
            if choice.log_odds < _PROMISING:
                places.waiting.append(choice)
            else:
                yield choice
    yield from places.next_choices(stage.verifications)


def _verify(
    pyramid: Pyramid,
    camera: Camera,
    objects: tuple[ReferenceObject, ...],
    choice: Choice,
    *,
    verified: list[Array],
) -> list[Hypothesis]:
    refined = refined_at(pyramid, choice.combination.corners_px, choice.kind)
    verified += [choice.combination.corners_px, *([] if refined is None else [refined.corners_px])]
    hypothesis = (
        None if refined is None else build_hypothesis(pyramid, camera, refined, objects, choice.runner_up)
    )
    return [] if hypothesis is None else [hypothesis]


def refined_at(pyramid: Pyramid, corners_px: Array, kind: ReferenceObject) -> RefinedQuad | None:
    """Refine by steps that suit the outline's size; half a unit is how far a rectified edge may be off."""
    unit_px = float(np.linalg.norm(corners_px[2] - corners_px[0])) / 100.0
    level = pyramid.level_for(unit_px / 4.0)
    search_px = max(1.5, 0.6 * unit_px / pyramid.scales[level])
    return refine_through(pyramid, corners_px, kind, level=level, search_px=search_px)


def _different(outlines: list[Outline], order: list[int]) -> list[int]:
    kept: list[int] = []
    for index in order:
        corners = outlines[index].hypothesis.refined.corners_px
        if not any(same_place(corners, outlines[other].hypothesis.refined.corners_px) for other in kept):
            kept.append(index)
    return kept


def as_card(outline: Outline, probability: float, objects: tuple[ReferenceObject, ...]) -> FoundCard:
    hypothesis = outline.hypothesis
    # If the user names the kind, proportions need not distinguish it from all other rectangles.
    vague = len(objects) > 1 and _is_vague(hypothesis)
    refined = hypothesis.refined
    corners, cov = _from_top_left(refined)
    return FoundCard(
        object=hypothesis.fit.object,
        corners_px=corners,
        corners_cov_px2=cov,
        confidence=probability,
        accepted=probability >= ACCEPT_CONFIDENCE and not vague and _agrees(hypothesis),
        alternatives=hypothesis.alternatives,
        cautions=outline.cautions,
        blur_px=hypothesis.blur_px,
        contrast=min(side.contrast for side in refined.sides),
        # Nearby print hides a side from the line fit, but not from the rectified view.
        support=tuple(np.maximum([side.share for side in refined.sides], hypothesis.edge_support).tolist()),
        tilt_deg=hypothesis.fit.tilt_deg,
        aspect_error=hypothesis.fit.error,
        vague=vague,
    )


def is_possible(hypothesis: Hypothesis) -> bool:
    """Tell whether an outline can be accepted if no kind is named, apart from its confidence."""
    return _agrees(hypothesis) and not _is_vague(hypothesis)


def _agrees(hypothesis: Hypothesis) -> bool:
    """Tell whether the proportions are near enough to the kind's, however loosely they are known."""
    return hypothesis.fit.error < LARGEST_ASPECT_ERROR


def _is_vague(hypothesis: Hypothesis) -> bool:
    """Tell whether the proportions are so loosely known that they support no kind."""
    return hypothesis.fit.log_area > (_VAGUE_SHARP if hypothesis.is_sharp else _VAGUE_ROUNDED)


def _from_top_left(refined: RefinedQuad) -> tuple[Array, Array]:
    """Of the two corners that may come first, take the one nearer the picture's top left."""
    corners = refined.corners_px
    if corners[2].sum() < corners[0].sum():
        order = np.r_[4:8, 0:4]
        return np.roll(corners, -2, axis=0), refined.cov_px2[np.ix_(order, order)]
    return corners, refined.cov_px2
