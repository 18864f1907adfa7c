"""What each finding adds to those before it, by the chain rule of probability."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from references.inference.enumeration import LEAST, Group, Inference, log_sum_of, with_unlisted
from references.inference.finding import PartFindings
from references.inference.options import JudgeOptions
from references.inference.posterior import Belief
from references.inference.standoff_errors import STANDOFF_NODES, over_standoff
from references.inference.unlisted import unlisted_log_terms
from references.release_sheet import Sheet

Array = NDArray[np.float64]
Place = tuple[str, str | None]

CERTAIN = 1e5
"""Logarithm of odds without end; no real evidence comes near it."""


@dataclass(frozen=True, slots=True, eq=False)
class EvidenceChain:
    """The belief after each finding: parts in the sheet's order, each its presence first, then its features.

    Attributes
    ----------
    places : tuple of (part, feature or None)
        What was found, by keys; None stands for the part's presence or absence.
    log_joint : (findings + 1, releases + 1) array
        Logarithm of prior times evidence of each release, and last of one that the sheet does not list, up to
        each finding; the first row is the prior.
    """

    places: tuple[Place, ...]
    log_joint: Array

    def log_odds(self, release: int) -> Array:
        """Return the logarithm of the odds of a release against all else, before and after each finding.

        Parameters
        ----------
        release : int
            Its position; -1 for one that the sheet does not list.

        Returns
        -------
        (findings + 1,) array
            Their differences are what the findings weigh, so they add up to the whole.
        """
        rest = np.delete(self.log_joint, release % self.log_joint.shape[1], axis=1)
        odds = self.log_joint[:, release] - np.logaddexp.reduce(rest, axis=1)
        return np.asarray(
            np.clip(odds, -CERTAIN, CERTAIN)
        )  # where there is nothing else, the odds are without end


def infer_with_chain(
    sheet: Sheet, parts: Sequence[PartFindings], options: JudgeOptions
) -> tuple[Belief, EvidenceChain]:
    """Weigh all findings as `infer_posterior` does, and say what each of them added.

    Parameters
    ----------
    sheet, parts, options
        As of `infer_posterior`.

    Returns
    -------
    Belief
    EvidenceChain
        Its last row is the belief.

    Raises
    ------
    VerdictError
        The numbers give no probabilities.
    """
    run = Inference(sheet, parts, options)
    belief = with_unlisted(run.belief(), sheet, parts, options)
    return belief, _chain(run, weigh_unlisted=belief.unlisted_probability > 0)


def _chain(run: Inference, *, weigh_unlisted: bool) -> EvidenceChain:
    group_of = {position: group for group in run.groups for position in group.nodes.parts}
    shape = len(run.releases), run.shrink.size
    logs = {id(group): np.log(group.nodes.weights) for group in run.groups}
    total = np.broadcast_to(run.log_prior(), shape)
    places, rows = list[Place](), [np.logaddexp.reduce(total, axis=1)[None]]
    for position, part in enumerate(run.parts):
        if part.present is None:
            continue
        group = group_of[position]
        before = logs[id(group)]
        after = before + _part_logs(run, group, position)  # (findings, b, s, n)
        added = log_sum_of(after) - log_sum_of(np.broadcast_to(before, after.shape[1:]))
        rows.append(np.logaddexp.reduce(total + added, axis=2))
        total, logs[id(group)] = total + added[-1], after[-1]
        places += [(part.part.id, None), *((part.part.id, each.feature.id) for each in part.features)]
    listed = np.concatenate(rows)
    unlisted = _unlisted(run) if weigh_unlisted else np.full(len(listed), -np.inf)
    known = math.log1p(-run.options.unlisted_rate) if weigh_unlisted else 0.0
    return EvidenceChain(tuple(places), np.column_stack([listed + known, unlisted]))


def _unlisted(run: Inference) -> Array:
    terms = [log for _, logs in unlisted_log_terms(run.sheet, run.parts, run.options) for log in logs]
    return math.log(run.options.unlisted_rate) + np.cumsum([0.0, *terms])


def _part_logs(run: Inference, group: Group, position: int) -> Array:
    """Return the logarithm of a part's evidence, up to its presence and up to each feature: (k, b, s, n)."""
    part, shares = run.parts[position], group.shares[group.nodes.parts.index(position)]
    count, size = len(run.releases), (run.shrink.size, group.nodes.weights.size)
    if not part.present:
        gone = np.maximum(1 - shares.sum(axis=1), LEAST)
        return np.asarray(np.broadcast_to(np.log(gone)[:, None, None], (1, count, *size)))
    shares_standoff = part.part.id in run.at_standoff
    nodes = size[1] * (STANDOFF_NODES if shares_standoff else 1)
    factors, log_scales = [np.ones((count + 1, size[0], nodes))], [0.0]
    for each in part.features:
        found = group.likelihoods[part.part.id, each.feature.id]
        largest = float(found.max())
        factors.append(factors[-1] * (found / largest))
        log_scales.append(log_scales[-1] + math.log(largest))
    if shares_standoff:
        factors = [over_standoff(each) for each in factors]
    by_origin = np.stack([run.with_copies(each) for each in factors])
    absent = [index for index, release in enumerate(run.releases) if part.part.absent_from(release)]
    by_origin[:, [*absent, *(index + count for index in absent)]] = 0.0
    flat = by_origin.reshape(*by_origin.shape[:2], -1)
    evidence = np.log(np.maximum(shares @ flat, LEAST)).reshape(len(flat), count, *size)
    return np.asarray(evidence + np.array(log_scales)[:, None, None, None])
