"""Sets the table: chooses what lies where, under which light, and takes the picture."""

from typing import Any

import cv2
import numpy as np

from calibration.objects import ReferenceObject, object_from_key
from tests.synthetic import backgrounds, clutter, faces
from tests.synthetic import card as card_drawing
from tests.synthetic.bend import Bend
from tests.synthetic.clutter import Item
from tests.synthetic.layout import LEVELS, Level, View, corner_points
from tests.synthetic.optics import develop, upsample
from tests.synthetic.raster import Canvas, lay_table, polygon_coverage

Facts = dict[str, Any]

TROUBLES = ("low contrast", "covered corner", "glare", "hard shadow", "support", "uneven light")


def stage(
    rng: np.random.Generator, level_name: str, card: ReferenceObject, view: View, bend: Bend
) -> tuple[np.ndarray, Facts]:
    """Compose and develop the photo; returns the upright 8-bit picture and the facts of its difficulty."""
    level = LEVELS[level_name]
    canvas = Canvas(view.camera, view.pose)
    px_per_mm = _scale(canvas, card)
    troubles = _troubles(rng, level_name)
    table_z = card.thickness_mm
    choice = _choose_table_and_face(rng, level_name, card, troubles, px_per_mm)
    kind, tile = choice["table"], choice["tile"]
    lay_table(canvas, tile, 0.95 / px_per_mm, table_z, rng.uniform(0, 360), rng.uniform(90, 230, 3))
    lamp = _lamp(rng)
    outline = canvas.to_px(corner_points(card)) if level_name != "none" else None
    if "support" in troubles:
        _lay_support(canvas, rng, card, table_z, choice["support"])
    items = _place_items(canvas, rng, level, level_name, table_z, outline, px_per_mm)
    for item in items:
        clutter.cast_shadow(canvas, item, table_z, lamp["shift"], lamp["shadow"])
        clutter.draw_item(canvas, item, table_z)
    facts = {"table": kind, "troubles": troubles, "items": [i.kind for i in items], "px_per_mm": px_per_mm}
    if level_name != "none":
        facts |= _lay_card(canvas, rng, card, px_per_mm, choice, troubles, lamp, bend)
    _shine(canvas, rng, level_name, troubles)
    pixels, facts = _take(canvas, rng, level, facts)
    if outline is not None:
        steps = _side_contrast(canvas, card, bend, pixels, facts["blur_px"])
        least = max(level.seen_dn, 3 * facts["noise_dn"])
        facts["side_contrast_dn"] = np.median(steps, axis=1).tolist()
        facts["seen_share"] = (steps > least).mean(axis=1).tolist()
        facts["fair"] = min(facts["seen_share"]) >= level.seen_share
    return pixels, facts


def _scale(canvas: Canvas, card: ReferenceObject) -> float:
    corners = canvas.to_px(corner_points(card))
    area = 0.5 * abs(
        np.sum(corners[:, 0] * np.roll(corners[:, 1], -1) - corners[:, 1] * np.roll(corners[:, 0], -1))
    )
    return float(np.sqrt(area / (card.width_mm * card.height_mm)))


def _troubles(rng: np.random.Generator, level_name: str) -> tuple[str, ...]:
    if level_name == "hostile":
        return tuple(str(t) for t in rng.choice(TROUBLES, int(rng.integers(2, 4)), replace=False))
    if level_name == "clutter":
        return tuple(t for t in ("glare", "support", "uneven light") if rng.random() < 0.2)
    if level_name == "none":
        return tuple(t for t in ("hard shadow", "uneven light") if rng.random() < 0.2)
    return ()


