"""`cardspan write-up`: pictures, texts and sheets from specimen records, or a check of such a folder."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from measure.commands.common import EXIT_NO_ANSWER, EXIT_UNUSABLE, emit_json, finish, say
from measure.commands.options import json_option
from measure.terminal import write_line

if TYPE_CHECKING:
    from measure.writeup import Product
    from measure.writeup.check import Check


@click.command("write-up")
@click.argument("specimens", metavar="SPECIMEN.json...", nargs=-1, type=click.Path())
@click.option(
    "--out", metavar="FOLDER", type=click.Path(), help="Folder to write to; created if it is missing."
)
@click.option("--verify", metavar="FOLDER", type=click.Path(), help="Check a write-up instead of making one.")
@click.option(
    "--photos", metavar="FOLDER", type=click.Path(), help="Where the photos are, if not beside the record."
)
@click.option("--against", metavar="OTHER.json", type=click.Path(), help="Compare with another specimen.")
@click.option("--show-card", is_flag=True, help="Leave the reference card's face uncovered in the pictures.")
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="Page size of the PDF.",
)
@click.option("--inches-first", is_flag=True, help="Give inches first, millimetres second.")
@click.option(
    "--date", metavar="YYYY-MM-DD", default="", help="Date to print; else the record's or its photos'."
)
@json_option
def command(
    *, specimens: tuple[str, ...], out: str | None, verify: str | None, as_json: bool, **choices: Any
) -> None:
    """Write specimens up for a listing, a buyer or a file: pictures, texts, HTML and PDF.

    Exported pictures carry no metadata and the reference card's face is covered. The photos themselves are
    neither changed nor copied. Several records, or a folder of them, get a folder each, with a contact sheet
    and tables over all.

    \b
    Examples, on records that cardspan demo leaves:
      cardspan write-up cardspan-demo/mixed.specimen.json --out ferry-write-up
      cardspan write-up cardspan-demo/mixed.specimen.json --out compared
        --against cardspan-demo/first.specimen.json
      cardspan write-up cardspan-demo --out write-ups --paper letter --inches-first
      cardspan write-up --verify ferry-write-up --photos cardspan-demo

    Exit status: 0 done, or everything checked is the same; 2 wrong usage; 3 no difference, but not all could
    be checked (photos missing, say); 4 differences, or a record, sheet or photo that can't be used.
    """
    if verify is not None:
        if specimens or out is not None:
            raise click.UsageError("--verify takes only a folder, and --photos; leave out records and --out")
        _verify(Path(verify), choices["photos"], as_json=as_json)
        return
    if not specimens or out is None:
        raise click.UsageError("give a specimen record and --out FOLDER, or --verify FOLDER")
    _check_choices(choices)
    product = _produced(specimens, Path(out), choices)
    for warning in product.warnings:
        write_line(f"Caution: {warning}", err=True)
    if as_json:
        files = [path.relative_to(out).as_posix() for path in product.files]
        emit_json({"folder": out, "files": files, "warnings": list(product.warnings)})
    say(f"{len(product.files)} files written to {out}", as_json=as_json)


def _check_choices(choices: dict[str, Any]) -> None:
    from datetime import date

    try:
        choices["date"] = choices["date"] and date.fromisoformat(choices["date"]).isoformat()
    except ValueError as error:
        raise click.BadParameter(
            f"--date '{choices['date']}': expected YYYY-MM-DD, such as 2026-03-31"
        ) from error
    for name in ("photos", "against"):
        choices[name] = choices[name] and Path(choices[name])
    if choices["photos"] and not choices["photos"].is_dir():
        raise click.BadParameter(f"--photos {choices['photos']}: no such folder")


def _produced(specimens: tuple[str, ...], out: Path, choices: dict[str, Any]) -> "Product":
    from measure.writeup import Options, produce
    from measure.writeup.contact_sheet import produce_several, records_in

    paths = tuple(Path(name) for name in specimens)
    options = Options(**choices)
    if len(paths) == 1 and not paths[0].is_dir():
        return produce(paths[0], out, options)
    if options.against is not None:
        raise click.UsageError("--against compares one specimen with another; give one record")
    return produce_several(records_in(paths), out, options, lambda name: write_line(name, err=True))


def _verify(folder: Path, photos: str | None, *, as_json: bool) -> None:
    from measure.writeup.check import verify

    checks = verify(folder, Path(photos) if photos else None)
    differing = sum(check.state == "differs" for check in checks)
    unchecked = sum(check.state == "not checked" for check in checks)
    if as_json:
        plain = [{"what": check.what, "state": check.state, "detail": check.detail} for check in checks]
        emit_json(
            {"folder": str(folder), "differences": differing, "not_checked": unchecked, "checks": plain}
        )
    for check in checks:
        say(_line(check), as_json=as_json)
    say(_summary(len(checks), differing, unchecked), as_json=as_json)
    finish(EXIT_UNUSABLE if differing else EXIT_NO_ANSWER if unchecked else 0)


def _line(check: "Check") -> str:
    return f"{check.state:11}  {check.what}" + (f": {check.detail}" if check.detail else "")


def _summary(count: int, differing: int, unchecked: int) -> str:
    if differing:
        return f"{differing} of {count} checks differ: don't rely on this write-up until they are explained."
    if unchecked:
        return f"No difference found, but {unchecked} of {count} checks could not be made."
    return f"All {count} checks agree."
