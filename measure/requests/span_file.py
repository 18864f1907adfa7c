"""Spans requested in a JSON file, checked field by field before anything is measured."""

from dataclasses import replace
from pathlib import Path
from typing import Any

from measure.errors import SpanError
from measure.json_files import JsonError, read_json
from measure.kinds import Choices
from measure.record import or_none, point_at, spread_at, standoffs_at, text_at
from measure.requests.kind_requests import KindRequest


class RequestError(SpanError):
    """The file of spans can't be used."""


def read_requests(path: Path, choices: Choices) -> list[KindRequest]:
    """Read ``{"spans": [{"name", "p_px", "standoff_mm", "standoff_std_mm", "part", "feature"}]}``.

    Parameters
    ----------
    path : Path
        The file.
    choices : Choices
        How to measure; its stand-off is for spans that give none.

    Returns
    -------
    list of KindRequest
        At least one, in the file's order; those without a name are numbered.

    Raises
    ------
    RequestError
        Missing, not JSON, or a field that is not as expected.
    """
    try:
        data = read_json(path)
    except JsonError as error:
        raise RequestError(f'{error}; expected a JSON file of spans, {{"spans": [...]}}') from error
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
    clicks = tuple(point_at(point, f"{where}.p_px[{i}]") for i, point in enumerate(points))
    height = data.get("standoff_mm", choices.standoff_mm)
    heights = standoffs_at(height, f"{where}.standoff_mm")
    if len(heights) not in (1, 2):
        raise ValueError(f"{where}.standoff_mm: expected one number, or two, [h1, h2]")
    std = or_none(spread_at)(data.get("standoff_std_mm", choices.standoff_std_mm), f"{where}.standoff_std_mm")
    how = replace(choices, standoff_mm=heights if len(heights) == 2 else heights[0], standoff_std_mm=std)
    name, part, feature = (
        or_none(text_at)(data.get(key), f"{where}.{key}") for key in ("name", "part", "feature")
    )
    return KindRequest(name or f"span {index + 1}", "span", clicks, how, part, feature)
