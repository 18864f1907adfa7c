"""The part of `cardspan span` that measures kinds other than the span, and differences."""

from typing import TYPE_CHECKING, Any

import click

from measure.commands.common import EXIT_NO_ANSWER, emit_json, say
from measure.commands.options import check_inside, parse_points

if TYPE_CHECKING:
    from measure.commands.sighting import Sighting


def run_kinds(
    found: "Sighting",
    kind: str,
    texts: tuple[str, ...],
    choices: dict[str, Any],
    *,
    difference: bool,
    as_json: bool,
) -> int:
    """Measure and print; returns the exit code: 0 where anything could be told.

    Parameters
    ----------
    found : Sighting
        The photo and what it is measured by.
    kind : str
        Kind of all measurements.
    texts : tuple of str
        Points of each, ``"x,y x,y ..."``.
    choices : dict
        How to measure.
    difference, as_json : bool
        Whether to add differences, and to print JSON.

    Raises
    ------
    click.UsageError, click.BadParameter
        No points, or points that can't be read or lie outside the photo.
    """
    from measure.commands.locate import describe
    from measure.head import head
    from measure.kind_requests import (
        KindRequest,
        describe_kind,
        differences,
        kind_json,
        measure_kind_request,
    )
    from measure.kinds import KINDS, Choices
    from measure.units import format_mm

    image, location = found.photo, found.location
    if not texts:
        raise click.UsageError(
            f"no {kind} given; it takes {KINDS[kind].clicks}, as x,y pairs in one argument"
        )
    requests = []
    for index, text in enumerate(texts):
        name = f"{kind} {index + 1}"
        points = parse_points(text, None, name)
        check_inside(points, image, name)
        requests.append(KindRequest(name, kind, tuple(points), Choices(**choices)))
    results = []
    if location.plane is not None:
        results = [measure_kind_request(image, location, request) for request in requests]
    pairs = differences(requests, results) if difference and results else []
    if as_json:
        values = [kind_json(one, other) for one, other in zip(requests, results, strict=False)]
        emit_json(
            {**head(image, location), "spans": values, "differences": [_difference(*pair) for pair in pairs]}
        )
    for line in describe(image, location):
        say(line, as_json=as_json)
    for request, measured in zip(requests, results, strict=False):
        for line in describe_kind(request, measured):
            say(line, as_json=as_json)
    for name, length in pairs:
        say(f"{name}: {format_mm(length)}", as_json=as_json)
    told = any(not hasattr(measured.result, "reason") for measured in results)
    return 0 if told else EXIT_NO_ANSWER


def _difference(name: str, length: Any) -> dict[str, Any]:
    return {
        "name": name,
        "length_mm": length.value_mm,
        "standard_uncertainty_mm": length.standard_uncertainty_mm,
        "expanded_uncertainty_mm": length.expanded_uncertainty_mm,
        "coverage_factor": length.coverage_factor,
    }
