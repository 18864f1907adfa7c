"""What gives a photo's scale, as the page shows it: in words, with each source's result alone."""

import re
from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from calibration.errors import CalibrationError
from measure.errors import MeasureError
from measure.record import PhotoEntry, ReferenceEntry, SourceEntry
from measure.scale import view_words

if TYPE_CHECKING:
    from calibration.cards import FoundCard
    from calibration.plane import Plane
    from measure.kinds import Scale
    from measure.length import Length

_TOLD_BESIDE = re.compile(r" \(ID-1\)|, [\d.]+ x [\d.]+.*$")
# Above this confidence, a found card needs no check by eye.
_SURE = 0.98
# So many rivals are offered as answers; the list of kinds and a size of one's own serve for the rest.
_MOST_RIVALS = 6
# The length whose ± shows how good a scale is; in a close-up the longest that fits.
_YARDSTICKS_MM = (100.0, 50.0, 20.0, 10.0)


@lru_cache(maxsize=16)
def expected(scale: "Scale") -> tuple[float, float] | None:
    """Return a length beside the reference, and how exact it would be on this photo.

    Parameters
    ----------
    scale : Scale
        What the photo is measured by.

    Returns
    -------
    (float, float) or None
        The length and its expanded uncertainty (95 %), both mm; None where not even 10 mm can be measured.
    """
    from measure.kinds import measure_span, over_family

    def between(ends_px: Any) -> "Length":
        def by(plane: "Plane") -> "Length":
            return measure_span(plane, ends_px)

        return by(scale.plane) if scale.family is None else over_family(scale.family, by)

    x_mm, y_mm = scale.plane.centre_mm
    for long_mm in _YARDSTICKS_MM:
        ends = scale.plane.to_px([(x_mm - long_mm / 2, y_mm), (x_mm + long_mm / 2, y_mm)])
        try:
            return long_mm, between(ends).expanded_uncertainty_mm
        except (CalibrationError, MeasureError):
            continue
    return None


def expected_words(scale: "Scale") -> str | None:
    """Say how exact a length is.

    Parameters
    ----------
    scale : Scale
        What the photo is measured by.

    Returns
    -------
    str or None
        A clause; None as for `expected`.
    """
    found = expected(scale)
    return None if found is None else f"a length of {found[0]:.0f} mm comes out to about ± {found[1]:.2g} mm"


def card_words(reference: ReferenceEntry, scale: "Scale | None") -> tuple[str, list[list[str]]]:
    """Return the headline and the facts of a card.

    Parameters
    ----------
    reference : ReferenceEntry
        The card, found or set by hand.
    scale : Scale or None
        What the photo is measured by; None leaves the view out.

    Returns
    -------
    str, list of [str, str]
        The headline; the name and the text of each fact.
    """
    from measure.scale import object_of

    name = plain_name(object_of(reference).name)
    facts = [["Size", f"{reference.width_mm:g} × {reference.height_mm:g} mm"], *_view_facts(scale)]
    if reference.source != "found":
        facts.append(["Outline", "set by hand"])
        return f"{_capital(name)}, outline set by hand", facts
    facts.append(["How sure", _sure_words(reference.confidence)])
    return (f"{_capital(name)} found" if sure(reference) else f"This is probably a {name}"), facts


def question(shot: PhotoEntry, scale: "Scale | None") -> dict[str, Any] | None:
    """Return what to ask of an outline that may be something else.

    Parameters
    ----------
    shot : PhotoEntry
        The photo.
    scale : Scale or None
        What it is measured by.

    Returns
    -------
    dict or None
        The question, and the likeliest other things as answers; None where nothing needs asking.
    """
    from calibration.cards import is_doubtful, rival_sizes
    from measure.wording import change_words, size_words, with_article

    if scale is None or shot.reference is None or shot.reference.said or not is_doubtful(scale.found[0]):
        return None
    return {
        "kind": shot.reference.kind,
        "asks": f"Is this really {with_article(plain_name(scale.found[0].object.name))}?",
        "name": _capital(plain_name(scale.found[0].object.name)),
        "size": f"{shot.reference.width_mm:g} × {shot.reference.height_mm:g} mm",
        "rivals": [
            {
                "kind": one.kind.key,
                "name": _capital(one.kind.name),
                "size": size_words(one.kind).replace(" x ", " × "),
                "change": change_words(one),
            }
            for one in rival_sizes(scale.found[0])
            if not one.kind.family
        ][:_MOST_RIVALS],
    }


