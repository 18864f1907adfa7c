"""The whole ferry: hull, deck, rail, and every part in its place."""

from __future__ import annotations

import numpy as np
from meshes import box, inset, print_face, profiled, resample, rod, sheet, turned, wall
from toy import Dimensions, Group, bow_plate, funnel, lifeboat, paddle_wheel, segment, spin, wheelhouse

DECK_MM = 66.0
BEAM_MM = 200.0


def stern_line(n: int, inward: float) -> np.ndarray:
    a, b = BEAM_MM / 2 - inward, 75.0 - inward
    angle = np.radians(np.linspace(180.0, 360.0, 4001))
    line = np.column_stack([a * np.cos(angle), -130.0 + b * np.sin(angle)])
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    at = np.linspace(0, along[-1], n)
    return np.column_stack([np.interp(at, along, line[:, 0]), np.interp(at, along, line[:, 1])])


def deck_rail(posts: int) -> Group:
    """Return the rail around the stern deck."""
    group = Group()
    for z, r in ((12.0, 0.7), (22.0, 1.1)):
        path = stern_line(160, 9.0)
        group.add(rod(np.column_stack([path, np.full(len(path), z)]), r), "brass")
    post = [(2.4, 0), (2.4, 0.8), (1.0, 1.4), (1.0, 20.6), (1.9, 21.4), (2.1, 22.4), (1.6, 23.6), (0, 24.2)]
    for x, y in stern_line(posts, 9.0):
        group.add(turned(post, 32).moved(None, (x, y, 0)), "brass")
    return group


# --------------------------------------------------------------------------------------------------- the hull
def hull_outline() -> np.ndarray:
    bow = segment(BEAM_MM, 27.0 + 40.0, 40.0, 14.0, 1.0)
    bow = bow[bow[:, 1] > 20.0] + (0.0, 138.0)
    order = np.argsort(np.arctan2(bow[:, 1] - 158.0, bow[:, 0]))
    return resample(np.vstack([bow[order], stern_line(161, 0.0)]), 2.5)


def hull(slots_mm: float) -> Group:
    """Return hull and deck; the slots for the bow plate's clips lie ``slots_mm`` from the middle."""
    group, line = Group(), hull_outline()
    group.add(
        profiled(line, [(9.0, 9.0), (5.0, 9.6), (1.6, 12.0), (0.4, 15.0), (0.0, 18.0), (0.0, 24.0)]),
        "dark-red",
    )
    group.add(profiled(line, [(0.0, 24.0), (0.0, 27.0)], cap_first=False, cap_last=False), "cream")
    group.add(profiled(line, [(0.0, 27.0), (0.0, 62.0)], cap_first=False, cap_last=False), "navy")
    group.add(wall(line, 3.4, 62.0, 73.0, 1.2), "cream")
    group.add(sheet(inset(line, 3.2), DECK_MM), "deck")
    for x, y in ((-64, -120), (64, -120), (-58, 110), (58, 110)):
        roller = turned([(10.4, -4), (11.0, -3.4), (11.0, 3.4), (10.4, 4)], 64)
        group.add(roller.moved(spin(90, "y"), (x, y, 11.0)), "dark")
    for x in (-slots_mm, slots_mm):
        group.add(box(4.2, 9.0, DECK_MM - 1, DECK_MM + 0.15, 0.8, 0.05).moved(None, (x, 174.0, 0)), "dark")
    for x in (-80.0, 80.0):
        for y in (118.0, 132.0):
            bollard = turned(
                [(4, 0), (4, 1), (2.6, 1.6), (2.6, 8), (3.6, 9), (3.6, 10.4), (2.6, 11.2), (0, 11.4)], 48
            )
            group.add(bollard.moved(None, (x, y, DECK_MM)), "steel")
    group.add(box(58.0, 44.0, DECK_MM, DECK_MM + 9.0, 3.0, 0.8).moved(None, (0, -84.0, 0)), "wood-dark")
    group.add(box(64.0, 50.0, DECK_MM + 9.0, DECK_MM + 12.0, 3.0, 1.0).moved(None, (0, -84.0, 0)), "navy")
    for y in np.linspace(-104.0, -64.0, 6):
        group.add(
            box(60.0, 5.6, DECK_MM + 12.0, DECK_MM + 13.2, 0.8, 0.5).moved(None, (0, y, 0)), "wood-light"
        )
    for side in (-1, 1):
        lettering = print_face(150.0, 17.0)
        turn = spin(90 * side, "z") @ spin(90, "x")
        group.add(lettering.moved(turn, (side * (BEAM_MM / 2 + 0.06), 90.0, 45.0)), "decal:name-cream")
    eye = turned([(3.4, 0), (3.4, 1), (1.6, 1.4), (1.6, 5), (0, 5.4)], 40)
    group.add(eye.moved(spin(-90, "x"), (0, 204.4, 34.0)), "brass")
    return group


def ferry(dims: Dimensions, plate: Dimensions | None = None, *, cord: bool = True) -> Group:
    """Return the whole toy on its rollers; ``plate`` gives another release's bow plate."""
    group, other = Group(), plate or dims
    group.put(hull(dims.plate_width / 2 - 4.4))
    group.put(bow_plate(other.plate_width, other.plate_depth), None, (0, 168.0, DECK_MM), "plate-")
    group.put(wheelhouse(dims.house_height), None, (0, 38.0, DECK_MM), "house-")
    group.put(funnel(dims), None, (0, -28.0, DECK_MM), "funnel-")
    for x in (-66.0, 66.0):
        group.put(lifeboat(dims.screws), None, (x, -22.0, DECK_MM), "boat-")
    group.put(deck_rail(dims.posts), None, (0, 0, DECK_MM))
    for side in (-1, 1):
        wheel = paddle_wheel(dims.wheel_diameter, dims.axle)
        turn = spin(90 * side, "y") @ spin(11.0)
        group.put(
            wheel, turn, (side * (BEAM_MM / 2 + 2.0), -20.0, 33.5), "port-" if side < 0 else "starboard-"
        )
    if cord:
        t = np.linspace(0, 1, 200)[:, None]
        p = np.array([[0, 209.5, 34.0], [6, 240, 1.6], [70, 300, 1.3], [150, 262, 1.3], [165, 180, 1.3]])
        basis = np.column_stack(
            [(1 - t) ** 4, 4 * t * (1 - t) ** 3, 6 * t**2 * (1 - t) ** 2, 4 * t**3 * (1 - t), t**4]
        )
        path = basis @ p
        path[:, 2] = np.maximum(path[:, 2], 1.3)
        group.add(rod(path, 1.2), "cord")
    return group
