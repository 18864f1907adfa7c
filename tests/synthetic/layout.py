"""Draws the view of a scene: camera, pose of the card, and what each level of difficulty allows."""

from dataclasses import dataclass

import cv2
import numpy as np

from calibration.objects import ReferenceObject
from tests.synthetic.optics import TrueCamera, TruePose

KnownSpan = tuple[float, tuple[tuple[float, float], ...], float]
"""Length in mm, its ends in pixels, and its height above the card in mm."""

FULL_FRAME_DIAGONAL_MM = 43.267  # 36 x 24 mm, to which "35 mm equivalent" refers
FOCALS_35 = (24, 26, 26, 26, 27, 28, 35, 50, 77)
KINDS = ("id1",) * 12 + ("trading",) * 3 + ("trading-metric",) + ("a4",) * 3 + ("letter",) * 2


@dataclass(frozen=True, slots=True)
class Level:
    """What a level allows; ranges are uniform unless said otherwise.

    Attributes
    ----------
    width_share : log-uniform share of the picture's width that the card's longer side takes
    tilt_deg : range of the angle between the card's normal and the optical axis
    blur_px : log-uniform standard deviation of the lens blur
    noise_dn, motion_px, items : upper and lower limits
    contrast_dn : least difference between the card's rim and the table, in the encoded picture
    rim_share : share of every side that must reach it
    seen_dn, seen_share : the same in the finished picture, with all its light, shadow and covers
    """

    width_share: tuple[float, float]
    tilt_deg: tuple[float, float]
    blur_px: tuple[float, float]
    noise_dn: tuple[float, float]
    motion_px: float
    items: tuple[int, int]
    contrast_dn: float
    rim_share: float
    quality: tuple[int, int]
    seen_dn: float
    seen_share: float


LEVELS = {
    "plain": Level((0.09, 0.85), (0, 40), (0.45, 1.1), (0.5, 2.0), 0.8, (0, 3), 45, 0.9, (85, 97), 30, 0.8),
    "clutter": Level(
        (0.06, 0.7), (0, 50), (0.45, 1.5), (0.7, 3.0), 1.5, (5, 14), 25, 0.75, (80, 97), 15, 0.65
    ),
    "hostile": Level((0.04, 0.6), (0, 60), (0.5, 2.2), (1.0, 5.0), 3.0, (12, 32), 14, 0.6, (75, 95), 8, 0.5),
    "none": Level((0.06, 0.6), (0, 50), (0.45, 1.8), (0.7, 4.0), 2.0, (3, 22), 0, 0.0, (75, 97), 0, 0.0),
}


@dataclass(frozen=True, slots=True)
class View:
    """Camera and pose, with the focal length as its file would state it."""

    camera: TrueCamera
    pose: TruePose
    tilt_deg: float
    focal_35mm_mm: int
    focal_error: float  # ln(true / stated)


def picture_size(rng: np.random.Generator, megapixels: float) -> tuple[int, int]:
    """Width and height of a photo: 4:3 mostly, else 3:2 or 16:9, landscape or portrait."""
    ratio = float(rng.choice([4 / 3, 4 / 3, 4 / 3, 3 / 2, 16 / 9]))
    height = round(np.sqrt(megapixels * 1e6 / ratio) / 4) * 4
    width = round(height * ratio / 4) * 4
    return (width, height) if rng.random() < 0.6 else (height, width)


def draw_view(rng: np.random.Generator, level: Level, card: ReferenceObject, megapixels: float) -> View:
    """A view in which the whole card is in the picture; None after too many vain tries."""
    for _ in range(300):
        camera, focal_35, error = _draw_camera(rng, megapixels)
        view = _draw_pose(rng, level, card, camera, focal_35, error)
        if view is not None:
            return view
    raise RuntimeError("no view holds the card: the level's limits contradict each other")


def _draw_camera(rng: np.random.Generator, megapixels: float) -> tuple[TrueCamera, int, float]:
    width, height = picture_size(rng, megapixels)
    focal_35 = int(rng.choice(FOCALS_35))
    error = float(np.clip(rng.normal(0, 0.03), -0.07, 0.07))
    diagonal = np.hypot(width, height)
    if max(width, height) / min(width, height) > 1.6 and rng.random() < 0.5:
        diagonal = 1.25 * max(width, height)  # a 16:9 crop whose Exif still speaks of the whole 4:3 sensor
    focal = focal_35 * diagonal / FULL_FRAME_DIAGONAL_MM * np.exp(error)
    centre = np.array([(width - 1) / 2, (height - 1) / 2]) + rng.normal(0, 0.005 * width, 2)
    k1 = float(np.clip(rng.normal(0, 0.02), -0.05, 0.05))
    return TrueCamera(width, height, float(focal), (float(centre[0]), float(centre[1])), k1), focal_35, error