def _choose_table_and_face(
    rng: np.random.Generator,
    level_name: str,
    card: ReferenceObject,
    troubles: tuple[str, ...],
    px_per_mm: float,
) -> Facts:
    """A table top (or a thing under the card) and a face that stands out from it as the level promises."""
    level = LEVELS[level_name]
    quiet = level_name == "plain" or "low contrast" in troubles or rng.random() < 0.45
    for _ in range(12):
        kind = str(rng.choice(backgrounds.QUIET if quiet else backgrounds.BUSY))
        small, _ = backgrounds.table_top(
            kind, np.random.default_rng(seed := int(rng.integers(2**31))), 256, 0.5
        )
        support = faces.colour(rng) if "support" in troubles else None
        under = support[None] if support is not None else small.reshape(-1, 3)[::509].astype(float)
        if level_name == "none":
            face, style = None, None
            break
        chosen = card_drawing.choose_face(
            rng, card, px_per_mm, under, level, close="low contrast" in troubles
        )
        if chosen is not None:
            face, style = chosen
            break
    else:
        raise RuntimeError("no table lets this card stand out: the level's limits contradict each other")
    tile, _ = backgrounds.table_top(kind, np.random.default_rng(seed), 1536, 0.95 / px_per_mm)
    return {"table": kind, "tile": tile, "support": support, "face": face, "style": style}


def _lamp(rng: np.random.Generator) -> Facts:
    azimuth, elevation = rng.uniform(0, 2 * np.pi), np.deg2rad(rng.uniform(35, 75))
    shift = np.array([np.cos(azimuth), np.sin(azimuth)]) / np.tan(elevation)
    return {"shift": shift, "shadow": float(rng.uniform(0.15, 0.6))}


def _lay_support(
    canvas: Canvas, rng: np.random.Generator, card: ReferenceObject, table_z: float, colour: np.ndarray
) -> None:
    """A sheet or mat of this colour under the card."""
    size = np.array([card.width_mm, card.height_mm])
    wide = size * rng.uniform(1.35, 2.4) + rng.uniform(0, 40, 2)
    if 1.2 < max(wide) / min(wide) < 1.72:
        wide[int(np.argmax(wide))] = min(wide) * 1.85
    face = np.empty((8, 8, 3), np.uint8)
    face[:] = colour.astype(np.uint8)
    shift = rng.uniform(-0.15, 0.15, 2) * size
    angle = rng.normal(0, 0.25)
    item = clutter.slab("support", rng, size / 2 + shift, wide[0], wide[1], angle, 0.0, 0, face)
    clutter.cast_shadow(canvas, item, table_z, (0.3, 0.3), 0.3)
    clutter.draw_item(canvas, item, table_z)


def _place_items(
    canvas: Canvas,
    rng: np.random.Generator,
    level: Level,
    level_name: str,
    table_z: float,
    outline: np.ndarray | None,
    px_per_mm: float,
) -> list[Item]:
    wanted = int(rng.integers(level.items[0], level.items[1] + 1))
    kinds = clutter.ALL + clutter.ODD if level_name == "none" else clutter.ALL
    items: list[tuple[float, Item]] = []
    width, height = canvas.camera.width_px, canvas.camera.height_px
    for _ in range(wanted * 4):
        if len(items) == wanted:
            break
        at = rng.uniform(-0.05, 1.05, 2) * (width, height)
        mm, slope = canvas.pose.plane_nodes(canvas.camera.rays(at[None]), table_z)
        if slope[0] < 0.25:
            continue
        near, _ = canvas.pose.plane_nodes(canvas.camera.rays(at[None] + (10, 0)), table_z)
        view_mm = np.linalg.norm(near - mm) / 10 * width
        unit = float(np.clip(rng.uniform(0.07, 0.32) * view_mm, 12, 420))
        item = clutter.make_item(str(rng.choice(kinds)), rng, mm[0], unit, px_per_mm)
        if item.height_mm > 0.25 * canvas.pose.translation_mm[2] or not _clear(
            canvas, item, table_z, outline
        ):
            continue
        items.append((float(canvas.pose.to_camera(np.append(mm[0], 0)[None])[0, 2]), item))
    if level_name in {"clutter", "hostile"} and rng.random() < 0.4:
        items += _cut_card(canvas, rng, table_z, outline, px_per_mm)
    return [item for _, item in sorted(items, key=lambda pair: -pair[0])]


