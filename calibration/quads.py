"""Finds a card of known size in a photo, and says how far the find can be trusted."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calibration.camera import Camera
from calibration.card_rim import settle_rim
from calibration.objects import CARD_OBJECTS, ReferenceObject
from calibration.photo import Photo
from calibration.quads_alternatives import Combination, combinations
from calibration.quads_found import FoundCard
from calibration.quads_geometry import rectangle_shape
from calibration.quads_glance import glance
from calibration.quads_judge import Evidence, confidences, score, weigh
from calibration.quads_kinds import aspect_errors
from calibration.quads_lines import Pyramid
from calibration.quads_patch import rectify
from calibration.quads_refine import RefinedQuad, refine_through
from calibration.quads_search import WIDEST_ASPECT_ERROR, Candidates, Seen, search
from calibration.side_cautions import side_cautions

__all__ = ["ACCEPT_CONFIDENCE", "FoundCard", "find_cards"]

Array = NDArray[np.float64]

# At 0.5 two in ninety simulated photos without a card gave a false plane, at 0.7 none (tuning seeds).
ACCEPT_CONFIDENCE = 0.6
# However little the picture tells of an outline's proportions, so far off (log) they name no kind.
_LARGEST_ASPECT_ERROR = 0.06
# Log odds of an outline by itself from which no other is looked for: as often right as the surer ones (94 %).
_SURE = 1.5


@dataclass(frozen=True, slots=True)
class _Stage:
    segments: int
    places: int
    close_looks: int
    thorough: bool


_STAGES = (_Stage(320, 6, 2, False), _Stage(600, 9, 4, True))
# Log odds at a glance (tuning seeds): from the first on a close look is worth while at once (19 of 20 are
# right), below the second never (1 in 25 of the right ones).
_PROMISING, _HOPELESS = 1.0, -5.0


def find_cards(
    photo: Photo, camera: Camera, objects: tuple[ReferenceObject, ...] = CARD_OBJECTS, *, effort: int = 2
) -> tuple[FoundCard, ...]:
    """Find cards of known kinds.

    Parameters
    ----------
    photo : Photo
        What to search.
    camera : Camera
        What its proportions are judged by.
    objects : tuple of ReferenceObject
        The kinds looked for.
    effort : int
        Number of stages tried, 1 or 2; the second only where the first convinces nobody.

    Returns
    -------
    tuple of FoundCard
        Best first; the first may be not accepted. Empty where nothing resembles a card.
    """
    pyramid = Pyramid.of(photo.pixels_bgr)
    found: list[Evidence] = []
    seen = Seen.of(pyramid)
    places = _Places([], [])
    for stage in _STAGES[:effort]:
        candidates = search(
            pyramid, camera, objects, segments=stage.segments, seen=seen, thorough=stage.thorough
        )
        found += _examine(pyramid, camera, objects, candidates, stage=stage, places=places)
        if any(score(evidence) >= _SURE for evidence in found):
            break
    sure = confidences(found)
    order = sorted(range(len(found)), key=lambda index: -sure[index])
    cards = [_as_card(found[index], sure[index]) for index in _different(found, order)]
    return tuple(
        cards if not cards else [_settled(pyramid, camera, found[order[0]], sure[order[0]]), *cards[1:]]
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Choice:
    """One choice of sides at one place, before refinement; `glance` is the log odds that it is right."""

    kind: ReferenceObject
    combination: Combination
    rival: float
    glance: float


@dataclass(frozen=True, slots=True, eq=False)
class _Places:
    """Places looked at, and the choices of sides there that were not looked at closely yet."""

    taken: list[Array]
    waiting: list[_Choice]


def _examine(
    pyramid: Pyramid,
    camera: Camera,
    objects: tuple[ReferenceObject, ...],
    candidates: Candidates,
    *,
    stage: _Stage,
    places: _Places,
) -> list[Evidence]:
    """Look at the best candidate of each of the best places, and closely at the best of these.

    Places looked at before are passed over; what waits there competes again.
    """
    found: list[Evidence] = []
    most = len(places.taken) + stage.places
    for quad, index in zip(candidates.quads_px, candidates.kinds, strict=True):
        if len(places.taken) >= most:
            break
        if _is_taken(quad, places.taken):
            continue
        places.taken.append(quad)
        for choice in _choices(pyramid, camera, objects, quad, objects[index]):
            if choice.glance < _PROMISING:
                places.waiting.append(choice)
                continue
            found += _settle(pyramid, camera, objects, choice)
            if found and score(found[-1]) >= _SURE:
                return found
    places.waiting.sort(key=lambda choice: -choice.glance)
    chosen = [choice for choice in places.waiting[: stage.close_looks] if choice.glance > _HOPELESS]
    del places.waiting[: len(chosen)]
    for choice in chosen:
        found += _settle(pyramid, camera, objects, choice)
        if found and score(found[-1]) >= _SURE:
            break
    return found


def _is_taken(quad: Array, taken: list[Array]) -> bool:
    if not taken:
        return False
    others = np.array(taken)
    turned = quad[(np.arange(4)[:, None] + np.arange(4)) % 4]
    apart = np.abs(turned[None] - others[:, None]).max(axis=(2, 3)).min(axis=1)
    return bool((apart < 0.1 * np.sqrt([abs(_area(other)) for other in taken])).any())


def _same_place(quad: Array, other: Array) -> bool:
    size = np.sqrt(abs(_area(other)))
    apart = min(float(np.abs(np.roll(quad, k, axis=0) - other).max()) for k in range(4))
    return bool(apart < 0.1 * size)


def _area(quad: Array) -> float:
    x, y = quad[:, 0], quad[:, 1]
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def _choices(
    pyramid: Pyramid,
    camera: Camera,
    objects: tuple[ReferenceObject, ...],
    quad_px: Array,
    kind: ReferenceObject,
) -> list[_Choice]:
    """Settle which parallel edges may be the sides of a rough candidate."""
    result = []
    for each in (kind, *_otherwise_cornered(camera, objects, quad_px, kind)):
        choices = combinations(rectify(pyramid, _laid(quad_px, camera, each), each), camera, objects)
        for choice in _worth_refining(choices):
            rival = max(
                (other.score - choice.score for other in choices if _differs(choice, other)), default=-1.0
            )
            result.append((each, choice, rival))
    best = sorted(result, key=lambda entry: -entry[1].score)[:2]
    return [
        _Choice(each, choice, rival, glance(pyramid, each, choice, rival)) for each, choice, rival in best
    ]


def _otherwise_cornered(
    camera: Camera, objects: tuple[ReferenceObject, ...], quad_px: Array, kind: ReferenceObject
) -> tuple[ReferenceObject, ...]:
    """Name the likeliest kind with the other sort of corner: on a small outline the two look alike."""
    others = tuple(o for o in objects if (o.corner_radius_mm > 0.0) != (kind.corner_radius_mm > 0.0))
    if not others:
        return ()
    unit_px = float(np.linalg.norm(quad_px[2] - quad_px[0])) / 100.0
    errors = aspect_errors(quad_px[None], camera, others, corner_std_px=0.3 * unit_px)[0]
    best = int(errors.argmin())
    return (others[best],) if errors[best] < 0.5 * WIDEST_ASPECT_ERROR else ()


def _settle(
    pyramid: Pyramid, camera: Camera, objects: tuple[ReferenceObject, ...], choice: _Choice
) -> list[Evidence]:
    refined = _refine(pyramid, choice.combination.corners_px, choice.kind)
    evidence = None if refined is None else weigh(pyramid, camera, refined, objects, choice.rival)
    return [] if evidence is None else [evidence]


def _laid(quad_px: Array, camera: Camera, kind: ReferenceObject) -> Array:
    """Start the corners so that the first side is the object's width."""
    ratio, _ = rectangle_shape(
        camera.undistort_px(quad_px)[None], camera.principal_point_px, np.array([camera.focal_px])
    )
    wide = ratio[0, 0] > 0.0
    return quad_px if wide == (kind.width_mm >= kind.height_mm) else np.roll(quad_px, -1, axis=0)


