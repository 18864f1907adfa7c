"""Sources of scale other than a card: which name means which, and what each gives from a photo and marks."""

import re
from abc import ABC, abstractmethod
from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from calibration.camera import Camera
from calibration.cautions import NoAnswer
from calibration.edges import Rim
from calibration.errors import GeometryError, ObjectError
from calibration.image import Photo
from calibration.printed_target import FoundTarget, find_target
from calibration.sources.coin import (
    COINS,
    coin_from_key,
    coin_object,
    condensed,
    counts_from,
    find_coin,
    fit_coin,
)
from calibration.sources.graduations import Graduations, find_graduations
from calibration.sources.known_length import fit_known_length
from calibration.sources.ruler import GRADUATIONS_MM, counted, fit_rule
from calibration.sources.target import outline_of_target, plane_of_target
from calibration.sources.values import Marks, Observation, SourcePlane, needed, shown, strip

TARGET_KEY = "target"
_LENGTH = re.compile(r"^length=(\d+(?:\.\d+)?)(?:(?:±|\+-)(\d+(?:\.\d+)?))?$")
# A length read off a good rule by the user: ±0.5 mm as rectangular limits, and a thousandth of it.
_READ_STD_MM, _READ_SHARE = 0.5 / 3.0**0.5, 0.001


@dataclass(frozen=True, slots=True)
class Source(ABC):
    """A source of scale other than a card.

    Attributes
    ----------
    kind : str
        What sort it is.
    shows : type
        What a photo's pixels show of it.
    key : str or None
        Which one of its sort; None where there is only one.
    length_mm, length_std_mm : float or None
        Of a known length, the standard uncertainty only where it is stated.
    """

    kind: ClassVar[str]
    shows: ClassVar[type]
    key: str | None = None
    length_mm: float | None = None
    length_std_mm: float | None = None

    @classmethod
    @abstractmethod
    def named(cls, name: str) -> "Source | None":
        """Return the source of a name.

        Parameters
        ----------
        name : str
            In lower case.

        Returns
        -------
        Source or None
            None for a name of another sort.
        """

    @abstractmethod
    def observe(self, photo: Photo, marks: Marks) -> Observation | NoAnswer:
        """Look for it in a photo.

        Parameters
        ----------
        photo, marks
            As for the function `observe`.

        Returns
        -------
        Rim, Graduations, FoundTarget, None or NoAnswer
            As of the function `observe`.
        """

    @abstractmethod
    def plane(self, camera: Camera, seen: Observation, marks: Marks) -> SourcePlane:
        """Return the plane that follows from what was seen.

        Parameters
        ----------
        camera, seen, marks
            As for `plane_from`.

        Returns
        -------
        SourcePlane
            As of `plane_from`.
        """


class PrintedTarget(Source):
    """The printed target."""

    __slots__ = ()
    kind, shows = "target", FoundTarget

    @classmethod
    def named(cls, name: str) -> "Source | None":
        """Return it if this is its name."""
        return cls() if name == TARGET_KEY else None

    def observe(self, photo: Photo, marks: Marks) -> Observation | NoAnswer:
        """Find its corners."""
        return find_target(photo, scale=marks.print_scale)

    def plane(self, camera: Camera, seen: Observation, marks: Marks) -> SourcePlane:
        """Fit the plane of all of its corners."""
        if not isinstance(seen, FoundTarget) or self.key not in (None, TARGET_KEY):
            raise _other(self.key or TARGET_KEY)
        plane = plane_of_target(camera, seen)
        outline = outline_of_target(seen, plane)
        return SourcePlane(outline, plane, None, outline.cautions, seen, beside=seen.cautions)


