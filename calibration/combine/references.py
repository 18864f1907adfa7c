"""Several references in one photo: one plane from all of them, and whether they agree."""

from collections.abc import Sequence
from dataclasses import dataclass

import scipy  # loads its parts, each a good part of a second, when they are used

from calibration.camera import Camera
from calibration.cards import USUAL_IRREGULARITY, FoundCard, fit_cards, fit_irregular
from calibration.cautions import Caution, CautionCode
from calibration.combine.contradictions import what_others_say
from calibration.combine.fit_terms import Reference
from calibration.combine.joint_fit import Joint, fit_jointly, fixes_tilt
from calibration.edges import Rim
from calibration.errors import GeometryError
from calibration.plane import Plane, PlaneFamily, PlumbLine
from calibration.sources import SourcePlane

# If the probability of so large a misfit is below this, the references are reported as disagreeing.
_LEAST_CHANCE = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Combined:
    """One plane from several references.

    Attributes
    ----------
    plane : Plane
        Fitted to all; its frame is that of the first one that fixes the tilt, or else of the first.
    family : PlaneFamily or None
        All planes that they allow, where together they still leave the tilt open.
    chance : float
        Probability of a larger misfit, of all together or of a single size, if all are what they are said to
        be.
    cautions : tuple of Caution
        What the user should know, including which of them disagree and by how much.
    """

    plane: Plane
    family: PlaneFamily | None
    chance: float
    cautions: tuple[Caution, ...]

    @property
    def agree(self) -> bool:
        """Whether the references agree within their uncertainties."""
        return self.chance >= _LEAST_CHANCE


def combine(
    camera: Camera,
    cards: Sequence[FoundCard],
    sources: Sequence[SourcePlane] = (),
    *,
    lines: Sequence[PlumbLine] = (),
) -> Combined:
    """Fit one plane to several references that lie on the same table.

    Parameters
    ----------
    camera : Camera
        The photo's.
    cards : sequence of FoundCard
        Cards and sheets of any kinds; where each lies on the table is free.
    sources : sequence of SourcePlane
        What other sources of scale gave: printed targets, coins, rules, known lengths.
    lines : sequence of PlumbLine
        Edges that are straight in the scene: they show how the lens bends lines.

    Returns
    -------
    Combined
        The plane, and the chance of so large a misfit.

    Raises
    ------
    GeometryError
        Fewer than two, or no plane fits.

    Notes
    -----
    One fit of the pose, the camera, each reference's place on the table, its size and its height, as
    `plane.Problem` lists them; each one's upper face lies as much higher than the first one's as it is
    thicker. Agreement by chi-squared and by sizes; where it fails, each is measured by the others alone.
    """
    references = in_order(cards, sources)
    if len(references) < 2:
        raise GeometryError("at least two references are needed to combine")
    joint = _fitted(camera, references, lines)
    chance = _chance(joint.misfit)
    if not sources and joint.plane.chi2 > joint.plane.degrees_of_freedom:
        # As far as cards bow, U grows with how badly they agree; that alone is no contradiction.
        plane, irregularity_ratio = fit_irregular(camera, cards, lines)
        joint = Joint(plane)
        chance = _chance(plane) if irregularity_ratio < USUAL_IRREGULARITY else chance
    contradictions: tuple[Caution, ...] = ()
    if chance < _LEAST_CHANCE:
        told = what_others_say(references, lambda others: _fitted(camera, others, ()))
        contradictions = (Caution.of(CautionCode.CONTRADICTION), *told)
    return Combined(joint.plane, joint.family, chance, (*_known(joint, references), *contradictions))


def _chance(plane: Plane) -> float:
    """Return the chance of so large a misfit: of everything together, or of the size that is farthest off.

    Beside a target with many corners, a wrong size is lost in the sum of all misfits. So two tests are made,
    the second of all sizes but one, so that the smaller chance counts so many times.
    """
    overall = float(scipy.special.chdtrc(plane.degrees_of_freedom, plane.chi2))
    farthest = max(abs(misfit) for misfit in plane.size_misfits)
    size = (len(plane.size_misfits) - 1) * float(2.0 * scipy.special.ndtr(-farthest))
    return min(1.0, 2.0 * min(overall, size))


def _known(joint: Joint, references: Sequence[Reference]) -> tuple[Caution, ...]:
    """Return the cautions of the plane, and those of single references that hold beside others."""
    own = joint.plane.cautions if joint.family is None else joint.family.cautions
    beside = [
        caution
        for index, one in enumerate(references)
        if isinstance(one, SourcePlane) and (index == 0 or not isinstance(one.seen, Rim))
        for caution in one.beside
    ]
    return (*own, *beside)


def in_order(cards: Sequence[FoundCard], sources: Sequence[SourcePlane]) -> list[Reference]:
    """Return all references, those that fix the tilt first, cards and sheets before printed targets."""
    return sorted((*cards, *sources), key=lambda one: not fixes_tilt(one))


def _fitted(camera: Camera, references: Sequence[Reference], lines: Sequence[PlumbLine]) -> Joint:
    if len(references) == 1 and isinstance(references[0], SourcePlane):
        return Joint(references[0].plane, references[0].family)
    cards = [one for one in references if isinstance(one, FoundCard)]
    if len(cards) < len(references):
        return fit_jointly(camera, references, lines=lines)
    return Joint(fit_cards(camera, cards, lines))
