"""One plane from references of any kind in one photo."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from calibration.camera import Array, Camera
from calibration.cards import FoundCard
from calibration.cautions import Caution, CautionCode
from calibration.combine.fit_terms import (
    Reference,
    correspondences_of,
    height_between,
    object_of,
    unknown_height_std_mm,
    with_unknown_height,
)
from calibration.edges import Rim
from calibration.errors import GeometryError
from calibration.objects import ReferenceObject
from calibration.plane import (
    RUNNER_UP_CHI2,
    TILT,
    TILT_STD_DEG,
    Correspondences,
    Fit,
    Plane,
    PlaneFamily,
    PlumbLine,
    Problem,
    TiltPrior,
    at_nodes,
    check_sight,
    facing_as,
    finish,
    fit_plane,
    from_plane,
    leaning_to,
    plane_of_fit,
    solve,
    tilt_covariance,
    with_runner_up,
)
from calibration.printed_target import FoundTarget
from calibration.sources import SourcePlane

# A coin shows the tilt, so the statement needn't be so narrow.
_TILT_STD_WITH_COIN_DEG = 15.0
# Up to this, the cosine of an uncertain tilt shortens a length by less than 0.1 %.
_OPEN_TILT_STD = float(np.radians(2.5))
# In a family a second tilt is weighted by its odds, so it is kept down to odds of 1 to 400.
_OPEN_RUNNER_UP_CHI2 = 12.0
# Two normals closer than this are one solution.
_APART = float(np.cos(np.radians(2.0)))


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """The combined result of all references.

    Attributes
    ----------
    plane : Plane
        The most likely plane; its frame is the first reference's.
    family : PlaneFamily or None
        All planes that they allow, where they leave the tilt open.
    best : Plane or None
        The fit with the stated tilt as one more observation, which tells how well all agree.
        None where it is `plane` itself; a family's planes are each held to a tilt.
    """

    plane: Plane
    family: PlaneFamily | None = None
    best: Plane | None = None

    @property
    def misfit(self) -> Plane:
        """The plane whose misfit tells how well all agree."""
        return self.best or self.plane


def fit_jointly(camera: Camera, references: Sequence[Reference], *, lines: Sequence[PlumbLine] = ()) -> Joint:
    """Fit one plane to references of any kinds.

    Parameters
    ----------
    camera : Camera
        The photo's, with its uncertainties.
    references : sequence of FoundCard or SourcePlane
        At least two. Where one fixes the tilt by itself (card, sheet, printed target), it comes first.
    lines : sequence of PlumbLine
        Edges that are straight in the scene.

    Raises
    ------
    GeometryError
        No plane fits.

    Notes
    -----
    One least-squares fit of the pose, the camera, and each reference's place, rotation, size and height, with
    their priors. Without a reference that fixes the tilt, the statement that the photo
    was taken from about straight above is one more observation, and the result is a family of planes over
    what remains open of the tilt, and over both tilts where a coin allows two.
    """
    setting = _Setting(camera, tuple(references), tuple(lines))
    found = setting.on_the_told_side(_solutions(setting))
    if setting.shows_tilt:
        return Joint(_with_second(found))
    family = _family(setting, found)
    return Joint(family.planes[0], family if len(family.planes) > 1 else None, found[0])


def fixes_tilt(reference: Reference) -> bool:
    """Whether a reference shows the tilt by itself."""
    return isinstance(reference, FoundCard) or isinstance(reference.seen, FoundTarget)


@dataclass(frozen=True, slots=True, eq=False)
class _Setting:
    """What is fitted."""

    camera: Camera
    references: tuple[Reference, ...]
    lines: tuple[PlumbLine, ...]

    @property
    def shows_tilt(self) -> bool:
        return any(fixes_tilt(one) for one in self.references)

    @property
    def tilt(self) -> TiltPrior | None:
        """The prior of the tilt: the user's narrowest statement, or the default one if needed."""
        stated = [one.tilt_std_deg for one in self.references if isinstance(one, SourcePlane)]
        usual = _TILT_STD_WITH_COIN_DEG if self.has_coin else TILT_STD_DEG
        std_deg = min((std for std in stated if std is not None), default=None if self.shows_tilt else usual)
        return None if std_deg is None else TiltPrior((0.0, 0.0), float(np.radians(std_deg)))

    @property
    def has_coin(self) -> bool:
        return any(_is_coin(one) for one in self.references)

    @property
    def reference(self) -> ReferenceObject:
        """What defines the frame."""
        return object_of(self.references[0])

    def starts(self) -> list[Plane]:
        """Return the planes that the first reference allows by itself, one for each tilt."""
        first = self.references[0]
        if isinstance(first, FoundCard):
            plane = fit_plane(self.camera, first.object, first.corners_px, first.corners_cov_px2)
        elif first.family is not None:
            return _leaning_apart(first.family.planes)
        else:
            plane = first.plane
        return [plane] if plane.runner_up is None else [plane, plane.runner_up]

    def fitted(self, start: Plane, tilt: TiltPrior | None) -> Plane:
        """Return the plane that the fit reaches from a start."""
        plane = start
        for _ in range(2 if self.has_coin else 1):  # the second time, the rim's points are placed again
            correspondences = self._correspondences(plane)
            problem = Problem(self.camera, correspondences, start.toward, self.lines, tilt)
            unknowns, base = from_plane(problem, plane)
            try:
                with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
                    unknowns, base, chi2 = solve(problem, unknowns, base, rounds=50)
                fit = finish(problem, unknowns[0], base[0], float(chi2[0]))
            except np.linalg.LinAlgError:
                raise _no_plane() from None
            plane = self._checked(fit, correspondences, start.toward)
        return plane

    def _correspondences(self, at: Plane) -> list[Correspondences]:
        first, correspondences = self.references[0], []
        for index, one in enumerate(self.references):
            matched = correspondences_of(one, at, height_between(first, one))
            if fixes_tilt(one):
                matched = facing_as(matched, at.toward)
            std_mm = unknown_height_std_mm(first, one) if index else 0.0
            correspondences.append(with_unknown_height(matched, std_mm) if std_mm else matched)
            check_sight(matched)
        return correspondences

    def _checked(self, fit: Fit, correspondences: list[Correspondences], toward: float) -> Plane:
        if not np.isfinite(fit.chi2) or not np.all(np.isfinite(fit.parameters)) or fit.parameters[5] <= 0.0:
            raise _no_plane()
        return plane_of_fit(fit, self.camera, correspondences, self.reference, toward)

    def on_the_told_side(self, planes: list[Plane]) -> list[Plane]:
        """Keep the plane that is tilted as the user says, if a coin's nearer side was stated."""
        for one in self.references:
            if not isinstance(one, FoundCard) and one.nearer_px is not None and len(planes) > 1:
                planes = [leaning_to(planes, one.nearer_px)]
        return planes


