"""Printed faces, all invented: reference cards, name plates, the parts list. Arrays are RGB, 8 bit."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont


def text(draw, xy, words: str, size: float, fill, anchor="lm", stroke: int = 0) -> None:
    draw.text(xy, words, font=ImageFont.load_default(size), fill=fill, anchor=anchor, stroke_width=stroke)


def tern(draw, x: float, y: float, s: float, fill) -> None:
    """Draw the mark of the toy works: a tern, wings up."""
    left = [(-1.0, -0.75), (-0.45, -0.45), (0.0, 0.0), (-0.15, 0.12), (-0.55, -0.2)]
    right = [(1.05, -0.6), (0.5, -0.42), (0.0, 0.0), (0.12, 0.14), (0.55, -0.18)]
    body = [(-0.62, 0.42), (-0.2, 0.08), (0.15, -0.05), (0.52, 0.02), (0.2, 0.16), (-0.12, 0.24)]
    for part in (left, right, body):
        draw.polygon([(x + s * a, y + s * b) for a, b in part], fill=fill)


def aged(picture: Image.Image, rng: np.random.Generator, strength: float = 4.0) -> np.ndarray:
    """Return the print with slight unevenness."""
    w, h = picture.size
    coarse = rng.normal(0, 1, (max(h // 60, 2), max(w // 60, 2))).astype(np.float32)
    blot = np.asarray(Image.fromarray(coarse, "F").resize((w, h), Image.Resampling.BICUBIC))
    grain = rng.normal(0, 1, (h, w))
    out = np.asarray(picture.convert("RGB"), float) + (strength * blot + 1.5 * grain)[..., None]
    return np.clip(out, 0, 255).astype(np.uint8)


def library_card(rng: np.random.Generator) -> np.ndarray:
    """A reader's card of the Cold Point harbour library, 85.60 x 53.98 mm at 20 px/mm."""
    w, h = 1712, 1080
    image = Image.new("RGB", (w, h), (22, 84, 99))
    draw = ImageDraw.Draw(image)
    for k in range(9):
        y = 700 + 46 * k
        wave = [(x, y + 16 * np.sin(x / 92 + 0.9 * k)) for x in range(-20, w + 40, 12)]
        draw.line(wave, fill=(36 + 5 * k, 110 + 5 * k, 124 + 5 * k), width=11)
    draw.rectangle((0, 120, w, 300), fill=(236, 226, 200))
    text(draw, (110, 212), "COLD POINT HARBOUR LIBRARY", 84, (22, 60, 72), stroke=2)
    tern(draw, 1430, 500, 190, (236, 226, 200))
    text(draw, (110, 420), "Reader's card", 74, (236, 226, 200))
    text(draw, (110, 600), "M. Sedgewater", 62, (250, 246, 232))
    text(draw, (110, 960), "0417 - 2264 - 31", 70, (250, 246, 232), stroke=1)
    return aged(image, rng)


def picture_card(rng: np.random.Generator) -> np.ndarray:
    """Number 14 of a series of picture cards, 63.5 x 88.9 mm at 20 px/mm."""
    w, h = 1270, 1778
    image = Image.new("RGB", (w, h), (240, 232, 212))
    draw = ImageDraw.Draw(image)
    box = (96, 110, w - 96, 1390)
    for y in range(box[1], box[3]):
        t = (y - box[1]) / (box[3] - box[1])
        draw.line((box[0], y, box[2], y), fill=(int(238 - 80 * t), int(168 - 20 * t), int(96 + 60 * t)))
    draw.ellipse((780, 330, 980, 530), fill=(252, 226, 150))
    draw.polygon(
        [(box[0], 1120), (500, 960), (860, 1080), (box[2], 1010), (box[2], 1390), (box[0], 1390)],
        fill=(38, 70, 92),
    )
    draw.polygon([(330, 1010), (370, 520), (470, 520), (510, 1010)], fill=(244, 240, 228))
    for y in (610, 760, 910):
        d = (y - 520) * 40 / 490
        draw.polygon([(366 - d, y), (474 + d, y), (480 + d, y + 62), (360 - d, y + 62)], fill=(178, 44, 38))
    draw.rectangle((352, 440, 488, 524), fill=(40, 44, 52))
    draw.polygon([(340, 440), (500, 440), (420, 366)], fill=(178, 44, 38))
    for k in range(7):
        y = 1150 + 34 * k
        wave = [(x, y + 10 * np.sin(x / 60 + k)) for x in range(box[0], box[2] + 10, 10)]
        draw.line(wave, fill=(70 + 9 * k, 112 + 8 * k, 132 + 8 * k), width=8)
    draw.rectangle(box, outline=(120, 36, 32), width=12)
    text(draw, (w / 2, 1490), "THE LIGHT AT COLD POINT", 76, (60, 34, 28), "mm", 1)
    text(draw, (w / 2, 1602), "Lights of the Salt Coast", 58, (110, 70, 54), "mm")
    text(draw, (w - 130, 1690), "No 14", 58, (120, 36, 32), "rm", 1)
    tern(draw, 180, 1672, 62, (120, 36, 32))
    return aged(image, rng, 3.0)