def _cut_card(
    canvas: Canvas, rng: np.random.Generator, table_z: float, outline: np.ndarray | None, px_per_mm: float
) -> list[tuple[float, Item]]:
    """Another card, at most half of it in the picture."""
    size = np.array([canvas.camera.width_px, canvas.camera.height_px])
    for _ in range(30):
        side, along = int(rng.integers(4)), rng.uniform(0.05, 0.95)
        out = rng.uniform(-0.01, 0.05)
        at = np.array([(along, -out), (1 + out, along), (along, 1 + out), (-out, along)][side]) * size
        mm, slope = canvas.pose.plane_nodes(canvas.camera.rays(at[None]), table_z)
        if slope[0] < 0.3:
            continue
        other = object_from_key(str(rng.choice(["id1", "id1", "trading"])))
        item = clutter.make_card(rng, other, mm[0], px_per_mm)
        hull, _ = clutter.silhouette_px(canvas, item, table_z)
        frame = np.array([[0, 0], [size[0], 0], size, [0, size[1]]], np.float32)
        seen, _ = cv2.intersectConvexConvex(hull.astype(np.float32), frame)
        share = seen / cv2.contourArea(hull.astype(np.float32))
        if 0.15 < share < 0.5 and _clear(canvas, item, table_z, outline):
            return [(float(canvas.pose.to_camera(np.append(mm[0], 0)[None])[0, 2]), item)]
    return []


def _clear(canvas: Canvas, item: Item, table_z: float, outline: np.ndarray | None) -> bool:
    """Whether the item leaves the card alone, with a small gap."""
    if outline is None:
        return True
    hull, _ = clutter.silhouette_px(canvas, item, table_z)
    gap = 0.004 * canvas.camera.width_px + 4
    centre = outline.mean(axis=0)
    grown = outline + (outline - centre) / np.linalg.norm(outline - centre, axis=1, keepdims=True) * gap * 2
    area, _ = cv2.intersectConvexConvex(hull.astype(np.float32), grown.astype(np.float32))
    return area <= 0


def _lay_card(
    canvas: Canvas,
    rng: np.random.Generator,
    card: ReferenceObject,
    px_per_mm: float,
    choice: Facts,
    troubles: tuple[str, ...],
    lamp: Facts,
    bend: Bend,
) -> Facts:
    face, style = choice["face"], choice["style"]
    rim = np.clip(np.asarray(face[1, 1], float) * rng.uniform(0.6, 1.0), 0, 255)
    card_drawing.draw_card(
        canvas, card, face, light=lamp["shift"], shadow=lamp["shadow"], rim_bgr=rim, bend=bend
    )
    if "glare" in troubles:
        card_drawing.add_glare(canvas, card, rng, rng.uniform(0.15, 0.9))
    visible = np.ones(4)
    if "covered corner" in troubles:
        visible = _cover_corner(canvas, rng, card, px_per_mm)
    return {"style": style, "visible_share": visible.tolist()}


def _cover_corner(
    canvas: Canvas, rng: np.random.Generator, card: ReferenceObject, px_per_mm: float
) -> np.ndarray:
    """Lay something over one corner so that at least 60 % of every side stays in view."""
    unit = max(card.width_mm, card.height_mm)
    corners = corner_points(card)
    middle = np.array([card.width_mm, card.height_mm]) / 2
    which = int(rng.integers(4))
    kind = str(rng.choice(["coin", "plate piece", "note", "lid", "pen", "finger", "finger"]))
    for _ in range(40):
        out = rng.uniform(0.0, 0.5)
        centre = corners[which, :2] + (corners[which, :2] - middle) * out + rng.normal(0, 0.05 * unit, 2)
        item = clutter.make_item(kind, rng, centre, unit * rng.uniform(0.25, 0.6), px_per_mm)
        hull, _ = clutter.silhouette_px(canvas, item, 0.0)
        visible = _visible_shares(canvas, corners, hull)
        if visible.min() > 0.6 and visible.min() < 0.99:
            clutter.draw_item(canvas, item, 0.0)
            return visible
    return np.ones(4)


def _visible_shares(canvas: Canvas, corners: np.ndarray, hull: np.ndarray) -> np.ndarray:
    shares = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        px = canvas.to_px(a + np.linspace(0, 1, 60)[:, None] * (b - a))
        inside = [
            cv2.pointPolygonTest(hull.astype(np.float32), (float(x), float(y)), False) >= 0 for x, y in px
        ]
        shares.append(1 - np.mean(inside))
    return np.array(shares)


