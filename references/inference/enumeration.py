"""Exact probabilities of release, origin of each part, and recast, from all findings together."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from references.inference.batch_likelihood import can_join, single_reading_likelihoods
from references.inference.counts_traits import Given
from references.inference.finding import PartFindings
from references.inference.likelihood import feature_likelihood, length_model
from references.inference.options import JudgeOptions
from references.inference.origins import origin_shares
from references.inference.photo_errors import MANY_READINGS, PhotoNodes, SpreadReading, photo_groups
from references.inference.posterior import Belief, PartBelief
from references.inference.standoff_errors import over_standoff, with_standoff
from references.inference.unlisted import unlisted_log_evidence
from references.release_sheet import Sheet

Array = NDArray[np.float64]
Key = tuple[str, str]

LEAST = 1e-300
JOINED = 8
"""Lengths computed at once: enough to save calls, few enough to stay in the processor's cache."""
FEWEST_SHRINK_NODES = 6
MOST_SHRINK_NODES = 40
MOST_SHRINK_NODES_MANY = 10
"""With many readings the evidence is overwhelming long before the nodes matter."""


def infer_posterior(sheet: Sheet, parts: Sequence[PartFindings], options: JudgeOptions) -> Belief:
    """Weigh all findings by exact enumeration of release, origins and recast.

    Parameters
    ----------
    sheet : Sheet
        The release sheet.
    parts : sequence of PartFindings
        Findings of every part of the sheet, in its order.
    options : JudgeOptions
        Rates and limits.

    Returns
    -------
    Belief
        Its posterior adds up to 1 over the sheet's releases.

    Raises
    ------
    VerdictError
        The numbers give no probabilities.

    Notes
    -----
    Given the specimen's release b, its shrinkage s and the photos' scale errors e, the parts are independent:
    p(findings) = sum_b sum_s p(b) p(s) integral p(e) prod_parts [sum_o p(o | b) p(its findings | o, s, e)].
    Lengths of one part also share the error of its stand-off, which is integrated over part by part.
    The integral is a product of one factor for each group of parts that share photos. A release that is not
    listed is weighed against all of this, see `unlisted_log_evidence`.
    """
    return with_unlisted(Inference(sheet, parts, options).belief(), sheet, parts, options)


def with_unlisted(
    belief: Belief, sheet: Sheet, parts: Sequence[PartFindings], options: JudgeOptions
) -> Belief:
    """Return the belief beside the hypothesis of a release that the sheet does not list."""
    rate = options.unlisted_rate
    if not any(part.features for part in parts) or not 0 < rate < 1:
        return belief
    against = belief.log_evidence + math.log1p(-rate)
    odds = unlisted_log_evidence(sheet, parts, options) + math.log(rate) - against
    return replace(belief, unlisted_probability=1 / (1 + math.exp(min(-odds, 700.0))))


