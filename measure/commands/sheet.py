"""`cardspan sheet`: write, check, show and learn release sheets."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from measure.commands.common import EXIT_NO_ANSWER, EXIT_UNUSABLE, emit_json, finish, say
from measure.commands.options import Number, check_name, json_option
from measure.terminal import ask_yes_no, write_line

if TYPE_CHECKING:
    from references.learning import Learnt


@click.group("sheet")
def command() -> None:
    """Write, check, show and learn release sheets.

    A release sheet is a TOML file with the sizes and traits of each part on each release. SHEET is a file,
    or the key of a sheet that comes with the program, such as saltmarsh-ferry.
    """


@command.command("new")
@click.argument("file", metavar="FILE.toml", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--subject", help="What the toy is called.")
@click.option("--maker", help="Who made it.")
@click.option("--unit", type=click.Choice(["mm", "in"]), help="Unit of bare numbers.")
@click.option(
    "--release", "releases", multiple=True, metavar="NAME", help="A release; repeat the option for more."
)
@click.option("--force", is_flag=True, help="Overwrite FILE.")
@json_option
def new(
    file: Path,
    subject: str | None,
    maker: str | None,
    unit: str | None,
    releases: tuple[str, ...],
    *,
    force: bool,
    as_json: bool,
) -> None:
    """Start a sheet by answering questions; what is given as an option isn't asked.

    \b
    Example:
      cardspan sheet new my-toy.toml --subject "Harbour tug" --unit mm

    Lengths may be written 228.5, "228.5 mm", "8 15/16 in" or "8.94 in".
    """
    from measure.files import write_atomic
    from measure.sheets import ask_draft
    from references.errors import SheetError
    from references.release_sheet import draft_text, find_faults

    check_name(file, ".toml", "a release sheet", "FILE.toml")
    if file.exists() and not force:
        raise SheetError(f"{file}: already exists; choose another name, or overwrite it with --force")
    text = draft_text(ask_draft(subject, maker, unit, releases))
    write_atomic(file, text, backup=True)
    faults = find_faults(text)
    if as_json:
        emit_json({"file": str(file), "faults": len(faults)})
    say(f"Written: {file}. Continue in any editor; then run: cardspan sheet check {file}", as_json=as_json)
    for fault in faults:
        say(fault.text(str(file)), as_json=as_json)


@command.command("check")
@click.argument("sheets", metavar="SHEET...", nargs=-1, required=True)
@json_option
def check(sheets: tuple[str, ...], *, as_json: bool) -> None:
    """Find every fault in one pass: FILE:LINE: field: what is wrong, what was expected.

    What a sheet without faults leaves open, such as how many examples a range comes from, is told as a
    caution.

    \b
    Example:
      cardspan sheet check saltmarsh-ferry

    Exit status: 0 no fault, 4 any fault.
    """
    from measure.sheets import caution_lines
    from references import named_sheet
    from references.errors import Fault, SheetError

    faults: list[tuple[str, Fault]] = []
    unreadable: list[str] = []
    cautions: list[str] = []
    for sheet in sheets:
        try:
            read = named_sheet(sheet)
            say(
                f"{sheet}: no fault; releases {len(read.releases)}, parts {len(read.parts)}.", as_json=as_json
            )
            cautions += [f"{sheet}: {text}" for text in caution_lines(read)]
        except SheetError as error:
            faults += [(sheet, fault) for fault in error.faults]
            unreadable += [] if error.faults else [str(error)]
    if as_json:
        emit_json(
            {
                "faults": [_fault_json(sheet, fault) for sheet, fault in faults],
                "unreadable": unreadable,
                "cautions": cautions,
            }
        )
    for line in [*cautions, *(fault.text(sheet) for sheet, fault in faults), *unreadable]:
        say(line, as_json=as_json)
    finish(EXIT_UNUSABLE if faults or unreadable else 0)


@command.command("show")
@click.argument("sheet", metavar="SHEET")
@click.option(
    "--html",
    metavar="FILE.html",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write the guide as one HTML page.",
)
@json_option
def show(sheet: str, html: Path | None, *, as_json: bool) -> None:
    """Print a sheet as a guide with charts, or write it as a page to share with other collectors.

    \b
    Examples:
      cardspan sheet show saltmarsh-ferry
      cardspan sheet show saltmarsh-ferry --html ferry.html
    """
    from measure.files import write_atomic
    from references import named_sheet

    check_name(html, ".html", "a page", "--html")
    read = named_sheet(sheet)
    if html is not None:
        from measure.sheets import html_page

        write_atomic(html, html_page(read))
        say(f"Written: {html}", as_json=as_json)
    if as_json:
        from measure.sheets import sheet_json

        emit_json(sheet_json(read))
    elif html is None:
        from measure.sheets import text_lines

        for line in text_lines(read):
            write_line(line)


@command.command("learn")
@click.argument("sheet", metavar="SHEET.toml")
@click.argument(
    "inputs", metavar="CSV|SPECIMEN.json...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option("--release", help="Release of the records, and of table rows that don't name one.")
@click.option(
    "--leave-out", multiple=True, metavar="SPECIMEN", help="Leave a specimen out; its name is kept."
)
@click.option(
    "--as",
    "form",
    type=click.Choice(["spread", "range"]),
    default="spread",
    show_default=True,
    help="Write mean and spread, or smallest and largest.",
)
@click.option(
    "--content",
    type=Number(0.5, 0.999),
    default=0.95,
    show_default=True,
    help="Share of all parts in the tolerance interval, from 0.5 to 0.999.",
)
@click.option(
    "--confidence",
    type=Number(0.5, 0.999),
    default=0.95,
    show_default=True,
    help="Confidence of the tolerance interval, from 0.5 to 0.999.",
)
@click.option("--source", help='What the sheet keeps as the source; "n measured examples" by default.')
@click.option("--yes", is_flag=True, help="Accept every proposal without outliers, without asking.")
@json_option
def learn(
    sheet: str, inputs: tuple[Path, ...], release: str | None, *, as_json: bool, **options: Any
) -> None:
    """Propose ranges from specimens whose release is known, and write those that you accept.

    Tables have the columns specimen, release, part, feature, length and u (standard uncertainty), or U
    (expanded, k = 1.96). Outliers are named and stay in unless you leave them out; --yes writes no value
    that has any. Comments and order of the sheet stay as they are; the last version is kept as .bak.

    Exit status: 0 done, 3 --yes left out a value with outliers.
    """
    from measure.sheets import describe, proposal_json, propose, write_value
    from references import named_sheet

    read = named_sheet(sheet)
    proposals = propose(read, inputs, release=release, **{key: options[key] for key in PROPOSING})
    written, held = [], False
    for proposal in proposals:
        for line in describe(proposal, read):
            say(line, as_json=as_json)
        blocked = options["yes"] and bool(proposal.learnt.outliers)
        held |= blocked
        if blocked:
            say(BLOCKED, as_json=as_json)
        elif _accepts(proposal.learnt, options["yes"], as_json=as_json):
            write_value(Path(sheet), proposal)
            written.append(proposal)
            say(f"  Written to {sheet}.", as_json=as_json)
    if as_json:
        emit_json({"proposals": [proposal_json(each, written=each in written) for each in proposals]})
    finish(EXIT_NO_ANSWER if held else 0)


BLOCKED = (
    "  Not written: --yes accepts no outlier. Leave it out with --leave-out SPECIMEN, or run without --yes"
    " and accept it yourself."
)
PROPOSING = ("leave_out", "form", "content", "confidence", "source")


def _accepts(learnt: "Learnt", yes: bool, *, as_json: bool) -> bool:
    if yes or as_json:
        return yes
    return ask_yes_no(f"  Write it as {learnt.release}'s {learnt.part} {learnt.feature}?")


def _fault_json(sheet: str, fault: Any) -> dict[str, Any]:
    return {
        "file": sheet,
        "line": fault.line,
        "field": fault.field,
        "problem": fault.problem,
        "expected": fault.expected,
    }
