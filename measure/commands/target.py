"""cardspan target: write the printed target as a PDF."""

from pathlib import Path

import click

from measure.commands.options import check_name
from measure.terminal import write_line


@click.command(name="target")
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Paper size."
)
@click.option(
    "--out",
    "out",
    metavar="FILE.pdf",
    type=click.Path(path_type=Path),
    required=True,
    help="PDF file to write.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def command(paper: str, out: Path, as_json: bool) -> None:
    """Write a sheet to print: a reference that is recognised even if half of it is covered.

    \b
    Example:
      cardspan target --out target.pdf

    Print it at 100 %, check its two rules with a steel rule, and enter what you measured whenever
    you use it:  cardspan span PHOTO ... --object target --printed-mm 149.6x199.5
    """
    check_name(out, ".pdf", "a PDF", "--out")
    from calibration.printed_target import TARGET
    from measure.files import write_atomic
    from measure.target_sheet import PAPERS, target_pdf

    write_atomic(out, target_pdf(paper))
    if as_json:
        from measure.commands.common import emit_json

        width_mm, height_mm = PAPERS[paper]
        emit_json(
            {
                "file": str(out),
                "paper": {"name": paper, "width_mm": width_mm, "height_mm": height_mm},
                "board": {"width_mm": TARGET.width_mm, "height_mm": TARGET.height_mm},
                "check_rules_mm": {"across": TARGET.check_across_mm, "down": TARGET.check_down_mm},
            }
        )
        return
    write_line(
        f"Wrote {out}. Print it at 100 % and measure its check rules ({TARGET.check_across_mm:g} mm across,"
    )
    write_line(f"{TARGET.check_down_mm:g} mm down); enter what you measured with --printed-mm.")