def _shine(canvas: Canvas, rng: np.random.Generator, level_name: str, troubles: tuple[str, ...]) -> None:
    """Uneven light, vignetting, exposure, and the edge of somebody's shadow."""
    rays = canvas.rays
    slope = rng.normal(0, 0.35 if "uneven light" in troubles else 0.12, 2)
    field = (
        np.exp(rays @ slope) / (1 + rng.uniform(0.1, 0.9) * (rays**2).sum(axis=-1)) * rng.uniform(0.7, 1.08)
    )
    gains = (field[..., None] * rng.normal(1, 0.03, 3)).astype(np.float32)
    canvas.light *= upsample(gains, canvas.whole)
    if "hard shadow" in troubles:
        width, height = canvas.camera.width_px, canvas.camera.height_px
        small = (0, 0, width // 4, height // 4)
        centre = rng.uniform(0.2, 0.8, 2) * small[2:]
        turn = rng.uniform(0, 2 * np.pi)
        along, across = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
        far = 2.0 * max(small[2:])
        corners = [
            centre - far * along,
            centre + far * along,
            centre + far * along + far * across,
            centre - far * along + far * across,
        ]
        shade = cv2.GaussianBlur(
            polygon_coverage(np.array(corners), small), (0, 0), width / 4 * rng.uniform(0.001, 0.015) + 0.5
        )
        canvas.light *= (1 - rng.uniform(0.3, 0.65) * cv2.resize(shade, (width, height)))[..., None]


def _side_contrast(
    canvas: Canvas, card: ReferenceObject, bend: Bend, pixels: np.ndarray, blur_px: float
) -> np.ndarray:
    """Size of the step across each side in the finished picture, strongest channel, at 60 places: (4, 60)."""
    reach = 2 * blur_px + 1
    smooth = cv2.blur(pixels, (3, 3))
    corners = corner_points(card)
    middle = canvas.to_px(corners).mean(axis=0)
    out = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        px = canvas.to_px(bend.raised(a + np.linspace(0.1, 0.9, 60)[:, None] * (b - a)))
        along = (px[-1] - px[0]) / np.linalg.norm(px[-1] - px[0])
        normal = np.array([along[1], -along[0]])
        normal = normal if normal @ (px.mean(axis=0) - middle) > 0 else -normal
        low, high = (0, 0), (pixels.shape[1] - 1, pixels.shape[0] - 1)
        inside, outside = (np.clip(np.round(px + s * reach * normal), low, high).astype(int) for s in (-1, 1))
        step = smooth[inside[:, 1], inside[:, 0]].astype(float) - smooth[outside[:, 1], outside[:, 0]]
        out.append(np.abs(step).max(axis=1))
    return np.array(out)


def _take(canvas: Canvas, rng: np.random.Generator, level: Level, facts: Facts) -> tuple[np.ndarray, Facts]:
    sigma = float(np.exp(rng.uniform(*np.log(level.blur_px))))
    length, turn = level.motion_px * rng.uniform(0, 1) ** 2, rng.uniform(0, np.pi)
    noise = float(rng.uniform(*level.noise_dn))
    halo = rng.spawn(1)[0]  # of its own, so that the rest of the photo does not depend on it
    pixels = develop(
        canvas.light,
        rng,
        sigma_px=sigma,
        motion_px=(length * np.cos(turn), length * np.sin(turn)),
        noise_dn=noise,
        noise_grain_px=float(rng.choice([0.0, 0.6, 0.9])),
        sharpening=float(rng.choice([0.0, 0.0, rng.uniform(0.2, 0.9)]) * halo.choice([1.0, 1.0, 2.0])),
        halo_px=float(halo.uniform(0.8, 2.6)),
        contrast=float(rng.uniform(0.0, 0.35)),
    )
    total = float(np.sqrt(sigma**2 + length**2 / 12))
    return pixels, facts | {"blur_px": total, "noise_dn": noise, "sharp": total <= 1.0}