def _worth_refining(choices: list[Combination]) -> list[Combination]:
    chosen: list[Combination] = []
    for choice in choices[:12]:
        if choice.score < choices[0].score - 0.12:
            break
        if all(_differs(choice, other) for other in chosen):
            chosen.append(choice)
        if len(chosen) == 2:
            break
    return chosen


def _differs(one: Combination, other: Combination) -> bool:
    return bool(np.abs(one.outward_units - other.outward_units).max() > 0.8)


def _refine(pyramid: Pyramid, corners_px: Array, kind: ReferenceObject) -> RefinedQuad | None:
    """Refine by steps that suit the outline's size; half a unit is how far a rectified edge may be off."""
    unit_px = float(np.linalg.norm(corners_px[2] - corners_px[0])) / 100.0
    level = pyramid.level_for(unit_px / 4.0)
    search_px = max(1.5, 0.6 * unit_px / pyramid.scales[level])
    return refine_through(pyramid, corners_px, kind, level=level, search_px=search_px)


def _settled(pyramid: Pyramid, camera: Camera, evidence: Evidence, probability: float) -> FoundCard:
    """Tell the card's face from the foot of its rim, which matters once the card itself is settled."""
    settled = settle_rim(pyramid.levels[0], camera, evidence.refined, evidence.fit)
    card = _as_card(replace(evidence, refined=settled.refined), probability)
    return replace(card, cautions=side_cautions(settled, card.object))


def _different(found: list[Evidence], order: list[int]) -> list[int]:
    kept: list[int] = []
    for index in order:
        corners = found[index].refined.corners_px
        if not any(_same_place(corners, found[other].refined.corners_px) for other in kept):
            kept.append(index)
    return kept


def _as_card(evidence: Evidence, probability: float) -> FoundCard:
    refined = evidence.refined
    corners, cov = _from_top_left(refined)
    return FoundCard(
        object=evidence.fit.object,
        corners_px=corners,
        corners_cov_px2=cov,
        confidence=probability,
        accepted=probability >= ACCEPT_CONFIDENCE and evidence.fit.error < _LARGEST_ASPECT_ERROR,
        alternatives=evidence.alternatives,
        blur_px=float(np.median([side.blur_px for side in refined.sides])),
        contrast=min(side.contrast for side in refined.sides),
        support=tuple(side.share for side in refined.sides),
        tilt_deg=evidence.fit.tilt_deg,
        aspect_error=evidence.fit.error,
    )


def _from_top_left(refined: RefinedQuad) -> tuple[Array, Array]:
    """Of the two corners that may come first, take the one nearer the picture's top left."""
    corners = refined.corners_px
    if corners[2].sum() < corners[0].sum():
        order = np.r_[4:8, 0:4]
        return np.roll(corners, -2, axis=0), refined.cov_px2[np.ix_(order, order)]
    return corners, refined.cov_px2