class Inference:
    """One run of the enumeration; arrays run over release b, shrinkage s and node n."""

    def __init__(self, sheet: Sheet, parts: Sequence[PartFindings], options: JudgeOptions) -> None:
        self.sheet, self.parts, self.options = sheet, parts, options
        self.releases = sheet.release_ids
        self.given = Given(self.releases, options)
        self.models = {
            (part.part.id, findings.feature.id): length_model(findings.feature, self.releases)
            for part in parts
            for findings in part.features
            if findings.readings
        }
        self.at_standoff = {
            part.part.id for part in parts if any(reading.standoff_std_mm for reading in part.readings)
        }
        self.readings = [self._spread_readings(part) for part in parts]
        self.shrink, self.shrink_weights = self._shrink_nodes()
        self.groups = [Group(self, group) for group in photo_groups(self.readings)]

    def _spread_readings(self, part: PartFindings) -> list[SpreadReading]:
        found = []
        for findings in part.features:
            model = self.models.get((part.part.id, findings.feature.id))
            if model is not None:
                edge, spread = model.edge_std_mm, model.spread_std_mm
                found += [SpreadReading(reading, edge, spread) for reading in findings.readings]
        return found

    def _shrink_nodes(self) -> tuple[Array, Array]:
        """Return shrinkages and their probabilities; the first is zero."""
        widths = [
            math.hypot(each.reading.own_std_mm, each.edge_std_mm) / each.reading.value_mm
            for readings in self.readings
            for each in readings
        ]
        if not widths or self.sheet.recast_rate == 0:
            return np.zeros(1), np.ones(1)
        low, high = self.options.shrink_low, self.options.shrink_high
        most = MOST_SHRINK_NODES if len(widths) <= MANY_READINGS else MOST_SHRINK_NODES_MANY
        count = int(np.clip(np.ceil(1.2 * (high - low) / min(widths)), FEWEST_SHRINK_NODES, most))
        nodes, weights = np.polynomial.legendre.leggauss(count)
        shrink = np.concatenate([[0.0], (low + high) / 2 + (high - low) / 2 * nodes])
        return shrink, np.concatenate([[1 - self.sheet.recast_rate], self.sheet.recast_rate * weights / 2])

    def log_prior(self) -> Array:
        """Return the logarithm of the prior: (b, s)."""
        log_prior = np.log([max(release.prior, LEAST) for release in self.sheet.releases])
        return np.asarray(log_prior[:, None] + np.log(self.shrink_weights))

    def belief(self) -> Belief:
        """Run the enumeration."""
        total = self.log_prior()
        own_total = total.copy()
        for group in self.groups:
            total = total + group.log_sum
            own_total = own_total + group.own_log_sum
        log_evidence = float(np.logaddexp.reduce(total, axis=None))
        joint = np.exp(total - log_evidence)
        beliefs: list[PartBelief | None] = [None] * len(self.parts)
        for group in self.groups:
            for position, belief in group.part_beliefs(joint):
                beliefs[position] = belief
        shrink, shrink_std = self._shrinkage(joint)
        return Belief(
            posterior=joint.sum(axis=1),
            recast=self._recast(joint, beliefs),
            shrink=shrink,
            shrink_std=shrink_std,
            own_parts=float(np.exp(np.logaddexp.reduce(own_total, axis=None) - log_evidence)),
            parts=tuple(beliefs),
            log_evidence=log_evidence,
        )

    def _shrinkage(self, joint: Array) -> tuple[float, float]:
        weights = joint.sum(axis=0)[1:]
        if not weights.sum() > 0:
            return 0.0, 0.0
        weights = weights / weights.sum()
        mean = float(weights @ self.shrink[1:])
        spacing = (self.options.shrink_high - self.options.shrink_low) / weights.size
        variance = float(weights @ (self.shrink[1:] - mean) ** 2) + spacing**2 / 12  # between two nodes
        return mean, math.sqrt(variance)

    def _recast(self, joint: Array, beliefs: Sequence[PartBelief | None]) -> float:
        """Return the probability of a recast; a single measured part can count for either side."""
        whole = float(joint[:, 1:].sum())
        measured = [position for position, part in enumerate(self.parts) if part.readings]
        only = beliefs[measured[0]] if len(measured) == 1 else None
        count = len(self.releases)
        return whole if only is None else whole + float(only.genuine[:, count : 2 * count].sum())

    def likelihoods(self, group: PhotoNodes) -> dict[Key, Array]:
        """Return the likelihood of every feature found on the parts of a group, by part and feature."""
        found = [(self.parts[p].part.id, each) for p in group.parts for each in self.parts[p].features]
        plain = [
            (part, each)
            for part, each in found
            if len(each.readings) == 1
            and not each.readings[0].standoff_std_mm
            and can_join(self.models[part, each.feature.id])
        ]
        likelihoods: dict[Key, Array] = {}
        for start in range(0, len(plain), JOINED):
            keys = [(part, each.feature.id) for part, each in plain[start : start + JOINED]]
            readings = [each.readings[0] for _, each in plain[start : start + JOINED]]
            shifts, models = group.shifts_mm(readings), [self.models[key] for key in keys]
            together = single_reading_likelihoods(models, readings, shifts, self.shrink, self.given.options)
            likelihoods.update(zip(keys, together, strict=True))
        for part, each in found:
            key = part, each.feature.id
            if key not in likelihoods:
                shifts = group.shifts_mm(each.readings)
                if part in self.at_standoff:
                    shifts = with_standoff(each.readings, shifts)
                model = self.models.get(key)
                likelihoods[key] = feature_likelihood(each, model, shifts, self.shrink, given=self.given)
        return likelihoods

    def part_factors(
        self, position: int, shares: Array, group: PhotoNodes, likelihoods: Mapping[Key, Array]
    ) -> "_PartFactors":
        """Return the evidence of a part's findings, at every node of its group."""
        part = self.parts[position]
        count = len(self.releases)
        if part.present is None:
            return _PartFactors(np.ones((1, 1, 1)), np.ones((1, 1, 1)), None, 0.0)
        if not part.present:
            gone = np.maximum(1 - shares.sum(axis=1), LEAST)[:, None, None]
            return _PartFactors(gone, np.ones((1, 1, 1)), None, 0.0)
        likelihood, log_scale = self._part_likelihood(part, likelihoods)
        shape = (count, self.shrink.size, group.weights.size)
        by_origin = self.with_copies(np.broadcast_to(likelihood, (count + 1, *shape[1:])))
        absent = [index for index, release in enumerate(self.releases) if part.part.absent_from(release)]
        by_origin[[*absent, *(index + count for index in absent)]] = 0.0
        factor = np.maximum((shares @ by_origin.reshape(len(by_origin), -1)).reshape(shape), LEAST)
        own = shares[:, :count].diagonal()[:, None, None] * by_origin[:count]
        own /= factor
        return _PartFactors(factor, own, by_origin, log_scale)

    def _part_likelihood(self, part: PartFindings, likelihoods: Mapping[Key, Array]) -> tuple[Array, float]:
        """Return the likelihood of a part's findings by (release or unlisted, s, n), and its log scale."""
        likelihood = np.ones((len(self.releases) + 1, 1, 1))
        log_scale = 0.0
        for findings in part.features:
            factor = likelihoods[part.part.id, findings.feature.id]
            largest = float(factor.max())
            likelihood = likelihood * (factor * (1 / largest))
            log_scale += math.log(largest)
        if part.part.id in self.at_standoff:
            likelihood = over_standoff(likelihood)
        return likelihood, log_scale

    def with_copies(self, likelihood: Array) -> Array:
        """Insert the recast copy of each release, shrinkage summed over, between releases and unlisted."""
        genuine, unlisted = likelihood[:-1], likelihood[-1:]
        if self.shrink.size == 1:
            return np.concatenate([genuine, genuine, unlisted])
        weights = self.shrink_weights[1:] / self.shrink_weights[1:].sum()
        copies = np.matmul(weights, genuine[:, 1:])[:, None, :]
        return np.concatenate([genuine, np.broadcast_to(copies, genuine.shape), unlisted])


