"""`cardspan desk`: a local page on which to measure."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from measure.terminal import draw, takes_colours, write_line
from measure.texts import clean_text

if TYPE_CHECKING:
    from measure.desk.server import Server
    from measure.desk.session import Session

# The server and a browser take about this long to come up.
_FIRST_VIEW_S = 2.5
_WARNING = """Sharing is on: anyone on this network who has the link below can use this desk, see its
photos and change its record, until you stop it or it is unused for half an hour. Link and photos travel
unencrypted: on a network that is open to strangers use your phone's own hotspot. Scan this with the phone:"""


@click.command("desk")
@click.argument("photos", metavar="[PHOTO]...", nargs=-1, type=click.Path())
@click.option(
    "--sheet", metavar="SHEET", help="Release sheet: a shipped one's key such as saltmarsh-ferry, or a file."
)
@click.option(
    "--specimen",
    metavar="FILE.json",
    type=click.Path(),
    help="The record to open, or to create if there is none.",
)
@click.option(
    "--port", metavar="N", type=click.IntRange(0, 65535), default=0, help="Port; any free one by default."
)
@click.option("--no-browser", is_flag=True, help="Print the link only.")
@click.option(
    "--share",
    metavar="ADDRESS",
    help="Also let a phone on your network in, at this computer's ADDRESS there, by a QR code.",
)
def command(
    *,
    photos: tuple[str, ...],
    sheet: str | None,
    specimen: str | None,
    port: int,
    no_browser: bool,
    share: str | None,
) -> None:
    """Open a page in the browser on which to measure PHOTO.

    The page is served only to this computer. Everything is saved in a record beside the first photo as you
    go; open it again with --specimen. Without a PHOTO the page offers samples to try.

    \b
    Examples, on files that cardspan demo leaves:
      cardspan desk
      cardspan desk cardspan-demo/first-deck.jpg --sheet saltmarsh-ferry
      cardspan desk --specimen cardspan-demo/mixed.specimen.json
      cardspan desk --share 192.168.1.20
    """
    paths = [Path(one).absolute() for one in photos]
    session = _session(paths, sheet, specimen)
    session.expect_page(_FIRST_VIEW_S)
    # The photos are opened while the server's own code loads.
    for path in paths:
        session.open_ahead(path)
    server = _server(session, port, share)
    for path in paths:
        session.open_path(path)
    write_line(server.links.here)
    if server.links.shared is not None:
        _tell_shared(server)
    try:
        _tell(
            "Stop with Ctrl C. What you do is saved as you go; where that fails, it is told here and on the"
            " page."
        )
        _run(server, no_browser=no_browser)
    finally:
        if words := session.close():
            _tell(words)


def _session(paths: list[Path], sheet: str | None, specimen: str | None) -> "Session":
    from measure.desk.library import record_beside
    from measure.desk.session import Session
    from measure.errors import MeasureError

    for path in paths:
        if not path.is_file():
            raise MeasureError(f"{path}: no such photo; check the path")
        if clean_text(path.name) != path.name:
            raise MeasureError(f"{path.name!a}: no record can hold this file name; rename the photo")
    record = Path(specimen).absolute() if specimen is not None else None
    if record is None and paths:
        record = record_beside(paths[0])
    return Session(Path.cwd(), record, sheet, _tell)


def _tell(text: str) -> None:
    """Say something on the terminal, beside the link on standard output."""
    write_line(text, err=True)


def _server(session: "Session", port: int, share: str | None) -> "Server":
    from measure.desk.server import Server

    try:
        return Server(session, port, share)
    except BaseException:
        session.close()
        raise


def _tell_shared(server: "Server") -> None:
    from measure.desk.server import qr_text

    assert server.links.shared is not None
    for line in _WARNING.splitlines():
        write_line(line)
    draw(qr_text(server.links.shared, colour=takes_colours()))
    write_line(server.links.shared)


def _run(server: "Server", *, no_browser: bool) -> None:
    from measure.desk.server import open_browser_when_up

    if not no_browser:
        open_browser_when_up(server)
    server.run(told=_tell)
