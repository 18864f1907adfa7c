"""The photographs: what lies where, seen by which camera, and what may be measured on it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import ship
import toy
from meshes import inset, print_face, rounded_rectangle, sheet, slab
from optics import Camera, Look, aim
from toy import SECOND, Group, spin

CARDS = {  # width, height, corner radius, thickness in mm
    "id1": (85.60, 53.98, 3.18, 0.76),
    "trading": (63.5, 88.9, 3.0, 0.3),
    "a4": (210.0, 297.0, 0.0, 0.1),
}
RECAST = 0.982


@dataclass(frozen=True, eq=False)
class Card:
    """A card on some surface: its middle there, and the world directions of its right, top and face."""

    kind: str
    centre_mm: tuple[float, float, float]
    yaw_deg: float = 0.0
    base: np.ndarray = field(default_factory=lambda: np.eye(3))

    @property
    def axes(self) -> np.ndarray:
        return self.base @ spin(self.yaw_deg)

    @property
    def corners_mm(self) -> np.ndarray:
        """Virtual corners of the upper face: top left, top right, bottom right, bottom left of its print."""
        w, h, _, thick = CARDS[self.kind]
        local = np.array([[-w, h, 2 * thick], [w, h, 2 * thick], [w, -h, 2 * thick], [-w, -h, 2 * thick]]) / 2
        return local @ self.axes.T + np.asarray(self.centre_mm)

    def to_card(self, world_mm) -> np.ndarray:
        """Return x along the width and y down the print, from corner 0, and the height above the face."""
        local = (np.atleast_2d(world_mm) - self.corners_mm[0]) @ self.axes
        return local * (1, -1, 1)

    def build(self) -> Group:
        w, h, radius, thick = CARDS[self.kind]
        group = Group()
        if radius:
            outline = rounded_rectangle(w, h, radius, 24)
            group.add(slab(inset(outline, 0.01), 0.0, thick, 0.01), "card-core")
            face = sheet(outline, thick + 0.004)
        else:
            face = print_face(w, h, thick)
        group.add(face, f"face:{self.kind}")
        out = Group()
        out.put(group, self.axes, self.centre_mm)
        return out


@dataclass(frozen=True)
class Span:
    """Something to measure: its points, the release sheet's part and feature, what the user states."""

    id: str
    name: str
    kind: str
    part: str
    feature: str
    points: tuple[str, ...]
    true_mm: float
    standoff_mm: float | tuple[float, float] | None
    standoff_std_mm: float


@dataclass(frozen=True, eq=False)
class Shot:
    """One photograph."""

    id: str
    file: str
    caption: str
    seed: int
    table: str
    table_turn_deg: float
    card: Card | None
    build: Callable[[], Group]
    size_px: tuple[int, int]  # upright
    focal_35mm: float  # the true one
    exif_35mm: int | None
    k1: float
    principal_point_off_px: tuple[float, float]
    view: tuple  # target, distance, tilt, azimuth, roll
    light: tuple  # azimuth, height, strength, ambient, size
    look: Look
    quality: int
    spans: tuple[Span, ...] = ()
    orientation: int = 1
    camera_name: tuple[str, str] = ("Halyard", "Dory 3")
    taken: str = "2024:03:09 10:12:40"
    aperture_mm: float = 1.0

    @property
    def camera(self) -> Camera:
        w, h = self.size_px
        rotation, centre = aim(*self.view)
        focal_px = self.focal_35mm * np.hypot(w, h) / np.hypot(36.0, 24.0)
        x, y = self.principal_point_off_px
        return Camera(w, h, float(focal_px), ((w - 1) / 2 + x, (h - 1) / 2 + y), self.k1, rotation, centre)

    def contents(self) -> Group:
        group = Group()
        group.put(self.build())
        if self.card is not None:
            group.put(self.card.build())
        return group


def lay(
    part: Group, x: float, y: float, yaw_deg: float, turn=None, lift: float = 0.0, prefix: str = ""
) -> Group:
    """Return a part laid on the table, first turned over by ``turn``."""
    group = Group()
    group.put(part, spin(yaw_deg) @ (np.eye(3) if turn is None else turn), (x, y, lift), prefix)
    return group


def both(*groups: Group) -> Group:
    out = Group()
    for group in groups:
        out.put(group)
    return out


def house_on_back(height: float, x: float, y: float, yaw_deg: float) -> Group:
    return lay(toy.wheelhouse(height), x, y, yaw_deg, spin(90, "x"), 20.5, "house-")


def cap_on_side(radius: float, x: float, y: float, yaw_deg: float) -> Group:
    return lay(toy.funnel_cap(radius), x, y, yaw_deg, spin(90, "x"), 12.6, "cap-")


def ferry_on_side(dims, yaw_deg: float) -> Group:
    return lay(ship.ferry(dims, SECOND, cord=False), 0, 0, yaw_deg, spin(-90, "y"), 120.8)


def plate_spans(dims, prefix: str, standoff: float, std: float, scale: float = 1.0) -> tuple[Span, Span]:
    def pair(*names):
        return tuple(prefix + name for name in names)

    width, depth = dims.plate_width * scale, dims.plate_depth * scale
    return (
        Span(
            "width",
            "Bow plate, width",
            "span",
            "bow-plate",
            "width",
            pair("left", "right"),
            width,
            standoff,
            std,
        ),
        Span(
            "depth",
            "Bow plate, depth",
            "span",
            "bow-plate",
            "depth",
            pair("back", "front"),
            depth,
            standoff,
            std,
        ),
    )


def house_span(dims, standoff: float, std: float, *, kind: str = "span") -> Span:
    points, true = ("house-deck", "house-roof"), dims.house_height
    return Span("house", "Wheelhouse, height", kind, "wheelhouse", "height", points, true, standoff, std)


def tip_span(dims, standoff: float, std: float) -> Span:
    return Span(
        "tip",
        "Funnel cap, tip radius",
        "tip",
        "funnel-cap",
        "tip-radius",
        ("cap-far", "cap-near"),
        dims.tip_radius,
        standoff,
        std,
    )


def wheel_span(diameter: float, points: str, standoff: float, std: float) -> Span:
    return Span(
        "wheel",
        "Paddle wheel, diameter",
        "round",
        "paddle-wheel",
        "diameter",
        (points,),
        diameter,
        standoff,
        std,
    )
