"""`cardspan write-up`: pictures, texts and sheets from a specimen record, or a check of such a folder."""

from pathlib import Path
from typing import Any

import click

from measure.commands.common import emit_json, say
from measure.commands.options import json_option


@click.command("write-up")
@click.argument("specimen", metavar="SPECIMEN.json", type=click.Path())
@click.option("--out", "out", metavar="FOLDER", type=click.Path(), required=True, help="Folder to write to.")
@click.option("--show-card", is_flag=True, help="Leave the reference card's face uncovered in the pictures.")
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="Page size of the PDF.",
)
@click.option("--inches-first", is_flag=True, help="Give inches first, millimetres second.")
@json_option
def command(*, specimen: str, out: str, as_json: bool, **choices: Any) -> None:
    """Write a specimen record up for a listing, a buyer or a file."""
    from measure.writeup import Options, produce

    product = produce(Path(specimen), Path(out), Options(**choices))
    if as_json:
        emit_json(
            {
                "folder": out,
                "files": [path.name for path in product.files],
                "warnings": list(product.warnings),
            }
        )
    for warning in product.warnings:
        click.echo(f"Caution: {warning}", err=True)
    say(f"{len(product.files)} files in {out}", as_json=as_json)
