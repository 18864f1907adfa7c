"""Things that lie about on the table, none of them of a standard size."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import ArrayLike

from calibration.objects import ReferenceObject
from tests.synthetic import faces
from tests.synthetic.optics import Roi, to_linear
from tests.synthetic.raster import Canvas, polygon_coverage

FLAT = ("paper", "note", "photo print", "label", "business card", "envelope")
THICK = ("book", "box", "phone", "plate piece", "tin")
ROUND = ("coin", "dish", "cup", "lid", "wheel")
LONG = ("pen", "rule", "cable", "spoon", "knife")
ALL = FLAT + THICK + ROUND + LONG
ODD = ("qr", "window", "nested frames", "tile")

# Long side over short side that no standard size has, also not after a few per cent of perspective error.
ODD_ASPECTS = ((1.0, 1.16), (1.76, 1.95), (2.0, 3.6))


@dataclass(frozen=True, slots=True)
class Item:
    """A thing on the table: outline in plane mm (N, 2), height above the table, face and colours (BGR)."""

    kind: str
    outline_mm: np.ndarray
    height_mm: float
    face: np.ndarray | None
    frame: tuple[float, float, float, float, float]  # x, y of a corner, angle, width, height of the face
    colour: np.ndarray


def make_item(
    kind: str, rng: np.random.Generator, centre_mm: np.ndarray, unit_mm: float, px_per_mm: float
) -> Item:
    """An item about unit_mm across, centred here."""
    angle = rng.uniform(0, 2 * np.pi)
    if kind in ROUND:
        return _round(kind, rng, centre_mm, unit_mm)
    if kind == "finger":
        skin = np.array([rng.uniform(90, 150), rng.uniform(120, 175), rng.uniform(160, 225)]) * rng.uniform(
            0.45, 1
        )
        item = slab(kind, rng, centre_mm, 75.0, 17.0, angle, 14.0, 8.4, None)
        return replace(item, colour=skin)
    if kind in LONG:
        w, h = unit_mm * rng.uniform(1.0, 1.8), unit_mm * rng.uniform(0.05, 0.1)
        return slab(kind, rng, centre_mm, w, h, angle, rng.uniform(3, 9), h * 0.45, None)
    aspect = rng.uniform(*ODD_ASPECTS[rng.integers(len(ODD_ASPECTS))])
    if kind == "business card":
        aspect = 88.9 / 50.8
    if kind == "qr":
        aspect = 1.0
    if kind == "phone":
        aspect = rng.uniform(2.0, 2.2)
    w, h = unit_mm, unit_mm / aspect
    thick = {
        "book": (8, 35),
        "box": (15, 70),
        "phone": (7.5, 9),
        "plate piece": (2, 14),
        "tin": (20, 60),
    }.get(kind)
    height = rng.uniform(*thick) if thick else 0.15
    radius = {
        "phone": 0.09 * w,
        "tin": 0.06 * w,
        "plate piece": rng.uniform(0.02, 0.2) * h,
        "label": 0.04 * w,
    }.get(kind, 0)
    face = _face(kind, rng, w, h, px_per_mm)
    return slab(kind, rng, centre_mm, w, h, angle, height, radius, face)


def make_card(
    rng: np.random.Generator, card: ReferenceObject, centre_mm: np.ndarray, px_per_mm: float
) -> Item:
    """Another card of a standard kind, to be laid so that too little of it is seen to measure by."""
    scale = float(np.clip(px_per_mm, 2, 20))
    face, _ = faces.face_of(card.key, rng, card.width_mm, card.height_mm, scale, faces.colour(rng))
    angle = rng.uniform(0, 2 * np.pi)
    size = (card.width_mm, card.height_mm)
    return slab("card", rng, centre_mm, *size, angle, card.thickness_mm, card.corner_radius_mm, face)


def slab(
    kind: str,
    rng: np.random.Generator,
    centre: np.ndarray,
    w: float,
    h: float,
    angle: float,
    height: float,
    radius: float,
    face: np.ndarray | None,
) -> Item:
    outline = rounded_outline(w, h, min(radius, 0.49 * min(w, h)))
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    placed = (outline - (w / 2, h / 2)) @ turn.T + centre
    corner = turn @ np.array([-w / 2, -h / 2]) + centre
    colour = faces.colour(rng) if face is None else face.reshape(-1, 3).mean(axis=0)
    return Item(kind, placed, height, face, (corner[0], corner[1], angle, w, h), colour)


def _round(kind: str, rng: np.random.Generator, centre: np.ndarray, unit: float) -> Item:
    radius = {"coin": rng.uniform(8, 14), "wheel": 31.0}.get(kind, unit * rng.uniform(0.3, 0.55))
    t = np.linspace(0, 2 * np.pi, 96, endpoint=False)
    outline = np.stack([np.cos(t), np.sin(t)], axis=1) * radius + centre
    height = {"coin": 2.0, "dish": 15.0, "cup": 80.0, "lid": 12.0, "wheel": 9.0}[kind]
    side = int(np.clip(radius * 12, 48, 700))
    base = np.array([110, 140, 150]) if kind == "coin" else faces.colour(rng)
    face = np.empty((side, side, 3), np.uint8)
    face[:] = base.astype(np.uint8)
    for share in sorted(rng.uniform(0.2, 0.97, int(rng.integers(2, 6))), reverse=True):
        tone = tuple(float(v) for v in np.clip(base + rng.normal(0, 22, 3), 5, 250))
        cv2.circle(face, (side // 2, side // 2), int(share * side / 2), tone, -1, cv2.LINE_AA)
    frame = (centre[0] - radius, centre[1] - radius, 0.0, 2 * radius, 2 * radius)
    return Item(kind, outline, height, face, frame, base)


def rounded_outline(w: float, h: float, radius: float, steps: int = 8) -> np.ndarray:
    """Outline (N, 2) of a rectangle from (0, 0) to (w, h) with round corners."""
    if radius <= 0:
        return np.array([[0, 0], [w, 0], [w, h], [0, h]], float)
    t = np.linspace(0, np.pi / 2, steps)
    arc = np.stack([np.cos(t), np.sin(t)], axis=1) * radius
    quarter = np.array([[0, 1], [-1, 0]])
    centres = [(w - radius, h - radius), (radius, h - radius), (radius, radius), (w - radius, radius)]
    parts = []
    for centre in centres:
        parts.append(arc + centre)
        arc = arc @ quarter
    return np.concatenate(parts)


def _face(kind: str, rng: np.random.Generator, w: float, h: float, px_per_mm: float) -> np.ndarray:
    scale = min(px_per_mm, 1200 / max(w, h))
    base = faces.colour(rng)
    if kind in {"paper", "note", "envelope"}:
        base = np.clip(rng.normal(225, 14) + rng.normal(0, 8, 3), 120, 250)
        return faces.sheet(rng, w, h, scale, base, str(rng.choice(["blank", "text", "text"])))
    pen = faces.Pen(w, h, scale, base)
    if kind in _DRAW:
        _DRAW[kind](pen, rng, w, h)
    elif kind == "photo print":
        border = rng.uniform(0, 0.03) * w
        pen.paste(border, border, faces.artwork(rng, pen.area(w - 2 * border, h - 2 * border)))
    else:
        _cover(pen, rng, w, h)
    return pen.picture


def odd_size(w: float, h: float) -> tuple[float, float]:
    """Shorten the longer side of a printed box whose proportions are near a standard card's or sheet's."""
    short, long = min(w, h), max(w, h)
    if 1.2 < long / short < 1.72:
        long = 1.15 * short
    return (long, short) if w > h else (short, long)


def _cover(pen: faces.Pen, rng: np.random.Generator, w: float, h: float) -> None:
    if rng.random() < 0.5:
        size = odd_size(w * 0.8, h * rng.uniform(0.3, 0.7))
        pen.paste(w * 0.1, h * 0.15, faces.artwork(rng, pen.area(*size)))
    if rng.random() < 0.5:
        inset = rng.uniform(0.03, 0.1) * w
        pen.box(inset, inset, *odd_size(w - 2 * inset, h - 2 * inset), faces.colour(rng), 0.012 * w)
    ink = faces.ink_for(pen.picture[2, 2])
    for i in range(int(rng.integers(1, 5))):
        pen.text(w * 0.12, h * (0.3 + 0.15 * i), h * 0.07, faces.words(rng, int(rng.integers(5, 14))), ink)


def _phone(pen: faces.Pen, rng: np.random.Generator, w: float, h: float) -> None:
    pen.picture[:] = int(rng.uniform(12, 40))
    if rng.random() < 0.5:
        pen.paste(w * 0.03, h * 0.05, faces.artwork(rng, pen.area(w * 0.94, h * 0.9)))


def _plate_piece(pen: faces.Pen, rng: np.random.Generator, w: float, h: float) -> None:
    """A moulded plate of a toy: holes and ribs."""
    edge = np.asarray(pen.picture[2, 2], float)
    for _ in range(int(rng.integers(2, 7))):
        hole = np.clip(edge * rng.uniform(0.3, 0.7), 5, 250)
        pen.disc(rng.uniform(0.1, 0.9) * w, rng.uniform(0.15, 0.85) * h, rng.uniform(0.02, 0.08) * h, hole)
    for _ in range(int(rng.integers(1, 5))):
        x = rng.uniform(0.05, 0.95) * w
        pen.line(x, 0.1 * h, x, 0.9 * h, np.clip(edge * 0.8, 5, 250), 0.02 * h)


def _qr(pen: faces.Pen, rng: np.random.Generator, w: float, h: float) -> None:
    pen.picture[:] = 240
    n = int(rng.choice([21, 25, 29]))
    cells = (rng.random((n, n)) < 0.5).astype(np.uint8) * 255
    for y, x in ((0, 0), (0, n - 7), (n - 7, 0)):
        cells[y : y + 7, x : x + 7] = 0
        cells[y + 1 : y + 6, x + 1 : x + 6] = 255
        cells[y + 2 : y + 5, x + 2 : x + 5] = 0
    code = cv2.resize(cells, pen.area(w * 0.86, h * 0.86), interpolation=cv2.INTER_NEAREST)
    pen.paste(w * 0.07, h * 0.07, cv2.cvtColor(code, cv2.COLOR_GRAY2BGR))


def _window(pen: faces.Pen, rng: np.random.Generator, w: float, h: float) -> None:
    pen.picture[:] = (235, 238, 240)
    columns, rows = int(rng.integers(2, 4)), int(rng.integers(1, 4))
    bar = 0.05 * w
    for i in range(columns):
        for j in range(rows):
            cw, ch = (w - bar * (columns + 1)) / columns, (h - bar * (rows + 1)) / rows
            pen.box(bar + i * (cw + bar), bar + j * (ch + bar), *odd_size(cw, ch), faces.colour(rng, 40, 200))


def _nested(pen: faces.Pen, rng: np.random.Generator, w: float, h: float) -> None:
    inset = 0.0
    while inset < 0.4 * min(w, h):
        size = odd_size(w - 2 * inset, h - 2 * inset)
        pen.box(inset, inset, *size, faces.colour(rng), None if rng.random() < 0.4 else 0.01 * w)
        inset += rng.uniform(0.03, 0.1) * min(w, h)


def _tile(pen: faces.Pen, rng: np.random.Generator, w: float, h: float) -> None:
    pen.paste(0, 0, faces.gradient(rng, pen.area(w, h), faces.colour(rng, 100, 230)))


_DRAW = {
    "phone": _phone,
    "plate piece": _plate_piece,
    "qr": _qr,
    "window": _window,
    "nested frames": _nested,
    "tile": _tile,
}


def silhouette_px(canvas: Canvas, item: Item, table_z_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Outline of the whole item in the picture: hull of its foot and its top."""
    foot = np.column_stack([item.outline_mm, np.full(len(item.outline_mm), table_z_mm)])
    top = foot - (0, 0, item.height_mm)
    points = canvas.to_px(np.concatenate([foot, top])).astype(np.float32)
    return cv2.convexHull(points).reshape(-1, 2), canvas.to_px(top)


