"""From the page's JSON to messages, within limits; what makes no sense is refused in a sentence."""

from collections.abc import Callable, Mapping
from typing import Any

from measure.desk.messages import page
from measure.desk.messages.checks import (
    MAX_POINTS,
    Ask,
    AskError,
    corners_in,
    finite,
    photo_in,
    place_in,
    points_in,
    text_in,
    within,
)
from measure.length import parse_length
from measure.record import KINDS, STATES
from references.limits import LARGEST_COUNT

_MAX_STANDOFF_MM = 5000.0
_LEFT_OUT = ("card", "also", "source", "straight")


def parse(ask: Ask) -> object:
    """Return what the page says.

    Parameters
    ----------
    ask : Ask
        A JSON object; "do" names what is wanted.

    Returns
    -------
    object
        One of the classes of `page`.

    Raises
    ------
    MeasureError, CalibrationError
        It makes no sense; the message is for the page's user.
    """
    name = ask.get("do")
    if not isinstance(name, str) or name not in _PARSERS:
        raise AskError("The desk does not know this request; reload the page.")
    return _PARSERS[name](ask)


# ---- measuring ----


def _changes(ask: Ask) -> page.Changes:
    clicks = points_in(ask["clicks_px"]) if "clicks_px" in ask else None
    std = ask.get("standoff_std_mm")
    return page.Changes(
        clicks_px=clicks,
        name=text_in(ask, "name") if "name" in ask else None,
        snap=bool(ask["snap"]) if "snap" in ask else None,
        standoff_mm=_standoff(ask["standoff_mm"]) if "standoff_mm" in ask else None,
        standoff_std_mm=_limited(std, "its uncertainty", 0.0, _MAX_STANDOFF_MM)
        if "standoff_std_mm" in ask
        else None,
        lean=(_lean(ask["lean_std_mm"]),) if "lean_std_mm" in ask else None,
    )


def _limited(value: Any, key: str, low: float, high: float) -> float:
    return within(finite(value, key), key, low, high)


def _standoff(value: Any) -> tuple[float, ...]:
    given = value if isinstance(value, list) else [value]
    return tuple(
        _limited(one, "height above the card", -_MAX_STANDOFF_MM, _MAX_STANDOFF_MM)
        for one in given[:MAX_POINTS]
    ) or (0.0,)


def _lean(value: Any) -> float | None:
    return None if value is None else _limited(value, "how far it may lean", 1e-3, 1000.0)


def _draft(ask: Ask) -> page.Draft:
    kind = ask.get("kind", "span")
    if kind not in KINDS:
        raise AskError(f"kind: expected one of {', '.join(KINDS)}")
    of = ask.get("of")
    return page.Draft(
        kind=kind,
        photo=photo_in(ask),
        part=text_in(ask, "part") or None,
        feature=text_in(ask, "feature") or None,
        name=text_in(ask, "name"),
        of=tuple(map(str, of))[:2] if isinstance(of, list) else None,
        same_standoff=ask.get("same_standoff") is True,
        changes=_changes({key: value for key, value in ask.items() if key != "name"}),
    )


def _try(ask: Ask) -> page.TryDraft | page.TryChange:
    if "draft" not in ask:
        return page.TryChange(_measurement(ask), _changes(ask))
    if not isinstance(ask["draft"], Mapping):
        raise AskError("draft: expected an object")
    return page.TryDraft(_draft(ask["draft"]))


def _measurement(ask: Ask) -> str:
    return str(ask.get("id"))


def _joins(ask: Ask) -> bool:
    return ask.get("join") is True


# ---- what gives the scale ----


def _corners(ask: Ask) -> page.SetCorners | page.FitCorners:
    if ask.get("fit"):
        return _fit(ask)
    return page.SetCorners(photo_in(ask), corners_in(ask), text_in(ask, "kind"), _joins(ask))


def _fit(ask: Ask) -> page.FitCorners:
    corners = corners_in(ask) if "corners_px" in ask else None
    return page.FitCorners(photo_in(ask), corners, str(ask.get("kind") or ""))


def _source(ask: Ask) -> page.AddSource:
    fields = ask.get("source")
    if not isinstance(fields, Mapping):
        raise AskError("source: expected an object")
    kind, key, std_mm, length_mm = fields.get("kind"), str(fields.get("object", "")), None, None
    if kind not in ("coin", "rule", "length", "feature", "target"):
        raise AskError("source: expected a coin, a rule, a known length, a feature or the target")
    if kind == "length":
        std_mm = _length(fields, "std") if str(fields.get("std") or "").strip() else None
        length_mm = _length(fields, "length")
    part, feature = str(fields.get("part", "")), str(fields.get("feature", ""))
    wish = page.SourceWish(str(kind), key, length_mm, std_mm, part, feature)
    return page.AddSource(photo_in(ask), wish, points_in(ask.get("marks_px", [])))


