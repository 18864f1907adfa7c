"""Drawing on a raster picture: smooth lines, arrow heads and text in any alphabet."""

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from measure.writeup.draw.fonts import characters, fallbacks, plain_font
from measure.writeup.draw.planar import Points

# Drawn twice as large and then reduced, which gives smooth lines at any angle.
SUPER = 2
INK = (12, 52, 110)
HALO = (255, 255, 255)
PAPER = (255, 255, 255)


@lru_cache(maxsize=64)
def _face(path: Path, size: int) -> Any:
    return ImageFont.truetype(str(path), size, layout_engine=ImageFont.Layout.BASIC)


@lru_cache(maxsize=64)
def _shaped_face(path: Path, size: int) -> Any:
    return ImageFont.truetype(str(path), size)


@lru_cache(maxsize=4096)
def text_runs(text: str, *, bold: bool = False) -> tuple[tuple[Path, str], ...]:
    """Split a text into runs that one font can set each."""
    faces = (plain_font(bold=bold), plain_font(), *fallbacks(text)[0])
    runs: list[tuple[Path, str]] = []
    for character in text:
        face = next((f for f in faces if ord(character) in characters(f)), faces[0])
        if runs and (runs[-1][0] == face or character.isspace()):
            runs[-1] = (runs[-1][0], runs[-1][1] + character)
        else:
            runs.append((face, character))
    return tuple(runs)


def text_width_px(text: str, size_px: float, *, bold: bool = False) -> float:
    """Return the width of a line of text, px."""
    # Measured at the size it is drawn at: font sizes are whole numbers.
    drawn_px = size_px * SUPER
    runs = text_runs(text, bold=bold)
    return float(sum(_font(face, drawn_px, run).getlength(run) for face, run in runs)) / SUPER


def _font(face: Path, size_px: float, run: str) -> Any:
    # Shaping joins Arabic letters and orders Hebrew; plain text needs none and draws the same everywhere.
    needs_shaping = any(0x0590 <= ord(c) <= 0x1CFF for c in run)
    return (_shaped_face if needs_shaping else _face)(face, max(1, round(size_px)))


def wrap(text: str, size_px: float, width_px: float, *, bold: bool = False) -> list[str]:
    """Break a text into lines no wider than `width_px`; a longer word is broken where necessary."""
    lines: list[str] = []
    for paragraph in text.split("\n"):
        line = ""
        for word in paragraph.split(" "):
            for piece in _pieces(word, size_px, width_px, bold):
                joined = f"{line} {piece}" if line else piece
                if line and text_width_px(joined, size_px, bold=bold) > width_px:
                    lines.append(line)
                    line = piece
                else:
                    line = joined
        lines.append(line)
    return lines


def _pieces(word: str, size_px: float, width_px: float, bold: bool) -> list[str]:
    if text_width_px(word, size_px, bold=bold) <= width_px:
        return [word]
    pieces, piece = [], ""
    for character in word:
        if piece and text_width_px(piece + character, size_px, bold=bold) > width_px:
            pieces.append(piece)
            piece = ""
        piece += character
    return [*pieces, piece]


class Pen:
    """Draws on a picture; every coordinate and size is in px of the picture, (0, 0) a pixel's centre."""

    def __init__(self, width_px: int, height_px: int) -> None:
        self._size = (width_px, height_px)
        self._image = Image.new("RGB", (width_px * SUPER, height_px * SUPER), PAPER)
        self._draw = ImageDraw.Draw(self._image, "RGBA")

    def paste(self, picture: Image.Image, left_px: int, top_px: int, width_px: int, height_px: int) -> None:
        """Lay a picture on the sheet, resampled to this size."""
        size = (width_px * SUPER, height_px * SUPER)
        self._image.paste(picture.resize(size, Image.Resampling.LANCZOS), (left_px * SUPER, top_px * SUPER))

    def finished(self) -> Image.Image:
        """Return the picture at its own size."""
        return self._image.resize(self._size, Image.Resampling.BOX)

    def line(self, points_px: Points | Sequence[Any], width_px: float, colour: Any = INK) -> None:
        """Draw a line through points."""
        self._draw.line(
            self._at(points_px), fill=colour, width=max(1, round(width_px * SUPER)), joint="curve"
        )

    def haloed(self, points_px: Points | Sequence[Any], width_px: float) -> None:
        """Draw a line with a light outline, which is visible on any photo."""
        self.line(points_px, width_px * 2.6, (*HALO, 190))
        self.line(points_px, width_px)

    def shape(self, points_px: Points, fill: Any, outline: Any = None, width_px: float = 1.0) -> None:
        """Fill a polygon."""
        self._draw.polygon(self._at(points_px), fill=fill)
        if outline is not None:
            self.line(np.vstack([points_px, points_px[:1]]), width_px, outline)

    def arrow(self, tip_px: Points, way: Points, size_px: float) -> None:
        """Draw a closed, filled arrow head, three times as long as wide (ISO 129-1 shows such heads)."""
        normal = np.array([-way[1], way[0]])
        for grow, colour in ((0.35, (*HALO, 220)), (0.0, INK)):
            tip = tip_px + way * size_px * grow
            back = tip_px - way * size_px * (1.0 + 0.5 * grow)
            half = size_px * (0.19 + 0.35 * grow)
            self.shape(np.array([tip, back + normal * half, back - normal * half]), colour)

    def plate(self, centre_px: Points, width_px: float, height_px: float) -> None:
        """Draw the light background of a text."""
        (x, y), radius = self._one(centre_px), 0.18 * height_px * SUPER
        half_x, half_y = width_px / 2 * SUPER, height_px / 2 * SUPER
        self._draw.rounded_rectangle((x - half_x, y - half_y, x + half_x, y + half_y), radius, fill=PAPER)

    def disc(self, centre_px: Points, diameter_px: float, fill: Any) -> None:
        """Fill a circle with a light outline."""
        (x, y), radius = self._one(centre_px), diameter_px / 2 * SUPER
        rim = max(2.0, 0.06 * diameter_px) * SUPER
        self._draw.ellipse((x - radius, y - radius, x + radius, y + radius), fill=HALO)
        radius -= rim
        self._draw.ellipse((x - radius, y - radius, x + radius, y + radius), fill=fill)

    def text(
        self, text: str, at_px: Points | tuple[float, float], size_px: float, *, bold: bool = False,
        colour: Any = INK, anchor: str = "lm",
    ) -> None:  # fmt: skip
        """Write one line; `anchor` is l, m or r for the side and m or s for middle or baseline."""
        x, y = self._one(np.asarray(at_px, float))
        if anchor[0] != "l":
            width_px = text_width_px(text, size_px, bold=bold) * SUPER
            x -= width_px * (0.5 if anchor[0] == "m" else 1.0)
        if anchor[1] == "m":
            y += 0.36 * size_px * SUPER  # half the height of DejaVu's capitals
        for face, run in text_runs(text, bold=bold):
            font = _font(face, size_px * SUPER, run)
            self._draw.text((x, y), run, font=font, fill=colour, anchor="ls")
            x += font.getlength(run)

    def _at(self, points_px: Points | Sequence[Any]) -> list[tuple[float, float]]:
        return [self._one(np.asarray(point, float)) for point in points_px]

    def _one(self, point_px: Points) -> tuple[float, float]:
        # Pixel centres are whole numbers here; on the enlarged picture they lie SUPER/2 - 1/2 further on.
        return (
            float(point_px[0]) * SUPER + (SUPER - 1) / 2.0,
            float(point_px[1]) * SUPER + (SUPER - 1) / 2.0,
        )
