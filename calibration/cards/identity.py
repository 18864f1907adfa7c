"""What else of the catalogue an outline may be, how probable that is, and what lengths would then be.

The probability of each thing is proportional to how common it is (`rectangles`) times how likely it would
have shown the proportions seen and, where the photo was looked at, corners of the radius seen. The camera's
distance counts for nothing, nor does what a face shows. Things outside the catalogue are left out of account.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from math import hypot, log

import numpy as np
from numpy.typing import NDArray

from calibration.camera import Camera
from calibration.cards.found_card import FoundCard
from calibration.cards.geometry import shape_log_likelihoods
from calibration.cards.rival import Rival
from calibration.cautions import Caution, CautionCode, NoAnswer, NoAnswerCode
from calibration.objects import ReferenceObject, from_rectangle
from calibration.plane import Plane, viewpoint
from calibration.rectangles import Rectangle, by_key, catalogue

Array = NDArray[np.float64]

# Who names a kind is wrong about it one time in twenty (our judgement).
_SAID_RIGHT = 0.95
# The least probability of a rival that is told; and of all rivals together from which they are told, from
# which it is asked what the thing is, and above which nothing is measured by it before someone has said.
_WORTH_TELLING, _WORTH_A_CAUTION, _WORTH_ASKING, _OPEN = 0.005, 0.01, 0.1, 0.5
# A rival by which lengths change by less than this share of their U spoils no interval: of 95 that held
# the truth 93 still do. Changes below the floor are within every U.
_SHARE_OF_U, _HARMLESS = 0.25, 0.002
# Spread of the log ratio of a size that a user states off a rule, and what the bow of loose sheets, up to 1 %
# of their sides on real photographs, does to theirs: the sizes of paper differ by less.
_STATED_LOG_STD, _SHEET_LOG_STD, _SHEET_MM = 0.01, 0.005, 0.2


def identified(camera: Camera, card: FoundCard, plane: Plane) -> FoundCard:
    """Return the outline with the rivals of the kind that it is taken for.

    Parameters
    ----------
    camera : Camera
        As it was before the plane was fitted.
    card : FoundCard
        The outline; whether a person said what it is counts.
    plane : Plane
        Fitted to it: what its uncertainty covers anyway is no rival.

    Returns
    -------
    FoundCard
        Its rivals likeliest first; none where no other thing is likely enough and of another size.
    """
    taken, listed = card.object, catalogue()
    own = by_key().get(taken.key)
    shares = _probabilities(camera, card, own)
    harmless = max(_HARMLESS, _SHARE_OF_U * _relative_expanded(plane))
    rivals = []
    for one, share in zip(listed, shares, strict=False):
        factor = (one.area_mm2 / (taken.width_mm * taken.height_mm)) ** 0.5
        if one is not own and share >= _WORTH_TELLING and abs(log(factor)) > harmless:
            rivals.append(Rival(one, float(share), factor))
    return replace(card, rivals=tuple(sorted(rivals, key=lambda rival: -rival.probability)))


def _probabilities(camera: Camera, card: FoundCard, own: Rectangle | None) -> Array:
    """Return the probability of each thing of the catalogue, and last of a stated size that is not in it."""
    listed = catalogue()
    kinds = [_as_shape(one.key) for one in listed]
    reaches = [(one.radius_least_mm / one.short_mm, one.radius_most_mm / one.short_mm) for one in listed]
    weights = [one.weight for one in listed]
    at = len(listed)
    if own is None:
        kinds.append(_stated(card.object))
        # Nobody says how round the corners of a stated size are: any radius may be.
        reaches.append((card.radii[0][0], card.radii[-1][0]) if card.radii else (0.0, 0.0))
        weights.append(0.0)
    else:
        at = listed.index(own)
    logs = shape_log_likelihoods(card.corners_px, card.corners_cov_px2, camera, tuple(kinds))
    logs += [_radius_log_likelihood(card, *reach) for reach in reaches]
    prior = np.array(weights) / sum(weights)
    if card.said or own is None:
        prior *= 1.0 - _SAID_RIGHT
        prior[at] += _SAID_RIGHT
    shares = prior * np.exp(logs - logs.max())
    return np.asarray(shares / shares.sum())


@lru_cache(maxsize=256)
def _as_shape(key: str) -> ReferenceObject:
    """Return a thing of the catalogue with the spread of its proportions, that of a family included."""
    listed = by_key()[key]
    bow = _SHEET_LOG_STD if listed.bows and listed.thickness_mm < _SHEET_MM else 0.0
    share = hypot(listed.ratio_log_std, bow) / 2.0**0.5
    return replace(
        from_rectangle(listed),
        width_std_mm=share * listed.long_mm,
        height_std_mm=share * listed.short_mm,
    )


def _stated(taken: ReferenceObject) -> ReferenceObject:
    share = _STATED_LOG_STD / 2.0**0.5
    return replace(
        taken,
        width_std_mm=max(taken.width_std_mm, share * taken.width_mm),
        height_std_mm=max(taken.height_std_mm, share * taken.height_mm),
    )


def _radius_log_likelihood(card: FoundCard, low: float, high: float) -> float:
    """Return how well corners from one radius to another, in short sides, explain those seen."""
    if not card.radii:
        return 0.0
    shares, logs = np.array(card.radii).T
    return log(float(np.mean(np.exp(np.interp(np.linspace(low, high, 9), shares, logs)))))


def _relative_expanded(plane: Plane) -> float:
    """Return U (95 %) of the scale at the reference, as a share."""
    view = viewpoint(plane)
    return 1.96 * view.mm_per_px_std / view.mm_per_px


def is_doubtful(card: FoundCard) -> bool:
    """Tell whether it should be asked what the outline is before anything is measured by it.

    Parameters
    ----------
    card : FoundCard
        As `identified` returns it.

    Returns
    -------
    bool
        True where the rivals together have a probability of a tenth or more.
    """
    return _others(card) >= _WORTH_ASKING


def what_it_is_open(card: FoundCard) -> NoAnswer | None:
    """Return why nothing is measured by an outline that is more likely something else.

    Parameters
    ----------
    card : FoundCard
        As `identified` returns it.

    Returns
    -------
    NoAnswer or None
        None where a person said what it is, or the others together have no more than half.
    """
    if card.said or _others(card) <= _OPEN:
        return None
    return NoAnswer.of(
        NoAnswerCode.IDENTITY_OPEN,
        name=card.object.name,
        key=card.object.key,
        corners_px=tuple((float(x), float(y)) for x, y in card.corners_px),
        probability=_others(card),
        rivals=rival_sizes(card),
    )


def likelier_kind(card: FoundCard, kinds: Sequence[ReferenceObject]) -> ReferenceObject | None:
    """Return the kind that an outline is more likely than the one that it is taken for.

    Parameters
    ----------
    card : FoundCard
        As `identified` returns it.
    kinds : sequence of ReferenceObject
        The kinds looked for.

    Returns
    -------
    ReferenceObject or None
        The likeliest of these kinds; None where that is the one it is taken for.
    """
    best = max(card.rivals, key=lambda rival: rival.probability, default=None)
    if best is None or best.probability <= 1.0 - _others(card):
        return None
    return next((kind for kind in kinds if kind.key == best.kind.key), None)


def as_kind(card: FoundCard, kind: ReferenceObject) -> FoundCard:
    """Return an outline taken for another kind.

    Parameters
    ----------
    card : FoundCard
        The outline.
    kind : ReferenceObject
        What to take it for.

    Returns
    -------
    FoundCard
        Its first side the kind's width, its rivals unknown.
    """
    corners, cov = card.corners_px, card.corners_cov_px2
    if (kind.width_mm > kind.height_mm) != (card.object.width_mm > card.object.height_mm):
        order = np.r_[2:8, 0:2]
        corners, cov = np.roll(corners, -1, axis=0), cov[np.ix_(order, order)]
    return replace(card, object=kind, corners_px=corners, corners_cov_px2=cov, rivals=())


def _others(card: FoundCard) -> float:
    """Return the probability of all rivals together."""
    return sum(rival.probability for rival in card.rivals)


def identity_caution(card: FoundCard) -> Caution | None:
    """Return what else the outline may be and what lengths would then be.

    Parameters
    ----------
    card : FoundCard
        As `identified` returns it.

    Returns
    -------
    Caution or None
        None where it is clear enough what the outline is.
    """
    if _others(card) < _WORTH_A_CAUTION:
        return None
    return Caution.of(
        CautionCode.IDENTITY,
        name=card.object.name,
        key=card.object.key,
        said=card.said,
        probability=_others(card),
        rivals=rival_sizes(card),
    )


def rival_sizes(card: FoundCard) -> tuple[Rival, ...]:
    """Return the likeliest rival of each size.

    Parameters
    ----------
    card : FoundCard
        As `identified` returns it.

    Returns
    -------
    tuple of Rival
        Likeliest first, each with the probability of all rivals of its size.
    """
    sizes: list[Rival] = []
    for one in card.rivals:
        for place, other in enumerate(sizes):
            if abs(log(other.scale_factor / one.scale_factor)) < _HARMLESS:
                sizes[place] = replace(other, probability=other.probability + one.probability)
                break
        else:
            sizes.append(one)
    return tuple(sorted(sizes, key=lambda rival: -rival.probability))
