"""`cardspan judge`: which release a specimen and each of its parts belong to."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from measure.commands.common import EXIT_NO_ANSWER, emit_json, finish, say
from measure.commands.options import json_option

if TYPE_CHECKING:
    from measure.record import VerdictEntry


@click.command("judge")
@click.argument("specimen", metavar="SPECIMEN.json", type=click.Path())
@click.option(
    "--sheet",
    metavar="SHEET.toml",
    help="Release sheet to judge by: a file, or a shipped one's key. The record's own by default.",
)
@json_option
def command(specimen: str, sheet: str | None, as_json: bool) -> None:
    """Say which release the toy of a specimen record is, part by part, with reasons and the next check.

    The verdict is evidence, not an authentication or an appraisal. When it commits to an answer, and which
    rates of slips, swaps and the like it assumes, stands at its end and in "cardspan sheet show SHEET.toml".

    \b
    Examples, on records that cardspan demo leaves:
      cardspan judge cardspan-demo/mixed.specimen.json
      cardspan judge cardspan-demo/first.specimen.json --sheet saltmarsh-ferry --json

    Exit status: 0 a release, "mixed", a recast or "not on this sheet", 3 cannot tell or scale in doubt,
    4 the record or the sheet can't be used.
    """
    from measure.record import read_specimen
    from measure.redo import judge_specimen, sheet_of

    path = Path(specimen)
    record = read_specimen(path)
    release_sheet = sheet_of(record, path.parent, sheet)
    judged = judge_specimen(record, release_sheet)
    if as_json:
        emit_json(judged.to_json())
    for line in describe(judged, release_sheet.release_names):
        say(line, as_json=as_json)
    finish(EXIT_NO_ANSWER if judged.verdict.outcome in ("cannot tell", "scale in doubt") else 0)


def describe(judged: "VerdictEntry", names: Mapping[str, str]) -> list[str]:
    """Return the lines that describe the verdict."""
    from measure.verdict_words import on_one_line, percent

    verdict = judged.verdict
    lines = [f"{judged.specimen} ({verdict.subject}): {on_one_line(verdict, names)}"]
    if not verdict.doubts:  # else the probabilities hold for a world that the findings contradict
        lines += [
            f"  {names.get(key, key)}: {percent(p, decimals=1)}" for key, p in verdict.posterior.items()
        ]
        lines.append(f"  a release not listed: {percent(verdict.unlisted_probability, decimals=1)}")
    lines.append("Parts")
    width = max((len(part.name) for part in verdict.parts), default=0)
    for part in verdict.parts:
        fits = ", ".join(names.get(key, key) for key in part.releases)
        releases = f" {fits}" if fits else ""
        foreign = "   <- does not belong" if part.foreign else ""
        lines.append(f"  {part.name:{width}}  {part.outcome}{releases}{foreign}")
    lines += ["Reasons", *(f"  {reason}" for reason in judged.reasons)]
    if judged.checks_told:
        lines += ["Check next", *(f"  {text}" for text in judged.checks_told)]
    return [*lines, f"({judged.rule_told})", f"({judged.caution})"]