def parts_list(rng: np.random.Generator) -> np.ndarray:
    """A typed parts list of the toy works, an A4 sheet at 10 px/mm."""
    w, h = 2100, 2970
    image = Image.new("RGB", (w, h), (244, 242, 234))
    draw = ImageDraw.Draw(image)
    tern(draw, 300, 290, 110, (40, 62, 84))
    text(draw, (470, 250), "TERN & TALLOW TOY WORKS", 96, (40, 62, 84), stroke=2)
    text(draw, (470, 350), "Quay Street, Cold Point    Spare parts", 56, (60, 70, 84))
    draw.line((200, 450, w - 200, 450), fill=(40, 62, 84), width=6)
    rows = [
        "Bow plate",
        "Wheelhouse",
        "Funnel cap",
        "Lifeboat",
        "Paddle wheel",
        "Deck rail",
        "Pull cord",
        "Roller",
        "Bollard",
    ]
    text(draw, (200, 560), "SALTMARSH FERRY", 72, (60, 60, 62), stroke=1)
    for k, row in enumerate(rows):
        y = 700 + 120 * k
        text(draw, (220, y), f"{k + 1:>2}", 56, (44, 44, 48))
        text(draw, (340, y), row, 56, (44, 44, 48))
        text(draw, (w - 240, y), f"{2 + (7 * k) % 5}/{(3 * k) % 12}", 56, (44, 44, 48), "rm")
        draw.line((200, y + 58, w - 200, y + 58), fill=(200, 198, 190), width=2)
    for k in range(5):
        draw.line(
            (200, 2050 + 110 * k, w - 260 - 120 * (k % 3), 2050 + 110 * k), fill=(214, 212, 204), width=3
        )
    text(draw, (200, 2740), "Orders under one shilling, postage extra.", 50, (80, 80, 84))
    return aged(image, rng, 2.0)


def lettering(words: str, ink: tuple[int, int, int], ground: np.ndarray) -> np.ndarray:
    """Print words on a piece of painted surface, as large as it allows."""
    image = Image.fromarray(ground)
    width, height = image.size
    size = 0.8 * height
    room = ImageFont.load_default(size).getlength(words)
    layer = Image.new("L", image.size, 0)
    middle, stroke = (width / 2, height / 2), max(1, height // 60)
    text(ImageDraw.Draw(layer), middle, words, size * min(1.0, 0.92 * width / room), 255, "mm", stroke)
    return np.asarray(
        Image.composite(Image.new("RGB", image.size, ink), image, layer.filter(ImageFilter.GaussianBlur(0.8)))
    )


DECALS = {  # words, width and height in texture px, ink, paint underneath
    "decal:name-gold": ("SALTMARSH  FERRY", 1400, 140, (232, 190, 96), "red"),
    "decal:name-cream": ("SALTMARSH FERRY", 1800, 204, (240, 228, 200), "navy"),
    "decal:maker-blue": ("TERN & TALLOW", 1000, 140, (244, 236, 214), "navy"),
    "decal:polish": ("GULL POLISH", 880, 260, (120, 30, 26), "mustard"),
}
FACES = {"id1": library_card, "trading": picture_card, "a4": parts_list}
