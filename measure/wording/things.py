"""Things of known size in words: what they are called, how large they are, and how lengths would change."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from calibration.cards import Rival
    from calibration.rectangles import Rectangle


def change_words(rival: "Rival") -> str:
    """Say how lengths would change if it is this.

    Parameters
    ----------
    rival : Rival
        What else an outline may be, and the factor by which lengths would change.

    Returns
    -------
    str
        A clause with the change in percent.
    """
    more = 100.0 * (rival.scale_factor - 1.0)
    about = "about " if rival.kind.family else ""
    return f"every length is {about}{abs(more):.1f} % {'longer' if more > 0 else 'shorter'}"


def size_words(kind: "Rectangle") -> str:
    """Return a thing's size.

    Parameters
    ----------
    kind : Rectangle
        A flat thing of the catalogue, or a family of such.

    Returns
    -------
    str
        The short side first, in mm to a tenth.
    """
    about = "about " if kind.family else ""
    return f"{about}{_tenths(kind.short_mm)} x {_tenths(kind.long_mm)} mm"


def with_article(name: str) -> str:
    """Return a name of one thing with "a" or "an" before it.

    Parameters
    ----------
    name : str
        English, in the singular.

    Returns
    -------
    str
    """
    vowel = name[:1].lower() in "aeio" and not name.lower().startswith("eu")
    return f"{'an' if vowel else 'a'} {name}"


def percent(share: float) -> str:
    """Return a probability in percent, never 0 and never 100."""
    return "under 1 %" if share < 0.01 else f"{100.0 * min(share, 0.99):.0f} %"


def _tenths(value_mm: float) -> str:
    return f"{value_mm + 1e-9:.1f}".removesuffix(".0")
