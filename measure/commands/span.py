"""`cardspan span`: lengths between points of a photo, with their uncertainty."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from measure.commands.common import EXIT_NO_ANSWER, emit_json, finish, say
from measure.commands.kinds import run_kinds
from measure.commands.options import (
    check_inside,
    corner_std_option,
    corners_option,
    json_option,
    object_option,
    parse_points,
    photo_argument,
    source_options,
)
from measure.commands.sighting import sighted

if TYPE_CHECKING:
    from calibration.photo import Photo
    from measure.measuring import MeasuredSpan
    from measure.span_requests import SpanRequest


@click.command("span")
@photo_argument
@click.argument("spans", metavar='"X1,Y1 X2,Y2"...', nargs=-1)
@click.option(
    "--spans",
    "spans_file",
    metavar="FILE.json",
    type=click.Path(),
    help='Spans from a file: {"spans": [{"name", "p_px", "standoff_mm", "standoff_std_mm"}]}.',
)
@object_option
@corners_option
@corner_std_option
@click.option(
    "--standoff-mm",
    metavar="H",
    type=float,
    default=0.0,
    show_default=True,
    help="Height of the measured edge above the card's face, toward the camera; 25 mm at 600 mm make 4 %.",
)
@click.option(
    "--standoff-std-mm",
    metavar="U",
    type=click.FloatRange(min=0.0),
    help="Standard uncertainty of that height; 1 mm where not given.",
)
@click.option(
    "--click-std-px",
    metavar="U",
    type=click.FloatRange(min=0.0, min_open=True),
    default=1.0,
    show_default=True,
    help="Standard uncertainty of each point as given, in pixels.",
)
@click.option(
    "--no-snap", is_flag=True, help="Use the points as given instead of moving them to the edge beside them."
)
@source_options
@click.option(
    "--kind",
    type=click.Choice(["span", "gap", "round", "rise", "tip"]),
    default="span",
    show_default=True,
    help="span: 2 points; gap between parallel edges: 2 points on each, or 1; round: 3 or more on a rim,"
    " gives the diameter; rise: foot on the table, then top; tip: around a corner, 2 on each straight side,"
    " gives its radius.",
)
@click.option(
    "--lean-std-mm",
    metavar="U",
    type=click.FloatRange(min=0.0, min_open=True),
    help="For a rise: how far the top may stand aside from straight above the foot; 1 mm where not given.",
)
@click.option("--difference", is_flag=True, help="Also give each later length minus the first.")
@json_option
def command(
    *,
    photo: str,
    spans: tuple[str, ...],
    spans_file: str | None,
    object_key: str | None,
    corners: str | None,
    corner_std_px: float,
    standoff_mm: float,
    standoff_std_mm: float | None,
    click_std_px: float,
    no_snap: bool,
    kind: str,
    lean_std_mm: float | None,
    difference: bool,
    as_json: bool,
    **source: Any,
) -> None:
    """Give the length between two points of PHOTO, as often as pairs of points are given.

    Points are pixels of the upright photo: x to the right, y down, (0,0) the middle of the top-left pixel.
    Each is moved to the edge of the part beside it, where there is a clear one within a few pixels.

    \b
    Examples:
      cardspan span plate.jpg "1204,388 2310,402"
      cardspan span plate.jpg "1204,388 2310,402" --standoff-mm 14 --standoff-std-mm 1.5
      cardspan span plate.jpg --spans spans.json --object id1 --json
      cardspan span wheel.jpg --kind round "700,410 820,505 690,610"
      cardspan span two.jpg "310,200 302,1400" "910,204 905,1370" --difference

    Exit status: 0 measured, 3 no reference in the photo, 4 the file is no photo.
    """
    from measure.head import head
    from measure.measuring import measure_requests, span_json

    if kind != "span" or difference:
        if spans_file is not None:
            raise click.UsageError("--spans holds spans; give other kinds and differences as arguments")
        sighting = sighted(photo, object_key, corners, corner_std_px, **source)
        choices = {"snap": not no_snap, "click_std_px": click_std_px, "lean_std_mm": lean_std_mm}
        heights = {"standoff_mm": standoff_mm, "standoff_std_mm": standoff_std_mm}
        finish(run_kinds(sighting, kind, spans, choices | heights, difference=difference, as_json=as_json))
        return
    requests = _requests(spans, spans_file, standoff_mm, standoff_std_mm)
    sighting = sighted(photo, object_key, corners, corner_std_px, **source)
    image, location = sighting.photo, sighting.location
    for request in requests:
        check_inside(list(request.p_px), image, request.name)
    measured: list[MeasuredSpan] = []
    if location.plane is not None:
        measured = measure_requests(
            image,
            location.plane,
            requests,
            snap=not no_snap,
            click_std_px=click_std_px,
            family=location.family,
        )
    if as_json:
        emit_json({**head(image, location), "spans": [span_json(item) for item in measured]})
    _print(image, location, measured, as_json=as_json)
    finish(0 if location.plane is not None else EXIT_NO_ANSWER)


def _requests(
    spans: tuple[str, ...], spans_file: str | None, standoff_mm: float, standoff_std_mm: float | None
) -> "list[SpanRequest]":
    from measure.span_requests import SpanRequest, read_requests

    requests = []
    for index, text in enumerate(spans):
        first, second = parse_points(text, 2, f"span {index + 1}")
        requests.append(SpanRequest(f"span {index + 1}", (first, second), standoff_mm, standoff_std_mm))
    if spans_file is not None:
        requests += read_requests(Path(spans_file), standoff_mm=standoff_mm, standoff_std_mm=standoff_std_mm)
    if not requests:
        raise click.UsageError(
            'no span given; add two points such as "1204,388 2310,402", or --spans FILE.json'
        )
    return requests


def _print(image: "Photo", location: Any, measured: "list[MeasuredSpan]", *, as_json: bool) -> None:
    from measure.commands.locate import describe
    from measure.measuring import describe_span

    for line in describe(image, location):
        say(line, as_json=as_json)
    for item in measured:
        for line in describe_span(item):
            say(line, as_json=as_json)