def plain_name(name: str) -> str:
    """Return the name of an object of known size, without the standard or size that is shown beside it.

    Parameters
    ----------
    name : str
        As the catalogue has it.

    Returns
    -------
    str
    """
    return _TOLD_BESIDE.sub("", name)


def thing_name(scale: "Scale") -> str:
    """Return what to call the object that gives a photo's scale.

    Parameters
    ----------
    scale : Scale
        What the photo is measured by.

    Returns
    -------
    str
        To stand after "the".
    """
    known = scale.plane.object or (scale.found[0].object if scale.found else None)
    return "card" if known is None else plain_name(known.name)


def sure(reference: ReferenceEntry) -> bool:
    """Tell whether a card is practically certain: set by hand, or found with hardly any doubt."""
    return reference.source != "found" or (reference.confidence or 0.0) >= _SURE


class ScaleViews:
    """What the page shows of each photo's scale, rebuilt only if the scale has changed."""

    def __init__(self) -> None:
        self._known: dict[str, tuple[Scale | None, str | None, dict[str, Any]]] = {}

    def of(self, shot: PhotoEntry, scale: "Scale | None", trouble: str | None) -> dict[str, Any]:
        """Return what gives the scale in a photo, and what to draw of it.

        Parameters
        ----------
        shot : PhotoEntry
            The photo.
        scale : Scale or None
            The same object for as long as nothing has changed.
        trouble : str or None
            Why there is none.

        Returns
        -------
        dict
            "scale" is None where nothing of known size is recorded; "outlines" are in px.
        """
        known = self._known.get(shot.id)
        if scale is None or known is None or known[0] is not scale or known[1] != trouble:
            view = {"scale": _scale(shot, scale, trouble), "outlines": _outlines(shot, scale)}
            known = self._known[shot.id] = (scale, trouble, view)
        return known[2]


def _scale(shot: PhotoEntry, scale: "Scale | None", trouble: str | None) -> dict[str, Any] | None:
    if not shot.has_scale:
        return None
    headline, facts = _headline(shot, scale)
    return {
        "kind": "card" if shot.reference is not None else shot.sources[0].kind,
        "sure": shot.reference is None or (sure(shot.reference) and question(shot, scale) is None),
        "headline": headline,
        "facts": facts,
        "gives": None if scale is None else expected_words(scale),
        "trouble": trouble,
        "items": _items(shot, scale),
        "straight": [len(line) for line in shot.straight_px],
        "question": question(shot, scale),
    }


def _outlines(shot: PhotoEntry, scale: "Scale | None") -> list[dict[str, Any]]:
    """Return what to draw beside the first card: further references as seen, and straight edges."""
    found = () if scale is None else scale.found
    pairs = list(zip(_entries(shot), found, strict=False))
    drawn = [_outline(one, seen) for (what, _, one), seen in pairs if what != "card"]
    return drawn + [_line(line, closed=False) for line in shot.straight_px]


def _outline(one: ReferenceEntry | SourceEntry, seen: "FoundCard") -> dict[str, Any]:
    if isinstance(one, ReferenceEntry) or one.kind == "target":
        return _line(seen.corners_px, closed=True)
    if one.kind == "coin":
        return _line(_round_in(seen.corners_px), closed=True)
    # A rule or a length is shown as a strip's middle.
    corners = seen.corners_px
    return _line([(corners[0] + corners[3]) / 2.0, (corners[1] + corners[2]) / 2.0], closed=False)


def _line(points: Iterable[Any], *, closed: bool) -> dict[str, Any]:
    return {"closed": closed, "points_px": [[round(float(x), 2), round(float(y), 2)] for x, y in points]}


def _round_in(square_px: Any) -> Any:
    """Return the ellipse that touches the four sides of a square as seen."""
    import cv2
    import numpy as np

    turn = np.linspace(0.0, 2.0 * np.pi, 49)[:-1]
    circle = np.column_stack([np.cos(turn), np.sin(turn)])[None].astype(np.float32)
    unit = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], np.float32)
    seen = cv2.getPerspectiveTransform(unit, np.asarray(square_px, np.float32))
    return cv2.perspectiveTransform(circle, seen)[0]


