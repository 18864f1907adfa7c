"""Spans asked for in a JSON file, checked field by field before anything is measured."""

import json
from dataclasses import replace
from math import isfinite
from pathlib import Path
from typing import Any

from measure.errors import SpanError
from measure.kind_requests import KindRequest
from measure.kind_terms import Choices
from measure.texts import cleaned

Point = tuple[float, float]


class RequestError(SpanError):
    """The file of spans can't be used."""

    exit_code = 4


def read_requests(path: Path, choices: Choices) -> list[KindRequest]:
    """Read ``{"spans": [{"name", "p_px", "standoff_mm", "standoff_std_mm", "part", "feature"}]}``.

    Parameters
    ----------
    path : Path
        The file.
    choices : Choices
        How to measure; its stand-off is for spans that name none.

    Raises
    ------
    RequestError
        Missing, not JSON, or a field that is not as expected.
    """
    try:
        data = cleaned(json.loads(path.read_text("utf-8")))
    except OSError as error:
        raise RequestError(f"{path}: can't be read ({error.strerror}); give a JSON file of spans") from error
    except (ValueError, RecursionError) as error:
        raise RequestError(f'{path}: not valid JSON ({error}); expected {{"spans": [...]}}') from error
    spans = data.get("spans") if isinstance(data, dict) else None
    if not isinstance(spans, list) or not spans:
        raise RequestError(f'{path}: spans: expected a list with at least one span, as {{"spans": [...]}}')
    try:
        return [_request(span, f"spans[{i}]", choices, i) for i, span in enumerate(spans)]
    except ValueError as error:
        raise RequestError(f"{path}: {error}") from error


def _request(data: Any, where: str, choices: Choices, index: int) -> KindRequest:
    if not isinstance(data, dict):
        raise ValueError(f"{where}: expected an object with p_px")
    points = data.get("p_px")
    if not isinstance(points, list) or len(points) != 2:
        raise ValueError(f"{where}.p_px: expected two points, [[x, y], [x, y]]")
    clicks = tuple(_pair(point, f"{where}.p_px[{i}]") for i, point in enumerate(points))
    height = data.get("standoff_mm", choices.standoff_mm)
    heights = (
        _pair(height, f"{where}.standoff_mm")
        if isinstance(height, list)
        else _number(height, f"{where}.standoff_mm")
    )
    std = data.get("standoff_std_mm", choices.standoff_std_mm)
    if std is not None and _number(std, f"{where}.standoff_std_mm") < 0:
        raise ValueError(f"{where}.standoff_std_mm: expected a number that is not negative")
    how = replace(choices, standoff_mm=heights, standoff_std_mm=None if std is None else float(std))
    name, part, feature = (_text(data.get(key), f"{where}.{key}") for key in ("name", "part", "feature"))
    return KindRequest(name or f"span {index + 1}", "span", clicks, how, part, feature)


def _text(value: Any, where: str) -> str | None:
    if value is not None and not isinstance(value, str):
        raise ValueError(f"{where}: expected text")
    return value


def _pair(value: Any, where: str) -> Point:
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError(f"{where}: expected two numbers, [x, y]")
    return _number(value[0], f"{where}[0]"), _number(value[1], f"{where}[1]")


def _number(value: Any, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise ValueError(f"{where}: expected a number")
    return float(value)
