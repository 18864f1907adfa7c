"""Asks for a new sheet, question by question."""

from collections.abc import Callable, Sequence

import click

from measure.terminal import ask, ask_yes_no, write_line
from references.limits import MOST_EXAMPLES, shortened
from references.release_sheet import (
    EXAMPLES,
    KINDS,
    MEASURED_AS,
    FeatureDraft,
    PartDraft,
    Plain,
    SheetDraft,
    key_from_name,
    parse_dimension,
    parse_length_mm,
    parse_shares,
)

RANGE_HELP = '"176 to 179.5 n 6", "8 7/8 to 8 15/16 in", "mean 160.1 sd 0.6 n 9", absent or unknown'


def ask_draft(
    subject: str | None, maker: str | None, unit: str | None, releases: Sequence[str]
) -> SheetDraft:
    """Ask for everything that was not given on the command line.

    Parameters
    ----------
    subject, maker : str or None
        None asks.
    unit : str or None
        "mm" or "in"; None asks.
    releases : sequence of str
        Names; none asks for them and for their years.

    Returns
    -------
    SheetDraft
        With parts and features, all of which are asked for; no two ids of a list are the same.

    Raises
    ------
    MeasureError
        An answer is not text in the terminal's encoding. One that makes no sense is asked for again.
    """
    subject = subject or ask("What is the toy called?")
    maker = ask("Who made it?", default="", show_default=False) if maker is None else maker
    unit = unit or ask("Unit of bare numbers", type=click.Choice(["mm", "in"]), default="mm")
    pairs = [(name, "") for name in releases] or _ask_releases()
    names = [name for name, _ in pairs]
    parts: list[PartDraft] = []
    while name := _ask_new("Name of a part (empty to finish)", [part.name for part in parts]):
        parts.append(_ask_part(name, names, unit))
    return SheetDraft(subject, maker or "", unit, pairs, parts)


def _ask_new(question: str, taken: Sequence[str]) -> str:
    """Ask for a name whose id is not taken; empty ends the list."""

    def fresh(answer: str) -> str:
        if answer and key_from_name(answer) in {key_from_name(name) for name in taken}:
            raise click.UsageError(f'"{answer}" already exists; give another name')
        return answer.strip()

    return _ask(question, fresh, default="")


def _ask(question: str, check: Callable[[str], str], default: str | None = None) -> str:
    return str(ask(question, default=default, show_default=False, value_proc=check))


def _ask_releases() -> list[tuple[str, str]]:
    pairs: list[tuple[str, str]] = []
    while True:
        name = _ask_new("Name of a release (empty to finish)", [name for name, _ in pairs])
        if not name and pairs:
            return pairs
        if not name:
            write_line("A sheet needs at least one release.", err=True)
            continue
        pairs.append((name, ask("  Made in", default="", show_default=False)))


def _ask_part(name: str, releases: Sequence[str], unit: str) -> PartDraft:
    handling = ask("  Care it needs", default="", show_default=False)
    keep = ask_yes_no("  Must it stay in place on the toy?")
    features: list[FeatureDraft] = []
    while True:
        feature = _ask_new("  Name of a feature (empty to finish)", [each.name for each in features])
        if not feature and features:
            return PartDraft(name, features, handling, keep)
        if feature:
            features.append(_ask_feature(feature, releases, unit))
        else:
            write_line("  A part needs at least one feature.", err=True)


def _ask_feature(name: str, releases: Sequence[str], unit: str) -> FeatureDraft:
    kind = ask("    Kind", type=click.Choice(KINDS), default="dimension")
    how = ask("    How is it measured or seen?", default="", show_default=False)
    measured_as, standoff, standoff_std = "span", 0.0, 1.0
    alternatives: tuple[str, ...] = ()
    if kind == "dimension":
        measured_as = ask("    Measured as", type=click.Choice(MEASURED_AS), default="span")
        standoff = _ask_length("    Height above the card (stand-off), mm", "0")
        standoff_std = _ask_length("    Its standard uncertainty, mm", "1")
    if kind == "trait":
        answer = _ask("    Alternatives, separated by commas", _alternatives)
        alternatives = tuple(word.strip() for word in answer.split(","))
    values = {key_from_name(release): _ask_value(release, kind, unit, alternatives) for release in releases}
    return FeatureDraft(name, kind, how, values, measured_as, standoff, standoff_std, alternatives)


def _alternatives(answer: str) -> str:
    words = [word.strip() for word in answer.split(",")]
    if len(words) < 2 or not all(words) or len(set(words)) < len(words):
        raise click.UsageError("give two or more different words, separated by commas")
    return answer


def _ask_length(question: str, default: str) -> float:
    def check(answer: str) -> float:
        try:
            return parse_length_mm(answer, "mm")
        except ValueError as error:
            raise click.UsageError(f"{error}; give a length such as {EXAMPLES}") from None

    return float(ask(question, default=default, value_proc=check))


def _ask_value(release: str, kind: str, unit: str, alternatives: Sequence[str]) -> Plain:
    words = [*alternatives, "", ""]
    example = {
        "dimension": RANGE_HELP,
        "count": '5, "5: 0.9, 4: 0.1", absent or unknown',
        "trait": f'{words[0]}, "{words[0]}: 0.85, {words[1]}: 0.15", absent or unknown',
    }[kind]

    def check(answer: str) -> Plain:
        try:
            value = (
                parse_dimension(answer, unit)
                if kind == "dimension"
                else parse_shares(answer, counts=kind == "count")
            )
        except ValueError as error:
            raise click.UsageError(f"{error}; give {example}") from None
        given = set(value) if isinstance(value, dict) else {str(value)}
        unknown = given - {*alternatives, "absent", "unknown"}
        if kind == "trait" and unknown:
            raise click.UsageError(f'"{unknown.pop()}" is not one of {", ".join(alternatives)}')
        return value

    answered: Plain = ask(f"    On {release} ({example})", value_proc=check)
    if isinstance(answered, dict) and ("min" in answered or "mean" in answered) and "n" not in answered:
        number = _ask("      From how many examples (empty if unknown)", _number, default="")
        return {**answered, "n": int(number)} if number else answered
    return answered


def _number(answer: str) -> str:
    text = answer.strip()
    if text and (not text.isdecimal() or not 2 <= int(text[:9]) <= MOST_EXAMPLES):
        raise click.UsageError(
            f'"{shortened(text)}" is no number of examples; give 2 to {MOST_EXAMPLES}, or nothing'
        )
    return text
