"""Fonts for pictures and PDF: DejaVu for most alphabets, an installed font for what DejaVu lacks."""

import importlib.util
import os
from functools import cache
from pathlib import Path

# Fonts with many characters that systems ship; tried first, so that few files are opened.
_BROAD = (
    "notosanscjk", "droidsansfallback", "sourcehansans", "wqy", "arial unicode", "arialuni", "yugoth",
    "msgothic", "msyh", "simsun", "malgun", "pingfang", "hiragino", "applesdgothic", "notosansdevanagari",
    "nirmala", "lohit", "notosansthai", "leelawui", "unifont",
)  # fmt: skip
_MAX_FILES = 400
_INVISIBLE = frozenset("\n\r\t\u00ad\u200b\u200c\u200d\u200e\u200f\u2060\ufeff\ufe0e\ufe0f")


def plain_font(*, bold: bool = False) -> Path:
    """Return the file of DejaVu Sans, which comes with matplotlib.

    Parameters
    ----------
    bold : bool
        The style.

    Returns
    -------
    Path
        A TrueType file.
    """
    spec = importlib.util.find_spec("matplotlib")
    assert spec is not None
    assert spec.origin is not None
    style = "-Bold" if bold else ""
    return Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf" / f"DejaVuSans{style}.ttf"


@cache
def characters(font: Path) -> frozenset[int]:
    """Return the code points that a font file has glyphs for; none where it can't be read."""
    from fontTools.ttLib import TTFont, TTLibError

    try:
        with TTFont(font, lazy=True, fontNumber=0) as opened:
            return frozenset(opened.getBestCmap() or ())
    except (TTLibError, OSError, KeyError, ValueError, AssertionError):
        return frozenset()


def lacking(text: str, *fonts: Path) -> frozenset[str]:
    """Return the characters of a text that none of these fonts can set."""
    have = frozenset().union(*(characters(font) for font in fonts))
    return frozenset(c for c in text if ord(c) not in have and c not in _INVISIBLE)


def fallbacks(text: str) -> tuple[tuple[Path, ...], frozenset[str]]:
    """Find installed fonts for the characters that DejaVu lacks.

    Parameters
    ----------
    text : str
        In any scripts.

    Returns
    -------
    tuple of Path
        Fonts to add, in the order to try; empty where DejaVu has everything.
    frozenset of str
        Characters that no font found can set.
    """
    missing = lacking(text, plain_font())
    chosen: list[Path] = []
    if missing:
        for font in _installed():
            found = frozenset(c for c in missing if ord(c) in characters(font))
            if found:
                chosen.append(font)
                missing -= found
            if not missing:
                break
    return tuple(chosen), missing


def unset_characters(text: str) -> str:
    """Name the characters that no available font can set, by their code points.

    Parameters
    ----------
    text : str
        In any scripts.

    Returns
    -------
    str
        "U+1F600, U+1F601"; the empty text if all can be set.
    """
    return ", ".join(f"U+{ord(character):04X}" for character in sorted(fallbacks(text)[1]))


@cache
def _installed() -> tuple[Path, ...]:
    files = [
        found
        for folder in _folders()
        if folder.is_dir()
        for found in sorted(folder.rglob("*"))
        if found.suffix.lower() in (".ttf", ".otf") and "emoji" not in found.name.lower()
    ]
    return tuple(sorted(files, key=_rank)[:_MAX_FILES])


def _rank(font: Path) -> tuple[int, str]:
    name = font.name.lower()
    places = [place for place, part in enumerate(_BROAD) if part in name]
    return (min(places, default=len(_BROAD)), name)


def _folders() -> tuple[Path, ...]:
    home = Path.home()
    windows = Path(os.environ.get("WINDIR", "C:/Windows"))
    return (
        Path("/usr/share/fonts"), Path("/usr/local/share/fonts"), home / ".fonts",
        home / ".local/share/fonts", Path("/System/Library/Fonts"), Path("/Library/Fonts"),
        home / "Library/Fonts", windows / "Fonts",
    )  # fmt: skip
