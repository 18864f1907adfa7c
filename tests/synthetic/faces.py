"""Printed faces of cards, sheets and flat things: 8-bit pictures drawn in mm at a given resolution."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import ArrayLike

from tests.synthetic.backgrounds import Colour, octaves

CARD_STYLES = ("plain", "stripe", "framed", "photo", "two-tone", "chip", "gradient")
TRADING_STYLES = ("bordered", "bordered", "framed", "photo")
SHEET_STYLES = ("blank", "text", "text", "table", "form", "photo")


class Pen:
    """Draws on a picture in mm."""

    def __init__(self, width_mm: float, height_mm: float, px_per_mm: float, base_bgr: ArrayLike) -> None:
        self.scale = px_per_mm
        self.width_mm, self.height_mm = width_mm, height_mm
        shape = (max(round(height_mm * px_per_mm), 8), max(round(width_mm * px_per_mm), 8), 3)
        self.picture = np.empty(shape, np.uint8)
        self.picture[:] = np.clip(base_bgr, 0, 255).astype(np.uint8)

    def px(self, mm: float) -> int:
        return round(mm * self.scale)

    def box(
        self, x: float, y: float, w: float, h: float, colour: Colour, line_mm: float | None = None
    ) -> None:
        corners = (self.px(x), self.px(y)), (self.px(x + w) - 1, self.px(y + h) - 1)
        thick = -1 if line_mm is None else max(self.px(line_mm), 1)
        cv2.rectangle(self.picture, *corners, tuple(float(c) for c in colour), thick)

    def line(self, x0: float, y0: float, x1: float, y1: float, colour: Colour, line_mm: float) -> None:
        ends = (self.px(x0), self.px(y0)), (self.px(x1), self.px(y1))
        cv2.line(self.picture, *ends, tuple(float(c) for c in colour), max(self.px(line_mm), 1), cv2.LINE_AA)

    def disc(self, x: float, y: float, radius: float, colour: Colour, line_mm: float | None = None) -> None:
        thick = -1 if line_mm is None else max(self.px(line_mm), 1)
        centre = (self.px(x), self.px(y))
        cv2.circle(
            self.picture, centre, max(self.px(radius), 1), tuple(float(c) for c in colour), thick, cv2.LINE_AA
        )

    def text(self, x: float, y: float, height_mm: float, words: str, colour: Colour) -> None:
        scale = max(height_mm * self.scale / 21.0, 0.05)
        font = cv2.FONT_HERSHEY_SIMPLEX
        thick = max(int(scale * 1.6), 1)
        cv2.putText(
            self.picture,
            words,
            (self.px(x), self.px(y)),
            font,
            scale,
            tuple(map(float, colour)),
            thick,
            cv2.LINE_AA,
        )

    def paste(self, x: float, y: float, picture: np.ndarray) -> None:
        x, y = self.px(x), self.px(y)
        h, w = (
            min(picture.shape[0], self.picture.shape[0] - y),
            min(picture.shape[1], self.picture.shape[1] - x),
        )
        if h > 0 and w > 0:
            self.picture[y : y + h, x : x + w] = picture[:h, :w]

    def area(self, w: float, h: float) -> tuple[int, int]:
        return max(self.px(w), 4), max(self.px(h), 4)


def colour(rng: np.random.Generator, low: float = 20, high: float = 235) -> np.ndarray:
    """A random colour (BGR), a little less saturated than dice would give."""
    value = rng.uniform(low, high)
    return np.clip(value + rng.normal(0, rng.choice([8, 22, 50]), 3), 8, 247)


def ink_for(base: Colour) -> tuple[int, int, int]:
    """Dark ink on light stock, light on dark."""
    return (40, 35, 32) if np.mean(base) > 110 else (225, 228, 230)


def words(rng: np.random.Generator, n: int) -> str:
    """Letters without meaning."""
    return "".join(rng.choice(list("abcdeghilmnoprstu ABEMRT019"), n))


def artwork(rng: np.random.Generator, size: tuple[int, int]) -> np.ndarray:
    """A picture as photographs and illustrations look: soft ground, sharp shapes on it."""
    w, h = size
    side = 192
    ground = np.stack([octaves(rng, side, [2, 4, 9]) for _ in range(3)], axis=-1) * rng.uniform(
        6, 26
    ) + colour(rng)
    picture: np.ndarray = cv2.resize(
        np.clip(ground, 5, 250).astype(np.uint8), (w, h), interpolation=cv2.INTER_CUBIC
    )
    for _ in range(int(rng.integers(3, 12))):
        centre = (rng.uniform(0, w), rng.uniform(0, h))
        axes = (rng.uniform(0.03, 0.3) * w, rng.uniform(0.03, 0.3) * h)
        paint = tuple(float(c) for c in colour(rng))
        if rng.random() < 0.5:
            cv2.ellipse(picture, (centre, axes, rng.uniform(0, 180)), paint, -1, cv2.LINE_AA)
        else:
            poly = np.array(centre) + rng.normal(0, 0.14, (int(rng.integers(3, 6)), 2)) * (w, h)
            cv2.fillPoly(picture, [poly.astype(np.int32)], paint, cv2.LINE_AA)
    return picture


def gradient(rng: np.random.Generator, size: tuple[int, int], base: np.ndarray) -> np.ndarray:
    """From one colour to another at an angle."""
    w, h = size
    angle = rng.uniform(0, 2 * np.pi)
    t = np.cos(angle) * np.linspace(0, 1, w)[None, :] + np.sin(angle) * np.linspace(0, 1, h)[:, None]
    t = ((t - t.min()) / (t.max() - t.min()))[..., None]
    other = np.clip(np.asarray(base) + rng.normal(0, 45, 3), 5, 250)
    picture: np.ndarray = np.clip(np.asarray(base) * (1 - t) + other * t, 0, 255).astype(np.uint8)
    return picture


def bank_card(
    rng: np.random.Generator, w: float, h: float, px_per_mm: float, base: np.ndarray, style: str
) -> np.ndarray:
    """Face of a bank card; the styles put stripes, frames and pictures where they mislead an edge finder."""
    pen = Pen(w, h, px_per_mm, base)
    ink = ink_for(base)
    _ground(pen, rng, w, h, base, style)
    if style in {"chip", "gradient", "plain"} and rng.random() < 0.75:
        _chip(pen, rng, 10, 20)
    for i in range(int(rng.integers(0, 4))):
        pen.text(
            rng.uniform(6, 14),
            h * (0.6 + 0.12 * i),
            rng.uniform(2.2, 4.0),
            words(rng, int(rng.integers(6, 19))),
            ink,
        )
    if rng.random() < 0.4:
        x, y, r = w - rng.uniform(12, 20), h - rng.uniform(9, 14), rng.uniform(4, 7)
        pen.disc(x, y, r, colour(rng))
        pen.disc(x + r * 0.9, y, r, colour(rng))
    return pen.picture


def _ground(pen: Pen, rng: np.random.Generator, w: float, h: float, base: np.ndarray, style: str) -> None:
    """Paint what covers most of the face."""
    if style == "photo":
        pen.paste(0, 0, artwork(rng, pen.area(w, h)))
    elif style == "gradient":
        pen.paste(0, 0, gradient(rng, pen.area(w, h), base))
    elif style == "two-tone":
        if rng.random() < 0.5:
            pen.box(0, h * rng.uniform(0.3, 0.7), w, h, colour(rng))
        else:
            pen.box(w * rng.uniform(0.3, 0.7), 0, w, h, colour(rng))
    elif style == "stripe":
        top = rng.choice([0.0, 2.0, 4.0, 5.5])
        pen.box(0, top, w, 12.7, colour(rng, 15, 60))
        pen.box(5, top + 16, w * 0.62, 8, (225, 230, 232))
    elif style == "framed":
        inset, thick = rng.uniform(1.0, 5.0), rng.uniform(0.25, 1.2)
        pen.box(
            inset, inset, w - 2 * inset, h - 2 * inset, colour(rng), None if rng.random() < 0.4 else thick
        )


def _chip(pen: Pen, rng: np.random.Generator, x: float, y: float) -> None:
    pen.box(x, y, 12, 10, (95, 165, 195) if rng.random() < 0.6 else (190, 195, 198))
    for dx in (4, 8):
        pen.line(x + dx, y, x + dx, y + 10, (70, 110, 130), 0.3)
    for dy in (3.3, 6.6):
        pen.line(x, y + dy, x + 12, y + dy, (70, 110, 130), 0.3)


def trading_card(
    rng: np.random.Generator, w: float, h: float, px_per_mm: float, base: np.ndarray, style: str
) -> np.ndarray:
    """Face of a collectors' card: border, inner frame, sharp artwork, a box of text."""
    pen = Pen(w, h, px_per_mm, base)
    if style == "photo":
        pen.paste(0, 0, artwork(rng, pen.area(w, h)))
        return pen.picture
    border = rng.uniform(1.8, 4.0)
    inner = (w - 2 * border, h - 2 * border)
    pen.box(border, border, *inner, colour(rng))
    if style == "framed":
        pen.box(border + 1, border + 1, inner[0] - 2, inner[1] - 2, colour(rng), 0.5)
    gap = border + rng.uniform(1.5, 4)
    pen.paste(gap, gap + 6, artwork(rng, pen.area(w - 2 * gap, h * 0.48)))
    pen.box(gap, h * 0.64, w - 2 * gap, h * 0.36 - gap, colour(rng, 120, 240))
    for i in range(4):
        pen.text(gap + 1.5, h * 0.70 + 4 * i, 1.8, words(rng, 24), (30, 30, 30))
    pen.text(gap, gap + 4, 3.0, words(rng, 12), ink_for(base))
    return pen.picture


