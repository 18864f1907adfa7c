"""The register: what each photograph shows, in numbers that the renderer knows exactly."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import numpy as np
from scenes import CARDS, Shot, Span

CLICK_ERROR_PX = 0.7
MITSUBA = "3.9.1"  # what the files in the register were rendered with


def rounded(values, digits: int):
    return np.round(np.asarray(values, float), digits).tolist()


def card_facts(shot: Shot) -> dict | None:
    """Return the card's true corners in the picture and its true pose (x right, y down, z into the table)."""
    if shot.card is None:
        return None
    camera, corners = shot.camera, shot.card.corners_mm
    axes = shot.card.axes * (1, -1, -1)
    rotation = camera.rotation @ axes
    translation = camera.rotation @ (corners[0] - camera.centre_mm)
    to_middle = camera.centre_mm - corners.mean(axis=0)
    tilt = np.degrees(np.arccos(to_middle @ shot.card.axes[:, 2] / np.linalg.norm(to_middle)))
    width, height, radius, thickness = CARDS[shot.card.kind]
    return {
        "kind": shot.card.kind,
        "width_mm": width,
        "height_mm": height,
        "corner_radius_mm": radius,
        "thickness_mm": thickness,
        "corners_px": rounded(camera.project(corners), 3),
        "rotation_card_to_camera": rounded(rotation, 9),
        "translation_mm": rounded(translation, 5),
        "tilt_deg": round(float(np.degrees(np.arccos(abs(rotation[2, 2])))), 3),
        "line_of_sight_tilt_deg": round(float(tilt), 3),
        "distance_mm": round(float(np.linalg.norm(to_middle)), 2),
    }


def silhouette(shot: Shot, points: np.ndarray, outward: np.ndarray) -> np.ndarray:
    """Return the two points of a circle on a solid where the camera's rays graze it."""
    grazing = np.sum((outward - points) * (points - shot.camera.centre_mm), axis=1)
    after = np.roll(grazing, -1)
    at = np.flatnonzero(np.signbit(grazing) != np.signbit(after))
    share = (grazing[at] / (grazing[at] - after[at]))[:, None]
    return points[at] * (1 - share) + np.roll(points, -1, axis=0)[at] * share


def span_points(shot: Shot, span: Span, points: dict[str, np.ndarray]) -> np.ndarray:
    if span.kind != "tip":
        return np.vstack([points[name] for name in span.points])
    far, near = (silhouette(shot, points[name], points[name + "-out"]) for name in span.points)
    return np.array([far[0], near[0], near[1], far[1]])


def span_facts(shot: Shot, span: Span, points: dict[str, np.ndarray], rng: np.random.Generator) -> dict:
    world = span_points(shot, span, points)
    in_picture = shot.camera.project(world)
    in_card = shot.card.to_card(world)
    radius = CLICK_ERROR_PX * np.sqrt(rng.uniform(0, 1, len(world)))
    angle = rng.uniform(0, 2 * np.pi, len(world))
    clicks = in_picture + radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    return {
        "id": span.id,
        "name": span.name,
        "kind": span.kind,
        "part": span.part,
        "feature": span.feature,
        "true_mm": round(span.true_mm, 4),
        "points_px": rounded(in_picture, 3),
        "points_card_mm": rounded(in_card, 4),
        "true_standoff_mm": rounded(in_card[:, 2], 3),
        "standoff_mm": span.standoff_mm,
        "standoff_std_mm": span.standoff_std_mm,
        "clicks_px": rounded(clicks, 2),
    }


def photo_facts(shot: Shot, folder: Path) -> dict:
    camera = shot.camera
    points = shot.contents().points
    rng = np.random.default_rng(shot.seed)
    path = folder / shot.file
    make, model = shot.camera_name
    return {
        "id": shot.id,
        "file": shot.file,
        "sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
        "caption": shot.caption,
        "width_px": camera.width_px,
        "height_px": camera.height_px,
        "exif": {
            "make": make or None,
            "model": model or None,
            "focal_35mm_mm": shot.exif_35mm,
            "orientation": shot.orientation,
        },
        "camera": {
            "focal_px": round(camera.focal_px, 3),
            "principal_point_px": rounded(camera.principal_point_px, 3),
            "distortion": [camera.k1, 0.0, 0.0, 0.0, 0.0],
        },
        "card": card_facts(shot),
        "spans": [span_facts(shot, span, points, rng) for span in shot.spans],
        "seed": shot.seed,
    }


NOTES = {
    "points": "x right, y down, (0, 0) the centre of the top-left pixel, after the Exif orientation",
    "corners_px": "of the upper face, sides prolonged to sharp corners; corner 0 to corner 1 is width_mm",
    "points_card_mm": "x along the width and y down the print from corner 0, then the height above the face",
    "distortion": "k1, k2, p1, p2, k3: x becomes x (1 + k1 r^2) with x = X/Z",
    "clicks_px": f"the true points moved by at most {CLICK_ERROR_PX} px, as by a careful hand",
    "standoff_mm": "what a user would state, with its standard uncertainty; the truth is true_standoff_mm",
    "tip": "two points on each straight side beside the rounded tip, in order around it",
    "round": "points around the rim",
    "rise": "foot, then top; standoff_mm is the foot's",
}


def write_register(shots: list[Shot], specimens: list[dict], folder: Path) -> Path:
    register = {
        "format": "cardspan-samples/1",
        "sheet": "saltmarsh-ferry",
        "origin": f"rendered by sample_images/make with Mitsuba {MITSUBA}; all that is shown is invented",
        "licence": "as the project",
        "notes": NOTES,
        "click_std_px": 1.0,
        "photos": [photo_facts(shot, folder) for shot in shots if (folder / shot.file).exists()],
        "specimens": specimens,
    }
    path = folder / "register.json"
    path.write_text(json.dumps(register, indent=1, ensure_ascii=False) + "\n")
    return path