def _length(fields: Mapping[str, Any], key: str) -> float:
    return parse_length(str(fields.get(key) or ""))


def _nearer(ask: Ask) -> page.NearerSide:
    (point,) = points_in([ask.get("nearer_px")])
    return page.NearerSide(photo_in(ask), place_in(ask), point)


def _printed(ask: Ask) -> page.PrintedLengths:
    """Read the printed lengths, which the page sends as texts; both fields empty take them back."""
    value = ask.get("printed")
    if not isinstance(value, list) or len(value) != 2:
        raise AskError("printed: expected two lengths")
    texts = [str(one or "").strip() for one in value]
    if not texts[0] and not texts[1]:
        return page.PrintedLengths(photo_in(ask), None)
    if not texts[0]:
        raise AskError("Enter the length of the rule across the sheet as well.")
    return page.PrintedLengths(photo_in(ask), tuple(parse_length(text) for text in texts if text))


def _straight(ask: Ask) -> page.AddStraight:
    line = points_in(ask.get("points_px"))
    if len(line) < 3:
        raise AskError("A straight edge needs three points: its ends and one between them.")
    return page.AddStraight(photo_in(ask), line)


def _camera(ask: Ask) -> page.UseCamera:
    name = ask.get("profile")
    if name is not None and not isinstance(name, str):
        raise AskError("profile: expected the name of a camera profile")
    return page.UseCamera(photo_in(ask), name)


def _leave_out(ask: Ask) -> page.LeaveOut:
    what = ask.get("what")
    if what not in _LEFT_OUT:
        raise AskError("what: expected card, also, source or straight")
    return page.LeaveOut(photo_in(ask), what, 0 if what == "card" else place_in(ask))


def _say_kind(ask: Ask) -> page.SayKind:
    return page.SayKind(photo_in(ask), text_in(ask, "kind"))


# ---- notes ----


def _observe(ask: Ask) -> page.Observe:
    part, feature = text_in(ask, "part"), text_in(ask, "feature") or None
    state, value = ask.get("state", "seen"), ask.get("value")
    if not part or state not in (*STATES, "clear"):
        raise AskError(f"note: expected a part and one of {', '.join(STATES)}")
    if value is not None and (isinstance(value, bool) or not isinstance(value, int | str)):
        raise AskError("note: expected a whole number or one of the listed words")
    if isinstance(value, int) and not 0 <= value <= LARGEST_COUNT:
        raise AskError(f"note: a count is a whole number from 0 to {LARGEST_COUNT}")
    return page.Observe(part, feature, value, str(state))


def _name(ask: Ask) -> page.Rename:
    name, note = (text_in(ask, key) if key in ask else None for key in ("name", "note"))
    return page.Rename(name, note, _joins(ask))


def _sheet(ask: Ask) -> page.ChooseSheet:
    key = ask.get("sheet")
    if key is not None and not isinstance(key, str):
        raise AskError("This sheet is not among those offered.")
    return page.ChooseSheet(key)


_PARSERS: dict[str, Callable[[Ask], object]] = {
    "try": _try,
    "add": lambda ask: page.Add(_draft(ask), _joins(ask)),
    "change": lambda ask: page.Change(_measurement(ask), _changes(ask), _joins(ask)),
    "delete": lambda ask: page.Delete(_measurement(ask)),
    "try corners": lambda ask: page.TryCorners(photo_in(ask), corners_in(ask), text_in(ask, "kind")),
    "corners": _corners,
    "fit": _fit,
    "turn card": lambda ask: page.TurnCard(photo_in(ask)),
    "what it is": _say_kind,
    "find": lambda ask: page.FindCard(photo_in(ask)),
    "kind": lambda ask: page.TakeForKind(photo_in(ask), str(ask.get("kind", ""))),
    "remove photo": lambda ask: page.RemovePhoto(photo_in(ask)),
    "add source": _source,
    "prefer source": lambda ask: page.PreferSource(photo_in(ask), place_in(ask)),
    "nearer side": _nearer,
    "printed lengths": _printed,
    "second card": lambda ask: page.SecondCard(photo_in(ask), str(ask.get("kind") or "id1"), corners_in(ask)),
    "add straight": _straight,
    "camera": _camera,
    "leave out": _leave_out,
    "observe": _observe,
    "name": _name,
    "undo": lambda ask: page.Undo(),
    "redo": lambda ask: page.Redo(),
    "sheet": _sheet,
    "sample": lambda ask: page.OpenSample(str(ask.get("sample"))),
    "record": lambda ask: page.OpenRecord(str(ask.get("record"))),
    "write-up": lambda ask: page.WriteUp(),
}
