"""The sources of scale, drawn at random, each with a span beside it."""

from typing import Any

import cv2
import numpy as np

from calibration.edges.ellipse import Rim
from calibration.objects import ID1
from calibration.plane import Plane
from calibration.plane.fit import fit_plane
from calibration.printed_target.markers import FoundTarget
from calibration.sources.coin import Coin
from tests.bench.sources.scenes import (
    PROFILE,
    PX,
    Scene,
    Tally,
    beside,
    card_plane,
    draw_scene,
    in_frame,
    span_between,
    span_like,
    tilted,
)


def known_length(rng: np.random.Generator, runs: int) -> list[Tally]:
    from calibration.sources.known_length import fit_known_length
    from measure.kinds.ambiguous_planes import over_family

    tally = Tally("span by a known length, tilt 8 deg")
    while len(tally.u_mm) < runs:
        tilt = tilted(rng, 8.0)
        scene = draw_scene(rng, distance=(300, 800), tilt=(tilt, tilt), middle=(0, 0))
        known, angle = rng.uniform(50, 120), rng.uniform(0, 6.28)
        half = known / 2 * np.array([np.cos(angle), np.sin(angle)])
        seen = scene.see([-half, half])
        if not in_frame(seen):
            continue
        std = 0.2
        stated = known + rng.normal(0, std)
        family = fit_known_length(scene.prior, scene.noisy(seen, 1.0), stated, length_std_mm=std)
        ends, length = beside(rng, scene)
        ends = scene.noisy(ends, 1.0)
        tally.add(over_family(family, span_between(ends)), length)
    return [tally]


def coin_sight(
    scene: Scene,
    coin: Coin,
    at: np.ndarray,
    rng: np.random.Generator,
    std_px: float,
    wall: float,
    face_mm: float = 0.0,
) -> Rim:
    """The outline of a coin, its upper face this high: its near side follows the wall by a share."""
    from calibration.edges.ellipse import Rim, fit_ellipse

    R, _ = cv2.Rodrigues(scene.rvec)
    eye = -(R.T @ scene.tvec)
    phases = np.arange(240) / 240 * 2 * np.pi
    unit = np.column_stack([np.cos(phases), np.sin(phases)])
    near = unit @ (eye[:2] - at) > 0
    heights = face_mm - wall * coin.thickness_mm * near
    radius = coin.diameter_mm / 2 + rng.uniform(-0.05, 0.05) + rng.normal(0, 0.05)
    seen = scene.noisy(scene.see(at + radius * unit, heights), std_px)
    ellipse = fit_ellipse(seen)
    _, normals = ellipse.at(ellipse.phases(seen))
    return Rim(ellipse, seen, normals, std_px, std_px, 1.0)


def coin(rng: np.random.Generator, runs: int) -> list[Tally]:
    from calibration.sources.coin import COINS, fit_coin
    from measure.kinds.ambiguous_planes import over_family

    tallies = [Tally("span by a coin, tilt 15 deg"), Tally("the same, nearer side told")]
    keys = [key for key, coin in COINS.items() if coin.round]
    while len(tallies[0].u_mm) < runs:
        tilt = min(tilted(rng, 15.0), 50.0)
        scene = draw_scene(rng, distance=(250, 600), tilt=(tilt, tilt), middle=(0, 0))
        which = COINS[rng.choice(keys)]
        at = rng.uniform(-40, 40, 2)
        if not in_frame(scene.see(at + 15 * np.array([[-1, -1], [1, 1], [1, -1], [-1, 1.0]]))):
            continue
        rim = coin_sight(scene, which, at, rng, 0.25, rng.uniform(0, 1))
        ends, length = beside(rng, scene)
        ends = scene.noisy(ends, 1.0)
        grid = at + np.array([[-60, 0], [60, 0], [0, -60], [0, 60.0]])
        R, _ = cv2.Rodrigues(scene.rvec)
        depths = (R @ np.column_stack([grid, np.zeros(4)]).T).T[:, 2]
        told = scene.see([grid[int(depths.argmin())]])[0]
        for tally, nearer in zip(tallies, (None, told), strict=True):
            family = fit_coin(scene.prior, which, rim, nearer_px=nearer)
            tally.add(over_family(family, span_between(ends)), length)
    return tallies