@dataclass(frozen=True, slots=True, eq=False)
class _PartFactors:
    """The evidence of a part's findings.

    ``factor`` by (b, s, n); ``own``, its share that comes from the specimen's own release; ``by_origin``, the
    likelihood by (origin, s, n), None where nothing was found; ``log_scale``, taken out of all of them.
    """

    factor: Array
    own: Array
    by_origin: Array | None
    log_scale: float


class Group:
    """The parts that share photos, integrated over those photos' scale errors."""

    def __init__(self, run: Inference, nodes: PhotoNodes) -> None:
        self.nodes = nodes
        members = [run.parts[position].part for position in nodes.parts]
        self.shares = [origin_shares(run.sheet, part, run.options) for part in members]
        self.likelihoods = likelihoods = run.likelihoods(nodes)
        self.factors = [
            run.part_factors(position, shares, nodes, likelihoods)
            for position, shares in zip(nodes.parts, self.shares, strict=True)
        ]
        shape = (len(run.releases), run.shrink.size, nodes.weights.size)
        logs = sum((np.log(each.factor) for each in self.factors), start=np.log(nodes.weights))
        self.log_product = np.broadcast_to(logs + sum(each.log_scale for each in self.factors), shape)
        self.log_sum = log_sum_of(self.log_product)
        own = np.ones((1, 1, 1))
        for each in self.factors:
            own = own * each.own
        self.own_log_sum = log_sum_of(self.log_product + np.log(np.maximum(own, LEAST)))

    def part_beliefs(self, joint: Array) -> list[tuple[int, PartBelief]]:
        """Return the belief about each part seen; `joint` is the probability of (b, s)."""
        found = []
        by_node = np.exp(self.log_product - self.log_sum[:, :, None]) * joint[:, :, None]
        for position, shares, each in zip(self.nodes.parts, self.shares, self.factors, strict=True):
            if each.by_origin is not None:
                found.append((position, _part_belief(by_node / each.factor, shares, each.by_origin)))
        return found


def _part_belief(without: Array, shares: Array, by_origin: Array) -> PartBelief:
    """Combine the belief from the other parts, by (b, s, n), with a part's likelihood, by (origin, s, n)."""
    genuine = shares * (without[:, 0, :] @ by_origin[:, 0, :].T)
    rest = without[:, 1:, :].reshape(len(without), -1)
    recast = shares * (rest @ by_origin[:, 1:, :].reshape(len(by_origin), -1).T)
    likelihood = by_origin[:, 0, :] @ without[:, 0, :].sum(axis=0)
    return PartBelief(genuine, recast, likelihood / max(float(likelihood.max()), LEAST))


def log_sum_of(values: Array) -> Array:
    """Return the logarithm of the sum of exponentials along the last axis."""
    peak = values.max(axis=-1, keepdims=True)
    return np.asarray(np.log(np.exp(values - peak).sum(axis=-1)) + peak[..., 0])
