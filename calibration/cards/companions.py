"""Further cards of the same kind that lie in the plane of one already found."""

import numpy as np
from numpy.typing import NDArray

from calibration.camera import Camera
from calibration.cards.finder import (
    ACCEPT_CONFIDENCE,
    SEGMENTS_FIRST,
    Outline,
    as_card,
    on_the_face,
    refined_at,
)
from calibration.cards.found_card import FoundCard
from calibration.cards.hypotheses import same_place
from calibration.cards.proposals import LevelEdges, search
from calibration.cards.score import Hypothesis, build_hypothesis, confidences, score
from calibration.errors import GeometryError
from calibration.image import Pyramid
from calibration.objects import ReferenceObject
from calibration.plane import Plane

Array = NDArray[np.float64]

# More add time and little certainty.
_MOST = 7
# How far (log) the sides of a rough and of a fitted outline may be off those of the kind on the plane, apart
# from the plane's own uncertainty there, of which so many standard uncertainties count.
_ROUGH_LOG, _FITTED_LOG, _STDS = 0.1, 0.02, 3.0
# Where the plane is known no better than this, it tells nothing of what lies there.
_VAGUE_LOG = 0.1


def companions(edges: LevelEdges, camera: Camera, card: FoundCard, plane: Plane) -> tuple[FoundCard, ...]:
    """Find further cards of a kind in the plane of one of them.

    Parameters
    ----------
    edges : LevelEdges
        What the most reduced level of the photo shows.
    camera : Camera
        As it was before the plane was fitted.
    card : FoundCard
        The one that the plane was fitted to.
    plane : Plane
        Fitted to it alone.

    Returns
    -------
    tuple of FoundCard
        Those whose sides on the plane are the kind's, surest first, at most seven.

    Notes
    -----
    Only outlines that the first stage of the search proposes are looked at: knowing the plane and the size
    leaves few of them, and of the true ones of 22 real photographs 97 % are there.
    """
    kind = card.object
    rough = search(edges, camera, (kind,), segments=SEGMENTS_FIRST, thorough=False).quads_px
    fitted = [
        hypothesis
        for quad in rough
        if _fits(plane, quad, kind, _ROUGH_LOG)
        and not same_place(quad, card.corners_px)
        and (hypothesis := _fitted(edges.pyramid, camera, quad, kind)) is not None
    ]
    fitted.sort(key=score, reverse=True)
    kept: list[FoundCard] = []
    for hypothesis in fitted:
        corners = hypothesis.refined.corners_px
        if len(kept) == _MOST:
            break
        if any(same_place(corners, other.corners_px) for other in (card, *kept)):
            continue
        found = _accepted(edges.pyramid, camera, hypothesis, kind)
        if found is not None and _fits(plane, found.corners_px, kind, _FITTED_LOG):
            kept.append(found)
    return tuple(kept)


def same_outline(one: FoundCard, other: FoundCard) -> bool:
    """Tell whether two outlines lie at one place.

    Parameters
    ----------
    one, other : FoundCard
        In one photo.

    Returns
    -------
    bool
        Whether all corners are close to each other's.
    """
    return same_place(one.corners_px, other.corners_px)


def _fitted(pyramid: Pyramid, camera: Camera, quad: Array, kind: ReferenceObject) -> Hypothesis | None:
    refined = refined_at(pyramid, quad, kind)
    return None if refined is None else build_hypothesis(pyramid, camera, refined, (kind,), 0.0)


def _accepted(
    pyramid: Pyramid, camera: Camera, hypothesis: Hypothesis, kind: ReferenceObject
) -> FoundCard | None:
    outline: Outline = on_the_face(pyramid, camera, (kind,), hypothesis)
    probability = float(confidences([outline.hypothesis], 1)[0])
    return as_card(outline, probability, (kind,)) if probability >= ACCEPT_CONFIDENCE else None


def _fits(plane: Plane, corners_px: Array, kind: ReferenceObject, tolerance_log: float) -> bool:
    """Whether an outline has the kind's sides on the plane, either way round."""
    try:
        measured, std = _log_sides(plane, corners_px)
    except GeometryError:
        return False  # beyond the plane's horizon
    if std.max() > _VAGUE_LOG:
        return False
    sides = np.log([kind.width_mm, kind.height_mm, kind.width_mm, kind.height_mm])
    allowed = tolerance_log + _STDS * std
    return any(bool(np.all(np.abs(measured - way) <= allowed)) for way in (sides, np.roll(sides, 1)))


def _log_sides(plane: Plane, corners_px: Array) -> tuple[Array, Array]:
    """Return the logarithms of an outline's four sides in mm, and their standard uncertainties."""
    size = len(plane.error_sources)
    inputs = np.concatenate([np.zeros((1, size)), np.eye(size), -np.eye(size)])
    mm = plane.to_mm_spread(inputs, corners_px[None], np.zeros(1)).reshape(-1, 4, 2)
    lengths = np.linalg.norm(np.roll(mm, -1, axis=1) - mm, axis=2)
    logs = np.log(np.maximum(lengths, 1e-9))
    return logs[0], np.linalg.norm(logs[1 : size + 1] - logs[size + 1 :], axis=0) / 2.0
