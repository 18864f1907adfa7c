"""Several references in one photo: one plane from all of them, and whether they agree."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy  # loads its parts, each a good part of a second, when they are used

from calibration.camera import Camera
from calibration.errors import GeometryError
from calibration.lens import Array
from calibration.metric_plane import Plane
from calibration.objects import ReferenceObject
from calibration.plane import fit_plane_targets
from calibration.quads import FoundCard
from calibration.straight import StraightLine
from calibration.targets import Target, target_from_object

# Below this chance of so large a misfit the references are reported as disagreeing.
_LEAST_CHANCE = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Combined:
    """One plane from several references.

    Attributes
    ----------
    plane : Plane
        Fitted to all; its frame is the first one's.
    chance : float
        Probability of a larger misfit if all are what they are said to be.
    cautions : tuple of str
        Which of them disagree, and by how much.
    """

    plane: Plane
    chance: float
    cautions: tuple[str, ...]

    @property
    def agree(self) -> bool:
        """Whether the references agree within their uncertainties."""
        return self.chance >= _LEAST_CHANCE


def combine_cards(
    camera: Camera, cards: Sequence[FoundCard], *, lines: Sequence[StraightLine] = ()
) -> Combined:
    """Fit one plane to several cards or sheets that lie on the same table.

    Parameters
    ----------
    camera : Camera
        The photo's.
    cards : sequence of FoundCard
        At least two, of any kinds; where each lies on the table is free.
    lines : sequence of StraightLine
        Edges that are straight in the scene: they tell how the lens bends them.

    Raises
    ------
    GeometryError
        Fewer than two, or no plane fits.

    Notes
    -----
    One fit of the pose, the camera, each card's place on the table, its size and its lifts; each card's upper
    face lies as much higher than the first one's as it is thicker. Agreement by chi-squared; where it fails,
    each card is measured by the others alone.
    """
    if len(cards) < 2:
        raise GeometryError("two references or more are needed to combine")
    base_mm = cards[0].object.thickness_mm
    targets = [_target(card, card.object.thickness_mm - base_mm) for card in cards]
    plane = fit_plane_targets(camera, targets, cards[0].object, lines=lines)
    # The rows of priors add as many squares as unknowns, so only the points count for freedom.
    freedom = 8 * len(cards) - 6 - 3 * (len(cards) - 1) + sum(len(line.points_px) - 2 for line in lines)
    chance = float(scipy.special.chdtrc(freedom, plane.chi2))
    cautions: tuple[str, ...] = ()
    if chance < _LEAST_CHANCE:
        cautions = _disagreements(camera, cards, targets)
    return Combined(plane, chance, cautions)


def _target(card: FoundCard, height_mm: float) -> Target:
    plain = target_from_object(card.object, card.corners_px, card.corners_cov_px2)
    return Target(
        plain.points_mm, plain.points_px, plain.cov_px2, plain.scale_std, plain.flatness_std_mm, height_mm
    )


def _disagreements(camera: Camera, cards: Sequence[FoundCard], targets: Sequence[Target]) -> tuple[str, ...]:
    texts = []
    for index, card in enumerate(cards):
        others = [target for other, target in enumerate(targets) if other != index]
        lowest = others[0].height_mm
        level = [
            Target(t.points_mm, t.points_px, t.cov_px2, t.scale_std, t.flatness_std_mm, t.height_mm - lowest)
            for t in others
        ]
        plane = fit_plane_targets(camera, level, None)
        height = targets[index].height_mm - lowest
        diagonal, u_mm = _diagonal(plane, card.corners_px, height)
        stated = card.object.diagonal_mm
        own = _diagonal_std(card.object)
        texts.append(
            f"By the others, the diagonal of number {index + 1} ({card.object.name}) is {diagonal:.1f}"
            f" ± {1.96 * float(np.hypot(u_mm, own)):.1f} mm, and it should be {stated:.1f} mm."
        )
    return (
        "The references in the photo contradict each other: one of them isn't what it is said to be,"
        " isn't flat, or lies at another height.",
        *texts,
    )


def _diagonal(plane: Plane, corners_px: Array, height_mm: float) -> tuple[float, float]:
    def mean_diagonal(inputs: Array) -> Array:
        spots = plane.to_mm_spread(inputs, corners_px[None], np.asarray(height_mm))
        one = np.linalg.norm(spots[:, 2] - spots[:, 0], axis=1)
        other = np.linalg.norm(spots[:, 3] - spots[:, 1], axis=1)
        return np.asarray((one + other) / 2.0)

    size = len(plane.latents)
    values = mean_diagonal(np.concatenate([np.zeros((1, size)), np.eye(size), -np.eye(size)]))
    effects = (values[1 : size + 1] - values[size + 1 :]) / 2.0
    return float(values[0]), float(np.linalg.norm(effects))


def _diagonal_std(reference: ReferenceObject) -> float:
    w, h = reference.width_mm, reference.height_mm
    return float(np.hypot(w * reference.width_std_mm, h * reference.height_std_mm) / np.hypot(w, h))
