"""What each outcome of a check would lead to."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from references.inference import (
    Given,
    JudgeOptions,
    each_count_likelihood,
    length_model,
    point_density,
    trait_likelihood,
)
from references.release_sheet import Counts, Feature, Part, Sheet

Array = NDArray[np.float64]

LEAST_CHANCE = 0.02
"""Outcomes that are less likely are not told."""
MOST_LEADS = 4
Outcome = int | str | tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Lead:
    """One outcome of a check, and the release that would then be the likeliest.

    Attributes
    ----------
    outcome : int, str, (float, float) or None
        A count, an alternative of a trait, or limits in mm that the length lies in the middle of; None where
        the toy has no such part.
    chance : float
        How likely the outcome is, given all findings so far.
    release : str
        Key of the likeliest release after it.
    probability : float
        Its probability then, among the releases listed.
    """

    outcome: Outcome
    chance: float
    release: str
    probability: float

    def to_json(self) -> dict[str, Any]:
        """Return plain values for a JSON file."""
        outcome = list(self.outcome) if isinstance(self.outcome, tuple) else self.outcome
        return {
            "outcome": outcome,
            "chance": self.chance,
            "release": self.release,
            "probability": self.probability,
        }


def leads_of(
    sheet: Sheet, part: Part, feature: Feature, joint: Array, options: JudgeOptions
) -> tuple[Lead, ...]:
    """Return what the likely outcomes of a check lead to, the likeliest outcome first.

    Parameters
    ----------
    sheet : Sheet
        The release sheet.
    part, feature : Part, Feature
        What is checked.
    joint : (releases, 2 releases + 1 or + 2) array
        Probability of the release and the part's origin together, as `next_check` has it; with the last
        column, the part may be absent.
    options : JudgeOptions
        Rates of errors, and the uncertainty to expect of a length.

    Returns
    -------
    tuple of Lead
        At most `MOST_LEADS`. The chance of a length is that of its limits beside the other limits.
    """
    count = len(sheet.releases)
    present = joint[:, : 2 * count + 1]
    found = [(outcome, present @ column) for outcome, column in _outcomes(sheet, feature, options)]
    total = sum(float(each.sum()) for _, each in found)
    scale = float(present.sum()) / total if total > 0 else 0.0
    weighed = [(outcome, each * scale) for outcome, each in found]
    # Where every release has the part, its absence only says that it is lost.
    may_lack = any(part.absent_from(release) for release in sheet.release_ids)
    if may_lack and joint.shape[1] > 2 * count + 1:
        weighed.append((None, joint[:, -1]))
    leads = [_lead(outcome, each, sheet) for outcome, each in weighed if each.sum() >= LEAST_CHANCE]
    return tuple(sorted(leads, key=lambda lead: -lead.chance)[:MOST_LEADS])


def _lead(outcome: Outcome, together: Array, sheet: Sheet) -> Lead:
    chance, best = float(together.sum()), int(together.argmax())
    return Lead(outcome, chance, sheet.release_ids[best], float(together[best]) / chance)


def _outcomes(sheet: Sheet, feature: Feature, options: JudgeOptions) -> Iterator[tuple[Outcome, Array]]:
    """Yield each outcome with its likelihood under each origin: releases, copies of them, none."""
    releases, given = sheet.release_ids, Given(sheet.release_ids, options)
    if feature.kind == "count":
        values = feature.by_release.values()
        known = sorted({n for value in values if isinstance(value, Counts) for n in value.frequencies})
        each = each_count_likelihood(feature, known, given) if known else np.ones((len(releases) + 1, 0))
        yield from ((number, _by_origin(each[:, column])) for column, number in enumerate(known))
    elif feature.kind == "trait":
        for word in feature.alternatives:
            yield word, _by_origin(trait_likelihood(feature, [word], given))
    else:
        model = length_model(feature, releases)
        limits = dict.fromkeys(feature.limits_mm(release) for release in releases)
        for one in limits:
            if one is not None:
                middle = (one[0] + one[1]) / 2
                yield one, _by_origin(point_density(model, middle, options.likely_u(middle)))


def _by_origin(likelihood: Array) -> Array:
    return np.concatenate([likelihood[:-1], likelihood[:-1], likelihood[-1:]])
