"""What a reference adds to a joint fit: points of known position, their pixels, and their errors."""

from dataclasses import replace

import numpy as np

from calibration.camera import Array
from calibration.cards import FoundCard, correspondences_of_card
from calibration.edges import Rim
from calibration.errors import GeometryError
from calibration.objects import TARGET_SHEET, ReferenceObject
from calibration.plane import SIZE, Correspondences, Plane
from calibration.printed_target import FoundTarget
from calibration.sources import (
    DIAMETER_STD_MM,
    WALL_MEAN,
    WALL_STD,
    Graduations,
    SourcePlane,
    coin_from_key,
    condensed,
    strokes,
)

Reference = FoundCard | SourcePlane
LEVEL, WALL = "reference height", "coin's side wall"
# A rule is rarely flush with the face of what lies beside it; it is about as thick as this. The ends of a
# known length are of something that may stand higher still (both common practice, no source).
_RULE_LEVEL_STD_MM, _LENGTH_LEVEL_STD_MM = 1.0, 3.0
# No length is known better than to a hundredth of a millimetre in a metre, whatever is stated.
_LEAST_SCALE_STD = 1e-5
# Degrees of freedom of an ellipse, and of a row of strokes in perspective.
_ELLIPSE, _ROW = 5, 5


def correspondences_of(reference: Reference, at: Plane, height_mm: float) -> Correspondences:
    """Return the joint fit's input for a reference.

    Parameters
    ----------
    reference : FoundCard or SourcePlane
        A card or sheet, or what another source of scale told.
    at : Plane
        Roughly where the plane is; a coin's rim needs it to tell which of its points is seen where.
    height_mm : float
        Height of its face above that of the fit's first reference, toward the camera.

    Raises
    ------
    GeometryError
        Its marks lie beyond the plane's horizon.
    """
    if isinstance(reference, FoundCard):
        return correspondences_of_card(reference, height_mm)
    seen = reference.seen
    if isinstance(seen, FoundTarget):
        return Correspondences(
            seen.corners_mm,
            seen.corners_px,
            seen.covariance_px2,
            (seen.scale.across_std, seen.scale.down_std),
            TARGET_SHEET.flatness_std_mm,
            height_mm,
        )
    if isinstance(seen, Rim):
        return _coin(reference.found.object.key, condensed(seen), at, height_mm)
    if isinstance(seen, Graduations):
        return _rule(reference, seen)
    ends = reference.plane.corners_px
    kind = reference.found.object
    places = np.array([0.0, kind.width_mm])
    return _in_line(places, ends, reference.found.corners_cov_px2[:4, :4], kind.width_std_mm / kind.width_mm)


def object_of(reference: Reference) -> ReferenceObject:
    """Return what a reference is."""
    return reference.object if isinstance(reference, FoundCard) else reference.found.object


def height_between(first: Reference, other: Reference) -> float:
    """Return how much higher the other's face lies than the first one's, as far as that is known, in mm."""
    if not (has_known_height(first) and has_known_height(other)):
        return 0.0
    return object_of(other).thickness_mm - object_of(first).thickness_mm


def has_known_height(reference: Reference) -> bool:
    """Whether the height of its face is known from its thickness."""
    return isinstance(reference, FoundCard) or isinstance(reference.seen, FoundTarget | Rim)


def unknown_height_std_mm(first: Reference, other: Reference) -> float:
    """Return the standard uncertainty of how much higher the other's face lies than the first one's."""
    if has_known_height(first) and has_known_height(other):
        return 0.0
    lengths = any(isinstance(one, SourcePlane) and one.seen is None for one in (first, other))
    return _LENGTH_LEVEL_STD_MM if lengths else _RULE_LEVEL_STD_MM


def with_unknown_height(matched: Correspondences, std_mm: float) -> Correspondences:
    """Return the correspondences with an uncertain height."""
    up = np.zeros((len(matched.points_mm), 3))
    up[:, 2] = std_mm
    return replace(matched, modes=(*matched.modes, (LEVEL, up)))


def _rule(reference: SourcePlane, seen: Graduations) -> Correspondences:
    places_mm, points_px, rows = strokes(seen, reference.found.object.key)
    cov = np.kron(np.eye(len(places_mm)), np.linalg.inv(rows.T @ rows))
    kind = reference.found.object
    matched = _in_line(places_mm, points_px, cov, kind.width_std_mm / kind.width_mm)
    return replace(matched, freedom=_ROW)


def _in_line(places_mm: Array, points_px: Array, cov_px2: Array, scale_std: float) -> Correspondences:
    """Return points along a line whose distances are all too long or too short by a common factor."""
    scale_std = max(scale_std, _LEAST_SCALE_STD)
    points = np.column_stack([places_mm, np.zeros(len(places_mm))])
    longer = np.column_stack([scale_std * points, np.zeros(len(points))])
    return Correspondences(points, np.asarray(points_px, dtype=float), cov_px2, modes=((SIZE, longer),))


def _coin(key: str, rim: Rim, at: Plane, height_mm: float) -> Correspondences:
    """Return a rim's points on its coin, whose near side may be seen anywhere down its side wall.

    Where the near side follows the wall the outline isn't an ellipse, but only its fitted ellipse is known:
    of its points, only what changes that ellipse counts.
    """
    coin = coin_from_key(key)
    flat = at.to_mm(rim.points_px, height_mm)
    middle = flat.mean(axis=0)
    unit = (flat - middle) / np.linalg.norm(flat - middle, axis=1, keepdims=True)
    near = unit @ (at.camera_centre_mm[:2] - middle) > 0.0
    points = unit * coin.diameter_mm / 2.0
    down = np.zeros((len(points), 3))
    down[:, 2] = -WALL_STD * coin.thickness_mm * near
    larger = np.column_stack([points * DIAMETER_STD_MM / coin.diameter_mm, np.zeros(len(points))])
    heights = height_mm - WALL_MEAN * coin.thickness_mm * near
    cov = _rim_covariance(rim)
    if not np.all(np.isfinite(cov)) or not np.all(np.isfinite(points)):
        raise GeometryError(f"the rim of the {coin.name} can't be followed: mark three points on its rim")
    return Correspondences(
        points,
        rim.points_px,
        cov,
        height_mm=heights,
        modes=((SIZE, larger), (WALL, down)),
        freedom=_ELLIPSE,
        round=True,
    )


def _rim_covariance(rim: Rim) -> Array:
    """Return the covariance (2N, 2N) of a rim's points, of which only the ellipse's five parameters count.

    Along the rim, and across it in directions that change no ellipse, the points are left free.
    """
    count = len(rim.points_px)
    phases = rim.ellipse.phases(rim.points_px)
    unit = np.column_stack([np.cos(phases), np.sin(phases)])
    # A circle moved, stretched and sheared is any ellipse; the sixth of these changes leaves it as it is.
    changes = [rim.normals[:, axis] for axis in range(2)]
    changes += [rim.normals[:, axis] * unit[:, other] for axis in range(2) for other in range(2)]
    directions = np.linalg.svd(np.column_stack(changes), full_matrices=False)[0][:, :_ELLIPSE]
    loose_px = max(rim.ellipse.semi_axes_px)
    across, along = (np.zeros((2 * count, count)) for _ in range(2))
    for place, (x, y) in enumerate(rim.normals):
        across[2 * place : 2 * place + 2, place] = x, y
        along[2 * place : 2 * place + 2, place] = -y, x
    apart = rim.std_px**2 * np.eye(count) + loose_px**2 * (np.eye(count) - directions @ directions.T)
    return np.asarray(across @ apart @ across.T + loose_px**2 * along @ along.T)