class CoinSource(Source):
    """A coin."""

    __slots__ = ()
    kind, shows = "coin", Rim

    @classmethod
    def named(cls, name: str) -> "Source | None":
        """Return the coin of this name; whether it is round is checked later."""
        return cls(name) if name in COINS else None

    def observe(self, photo: Photo, marks: Marks) -> Observation | NoAnswer:
        """Find its rim."""
        coin = coin_from_key(str(self.key))
        points = needed(marks, f"mark the {coin.name}, one point in its middle or three on its rim")
        return condensed(find_coin(photo.pixels_bgr, points))

    def plane(self, camera: Camera, seen: Observation, marks: Marks) -> SourcePlane:
        """Fit the planes of its upper face."""
        if not isinstance(seen, Rim):
            raise _other(str(self.key))
        coin = coin_from_key(str(self.key))
        family = fit_coin(camera, coin, seen, nearer_px=marks.nearer_px, **_stated(marks))
        r = coin.diameter_mm / 2.0
        square = np.array([[-r, -r], [r, -r], [r, r], [-r, r]])
        told = shown(family, coin_object(coin), square, seen.std_px, seen)
        beside = (counts_from(coin),)
        return replace(told, nearer_px=marks.nearer_px, beside=beside, tilt_std_deg=marks.tilt_std_deg)


class Rule(Source):
    """A rule or tape."""

    __slots__ = ()
    kind, shows = "rule", Graduations

    @classmethod
    def named(cls, name: str) -> "Source | None":
        """Return the rule of these graduations."""
        return cls(name) if name in GRADUATIONS_MM else None

    def observe(self, photo: Photo, marks: Marks) -> Observation | NoAnswer:
        """Find its graduations."""
        points = needed(marks, "mark two points far apart on the rule's graduations")
        if len(points) != 2:
            raise GeometryError(f"a rule needs two points; {len(points)} given")
        return find_graduations(photo.pixels_bgr, points)

    def plane(self, camera: Camera, seen: Observation, marks: Marks) -> SourcePlane:
        """Fit the planes in which its graduations have their distances."""
        if not isinstance(seen, Graduations):
            raise _other(str(self.key))
        family = fit_rule(camera, seen, str(self.key), **_stated(marks))
        reference = family.planes[0].object
        assert reference is not None
        told = shown(family, reference, strip(reference.width_mm), seen.std_px, seen)
        return replace(told, beside=(counted(seen, str(self.key)),), tilt_std_deg=marks.tilt_std_deg)


class KnownLength(Source):
    """A length that the user states."""

    __slots__ = ()
    kind, shows = "length", type(None)

    @classmethod
    def named(cls, name: str) -> "Source | None":
        """Return the length that ``length=MM`` or ``length=MM±STD`` states."""
        match = _LENGTH.match(name)
        if match is None:
            return None
        return cls(None, float(match[1]), float(match[2]) if match[2] else None)

    def observe(self, photo: Photo, marks: Marks) -> Observation | NoAnswer:
        """Return None: it is all in its marks."""
        return None

    def plane(self, camera: Camera, seen: Observation, marks: Marks) -> SourcePlane:
        """Fit the planes in which its ends are so far apart."""
        if seen is not None:
            raise _other(f"length={self.length_mm:g}")
        assert self.length_mm is not None
        points = needed(marks, "mark the two ends of the known length")
        std_mm = self.length_std_mm
        if std_mm is None:
            std_mm = float(np.hypot(_READ_STD_MM, _READ_SHARE * self.length_mm))
        std_px = marks.mark_std_px
        family = fit_known_length(
            camera, points, self.length_mm, length_std_mm=std_mm, click_std_px=std_px, **_stated(marks)
        )
        reference = family.planes[0].object
        assert reference is not None
        told = shown(family, reference, strip(self.length_mm), std_px, None)
        return replace(told, tilt_std_deg=marks.tilt_std_deg)


_SORTS: tuple[type[Source], ...] = (PrintedTarget, CoinSource, Rule, KnownLength)


def source_from_key(key: str) -> Source:
    """Return the source of scale of a name.

    Parameters
    ----------
    key : str
        ``target``, a coin's key, one of the rules' (``rule-mm``...), or ``length=MM`` or ``length=MM±STD``.

    Returns
    -------
    Source
        Lengths in mm.

    Raises
    ------
    ObjectError
        No source has this name.
    """
    found = _named(key)
    if found is None:
        raise ObjectError(f"no source of scale '{key}'")
    return found


