"""`cardspan span`: lengths between points of a photo, with their uncertainty."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from measure.commands.common import finish, say
from measure.commands.kinds import keep, measured, told
from measure.commands.options import (
    CLICK_PX,
    HEIGHT_MM,
    LEAN_MM,
    SPREAD_MM,
    check_inside,
    check_name,
    corner_std_option,
    corners_option,
    json_option,
    object_option,
    parse_points,
    photo_argument,
    source_options,
)
from measure.commands.sighting import sighted
from measure.texts import clean_text
from references.release_sheet import MEASURED_AS

if TYPE_CHECKING:
    from measure.requests import KindRequest


@click.command("span")
@photo_argument
@click.argument("spans", metavar='"X1,Y1 X2,Y2"...', nargs=-1)
@click.option(
    "--spans",
    "spans_file",
    metavar="FILE.json",
    type=click.Path(),
    help='Spans from a file: {"spans": [{"name", "p_px", "standoff_mm", "standoff_std_mm", "part",'
    ' "feature"}]}.',
)
@object_option
@corners_option
@corner_std_option
@click.option(
    "--standoff-mm",
    metavar="H",
    type=HEIGHT_MM,
    default=0.0,
    show_default=True,
    help="Height of the measured edge above the card's face, toward the camera; 25 mm at 600 mm make 4 %.",
)
@click.option(
    "--standoff-std-mm",
    metavar="U",
    type=SPREAD_MM,
    help="Standard uncertainty of that height; 1 mm by default.",
)
@click.option(
    "--click-std-px",
    metavar="U",
    type=CLICK_PX,
    help="Standard uncertainty of each point as given, in pixels. By default by picture and edge: 1 px on a"
    " large picture, 0.5 px on one of 640 x 480, and more where the edge is blurred.",
)
@click.option(
    "--no-snap", is_flag=True, help="Use the points as given instead of moving them to the edge beside them."
)
@source_options
@click.option(
    "--kind",
    type=click.Choice(MEASURED_AS),
    default="span",
    show_default=True,
    help="span: 2 points; gap between parallel edges: 2 points on each, or 1; round: 3 or more on a rim,"
    " gives the diameter; rise: foot on the table, then top; tip: around a corner, 2 on each straight side,"
    " gives its radius.",
)
@click.option(
    "--lean-std-mm",
    metavar="U",
    type=LEAN_MM,
    help="For a rise: how far the top may be from straight above the foot; 1 mm by default.",
)
@click.option("--difference", is_flag=True, help="Also give each later length minus the first.")
@click.option(
    "--repeat",
    is_flag=True,
    help="All are of one length, marked again each time: also give their mean, with the scatter included.",
)
@click.option(
    "--specimen",
    metavar="FILE.json",
    type=click.Path(),
    help="Keep photo, references and measurements in this specimen record; created if there is none.",
)
@click.option(
    "--part",
    metavar="PART",
    type=clean_text,
    help="With --specimen: the part of the release sheet measured.",
)
@click.option(
    "--feature", metavar="FEATURE", type=clean_text, help="With --specimen: the feature of that part."
)
@json_option
def command(
    *,
    photo: str,
    spans: tuple[str, ...],
    spans_file: str | None,
    object_key: str | None,
    corners: str | None,
    corner_std_px: float,
    kind: str,
    difference: bool,
    repeat: bool,
    specimen: str | None,
    part: str | None,
    feature: str | None,
    as_json: bool,
    **rest: Any,
) -> None:
    """Give the length between each pair of points of PHOTO.

    Points are pixels of the upright photo: x to the right, y down, (0,0) the middle of the top-left pixel.
    Each is moved to the nearest edge of the part, if there is a clear one within a few pixels.

    \b
    Examples, on photos that cardspan demo brings:
      cardspan span cardspan-demo/recast-plate.jpg "733,600 1993,926" --standoff-mm 13.5
      cardspan span cardspan-demo/mixed-bow.jpg "687,1291 1699,1196" "1201,1272 1184,1130" --json
      cardspan span cardspan-demo/mixed-side.jpg --kind round "1620,1039 1457,1297 1864,1356" --standoff-mm 17
      cardspan span cardspan-demo/mixed-bow.jpg "687,1291 1699,1196" --standoff-mm 14 --standoff-std-mm 1.5
        --specimen plate.specimen.json --sheet saltmarsh-ferry --part bow-plate --feature width

    Exit status: 0 measured, 3 no reference in the photo, 4 the file is no photo.
    """
    from measure.requests import check_places

    choices = {name: rest.pop(name) for name in _HOW}
    choices["snap"] = not rest.pop("no_snap")
    if specimen is None and (part is not None or feature is not None):
        raise click.UsageError("--part and --feature say where to keep a length: add --specimen FILE.json")
    check_name(specimen, ".json", "a specimen record", "--specimen")
    requests = _requests(kind, spans, spans_file, choices)
    if specimen is not None:
        check_places(Path(specimen), requests, (part, feature), rest["sheet_name"])
    sighting = sighted(photo, object_key, corners, corner_std_px, **rest)
    for request in requests:
        check_inside(list(request.clicks_px), sighting.photo, request.name)
    done = measured(sighting, requests, difference=difference, repeat=repeat)
    if specimen is not None and sighting.entry is not None:
        keep(Path(specimen), sighting, done, (part, feature), rest["sheet_name"])
        say(f"Kept in {specimen}", as_json=as_json)
    finish(told(sighting, done, as_json=as_json))


_HOW = ("standoff_mm", "standoff_std_mm", "click_std_px", "lean_std_mm")


def _requests(
    kind: str, spans: tuple[str, ...], spans_file: str | None, choices: dict[str, Any]
) -> "list[KindRequest]":
    from measure.kinds import KINDS, Choices
    from measure.requests import KindRequest, read_requests

    how = Choices(**choices)
    requests = []
    for index, text in enumerate(spans):
        name = f"{kind} {index + 1}"
        points = parse_points(text, 2 if kind == "span" else None, name)
        requests.append(KindRequest(name, kind, tuple(points), how))
    if spans_file is not None:
        if kind != "span":
            raise click.UsageError("--spans holds spans; give other kinds as arguments")
        requests += read_requests(Path(spans_file), how)
    if not requests:
        raise click.UsageError(
            f"no {kind} given; it takes {KINDS[kind].clicks}, as x,y pairs in one argument such as"
            ' "1204,388 2310,402"' + (", or --spans FILE.json" if kind == "span" else "")
        )
    return requests