def sheet(
    rng: np.random.Generator, w: float, h: float, px_per_mm: float, base: np.ndarray, style: str
) -> np.ndarray:
    """Face of a paper sheet."""
    pen = Pen(w, h, px_per_mm, base)
    ink = tuple(float(v) for v in np.asarray(base) * rng.uniform(0.12, 0.35))
    margin = rng.uniform(10, 25)
    if style == "photo":
        pen.paste(margin, margin, artwork(rng, pen.area(w - 2 * margin, h * rng.uniform(0.3, 0.55))))
    if style == "form":
        inset = rng.uniform(5, 15)
        pen.box(inset, inset, w - 2 * inset, h - 2 * inset, ink, rng.uniform(0.3, 1.2))
    if style == "table":
        rows, columns = int(rng.integers(5, 24)), int(rng.integers(2, 7))
        for i in range(rows + 1):
            y = margin + (h * 0.6) * i / rows
            pen.line(margin, y, w - margin, y, ink, 0.35)
        for j in range(columns + 1):
            x = margin + (w - 2 * margin) * j / columns
            pen.line(x, margin, x, margin + h * 0.6, ink, 0.35)
    if style in {"text", "form", "table"}:
        start = margin + (h * 0.65 if style == "table" else 4)
        paragraph(pen, rng, margin, start, w - 2 * margin, h - margin - start, ink)
    return pen.picture


