"""`cardspan locate`: find the reference card and describe its plane."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from measure.commands.common import EXIT_NO_ANSWER, emit_json, finish, say
from measure.commands.options import (
    check_name,
    corner_std_option,
    corners_option,
    json_option,
    object_option,
    photo_argument,
    source_options,
)
from measure.commands.sighting import sighted

if TYPE_CHECKING:
    from calibration.image import Photo
    from calibration.locate import Location


@click.command("locate")
@photo_argument
@object_option
@corners_option
@corner_std_option
@source_options
@click.option(
    "--picture", metavar="OUT.png", type=click.Path(), help="Also draw the outline found on the photo."
)
@json_option
def command(
    *,
    photo: str,
    object_key: str | None,
    corners: str | None,
    corner_std_px: float,
    picture: str | None,
    as_json: bool,
    **source: Any,
) -> None:
    """Find the reference card or sheet in PHOTO and describe the plane it lies in.

    \b
    Examples, on photos that cardspan demo brings:
      cardspan locate cardspan-demo/mixed-house.jpg
      cardspan locate cardspan-demo/recast-close.jpg --object trading --picture found.png
      cardspan locate cardspan-demo/recast-plate.jpg --corners "966,907 1574,1081 1462,1469 828,1277"

    \b
    Examples with a coin or a rule in your own PHOTO:
      cardspan locate PHOTO --object us-quarter --at "640,512"
      cardspan locate PHOTO --object rule-in16 --at "410,880 2950,905"

    Exit status: 0 found, 3 none found (the reason is printed), 4 the file is no photo.
    """
    from measure.scale import location_json

    check_name(picture, ".png", "a picture", "--picture")
    sighting = sighted(photo, object_key, corners, corner_std_px, **source)
    image, location = sighting.photo, sighting.location
    if as_json:
        emit_json({**location_json(image, location), "beside": list(sighting.beside)})
    for line in describe(image, location, sighting.beside):
        say(line, as_json=as_json)
    if picture is not None and location.plane is not None:
        from measure.files import write_atomic
        from measure.scale import outline_png

        write_atomic(Path(picture), outline_png(image, location))
        say(f"Outline drawn in {picture}", as_json=as_json)
    finish(0 if location.plane is not None else EXIT_NO_ANSWER)


def describe(photo: "Photo", location: "Location", beside: tuple[str, ...] = ()) -> list[str]:
    """Return the lines that describe what was found.

    Parameters
    ----------
    photo : Photo
        The photo.
    location : Location
        What was found in it, or the reason for nothing.
    beside : tuple of str
        Names of other objects that are combined with the located one.

    Returns
    -------
    list of str
        Angles in deg, corners in px with standard uncertainty, the rest of the view in mm with k = 1.96.
    """
    from measure.scale import view_words
    from measure.wording import Audience, all_worded, reason_worded

    camera, plane, found = location.camera, location.plane, location.found
    lines = [
        f"{photo.name}: {photo.width_px} x {photo.height_px} pixels, focal length {camera.focal_px:.0f} px"
        f" ± {100 * camera.log_focal_std:.1f} % ({camera.source})"
    ]
    if plane is None or found is None:
        lines.append(f"No reference found: {reason_worded(location.reason, Audience.COMMAND)}")
        return [*lines, *(f"Caution: {text}" for text in all_worded(photo.cautions, Audience.COMMAND))]
    corners = "  ".join(f"({x:.1f}, {y:.1f})" for x, y in found.corners_px.tolist())
    (tilt, tilt_u), (height, height_u), (side, side_u) = view_words(plane, location.family)
    lines += [
        f"Reference: {found.object.name}, {found.object.width_mm:g} x {found.object.height_mm:g} mm,"
        f" confidence {found.confidence:.2f}",
        f"  corners  {corners}  ± {found.corner_std_px:.2f} px",
        f"  plane    tilt {tilt} ± {tilt_u}°, camera {height} ± {height_u} mm above it,"
        f" {side} ± {side_u} mm per pixel at the card",
    ]
    if beside:
        counted = {name: beside.count(name) for name in beside}
        names = [name if count == 1 else f"{count} more, each a {name}" for name, count in counted.items()]
        lines.append(f"  together with {', '.join(names)}: all in one fit")
    lines += [f"Caution: {text}" for text in all_worded(location.cautions, Audience.COMMAND)]
    return lines
