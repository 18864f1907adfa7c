"""Spans asked for in a JSON file, checked field by field before anything is measured."""

import json
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import Any

from measure.errors import SpanError

Point = tuple[float, float]


class RequestError(SpanError):
    """The file of spans can't be used."""

    exit_code = 4


@dataclass(frozen=True, slots=True)
class SpanRequest:
    """One span to measure.

    Attributes
    ----------
    name : str
        For people.
    p_px : pair of points
        The ends, in pixels of the upright photo.
    standoff_mm : float or pair of floats
        Height above the card's face, one for the span or one for each end.
    standoff_std_mm : float or None
        Its standard uncertainty; None for the usual one.
    """

    name: str
    p_px: tuple[Point, Point]
    standoff_mm: float | tuple[float, float] = 0.0
    standoff_std_mm: float | None = None


def read_requests(path: Path, *, standoff_mm: float, standoff_std_mm: float | None) -> list[SpanRequest]:
    """Read ``{"spans": [{"name", "p_px", "standoff_mm", "standoff_std_mm"}]}``.

    Parameters
    ----------
    path : Path
        The file.
    standoff_mm, standoff_std_mm : float
        For spans that name none.

    Raises
    ------
    RequestError
        Missing, not JSON, or a field that is not as expected.
    """
    try:
        data = json.loads(path.read_text("utf-8"))
    except OSError as error:
        raise RequestError(f"{path}: can't be read ({error.strerror}); give a JSON file of spans") from error
    except (ValueError, RecursionError) as error:
        raise RequestError(f'{path}: not valid JSON ({error}); expected {{"spans": [...]}}') from error
    spans = data.get("spans") if isinstance(data, dict) else None
    if not isinstance(spans, list) or not spans:
        raise RequestError(f'{path}: spans: expected a list with at least one span, as {{"spans": [...]}}')
    try:
        return [
            _request(span, f"spans[{i}]", standoff_mm, standoff_std_mm, i) for i, span in enumerate(spans)
        ]
    except ValueError as error:
        raise RequestError(f"{path}: {error}") from error


def _request(data: Any, where: str, standoff_mm: float, std_mm: float | None, index: int) -> SpanRequest:
    if not isinstance(data, dict):
        raise ValueError(f"{where}: expected an object with p_px")
    name = data.get("name", f"span {index + 1}")
    if not isinstance(name, str):
        raise ValueError(f"{where}.name: expected text")
    points = data.get("p_px")
    if not isinstance(points, list) or len(points) != 2:
        raise ValueError(f"{where}.p_px: expected two points, [[x, y], [x, y]]")
    first, second = (_pair(point, f"{where}.p_px[{i}]") for i, point in enumerate(points))
    height = data.get("standoff_mm", standoff_mm)
    heights = (
        _pair(height, f"{where}.standoff_mm")
        if isinstance(height, list)
        else _number(height, f"{where}.standoff_mm")
    )
    std = data.get("standoff_std_mm", std_mm)
    if std is not None and _number(std, f"{where}.standoff_std_mm") < 0:
        raise ValueError(f"{where}.standoff_std_mm: expected a number that is not negative")
    return SpanRequest(name, (first, second), heights, None if std is None else float(std))


def _pair(value: Any, where: str) -> Point:
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError(f"{where}: expected two numbers, [x, y]")
    return _number(value[0], f"{where}[0]"), _number(value[1], f"{where}[1]")


def _number(value: Any, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise ValueError(f"{where}: expected a number")
    return float(value)