def _headline(shot: PhotoEntry, scale: "Scale | None") -> tuple[str, list[list[str]]]:
    if shot.reference is not None:
        return card_words(shot.reference, scale)
    name = "something of known size" if scale is None else thing_name(scale)
    return _capital(name), _view_facts(scale)


def _view_facts(scale: "Scale | None") -> list[list[str]]:
    if scale is None:
        return []
    thing = thing_name(scale)
    tilt, height, side = view_words(scale.plane, scale.family)
    within = f"assumed straight above, within about {float(tilt[0]) + float(tilt[1]):.0f}°"
    seen = within if scale.family is not None else _tilt_words(*tilt)
    return [
        ["Seen from", seen],
        ["Camera", f"about {_unbroken(*height)} mm above the {thing}"],
        ["One pixel", f"shows {_unbroken(*side)} mm beside the {thing}"],
    ]


def _entries(shot: PhotoEntry) -> list[tuple[str, int, ReferenceEntry | SourceEntry]]:
    """Return all references, in the scale's order."""
    entries: list[tuple[str, int, ReferenceEntry | SourceEntry]] = []
    if shot.reference is not None:
        entries.append(("card", 0, shot.reference))
        entries += [("also", number, one) for number, one in enumerate(shot.also)]
    return entries + [("source", number, one) for number, one in enumerate(shot.sources)]


def _items(shot: PhotoEntry, scale: "Scale | None") -> list[dict[str, Any]]:
    names = [] if scale is None else [_capital(plain_name(one.object.name)) for one in scale.found]
    entries = _entries(shot)
    return [
        {
            "what": what,
            "number": number,
            "name": (names[place] if place < len(names) else "Not understood")
            + (f", number {number + 2}" if what == "also" else ""),
            "role": _role(shot),
            "prefer": number > 0 and what == "source" and _first_counts(shot),
            "coin": isinstance(one, SourceEntry) and one.kind == "coin",
            "nearer": isinstance(one, SourceEntry) and one.nearer_px is not None,
            "printed": list(one.printed_mm or ()) if isinstance(one, SourceEntry) else [],
            "alone": _alone(shot, one) if len(entries) > 1 else None,
        }
        for place, (what, number, one) in enumerate(entries)
    ]


def _first_counts(shot: PhotoEntry) -> bool:
    """Whether heights count from the first source, whichever it is."""
    return shot.reference is None and all(one.kind != "target" for one in shot.sources)


def _role(shot: PhotoEntry) -> str:
    several = len(_entries(shot)) > 1
    return "gives the scale together with the others" if several else "gives the scale"


def _alone(shot: PhotoEntry, one: ReferenceEntry | SourceEntry) -> str | None:
    """Say how exact lengths would be by this one alone."""
    from measure.scale import scale_of

    bare = replace(shot, also=(), sources=())
    lone = (
        replace(bare, reference=None, sources=(one,))
        if isinstance(one, SourceEntry)
        else replace(bare, reference=one)
    )
    try:
        return expected_words(scale_of(lone))
    except (CalibrationError, MeasureError) as error:
        return str(error)


def _capital(name: str) -> str:
    return f"{name[:1].upper()}{name[1:]}"


def _tilt_words(tilt: str, expanded: str) -> str:
    tilt_deg, told = float(tilt), _unbroken(tilt, expanded)
    if tilt_deg < 5.0:
        return f"straight above ({told}° off)"
    if tilt_deg < 20.0:
        return f"nearly straight above ({told}° off)"
    return f"{'an angle' if tilt_deg < 45.0 else 'a steep angle'} ({told}° off straight above)"


def _unbroken(value: str, expanded: str) -> str:
    return f"{value}\u00a0±\u00a0{expanded}"


def _sure_words(confidence: float | None) -> str:
    if confidence is None:
        return "not stated"
    word = "practically certain" if confidence >= _SURE else "likely: check that it sits on the edges"
    return f"{word} ({100 * min(confidence, 0.999):.0f} in 100)"