def paragraph(
    pen: Pen, rng: np.random.Generator, x: float, y: float, w: float, h: float, ink: Colour
) -> None:
    """Lines of words as short strokes."""
    line = rng.uniform(4.5, 8.0)
    end = y + h * rng.uniform(0.3, 1.0)
    while y < end:
        pos, right = x, x + w * (1.0 if rng.random() < 0.8 else rng.uniform(0.3, 0.9))
        while pos < right - 3:
            word = min(rng.uniform(3, 16), right - pos)
            pen.line(pos, y, pos + word, y, ink, line * 0.33)
            pos += word + line * 0.35
        y += line * (1.0 if rng.random() < 0.88 else 2.2)


def face_of(
    key: str,
    rng: np.random.Generator,
    w: float,
    h: float,
    px_per_mm: float,
    base: np.ndarray,
    style: str | None = None,
) -> tuple[np.ndarray, str]:
    """The face of a reference object; returns the picture and the style drawn."""
    if key.startswith("trading"):
        style = _style(rng, TRADING_STYLES, style)
        return trading_card(rng, w, h, px_per_mm, base, style), style
    if key in {"a4", "letter"} or min(w, h) > 120:
        style = _style(rng, SHEET_STYLES, style)
        return sheet(rng, w, h, px_per_mm, base, style), style
    style = _style(rng, CARD_STYLES, style)
    return bank_card(rng, w, h, px_per_mm, base, style), style


def _style(rng: np.random.Generator, styles: Sequence[str], wanted: str | None) -> str:
    drawn = str(rng.choice(styles))  # always drawn, so that the rest of the face does not depend on it
    return wanted or drawn