def cast_shadow(canvas: Canvas, item: Item, table_z_mm: float, light: ArrayLike, strength: float) -> None:
    """Shadow of an item on the table: hull of the foot and of the top moved away from the light, softened."""
    shift = np.asarray(light) * item.height_mm
    outline = np.concatenate([item.outline_mm, item.outline_mm + shift])
    hull = cv2.convexHull(outline.astype(np.float32)).reshape(-1, 2)
    points = canvas.to_px(np.column_stack([hull, np.full(len(hull), table_z_mm)]))
    scale = np.ptp(points, axis=0).max() / max(np.ptp(hull, axis=0).max(), 1e-6)
    sigma = min(max((0.3 + 0.12 * item.height_mm) * scale, 0.8), 60)
    roi = canvas.roi_of(points, int(3 * sigma) + 4)
    if roi is None:
        return
    x0, y0, x1, y1 = roi
    step = max(int(sigma / 3), 1)  # a soft shadow needs no more pixels than its softness
    size = (-(-(x1 - x0) // step), -(-(y1 - y0) // step))
    shade = polygon_coverage((points - (x0, y0)) / step, (0, 0, *size))
    shade = cv2.GaussianBlur(shade, (0, 0), sigma / step)
    if step > 1:
        shade = cv2.resize(shade, (size[0] * step, size[1] * step))[: y1 - y0, : x1 - x0]
    canvas.darken(roi, 1 - np.float32(strength) * shade)


def draw_item(canvas: Canvas, item: Item, table_z_mm: float) -> None:
    """Walls, then the face on top."""
    hull, top = silhouette_px(canvas, item, table_z_mm)
    roi = canvas.roi_of(hull)
    if roi is None:
        return
    canvas.blend(
        roi, polygon_coverage(hull, roi), to_linear(np.clip(item.colour * 0.55, 0, 255).astype(np.uint8))
    )
    if len(item.outline_mm) == 4 and item.height_mm > 1:
        _walls(canvas, item, table_z_mm)
    roi = canvas.roi_of(top)
    if roi is None:
        return
    if item.face is None:
        linear = to_linear(np.clip(item.colour, 0, 255).astype(np.uint8))
    else:
        linear = _face_light(canvas, item, item.face, table_z_mm - item.height_mm, roi)
    canvas.blend(roi, polygon_coverage(top, roi), linear)


def _walls(canvas: Canvas, item: Item, table_z_mm: float) -> None:
    """Upright faces of a box, each lit by its own angle."""
    camera_mm = -canvas.pose.rotation.T @ canvas.pose.translation_mm
    ends = np.roll(item.outline_mm, -1, axis=0)
    for i, (a, b) in enumerate(zip(item.outline_mm, ends, strict=True)):
        outward = np.array([b[1] - a[1], a[0] - b[0]])
        if outward @ (camera_mm[:2] - a) <= 0:
            continue
        foot = np.array([[*a, table_z_mm], [*b, table_z_mm]])
        quad = canvas.to_px(np.concatenate([foot, foot[::-1] - (0, 0, item.height_mm)]))
        roi = canvas.roi_of(quad)
        if roi is not None:
            paint = np.clip(item.colour * (0.35, 0.55, 0.75, 0.5)[i], 0, 255).astype(np.uint8)
            canvas.blend(roi, polygon_coverage(quad, roi), to_linear(paint))


def _face_light(canvas: Canvas, item: Item, face: np.ndarray, z_mm: float, roi: Roi) -> np.ndarray:
    x, y, angle, w, h = item.frame
    mm = canvas.plane(z_mm, roi)
    c, s = np.float32(np.cos(angle)), np.float32(np.sin(angle))
    dx, dy = mm[..., 0] - np.float32(x), mm[..., 1] - np.float32(y)
    u = (dx * c + dy * s) * np.float32(face.shape[1] / w) - np.float32(0.5)
    v = (-dx * s + dy * c) * np.float32(face.shape[0] / h) - np.float32(0.5)
    return to_linear(cv2.remap(face, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))
