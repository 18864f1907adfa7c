"""Puts the card into the picture: shadow, rim and face, with edges exactly where the truth says."""

import numpy as np
from numpy.typing import ArrayLike

from calibration.objects import ReferenceObject
from tests.synthetic import faces
from tests.synthetic.bend import Bend
from tests.synthetic.layout import Level, corner_points
from tests.synthetic.optics import to_linear
from tests.synthetic.raster import Canvas, coverage, rounded_rectangle_sdf, sample_face, soft_step


def draw_card(
    canvas: Canvas,
    card: ReferenceObject,
    face: np.ndarray,
    *,
    light: ArrayLike = (0.5, 0.3),
    shadow: float = 0.35,
    rim_bgr: ArrayLike = (150, 150, 150),
    bend: Bend | None = None,
) -> None:
    """Shadow and foot on the table (Z = thickness), then the upper face at Z = 0."""
    corners = corner_points(card)
    foot = corners + (0, 0, card.thickness_mm)
    shape = (0.0, 0.0, card.width_mm, card.height_mm, card.corner_radius_mm)
    if shadow > 0:
        _contact_shadow(canvas, card, shape, foot, light, shadow, bend)
    levels = [corners + (0, 0, share * card.thickness_mm) for share in (1.0, 0.66, 0.33, 0.0)]
    margin = 4 if bend is None else int(0.03 * canvas.camera.width_px)
    roi = canvas.seen_roi(canvas.to_px(np.concatenate(levels)), margin)
    mm = canvas.plane(0.0, roi, bend)
    top = coverage(rounded_rectangle_sdf(mm, *shape))
    whole = top
    for below in levels[:3]:
        # the union of two edges in one pixel is the greater cover, not the sum: blending one over the other
        # would move the edge outwards wherever the rim is hidden
        whole = np.maximum(
            whole, coverage(rounded_rectangle_sdf(canvas.plane(below[0, 2], roi, bend), *shape))
        )
    x0, y0, x1, y1 = roi
    part = canvas.light[y0:y1, x0:x1]
    part *= 1 - whole[..., None]
    part += (whole - top)[..., None] * to_linear(np.asarray(rim_bgr, np.uint8))
    part += top[..., None] * sample_face(face, mm, 0.0, 0.0, card.width_mm, card.height_mm)


def _contact_shadow(
    canvas: Canvas,
    card: ReferenceObject,
    shape: tuple[float, float, float, float, float],
    foot: np.ndarray,
    light: ArrayLike,
    strength: float,
    bend: Bend | None,
) -> None:
    lift = card.thickness_mm + (0 if bend is None else 0.4 * abs(bend.bow_mm))
    reach = 6 + 4 * lift
    grown = foot + np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]]) * reach
    roi = canvas.seen_roi(canvas.to_px(grown))
    mm = canvas.plane(card.thickness_mm, roi, bend)
    x, y, w, h, radius = shape
    shift = np.asarray(light) * max(lift, 0.25)
    cast = rounded_rectangle_sdf(mm, x + shift[0], y + shift[1], w, h, max(radius, 0.3))
    near = rounded_rectangle_sdf(mm, x, y, w, h, max(radius, 0.3))
    penumbra = 0.15 + 0.35 * lift
    ambient = np.exp(-np.maximum(near, 0) / np.float32(0.6 + card.thickness_mm)) * np.float32(0.45 * strength)
    canvas.darken(roi, (1 - np.float32(strength) * soft_step(cast, penumbra)) * (1 - ambient))


def add_glare(canvas: Canvas, card: ReferenceObject, rng: np.random.Generator, strength: float) -> None:
    """Reflections of lamps on the card: soft bright blobs that end at its rim."""
    roi = canvas.seen_roi(canvas.to_px(corner_points(card)))
    mm = canvas.plane(0.0, roi)
    shape = (0.0, 0.0, card.width_mm, card.height_mm, card.corner_radius_mm)
    mask = coverage(rounded_rectangle_sdf(mm, *shape))
    for _ in range(int(rng.integers(1, 3))):
        x, y = rng.uniform(0.05, 0.95) * card.width_mm, rng.uniform(0.05, 0.95) * card.height_mm
        sx, sy = rng.uniform(0.06, 0.22, 2) * card.width_mm
        blob = np.exp(-0.5 * (((mm[..., 0] - x) / sx) ** 2 + ((mm[..., 1] - y) / sy) ** 2)).astype(np.float32)
        x0, y0, x1, y1 = roi
        canvas.light[y0:y1, x0:x1] += (mask * blob * np.float32(strength))[..., None]


def rim_contrast(face: np.ndarray, table_bgr: np.ndarray, px_per_mm: float) -> np.ndarray:
    """Of each side, the difference (strongest channel) to samples (N, 3) of the table: quartile, (4, 40)."""
    deep = max(int(0.8 * px_per_mm), 1)
    bands = [
        face[:deep].mean(axis=0),
        face[:, -deep:].mean(axis=1),
        face[-deep:].mean(axis=0),
        face[:, :deep].mean(axis=1),
    ]
    out = []
    for band in bands:
        at = np.linspace(0.04, 0.96, 40) * (len(band) - 1)
        differences = np.abs(band[at.astype(int)][:, None] - table_bgr[None]).max(axis=2)
        out.append(np.percentile(differences, 25, axis=1))
    return np.array(out)


def choose_face(
    rng: np.random.Generator,
    card: ReferenceObject,
    px_per_mm: float,
    table_bgr: np.ndarray,
    level: Level,
    *,
    close: bool = False,
) -> tuple[np.ndarray, str] | None:
    """A face whose rim stands out from the table as the level promises; close = little more than that.

    None where the colours of this table and this kind of card allow none.
    """
    width, height = card.width_mm, card.height_mm
    scale = float(np.clip(px_per_mm * 1.1, 2.0, 4200 / max(width, height)))
    middle = np.median(table_bgr, axis=0)
    for _ in range(15):
        base = _base(rng, card, middle, level, close)
        seed = int(rng.integers(2**31))
        small, style = faces.face_of(card.key, np.random.default_rng(seed), width, height, 2.0, base)
        contrast = rim_contrast(small, table_bgr, 2.0)
        enough = (contrast > level.contrast_dn).mean(axis=1).min() >= level.rim_share
        if enough and (not close or np.median(contrast) < 45):
            face, _ = faces.face_of(card.key, np.random.default_rng(seed), width, height, scale, base, style)
            return face, style
    return None


def _base(
    rng: np.random.Generator, card: ReferenceObject, table_bgr: np.ndarray, level: Level, close: bool
) -> np.ndarray:
    if close:
        sign = 1 if rng.random() < 0.6 else -1
        step = rng.uniform(level.contrast_dn * 1.3, level.contrast_dn * 2.4)
        return np.clip(np.asarray(table_bgr) + sign * step + rng.normal(0, 5, 3), 6, 250)
    if card.key in {"a4", "letter"}:
        return np.clip(rng.normal(232, 9) + rng.normal(0, 4, 3), 150, 252)
    if card.key.startswith("trading"):
        return np.array(
            [(240, 240, 238), (25, 25, 28), (40, 190, 230), faces.colour(rng)][rng.integers(4)], float
        )
    return faces.colour(rng, 15, 245)