def _no_plane() -> GeometryError:
    return GeometryError("no plane in front of the camera fits the references together: check each of them")


def _is_coin(reference: Reference) -> bool:
    return not isinstance(reference, FoundCard) and isinstance(reference.seen, Rim)


def _leaning_apart(planes: Sequence[Plane]) -> list[Plane]:
    """Return the planes whose normals differ from each other's, the earlier ones first."""
    kept: list[Plane] = []
    for plane in planes:
        if all(float(plane.base[:, 2] @ other.base[:, 2]) < _APART for other in kept):
            kept.append(plane)
    return kept


def _solutions(setting: _Setting) -> list[Plane]:
    """Return the best plane and, where another tilt explains what is seen nearly as well, that one."""
    found = []
    for start in setting.starts():
        try:
            found.append(setting.fitted(start, setting.tilt))
        except GeometryError:
            continue  # a start tilted the wrong way may diverge
    if not found:
        raise _no_plane()
    found = _leaning_apart(sorted(found, key=lambda plane: plane.chi2))
    runner_up_chi2 = RUNNER_UP_CHI2 if setting.shows_tilt else _OPEN_RUNNER_UP_CHI2
    return [plane for plane in found[:2] if plane.chi2 < found[0].chi2 + runner_up_chi2]


def _with_second(found: list[Plane]) -> Plane:
    if len(found) == 1:
        return found[0]
    return with_runner_up(found[0], found[1], float(np.exp((found[0].chi2 - found[1].chi2) / 2.0)))


def _family(setting: _Setting, found: list[Plane]) -> PlaneFamily:
    planes: list[Plane] = []
    weights: list[float] = []
    for solution in found:
        odds = float(np.exp((found[0].chi2 - solution.chi2) / 2.0))
        own, parts = _over_tilt(setting, solution)
        planes += own
        weights += [odds * part for part in parts]
    return PlaneFamily.of(planes, weights, TILT, (*found[0].cautions, *_open_tilt(planes)))


def _open_tilt(planes: list[Plane]) -> list[Caution]:
    tilts = [plane.tilt_deg for plane in planes]
    if len(planes) == 1:
        return []
    return [Caution.of(CautionCode.JOINT_TILTS, least_deg=min(tilts), most_deg=max(tilts))]


def _over_tilt(setting: _Setting, plane: Plane) -> tuple[list[Plane], list[float]]:
    """Return planes and weights over the open range of the tilt; one plane if that is negligible."""
    cov = tilt_covariance(plane)
    if float(np.sqrt(np.linalg.eigvalsh(cov)[1])) < _OPEN_TILT_STD:
        return [plane], [1.0]

    def held(base: Array, there: TiltPrior) -> Plane:
        return setting.fitted(replace(plane, base=base), there)

    return at_nodes(plane, cov, held)