def target_sight(
    scene: Scene,
    rng: np.random.Generator,
    *,
    checked: bool = True,
    covered: float = 0.5,
    height_mm: float = 0.0,
) -> FoundTarget | None:
    """Draw a print of which a share is covered, its size read off the check rules; None if little shows."""
    from calibration.printed_target.layout import TARGET, PrintScale, print_scale
    from calibration.printed_target.markers import FoundTarget

    true = 1.0 + rng.uniform(-0.01, 0.01, 2)
    reading = rng.uniform(-0.25, 0.25, 2)
    scale = print_scale(150 * true[0] + reading[0], 200 * true[1] + reading[1]) if checked else PrintScale()
    drawn = TARGET.corners_mm()
    ids = np.flatnonzero(drawn[:, 0] > covered * 180.0)
    lifts = rng.normal(0, 0.4, 4)
    u, v = drawn[ids, 0] / 180.0, drawn[ids, 1] / 228.0
    heights = np.stack([(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v], axis=1) @ lifts
    seen = scene.see(drawn[ids] * true, heights + height_mm)
    inside = np.all((seen > 10) & (seen < np.array(PX) - 11), axis=1)
    if inside.sum() < 30:
        return None
    ids, seen = ids[inside], scene.noisy(seen[inside], 0.06)
    return FoundTarget(ids, seen, drawn[ids] * [scale.across, scale.down], 0.07, TARGET, scale)


def target_plane(scene: Scene, rng: np.random.Generator, **how: Any) -> Plane | None:
    """Fit the plane of a print drawn so."""
    from calibration.sources.target import plane_of_target

    found = target_sight(scene, rng, **how)
    return None if found is None else plane_of_target(scene.prior, found)


def spans(rng: np.random.Generator, runs: int) -> list[Tally]:
    from calibration.objects import A4
    from measure.kinds.span import measure_span

    tallies = []
    references: tuple[tuple[str, Any, dict[str, Any]], ...] = (
        ("ID-1 card", None, {}),
        ("A4 sheet", A4, {}),
        ("half-covered target", "target", {}),
        ("ID-1 card, camera learnt", None, PROFILE),
        ("A4 sheet, camera learnt", A4, PROFILE),
    )
    for name, reference, lens in references:
        for height in (0.0, 60.0):
            what = "coplanar" if height == 0 else "0-60 mm stand-off +- 1 mm"
            tally = Tally(f"span, {name}, {what}")
            while len(tally.u_mm) < runs:
                scene = draw_scene(
                    rng, distance=(350, 900), middle=(60, 60) if reference is None else (90, 114), **lens
                )
                ends = span_like(rng)
                up = rng.uniform(0, height) if height else 0.0
                seen = scene.see(ends, up)
                if not in_frame(seen):
                    continue
                if reference == "target":
                    plane = target_plane(scene, rng)
                else:
                    plane = card_plane(scene, **({} if reference is None else {"card": reference}))
                if plane is None:
                    continue
                std = 1.0 if height else 1e-3
                length = measure_span(
                    plane,
                    scene.noisy(seen, 0.3),
                    standoff_mm=up + rng.normal(0, std),
                    standoff_std_mm=std,
                    click_std_px=0.3,
                )
                tally.add(length, float(np.linalg.norm(np.diff(ends, axis=0))))
            tallies.append(tally)
    return tallies


def rule(rng: np.random.Generator, runs: int) -> list[Tally]:
    from calibration.sources.graduations import Graduations
    from calibration.sources.ruler import GRADUATIONS_MM, fit_rule
    from measure.kinds.ambiguous_planes import over_family

    tally = Tally("span by a rule, tilt 8 deg")
    while len(tally.u_mm) < runs:
        tilt = tilted(rng, 8.0)
        scene = draw_scene(rng, distance=(300, 700), tilt=(tilt, tilt), middle=(0, 0))
        kind = rng.choice(["rule-mm", "rule-in16"])
        pitch, length, angle = GRADUATIONS_MM[kind], rng.uniform(80, 160), rng.uniform(0, 6.28)
        numbers = np.arange(int(length / pitch))
        true = 1.0 + rng.normal(0, 0.0005)
        along = np.array([np.cos(angle), np.sin(angle)])
        strokes = np.outer(numbers * pitch * true - length / 2, along)
        seen = scene.see(strokes)
        if not in_frame(seen):
            continue
        found = Graduations(numbers, scene.noisy(seen, 0.15), 0.15)
        family = fit_rule(scene.prior, found, kind)
        ends, span_mm = beside(rng, scene)
        ends = scene.noisy(ends, 1.0)
        tally.add(over_family(family, span_between(ends)), span_mm)
    return [tally]


def two_cards(rng: np.random.Generator, runs: int) -> list[Tally]:
    from calibration.cards.finder import FoundCard
    from calibration.combine.references import combine
    from measure.kinds.span import measure_span

    tallies = [Tally("230 mm span, a card at each end"), Tally("the same, the first card alone")]
    disagree = 0
    while len(tallies[0].u_mm) < runs:
        scene = draw_scene(rng, distance=(450, 900), tilt=(0, 25), middle=(115, 30))
        cards = []
        for at in ((0.0, 0.0), (150.0, rng.uniform(-10, 10))):
            w, h = ID1.width_mm + rng.normal(0, 0.072), ID1.height_mm + rng.normal(0, 0.032)
            corners = np.array([[0, 0], [w, 0], [w, h], [0, h]]) + at
            cards.append(scene.see(corners, rng.normal(0, 0.2, 4)))
        ends = np.array([[0, 75], [230, 75.0]])
        seen = scene.see(ends)
        if not in_frame(np.vstack([*cards, seen])):
            continue
        found = [FoundCard(ID1, scene.noisy(card, 0.15), np.eye(8) * 0.15**2, 0.95, True) for card in cards]
        points = scene.noisy(seen, 0.3)
        both = combine(scene.prior, found)
        disagree += not both.agree
        alone = fit_plane(scene.prior, ID1, found[0].corners_px, found[0].corners_cov_px2)
        for tally, plane in zip(tallies, (both.plane, alone), strict=True):
            tally.add(measure_span(plane, points, standoff_std_mm=1e-3, click_std_px=0.3), 230.0)
    print(f"    two true cards reported as contradicting: {100 * disagree / runs:.1f} % (stated 1 %)")
    return tallies
