"""cardspan camera: learn a camera from photos of a board, list and forget what was learnt."""

import re
from typing import TYPE_CHECKING, Any

import click

from references.limits import shortened

if TYPE_CHECKING:
    from calibration.lens_profiles import Profile


_CORNERS = re.compile(r"([0-9]{1,2})x([0-9]{1,2})")


@click.group("camera")
def command() -> None:
    """Calibrate a camera once, and measure better with it from then on.

    \b
    cardspan target --out target.pdf             print it at 100 % and tape it to a board
    cardspan camera learn board-*.jpg            from 8 to 20 photos of it

    Photograph the board tilted by 20° to 40°, from several sides, so that over all photos it reaches into
    all four corners of the frame. A profile is used automatically for later photos of the same camera, lens
    and size.
    """


@command.command("learn")
@click.argument("photos", nargs=-1, required=True, metavar="PHOTO...", type=click.Path())
@click.option(
    "--chessboard",
    metavar="COLUMNSxROWS",
    help="The photos show a plain chessboard, not the target, with this many INNER corners, such as 9x6.",
)
@click.option("--name", help="Keep it under this name; needed if the photos' Exif names no camera.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object; messages go to standard error.")
def learn(photos: tuple[str, ...], chessboard: str | None, name: str | None, as_json: bool) -> None:
    """Learn a camera from PHOTOs of the printed target or of a chessboard.

    Exit status: 0 learnt and kept, 4 the photos are no basis for a profile (what to add is printed).
    """
    from measure.cameras import learn_from_photos, save_profile
    from measure.commands.common import emit_json, say

    learnt = learn_from_photos(photos, _corners(chessboard), name)
    path = save_profile(learnt.name, learnt.profile)
    if as_json:
        emit_json(
            {"name": learnt.name, "store": str(path), **_facts(learnt.profile), "unused": list(learnt.unused)}
        )
    for line in _told(learnt.name, learnt.profile):
        say(line, as_json=as_json)
    for reason in learnt.unused:
        say(f"Not used: {reason}", as_json=as_json)
    say(f"Kept in {path}", as_json=as_json)


@command.command("list")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def list_(as_json: bool) -> None:
    """List the cameras that were learnt."""
    from measure.cameras import read_store, store_path
    from measure.commands.common import emit_json, say

    path = store_path()
    profiles = read_store(path)
    if as_json:
        emit_json(
            {"store": str(path), "cameras": {name: _facts(profile) for name, profile in profiles.items()}}
        )
    for name, profile in profiles.items():
        for line in _told(name, profile, views=False):
            say(line, as_json=as_json)
    if not profiles:
        say(f"No camera has been learnt yet ({path}).", as_json=as_json)


@command.command("forget")
@click.argument("name")
def forget(name: str) -> None:
    """Remove the profile called NAME."""
    from measure.cameras import forget_profile
    from measure.terminal import write_line

    forget_profile(name)
    write_line(f"Forgot {name}.")


def _corners(chessboard: str | None) -> tuple[int, int] | None:
    if chessboard is None:
        return None
    match = _CORNERS.fullmatch(chessboard.lower())
    columns, rows = (int(match[1]), int(match[2])) if match else (0, 0)
    if not (3 <= columns <= 50 and 3 <= rows <= 50):
        raise click.BadParameter(
            f"--chessboard: '{shortened(chessboard)}'; expected inner corners such as 9x6, from 3 to 50 each"
        )
    return columns, rows


def _facts(profile: "Profile") -> dict[str, Any]:
    return {
        "width_px": profile.width_px,
        "height_px": profile.height_px,
        "focal_px": profile.focal_px,
        "focal_std_px": profile.focal_std_px,
        "principal_point_px": list(profile.principal_point_px),
        "distortion": list(profile.distortion),
        "model": profile.model,
        "rms_px": profile.rms_px,
        "held_out_rms_px": profile.held_out_rms_px,
        "views": [
            {"name": view.name, "used": view.used}
            | ({"rms_px": view.rms_px, "tilt_deg": view.tilt_deg} if view.used else {})
            for view in profile.views
        ],
    }


def _told(name: str, profile: "Profile", *, views: bool = True) -> list[str]:
    lines = [
        f"{name}: focal length {profile.focal_px:.1f} px ± {profile.focal_std_px:.1f}, lens {profile.model},"
        f" residual {profile.rms_px:.3f} px, {profile.held_out_rms_px:.3f} px on each photo left out in turn"
    ]
    if views:
        lines += [
            f"  {view.name}: {view.rms_px:.3f} px at {view.tilt_deg:.0f}°"
            if view.used
            else f"  {view.name}: left out, doesn't fit the others"
            for view in profile.views
        ]
    return lines