def _draw_pose(
    rng: np.random.Generator,
    level: Level,
    card: ReferenceObject,
    camera: TrueCamera,
    focal_35: int,
    error: float,
) -> View | None:
    share = float(np.exp(rng.uniform(*np.log(level.width_share))))
    tilt = rng.uniform(*level.tilt_deg) if rng.random() < 0.5 else rng.triangular(0, 8, level.tilt_deg[1])
    rotation = _rotation(rng, tilt)
    size = np.array([card.width_mm, card.height_mm])
    target = share * camera.width_px
    if target < 90:
        return None
    for _ in range(12):
        at = rng.uniform(0.06, 0.94, 2) * (camera.width_px, camera.height_px)
        ray = np.append(camera.rays(at[None])[0], 1.0)
        distance = camera.focal_px * size.max() / target
        for _ in range(4):
            pose = TruePose(rotation, distance * ray - rotation @ np.append(size / 2, 0))
            corners = camera.project(pose.to_camera(corner_points(card)))
            sides = np.linalg.norm(corners - np.roll(corners, -1, axis=0), axis=1)
            distance *= max(sides[0] + sides[2], sides[1] + sides[3]) / 2 / target
        if distance > 75 and _fits(camera, pose, card, level):
            return View(camera, pose, float(tilt), focal_35, error)
    return None


def _rotation(rng: np.random.Generator, tilt_deg: float) -> np.ndarray:
    spin = rng.uniform(0, 360) if rng.random() < 0.5 else 90 * rng.integers(4) + rng.normal(0, 12)
    # a photographer mostly stands at one side of the table and looks down along it
    lean = rng.uniform(0, 360) if rng.random() < 0.3 else rng.normal(0, 15)
    axis = np.array([np.cos(np.deg2rad(lean)), np.sin(np.deg2rad(lean)), 0.0])
    tilted, _ = cv2.Rodrigues(axis * np.deg2rad(tilt_deg))
    turned, _ = cv2.Rodrigues(np.array([0, 0, np.deg2rad(spin)]))
    turn: np.ndarray = tilted @ turned
    return turn


def _fits(camera: TrueCamera, pose: TruePose, card: ReferenceObject, level: Level) -> bool:
    points = camera.project(pose.to_camera(corner_points(card)))
    margin = 0.015 * camera.width_px
    depth = pose.to_camera(corner_points(card))[:, 2]
    inside = (points > margin).all() and (
        points < (camera.width_px - margin, camera.height_px - margin)
    ).all()
    return bool(inside and depth.min() > 40)


def corner_points(card: ReferenceObject) -> np.ndarray:
    """The card's virtual corners in its own plane, (4, 3) mm, width side first."""
    w, h = card.width_mm, card.height_mm
    return np.array([[0, 0, 0], [w, 0, 0], [w, h, 0], [0, h, 0]], float)


def draw_spans(
    rng: np.random.Generator, view: View, card: ReferenceObject, count: int = 4
) -> tuple[KnownSpan, ...]:
    """Known distances: (mm, two px end points, stand-off mm) in planes parallel to the card."""
    spans = []
    depth = view.pose.translation_mm[2]
    for _ in range(400):
        height = float(rng.choice([0.0, 0.0, 5.0, 14.0, 25.0, 60.0]))
        if height > 0.2 * depth:
            continue
        reach = 2.5 * max(card.width_mm, card.height_mm)
        ends = rng.uniform(-reach, reach, (2, 2)) + (card.width_mm / 2, card.height_mm / 2)
        points = view.pose.to_camera(np.column_stack([ends, [-height, -height]]))
        if points[:, 2].min() < 40:
            continue
        px = view.camera.project(points)
        limit = (view.camera.width_px - 1, view.camera.height_px - 1)
        length = float(np.linalg.norm(ends[0] - ends[1]))
        if (px > 0).all() and (px < limit).all() and length > 8:
            spans.append((length, tuple(map(tuple, px)), height))
        if len(spans) == count:
            break
    return tuple(spans)
