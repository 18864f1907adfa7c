"""The Saltmarsh Ferry, piece by piece, with the points that its features are measured between.

Coordinates of a part: mm, z up from the surface that it stands on, y towards the bow. Every measured
edge is rounded; its measured point is the outermost point of the rounding.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from meshes import (
    Mesh,
    arc,
    box,
    fillet,
    print_face,
    profiled,
    resample,
    ring,
    rounded_polygon,
    rounded_rectangle,
    sheet,
    slab,
    turned,
    wall,
)

RIM_MM = 14.6  # height of the bow plate's widest edge above what carries the plate


@dataclass(frozen=True)
class Dimensions:
    """What differs between releases, in mm and numbers."""

    plate_width: float
    plate_depth: float
    house_height: float
    tip_radius: float
    screws: int
    wheel_diameter: float
    axle: str
    posts: int


FIRST = Dimensions(177.6, 20.6, 82.1, 0.60, 5, 62.0, "through-rod", 12)
SECOND = Dimensions(160.2, 24.9, 88.3, 3.00, 4, 61.9, "plug-in", 12)


@dataclass
class Group:
    """Pieces of one thing, each with its material, and named points on it."""

    pieces: list[tuple[Mesh, str]] = field(default_factory=list)
    points: dict[str, np.ndarray] = field(default_factory=dict)

    def add(self, mesh: Mesh, material: str) -> None:
        self.pieces.append((mesh, material))

    def put(self, other: Group, rotation=None, shift=(0, 0, 0), prefix: str = "") -> None:
        """Take in another group, turned and moved."""
        turn = np.eye(3) if rotation is None else np.asarray(rotation)
        for mesh, material in other.pieces:
            self.pieces.append((mesh.moved(turn, shift), material))
        for name, point in other.points.items():
            self.points[prefix + name] = np.atleast_2d(point) @ turn.T + np.asarray(shift, float)


def spin(degrees: float, axis: str = "z") -> np.ndarray:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    if axis == "x":
        return np.array([[1, 0, 0], [0, c, -s], [0, s, c]])
    if axis == "y":
        return np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])


# ------------------------------------------------------------------------------------------------ bow plate
def segment(width: float, depth: float, side: float, front_radius: float, back_radius: float) -> np.ndarray:
    """Return a piece between a straight back edge (y = 0), two short sides and a bowed front (y = depth)."""
    half, sag = width / 2, depth - side
    radius = (half**2 + sag**2) / (2 * sag)
    centre = depth - radius
    fillet_x = half - front_radius
    fillet_y = centre + np.sqrt((radius - front_radius) ** 2 - fillet_x**2)
    turn = np.degrees(np.arctan2(fillet_y - centre, fillet_x))
    bow = arc((0.0, centre), radius, turn, 180 - turn, 161)
    left = arc((-fillet_x, fillet_y), front_radius, 180 - turn, 180, 12)
    right = arc((fillet_x, fillet_y), front_radius, 0, turn, 12)
    back = rounded_rectangle(width, 10 * back_radius, back_radius, 10)[20:] + np.array([0, 5 * back_radius])
    return resample(np.vstack([right, bow[1:-1], left, back]), 1.5)


def plate_outline(width: float, depth: float) -> np.ndarray:
    return segment(width, depth, 8.0, 1.5, 1.5)


def bow_plate(width: float, depth: float, scale: float = 1.0) -> Group:
    """Return the bow plate: a moulded body under a thin rim whose edge is a half round."""
    group = Group()
    outline, r = plate_outline(width, depth), 0.4
    top = RIM_MM + r
    half_round = [(d, 2 * RIM_MM - z) for d, z in reversed(fillet(r, top))] + fillet(r, top)[1:]
    body = [(3.4, 0.0), (2.2, RIM_MM - r - 0.4), (1.8, RIM_MM - r)]
    group.add(profiled(outline, [*body, *half_round]), "cream")
    panel = slab(segment(width - 34.0, depth - 8.4, 2.0, 0.8, 0.8), top - 0.2, top + 0.5, 0.3)
    group.add(panel.moved(None, (0, 4.2, 0)), "red")
    for x in (-1, 1):
        rivet = turned([(2.3, 0), (2.2, 0.5), (1.6, 0.95), (0.8, 1.15), (0, 1.2)], 40)
        group.add(rivet.moved(None, (x * (width / 2 - 9.0), 5.6, top)), "brass")
    group.add(
        print_face(66.0, 0.31 * depth).moved(None, (0, 0.5 * depth - 0.3, top + 0.62)), "decal:name-gold"
    )
    z = RIM_MM
    group.points = {
        "left": (-width / 2, 5.0, z), "right": (width / 2, 5.0, z),
        "back": (0.0, 0.0, z), "front": (0.0, depth, z),
    }  # fmt: skip
    out = Group()
    out.put(group, rotation=scale * np.eye(3))
    return out


# ----------------------------------------------------------------------------------------------- wheelhouse
def pane(width: float, height: float) -> Group:
    """Return a framed window in the plane z = 0, looking up, its middle at the origin."""
    group = Group()
    group.add(wall(rounded_rectangle(width + 3, height + 3, 1.6, 8), 1.6, -0.5, 0.8, 0.35), "red")
    group.add(sheet(rounded_rectangle(width + 1, height + 1, 1.0, 8), 0.12), "glass")
    return group


def wheelhouse(height: float, depth: float = 41.0, width: float = 74.0) -> Group:
    """Return the wheelhouse standing on its base, front towards +y."""
    group, r = Group(), 0.25
    foot, roof = rounded_rectangle(width, depth, 2.2, 8), rounded_rectangle(width, depth, 2.2, 8)
    low = [(d, 5.0 - z) for d, z in reversed(fillet(r, 5.0))]
    group.add(profiled(foot, [*low, *fillet(r, 5.0)]), "navy")
    group.add(slab(rounded_rectangle(width - 5, depth - 3, 2.0, 8), 5.0, height - 6.0, 0.1), "cream")
    eaves = [(d, height - 6.0 + 6.0 - z) for d, z in reversed(fillet(r, 6.0))]
    group.add(profiled(roof, [*eaves, *fillet(r, height)]), "red")
    front = spin(-90, "x") @ spin(180, "z")  # the pane's face towards +y, its top upward
    middle, face = 0.60 * height, (depth - 3) / 2
    for x in (-22.0, 0.0, 22.0):
        group.put(pane(14.5, 0.24 * height), front, (x, face, middle))
    group.put(pane(14.5, 0.24 * height), spin(90, "y"), ((width - 5) / 2, 0, middle))
    group.put(pane(14.5, 0.24 * height), spin(-90, "y"), (-(width - 5) / 2, 0, middle))
    plate = print_face(50.0, 7.0)
    group.add(plate.moved(front, (0, face + 0.06, 0.27 * height)), "decal:maker-blue")
    for x in (-31.0, 31.0):
        rivet = turned([(1.5, 0), (1.3, 0.5), (0.7, 0.75), (0, 0.8)], 32)
        group.add(rivet.moved(front, (x, face, 0.14 * height)), "brass")
    door = slab(rounded_rectangle(22.0, 0.62 * height, 1.0, 5), 0.0, 1.0, 0.3)
    back = spin(90, "x")
    group.add(door.moved(back, (0, -face, 5.0 + 0.31 * height)), "wood-dark")
    group.add(
        turned([(1.6, 0), (1.6, 0.5), (0.8, 0.9), (1.3, 1.6), (0, 2.2)], 32).moved(
            back, (7.5, -face - 1, 0.36 * height)
        ),
        "brass",
    )
    horn = [(3.2, 0), (3.2, 1.0), (1.4, 1.8), (1.4, 6.0), (3.0, 9.5), (3.4, 9.9), (2.6, 9.9), (0.8, 7.0)]
    group.add(turned(horn, 48).moved(None, (16.0, 3.0, height)), "brass")
    y = depth / 2
    group.points = {"deck": (0.0, y - r, 0.0), "roof": (0.0, y - r, height),
                    "foot": (width / 2 - 12, y, r), "eave": (width / 2 - 12, y, height - r)}  # fmt: skip
    return group


# ------------------------------------------------------------------------------------------------ small parts
def funnel_cap(tip_radius: float, radius: float = 12.6) -> Group:
    """Return the cap standing on its rim: a skirt and a cone of 60 degrees with a rounded tip."""
    half, skirt = np.radians(30.0), 15.0
    apex = skirt + radius / np.tan(half)
    centre = apex - tip_radius / np.sin(half)
    angle = np.linspace(half, np.pi / 2, 13)
    tip = [(tip_radius * np.cos(a), centre + tip_radius * np.sin(a)) for a in angle]
    profile = [(radius - 0.5, 0), (radius, 0.5), (radius, 5.0), (radius - 0.5, 5.2), (radius - 0.5, 6.4),
               (radius, 6.6), (radius, skirt - 0.6), (radius - 0.15, skirt + 0.2)]  # fmt: skip
    low, high = turned(profile[:7], 128), turned([*profile[6:], *tip], 128)
    group = Group([(low, "navy"), (high, "red")])
    around = np.radians(np.arange(0.0, 360.0, 0.5))
    out = np.column_stack(
        [np.cos(half) * np.cos(around), np.cos(half) * np.sin(around), 0 * around + np.sin(half)]
    )
    for name, r in (("far", 9.0), ("near", 5.0)):
        circle = np.column_stack(
            [r * np.cos(around), r * np.sin(around), 0 * around + apex - r / np.tan(half)]
        )
        group.points[name], group.points[name + "-out"] = circle, circle + out
    return group


def funnel(dims: Dimensions) -> Group:
    group = Group()
    group.add(turned([(16, 0), (16, 1.2), (13, 3), (12.4, 4), (12.4, 44)], 96), "cream")
    group.add(turned([(12.6, 26), (12.6, 36)], 96), "navy")
    group.put(funnel_cap(dims.tip_radius), None, (0, 0, 40))
    return group


def screw(radius: float = 2.1, turn_deg: float = 20.0) -> Group:
    """Return a slotted dome head."""
    group = Group()
    dome = [(radius, 0.0), (radius, 0.4), (0.86 * radius, 0.85), (0.55 * radius, 1.15), (0.02, 1.25)]
    group.add(turned(dome, 48), "brass")
    slot = box(0.42 * radius, 1.72 * radius, 0.5, 1.29, 0.1, 0.05)
    group.add(slot.moved(spin(turn_deg)), "dark")
    return group


def lifeboat(screws: int) -> Group:
    """Return the lifeboat keel up, as it is stowed; the screws run along the keel."""
    group = Group()
    half = arc((-38.0, 0.0), 52.0, -40, 40, 61)
    half = half[np.abs(half[:, 1]) <= 32]
    shape = rounded_polygon(np.vstack([half, -half]), 0.0)
    shape = resample(shape, 1.2)
    hull = [(0.0, 0), (-0.6, 0.6), (-0.6, 2.2), (0.1, 2.8)]
    bilge = [(0.2 + 6.2 * (1 - np.cos(a)), 2.9 + 8.2 * np.sin(a)) for a in np.linspace(0, np.pi / 2, 14)]
    group.add(profiled(shape, [*hull, *bilge]), "wood-light")
    group.add(box(6.4, 57.0, 10.6, 12.6, 2.0, 0.5), "red")
    for i, y in enumerate(np.linspace(-23.0, 23.0, screws)):
        group.put(screw(2.1, 25 + 67 * i), None, (0, y, 12.6))
    return group


def paddle_wheel(diameter: float, axle: str, width: float = 17.4) -> Group:
    """Return a wheel lying flat, its outer face up; the rim's edge is a half round."""
    group, radius, r = Group(), diameter / 2, 0.6
    for z in (0.0, width - 3.0):
        group.add(ring(radius, radius - 4.2, z, z + 3.0, r), "red")
        for k in range(8):
            spoke = box(radius - 9.0, 2.6, z + 0.7, z + 2.3, 0.5, 0.3)
            group.add(spoke.moved(None, ((radius - 9.0) / 2 + 6.0, 0, 0)).moved(spin(45 * k)), "red")
        hub = [(7.4, z), (7.4, z + 2.6), (6.8, z + 3.2), (4.6, z + 3.2)]
        group.add(turned(hub, 72), "red")
    group.add(turned([(4.2, 0.4), (4.2, width - 1.0)], 48), "red")
    for k in range(8):
        paddle = box(1.6, 10.5, 1.2, width - 1.4, 0.4, 0.3)
        group.add(paddle.moved(spin(90), (radius - 7.6, 0, 0)).moved(spin(45 * k)), "cream")
    if axle == "through-rod":
        end = [(2.2, width - 1), (2.2, width + 1.0), (1.9, width + 1.35), (0, width + 1.4)]
        group.add(turned(end, 48), "steel")
    else:
        group.add(
            turned([(4.9, width), (4.7, width + 0.9), (3.6, width + 1.3), (0, width + 1.35)], 48), "cream"
        )
    z = width - 1.5
    around = np.radians([8, 53, 98, 143, 188, 233, 278, 323])
    group.points["rim"] = np.column_stack([radius * np.cos(around), radius * np.sin(around), 0 * around + z])
    return group
