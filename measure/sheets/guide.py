"""What a guide tells about a sheet, the same for text and page."""

import itertools
from dataclasses import dataclass

from measure.kinds import KINDS
from measure.verdict_words import feature_name, joined, rate_sentences, rule_sentences, span_text
from references.release_sheet import (
    Counts,
    Feature,
    Normal,
    Part,
    Range,
    Sheet,
    Traits,
    Value,
    format_sixteenths,
    format_value,
    shares_of,
)
from references.verdict import decision_rule, differ

SHORTEST_IN_SIXTEENTHS_MM = 15.0


@dataclass(frozen=True, slots=True)
class Separation:
    """What tells two releases apart; nothing if `checks` is empty."""

    first: str
    second: str
    checks: tuple[str, ...]

    @property
    def text(self) -> str:
        """The same as a sentence."""
        if not self.checks:
            return f"No check in this sheet can separate {self.first} from {self.second}."
        only = "only " if len(self.checks) == 1 else ""
        return f"{self.first} and {self.second}: {only}{'; '.join(self.checks)}."


def separations(sheet: Sheet) -> list[Separation]:
    """List for each pair of releases the checks that tell them apart."""
    found = []
    for first, second in itertools.combinations(sheet.releases, 2):
        checks = []
        for part in sheet.parts:
            if part.absent_from(first.id) != part.absent_from(second.id):
                checks.append(f"whether there is a separate {part.name.lower()}")
                continue
            checks += [feature_name(part, f) for f in part.features if differ(f, first.id, second.id)]
        found.append(Separation(first.name, second.name, tuple(checks)))
    return found


def rule_texts(sheet: Sheet) -> tuple[str, str]:
    """Say when a verdict by the sheet commits to an answer, and what it assumes."""
    rule = decision_rule(sheet)
    return rule_sentences(rule), rate_sentences(rule.rates)


def value_text(value: Value, unit: str) -> str:
    """Write the value of a feature on a release."""
    if isinstance(value, Range):
        return span_text(value.limits_mm, unit) + (f", {value.examples} examples" if value.examples else "")
    if isinstance(value, Normal):
        mean, sd = format_value(value.mean_mm, unit), format_value(value.sd_mm, unit)
        return f"mean {mean}, spread {sd}" + (f", {value.examples} examples" if value.examples else "")
    if isinstance(value, Counts | Traits):
        shares = sorted(shares_of(value).items(), key=lambda item: -item[1])
        if len(shares) == 1:
            return shares[0][0]
        return joined(f"{word} in {100 * share:.0f} %" for word, share in shares)
    return {"absent": "no separate part", "unknown": "not known yet"}[value.value]


def inches_text(value: Value) -> str:
    """Write limits to the nearest sixteenth of an inch, for a rule in inches; short lengths are left out."""
    if not isinstance(value, Range | Normal) or value.limits_mm[1] < SHORTEST_IN_SIXTEENTHS_MM:
        return ""
    low, high = (format_sixteenths(limit) for limit in value.limits_mm)
    return low if low == high else f"{low.removesuffix(' in')} to {high}"


def source_text(value: Value) -> str:
    """Return where a value comes from."""
    return getattr(value, "source", "") or ""


def method_text(feature: Feature) -> str:
    """Say how a dimension is measured on a photo."""
    if feature.kind != "dimension":
        return ""
    kind = f"{feature.measured_as}: {KINDS[feature.measured_as or 'span'].gives}"
    if feature.measured_as == "rise":
        return kind
    return (
        f"{kind}; stand-off {feature.standoff_mm:g} mm, standard uncertainty {feature.standoff_std_mm:g} mm"
    )


def care_text(part: Part) -> str:
    """Say what care a part needs."""
    keep = "Leave it in place. " if part.keep_in_place else ""
    return f"{keep}{part.handling}".strip()


def scale_mm(feature: Feature, sheet: Sheet) -> tuple[float, float] | None:
    """Return the ends of an axis that holds the limits of every release, with a margin."""
    limits = [found for release in sheet.release_ids if (found := feature.limits_mm(release)) is not None]
    if not limits:
        return None
    low, high = min(low for low, _ in limits), max(high for _, high in limits)
    margin = max(0.06 * (high - low), 0.01 * high)
    return max(0.0, low - margin), high + margin