def is_source(key: str) -> bool:
    """Tell whether a name means one of these sources.

    Parameters
    ----------
    key : str
        As for `source_from_key`.

    Returns
    -------
    bool
        False for cards, sheets and unknown names.
    """
    return _named(key) is not None


def plane_by(photo: Photo, camera: Camera, key: str, marks: Marks | None = None) -> SourcePlane | NoAnswer:
    """Return the plane that a source of scale gives in a photo: `observe`, then `plane_from`.

    Parameters
    ----------
    photo : Photo
        The photo.
    camera : Camera
        Its camera.
    key : str
        As for `source_from_key`.
    marks : Marks, optional
        Where it is; needed for all but the target.

    Returns
    -------
    SourcePlane or NoAnswer
        The plane in mm, or why the photo doesn't show the source.

    Raises
    ------
    ObjectError
        No such source, or one that can't serve.
    MarksError
        It has to be marked, and isn't.
    GeometryError
        Nothing of the kind is at the marks.
    """
    marks, source = marks or Marks(), source_from_key(key)
    seen = source.observe(photo, marks)
    return seen if isinstance(seen, NoAnswer) else source.plane(camera, seen, marks)


def observe(photo: Photo, key: str, marks: Marks) -> Observation | NoAnswer:
    """Look at a photo for a source of scale.

    Parameters
    ----------
    photo, key, marks
        As for `plane_by`.

    Returns
    -------
    Rim, Graduations, FoundTarget, None or NoAnswer
        What its pixels show; None for a known length, which is all in its marks.

    Raises
    ------
    ObjectError, MarksError, GeometryError
        As of `plane_by`.
    """
    return source_from_key(key).observe(photo, marks)


def plane_from(camera: Camera, key: str, seen: Observation, marks: Marks) -> SourcePlane:
    """Return the plane that follows from what was seen of a source of scale.

    Parameters
    ----------
    camera : Camera
        The photo's.
    key : str
        As for `source_from_key`.
    seen : Rim, Graduations, FoundTarget or None
        What `observe` returned for it.
    marks : Marks
        What the user added.

    Returns
    -------
    SourcePlane
        In mm, its frame that of the source.

    Raises
    ------
    ObjectError
        No such source, or something else was seen.
    MarksError
        A known length's ends are missing.
    GeometryError
        No plane fits it.
    """
    if seen is None:
        return source_from_key(key).plane(camera, None, marks)
    # The observation determines the sort, which then refuses the names of others.
    sort = next(sort for sort in _SORTS if isinstance(seen, sort.shows))
    return sort(key.strip().lower()).plane(camera, seen, marks)


def plane_of_length(camera: Camera, length_mm: float, std_mm: float | None, marks: Marks) -> SourcePlane:
    """Return the plane of a known length.

    Parameters
    ----------
    camera : Camera
        The photo's.
    length_mm, std_mm : float
        The length, and its standard uncertainty; that of a reading on a good rule where None.
    marks : Marks
        Its two ends.

    Returns
    -------
    SourcePlane
        In mm, the first end its origin and the second on the x axis.

    Raises
    ------
    MarksError
        The ends are missing.
    GeometryError
        They coincide, or the length is not a possible one.
    """
    return KnownLength(None, length_mm, std_mm).plane(camera, None, marks)


def _named(key: str) -> Source | None:
    name = key.strip().lower()
    return next((found for sort in _SORTS if (found := sort.named(name)) is not None), None)


def _stated(marks: Marks) -> dict[str, float]:
    """Return what the user states about the tilt, as the fits take it."""
    return {} if marks.tilt_std_deg is None else {"tilt_std_deg": marks.tilt_std_deg}


def _other(key: str) -> ObjectError:
    return ObjectError(f"what was seen in the photo is no '{key}'")
