"""Bayes' rule by plain loops and dense sums: slow, short, and written without the program's own arithmetic.

Every sum over release, origins, shrinkage and scale error is written out; normal densities come from the
standard library.
"""

import itertools
import math
from statistics import NormalDist

import numpy as np

SHRINKS = 50
SCALES = 49


def posterior(sheet, findings, options):
    """Probability of each release, and that the whole specimen is a recast."""
    photos = sorted({f.photo for f in findings if f.photo is not None and f.shared_std_mm > 0})
    axis = np.linspace(-5, 5, SCALES)
    weight = np.exp(-0.5 * axis**2)
    weight /= weight.sum()
    width = (options.shrink_high - options.shrink_low) / SHRINKS
    copies = options.shrink_low + width * (np.arange(SHRINKS) + 0.5)
    if sheet.recast_rate == 0:
        copies = copies[:0]
    shrinks = [(0.0, 1 - sheet.recast_rate), *((s, sheet.recast_rate / SHRINKS) for s in copies)]
    joint = np.zeros((len(sheet.releases), 2))
    for scale in itertools.product(range(SCALES), repeat=len(photos)):
        errors = {photo: axis[index] for photo, index in zip(photos, scale, strict=True)}
        chance = np.prod([weight[index] for index in scale])
        by_part = {
            part.id: part_table(sheet, part, findings, errors, shrinks, options) for part in sheet.parts
        }
        for b, release in enumerate(sheet.releases):
            for k, (_, prior) in enumerate(shrinks):
                likelihood = np.prod([by_part[part.id][k][b] for part in sheet.parts])
                joint[b, int(k > 0)] += release.prior * prior * chance * likelihood
    joint /= joint.sum()
    return joint.sum(axis=1), joint[:, 1].sum()


def part_table(sheet, part, findings, errors, shrinks, options):
    """For each shrinkage, the probability of a part's findings under each release of the specimen."""
    own = [f for f in findings if f.part == part.id and f.state != "could not see"]
    if not own:
        return np.ones((len(shrinks), len(sheet.releases)))
    if own[0].state == "not present":
        return np.array(
            [[absence(sheet, part, b, options) for b in range(len(sheet.releases))]] * len(shrinks)
        )
    everyone = range(len(sheet.releases))
    genuine = np.array(
        [[origin(sheet, part, own, r, s, errors, options) for r in everyone] for s, _ in shrinks]
    )
    copies = genuine[1:].mean(axis=0) if len(shrinks) > 1 else genuine[0]
    strange = np.array([origin(sheet, part, own, None, s, errors, options) for s, _ in shrinks])
    table = np.zeros_like(genuine)
    for k in range(len(shrinks)):
        for b in range(len(sheet.releases)):
            shares = origins(sheet, part, b, options)
            value = sum(share * (1 - sheet.recast_rate) * genuine[k][r] for r, share in shares.items())
            value += sum(share * sheet.recast_rate * copies[r] for r, share in shares.items())
            value += options.none_rate * strange[k]
            table[k, b] = (1 - sheet.missing_rate) * value
    return table


def has(sheet, part, r):
    return not part.absent_from(sheet.releases[r].id)


def origins(sheet, part, b, options):
    """Share of each release as origin of a part on a specimen of release b."""
    others = [r for r in range(len(sheet.releases)) if r != b and has(sheet, part, r)]
    total = sum(sheet.releases[r].prior for r in others)
    swap = sheet.swap_rate if total > 0 else 0.0
    shares = {r: swap * sheet.releases[r].prior / total for r in others}
    if has(sheet, part, b):
        shares[b] = 1 - swap - options.none_rate
    return shares


def absence(sheet, part, b, options):
    return 1 - (1 - sheet.missing_rate) * (sum(origins(sheet, part, b, options).values()) + options.none_rate)


def origin(sheet, part, findings, r, s, errors, options):
    """Probability of a part's findings if it comes from release r (None: unlisted), made smaller by s."""
    if r is not None and not has(sheet, part, r):
        return 0.0
    value = 1.0
    for feature in part.features:
        seen = [f for f in findings if f.feature == feature.id]
        given = None if r is None else feature.by_release[sheet.releases[r].id]
        if not seen:
            continue
        if feature.kind == "dimension":
            assert len(seen) == 1
            value *= reading(sheet, feature, given, seen[0], s, errors, options)
        elif feature.kind == "count":
            known = [n for each in feature.by_release.values() for n in each.frequencies]
            anything = range(max(0, min(known) - 2), max(known) + 3)
            table = {n: 1 / len(anything) for n in anything} if given is None else given.frequencies
            value *= sum(
                share * math.prod(miscount(f.value, true, options) for f in seen)
                for true, share in table.items()
            )
    return value


def miscount(seen, true, options):
    away = abs(seen - true)
    if away == 0:
        return 1 - options.miscount_rate
    return options.miscount_rate * (0.4 if away == 1 else 0.1 * 0.5 ** (away - 1))


def reading(sheet, feature, given, finding, s, errors, options):
    own = math.sqrt(finding.standard_uncertainty_mm**2 - finding.shared_std_mm**2)
    y = finding.value - finding.shared_std_mm * errors.get(finding.photo, 0.0)
    limits = [v.limits_mm for v in feature.by_release.values() if hasattr(v, "low_mm")]
    low, high = min(a for a, _ in limits), max(b for _, b in limits)
    centre = (low + high) / 2
    if given is None:
        std = math.hypot(max(0.12 * centre, (high - low) / 2), own / (1 - s))
        density = NormalDist(centre, std).pdf(y / (1 - s)) / (1 - s)
    else:
        noise = NormalDist(0.0, math.hypot(given.soft_std_mm, own / (1 - s)))
        above_low, above_high = noise.cdf(y / (1 - s) - given.low_mm), noise.cdf(y / (1 - s) - given.high_mm)
        density = (above_low - above_high) / (given.high_mm - given.low_mm) / (1 - s)
    gross_error = 1 / (2 * math.log(30) * finding.value)
    placed = (1 - options.gross_error_rate) * density + options.gross_error_rate * gross_error
    if given is None:
        middle, spread = centre, max(0.12 * centre, (high - low) / 2)
    else:
        middle, half = (given.low_mm + given.high_mm) / 2, (given.high_mm - given.low_mm) / 2
        spread = math.hypot(half / math.sqrt(3), given.soft_std_mm)
    elsewhere = min(options.misplaced_mm + options.misplaced_share * centre, centre / 2)
    spread = math.sqrt(spread**2 + finding.standard_uncertainty_mm**2 + elsewhere**2)
    misplaced = NormalDist(middle, spread).pdf(finding.value)
    return (1 - options.misplaced_rate) * placed + options.misplaced_rate * misplaced
