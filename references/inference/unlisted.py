"""Whether the specimen is of a release that the sheet does not list."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from references.inference.counts_traits import Given
from references.inference.finding import FeatureFindings, PartFindings
from references.inference.likelihood import (
    feature_likelihood,
    length_model,
    point_density,
    slip_density,
)
from references.inference.options import JudgeOptions
from references.release_sheet import Part, Sheet

Array = NDArray[np.float64]

LEAST = 1e-300
NEW_SHARE = 0.5
"""Share of an unlisted release's features that no listed release has. A choice, no source: makers go on using
half of their moulds."""


def unlisted_log_evidence(sheet: Sheet, parts: Sequence[PartFindings], options: JudgeOptions) -> float:
    """Return how well a release that the sheet does not list explains the findings.

    Parameters
    ----------
    sheet : Sheet
        What is listed.
    parts : sequence of PartFindings
        Findings of every part of the sheet, in its order.
    options : JudgeOptions
        The rates of errors.

    Returns
    -------
    float
        Natural logarithm of their probability density under it.

    Notes
    -----
    Each feature of such a release is with probability `NEW_SHARE` new, and then as a part of unlisted origin:
    a length anywhere around those listed, a count or trait of any value. Otherwise it is as one of the listed
    releases has it, by their shares. Whether it has a part at all follows from how many listed releases have
    it, by Jeffreys' estimate. The errors that lengths of one photo share count as independent, which weakens
    the hypothesis.
    """
    return sum(log for _, logs in unlisted_log_terms(sheet, parts, options) for log in logs)


def unlisted_log_terms(
    sheet: Sheet, parts: Sequence[PartFindings], options: JudgeOptions
) -> Iterator[tuple[int, list[float]]]:
    """Return the position of each part that something is known of, and the terms of that logarithm.

    The first is of its presence or absence; then one of each of its features.
    """
    given = Given(sheet.release_ids, options)
    prior = np.array([release.prior for release in sheet.releases])
    for position, part in enumerate(parts):
        if part.present is None:
            continue
        has = np.array([not part.part.absent_from(release) for release in sheet.release_ids])
        there = (1 - sheet.missing_rate) * _share_with(part.part, sheet)
        state = math.log(max(there if part.present else 1 - there, LEAST))
        each_log = [math.log(max(_feature(each, prior * has, given), LEAST)) for each in part.features]
        yield position, [state, *each_log]


def _share_with(part: Part, sheet: Sheet) -> float:
    count = len(sheet.releases)
    having = sum(not part.absent_from(release) for release in sheet.release_ids)
    return (having + 0.5) / (count + 1)


def _feature(findings: FeatureFindings, shares: Array, given: Given) -> float:
    total = float(shares.sum())
    each = _likelihood(findings, given)
    known = float(shares @ each[:-1]) / total if total > 0 else float(each[-1])
    return (1 - NEW_SHARE) * known + NEW_SHARE * float(each[-1])


def _likelihood(findings: FeatureFindings, given: Given) -> Array:
    """Return the likelihood under each release and for unlisted origin, all errors taken as independent."""
    if len(findings.readings) == 1:  # by far the most frequent, the same as below, and kept by others
        reading, options = findings.readings[0], given.options
        model = length_model(findings.feature, given.releases)
        measured = (1 - options.misplaced_rate) * (1 - options.gross_error_rate)
        density = point_density(model, reading.value_mm, reading.std_mm)
        return measured * density + slip_density(model, reading, options)
    readings = tuple(
        replace(each, own_std_mm=each.std_mm, shared_std_mm=0.0, standoff_std_mm=0.0)
        for each in findings.readings
    )
    several = length_model(findings.feature, given.releases) if readings else None
    shifts = np.zeros((len(readings), 1))
    alone = replace(findings, readings=readings)
    return np.asarray(feature_likelihood(alone, several, shifts, np.zeros(1), given=given)[:, 0, 0])
