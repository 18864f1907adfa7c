"""Likelihoods, hypotheses and the exact posterior over them."""

from references.inference.agreement import chance_of_scatter
from references.inference.chain import EvidenceChain, infer_with_chain
from references.inference.common_factor import common_factor
from references.inference.counts_traits import (
    Given,
    count_likelihood,
    each_count_likelihood,
    trait_likelihood,
)
from references.inference.enumeration import infer_posterior
from references.inference.finding import (
    OTHER,
    FeatureFindings,
    Finding,
    PartFindings,
    Reading,
    State,
    sort_findings,
)
from references.inference.likelihood import LengthModel, length_model, point_density, slip_density
from references.inference.options import DEFAULT_OPTIONS, JudgeOptions
from references.inference.origins import origin_shares
from references.inference.posterior import Belief, PartBelief, check_probabilities

__all__ = [
    "DEFAULT_OPTIONS",
    "OTHER",
    "Belief",
    "EvidenceChain",
    "FeatureFindings",
    "Finding",
    "Given",
    "JudgeOptions",
    "LengthModel",
    "PartBelief",
    "PartFindings",
    "Reading",
    "State",
    "chance_of_scatter",
    "check_probabilities",
    "common_factor",
    "count_likelihood",
    "each_count_likelihood",
    "infer_posterior",
    "infer_with_chain",
    "length_model",
    "origin_shares",
    "point_density",
    "slip_density",
    "sort_findings",
    "trait_likelihood",
]
