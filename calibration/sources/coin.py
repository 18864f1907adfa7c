"""Coins as a reference: their sizes, their rims in a photo, and what a rim says about scale and tilt."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calibration.camera import Array, Camera
from calibration.cautions import Caution, CautionCode
from calibration.edges import Rim, find_rim, fit_ellipse
from calibration.errors import GeometryError, ObjectError
from calibration.objects import ReferenceObject
from calibration.plane import (
    Plane,
    PlaneFamily,
    Sightings,
    TiltPrior,
    fit_tilt_ambiguous,
    leaning_to,
    overhead,
    projection,
)
from calibration.sources.coin_search import rim_around

# No mint publishes a tolerance of the diameter, and wear has no known figure: ±0.1 mm rectangular for both,
# and 0.1 mm for the rounded lip of the rim, as its edge in a photo depends on the light: our own statement.
DIAMETER_STD_MM = (0.1**2 / 3.0 + 0.1**2) ** 0.5
# A coin doesn't make people hold the camera square: wider than for a bare length, our own choice.
_TILT_STD_DEG = 15.0
# How much of the side wall the found rim follows on the near side: none, half or all of it.
_WALL = ((0.0, 0.25), (0.5, 0.5), (1.0, 0.25))
# The same as a single number: mean and standard uncertainty.
WALL_MEAN, WALL_STD = 0.5, 0.125**0.5
PLACES = 48
TWO_FOLD = "two-fold tilt, side wall"


@dataclass(frozen=True, slots=True)
class Coin:
    """A coin in circulation.

    Attributes
    ----------
    key, name : str
        On the command line, and for display.
    diameter_mm, thickness_mm : float
        As published.
    round : bool
        False for coins with corners or notches, which no circle fits.
    source : str
        Where the sizes are from.
    """

    key: str
    name: str
    diameter_mm: float
    thickness_mm: float
    round: bool
    source: str


_US = "31 U.S.C. 5112 (diameter in inches); US Mint coin specifications (thickness)"
_EURO = "Council Regulation (EC) 975/98 and coin tables"
_UK = "coin tables and pages derived from the mint's"

COINS: dict[str, Coin] = {
    coin.key: coin
    for coin in (
        Coin("us-cent", "US cent", 19.05, 1.52, True, _US),
        Coin("us-nickel", "US nickel", 21.209, 1.95, True, _US),
        Coin("us-dime", "US dime", 17.907, 1.35, True, _US),
        Coin("us-quarter", "US quarter", 24.257, 1.75, True, _US),
        Coin("us-half", "US half dollar", 30.607, 2.15, True, _US),
        Coin("us-dollar", "US dollar", 26.492, 2.00, True, _US),
        Coin("euro-1c", "1 euro cent", 16.25, 1.67, True, _EURO),
        Coin("euro-2c", "2 euro cents", 18.75, 1.67, True, _EURO),
        Coin("euro-5c", "5 euro cents", 21.25, 1.67, True, _EURO),
        Coin("euro-10c", "10 euro cents", 19.75, 1.93, True, _EURO),
        Coin("euro-20c", "20 euro cents", 22.25, 2.14, False, _EURO),
        Coin("euro-50c", "50 euro cents", 24.25, 2.38, True, _EURO),
        Coin("euro-1", "1 euro", 23.25, 2.33, True, _EURO),
        Coin("euro-2", "2 euros", 25.75, 2.20, True, _EURO),
        Coin("uk-1p", "UK penny", 20.3, 1.65, True, _UK),
        Coin("uk-2p", "UK two pence", 25.9, 1.85, True, _UK),
        Coin("uk-5p", "UK five pence", 18.0, 1.70, True, _UK),
        Coin("uk-10p", "UK ten pence", 24.5, 1.85, True, _UK),
        Coin("uk-20p", "UK twenty pence", 21.4, 1.70, False, _UK),
        Coin("uk-50p", "UK fifty pence", 27.3, 1.78, False, _UK),
        Coin("uk-1", "UK pound", 23.43, 2.80, False, _UK),
        Coin("uk-2", "UK two pounds", 28.4, 2.50, True, _UK),
    )
}


def coin_from_key(key: str) -> Coin:
    """Return the coin of a name.

    Parameters
    ----------
    key : str
        One of `COINS`, in upper or lower case.

    Returns
    -------
    Coin
        A round one.

    Raises
    ------
    ObjectError
        No such coin, or one with corners or notches.
    """
    coin = COINS.get(key.strip().lower())
    if coin is None:
        raise ObjectError(
            f"no coin '{key}': expected one of {', '.join(k for k, c in COINS.items() if c.round)}"
        )
    if not coin.round:
        raise ObjectError(
            f"the {coin.name} is not round, so its rim gives no scale: use another coin or a card"
        )
    return coin


def coin_object(coin: Coin) -> ReferenceObject:
    """Return a coin as a reference object: the square around it, its upper face the plane."""
    d = coin.diameter_mm
    std = DIAMETER_STD_MM
    return ReferenceObject(coin.key, coin.name, d, d, std, std, d / 2.0, coin.thickness_mm, 0.0, coin.source)


def find_coin(pixels: NDArray[np.uint8], marks_px: ArrayLike) -> Rim:
    """Find the rim of a coin from the user's marks.

    Parameters
    ----------
    pixels : (H, W, 3) array
        The photo.
    marks_px : (N, 2) array
        One point inside it, or three or more on its rim.

    Raises
    ------
    GeometryError
        Two points, or no clear rim there.
    """
    marks = np.asarray(marks_px, dtype=float).reshape(-1, 2)
    if len(marks) == 1:
        rim = rim_around(pixels, marks[0])
    elif len(marks) >= 3:
        rim = find_rim(pixels, fit_ellipse(marks))
    else:
        raise GeometryError("a coin needs one mark in its middle, or three or more on its rim; two given")
    if rim is None:
        x, y = marks[0]
        raise GeometryError(f"no clear rim of a coin at ({x:.0f}, {y:.0f}) px: mark three points on its rim")
    return rim


def fit_coin(
    camera: Camera,
    coin: Coin,
    rim: Rim,
    *,
    nearer_px: ArrayLike | None = None,
    tilt_std_deg: float = _TILT_STD_DEG,
) -> PlaneFamily:
    """Return the planes of a coin's upper face that its rim allows.

    Parameters
    ----------
    camera : Camera
        With its uncertainties.
    coin : Coin
        Which one it is.
    rim : Rim
        Its outline in the photo.
    nearer_px : (2,) array, optional
        A point of the photo on the side on which the table is nearer to the camera: settles which of the two
        mirror-image tilts is right.
    tilt_std_deg : float
        Standard uncertainty, about each axis, with which the photo was taken from straight above.

    Raises
    ------
    GeometryError
        The rim fits no coin in front of the camera.

    Notes
    -----
    An ellipse and the intrinsics leave two tilts, mirror images about the line of sight to the coin; one
    circle can't tell them apart, so each counts half unless the user says which side is nearer. On the near
    side the outline may follow the side wall down to the table, by the thickness times the sine of the tilt.
    That changes the shape as much as several degrees of tilt, and counts as unknown from none to all.
    """
    reference = coin_object(coin)
    rim = condensed(rim)
    start = overhead(camera, *_across(rim), coin.diameter_mm / 2.0)
    planes: list[Plane] = []
    weights: list[float] = []
    for wall, weight in _WALL:
        pair = _two_tilts(camera, (coin, rim), start, wall, tilt_std_deg)
        if nearer_px is not None and len(pair) == 2:
            pair = [leaning_to(pair, np.asarray(nearer_px, dtype=float))]
        planes += [replace(plane, object=reference) for plane in pair]
        weights += [weight / len(pair)] * len(pair)
    return PlaneFamily.of(planes, weights, TWO_FOLD, _cautions(coin, planes, nearer_px is not None))


def condensed(rim: Rim) -> Rim:
    """Return a rim as 48 points on its ellipse that carry the weight of all.

    Parameters
    ----------
    rim : Rim
        As found.

    Returns
    -------
    Rim
        With the standard uncertainty that makes its points tell as much as all of them; a rim of 48 points
        is left as it is.
    """
    count = len(rim.points_px)
    if count == PLACES:
        return rim
    points, normals = rim.ellipse.at(np.arange(PLACES) * 2.0 * np.pi / PLACES)
    return replace(rim, points_px=points, normals=normals, std_px=rim.std_px * float(np.sqrt(PLACES / count)))


def _across(rim: Rim) -> tuple[Array, Array]:
    centre = np.array(rim.ellipse.centre_px)
    a, turn = rim.ellipse.semi_axes_px[0], rim.ellipse.angle_rad
    return centre, centre + a * np.array([np.cos(turn), np.sin(turn)])


def _two_tilts(
    camera: Camera, what: tuple[Coin, Rim], start: tuple[Array, Array], wall: float, tilt_std_deg: float
) -> list[Plane]:
    rim = what[1]
    a, b = rim.ellipse.semi_axes_px
    angle = max(float(np.arccos(min(b / a, 1.0))), 0.03)
    found: list[Plane] = []
    for sign in (1.0, -1.0):
        # The frame's x axis runs along the longer axis, about which the coin is tilted.
        turned = start[0] @ projection.rotations(np.array([sign * angle, 0.0, 0.0]))
        plane = _settled(camera, what, (turned, start[1]), wall, tilt_std_deg)
        if not found or float(plane.rotation[:, 2] @ found[0].rotation[:, 2]) < np.cos(np.radians(0.5)):
            found.append(plane)
    if len(found) == 2 and abs(found[0].chi2 - found[1].chi2) > 30.0:
        return [min(found, key=lambda plane: plane.chi2)]
    return found


def _settled(
    camera: Camera, what: tuple[Coin, Rim], start: tuple[Array, Array], wall: float, tilt_std_deg: float
) -> Plane:
    coin, rim = what
    prior = TiltPrior((0.0, 0.0), float(np.radians(tilt_std_deg)))
    rows = (rim.normals / rim.std_px)[:, None, :]
    at = start
    for _ in range(2):
        solid = _rim_points(camera, coin, rim, at, wall)
        seen = Sightings(solid, rim.points_px, rows, DIAMETER_STD_MM / coin.diameter_mm)
        plane = fit_tilt_ambiguous(camera, seen, at, prior, None)
        at = (plane.rotation, plane.translation_mm)
    return plane


def _rim_points(camera: Camera, coin: Coin, rim: Rim, at: tuple[Array, Array], wall: float) -> Array:
    """Return where on the coin each point of the rim lies, (N, 3), the near side lower by some wall."""
    rotation, translation = at
    rays = np.column_stack([camera.normalise(rim.points_px), np.ones(len(rim.points_px))]) @ rotation
    eye = -(translation @ rotation)
    flat = eye[:2] - rays[:, :2] * (eye[2] / rays[:, 2])[:, None]
    around = flat - flat.mean(axis=0)
    unit = around / np.linalg.norm(around, axis=1, keepdims=True)
    near = unit @ eye[:2] > 0.0
    drop = wall * coin.thickness_mm * near
    return np.column_stack([unit * coin.diameter_mm / 2.0, drop])


def counts_from(coin: Coin) -> Caution:
    """Return the caution that says where heights start if a coin defines the plane."""
    return Caution.of(CautionCode.COIN_HEIGHTS, thickness_mm=coin.thickness_mm)


def _cautions(coin: Coin, planes: list[Plane], told: bool) -> tuple[Caution, ...]:
    tilts = [plane.tilt_deg for plane in planes]
    own = [
        counts_from(coin),
        Caution.of(CautionCode.COIN_TILTS, least_deg=min(tilts), most_deg=max(tilts)),
    ]
    if not told and max(tilts) > 3.0:
        own.append(Caution.of(CautionCode.COIN_SIDE))
    return tuple(dict.fromkeys((*planes[0].camera.cautions, *own)))
