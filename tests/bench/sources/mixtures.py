"""References of several kinds in one photo, fitted together, each mixture with a span beside it."""

from typing import Any

import cv2
import numpy as np

from calibration.cards import FoundCard
from calibration.combine.references import Combined
from calibration.objects import ID1
from calibration.plane import Plane, PlaneFamily
from calibration.sources import SourcePlane
from calibration.sources.coin import Coin
from measure.length import Length
from tests.bench.sources.draws import coin_sight, target_sight
from tests.bench.sources.scenes import Scene, Tally, beside, draw_scene, in_frame, tilted

Told = tuple[list[FoundCard], list[SourcePlane]]
"""The cards and the other sources in one photo."""

_WHERE = np.array([[-60.0, -40.0], [30.0, 20.0]])


def card_seen(scene: Scene, at: np.ndarray) -> FoundCard:
    from calibration.cards.finder import FoundCard

    rng = scene.rng
    w, h = ID1.width_mm + rng.normal(0, 0.072), ID1.height_mm + rng.normal(0, 0.032)
    corners = np.array([[0, 0], [w, 0], [w, h], [0, h]]) + at
    seen = scene.noisy(scene.see(corners, rng.normal(0, 0.2, 4)), 0.15)
    return FoundCard(ID1, seen, np.eye(8) * 0.15**2, 0.95, True)


def coin_told(scene: Scene, at: np.ndarray, face_mm: float = 0.0) -> tuple[Coin, SourcePlane]:
    """A coin whose upper face lies this high above the plane that is drawn."""
    from calibration.sources import Marks, plane_from
    from calibration.sources.coin import COINS

    rng = scene.rng
    which = COINS[rng.choice([key for key, coin in COINS.items() if coin.round])]
    face_mm = which.thickness_mm + face_mm
    rim = coin_sight(scene, which, at, rng, 0.25, rng.uniform(0, 1), face_mm)
    return which, plane_from(scene.prior, which.key, rim, Marks(np.array([rim.ellipse.centre_px])))


def length_told(scene: Scene, at: np.ndarray, height_mm: float = 0.0) -> SourcePlane:
    from calibration.sources import Marks, plane_of_length

    rng = scene.rng
    known, angle = rng.uniform(50, 120), rng.uniform(0, 6.28)
    half = known / 2 * np.array([np.cos(angle), np.sin(angle)])
    ends = scene.noisy(scene.see([at - half, at + half], height_mm), 1.0)
    return plane_of_length(scene.prior, known + rng.normal(0, 0.2), 0.2, Marks(ends))


def rule_told(scene: Scene, at: np.ndarray, height_mm: float = 0.0) -> SourcePlane:
    from calibration.sources import Marks, plane_from
    from calibration.sources.graduations import Graduations

    rng = scene.rng
    length, angle = rng.uniform(80, 160), rng.uniform(0, 6.28)
    numbers, true = np.arange(int(length)), 1.0 + rng.normal(0, 0.0005)
    along = np.array([np.cos(angle), np.sin(angle)])
    strokes = scene.noisy(scene.see(at + np.outer(numbers * true - length / 2, along), height_mm), 0.15)
    return plane_from(scene.prior, "rule-mm", Graduations(numbers, strokes, 0.15), Marks(strokes))


def target_told(scene: Scene) -> SourcePlane | None:
    from calibration.sources import Marks, plane_from

    found = target_sight(scene, scene.rng, height_mm=0.1 - ID1.thickness_mm)
    return None if found is None else plane_from(scene.prior, "target", found, Marks())


def card_and_coin(scene: Scene) -> Told:
    """The plane drawn is the card's face, and the coin lies on the table."""
    told = coin_told(scene, scene.rng.uniform(-40, 40, 2) + [-40, 60], -ID1.thickness_mm)[1]
    return [card_seen(scene, np.zeros(2))], [told]


def target_and_card(scene: Scene) -> Told | None:
    told = target_told(scene)
    return None if told is None else ([card_seen(scene, scene.rng.uniform(-30, 30, 2))], [told])


def two_coins(scene: Scene) -> Told:
    """The plane drawn is the first one's face."""
    places = _WHERE + scene.rng.uniform(-15, 15, (2, 2))
    first, one = coin_told(scene, places[0])
    scene.tvec = _raised(scene, first.thickness_mm)
    return [], [one, coin_told(scene, places[1], -first.thickness_mm)[1]]


def rule_and_length(scene: Scene) -> Told:
    height_mm = scene.rng.normal(0, 1.0)
    at = scene.rng.uniform(-30, 30, (2, 2))
    return [], [rule_told(scene, at[0]), length_told(scene, at[1], height_mm)]


def coin_and_rule(scene: Scene) -> Told:
    first, one = coin_told(scene, _WHERE[0])
    scene.tvec = _raised(scene, first.thickness_mm)
    return [], [one, rule_told(scene, _WHERE[1], scene.rng.normal(0, 1.0))]


def _raised(scene: Scene, height_mm: float) -> np.ndarray:
    """Return the translation with which the frame's plane is the one at this height."""
    return scene.tvec - cv2.Rodrigues(scene.rvec)[0] @ [0.0, 0.0, height_mm]


MIXTURES = {
    "card and coin": (card_and_coin, 15.0),
    "target and card": (target_and_card, 15.0),
    "two coins": (two_coins, 15.0),
    "rule and length": (rule_and_length, 8.0),
    "coin and rule": (coin_and_rule, 15.0),
}


def drawn(rng: np.random.Generator, name: str) -> tuple[Combined, Length, Length, float]:
    """Draw a mixture and a span in its plane: the length by all and by the first alone, and the truth."""
    from calibration.combine.references import combine

    make, tilt_std_deg = MIXTURES[name]
    while True:
        tilt = min(tilted(rng, tilt_std_deg), 45.0)
        scene = draw_scene(rng, distance=(300, 600), tilt=(tilt, tilt), middle=(0, 0))
        told = make(scene)
        if told is None:
            continue
        cards, sources = told
        every = [card.corners_px for card in cards] + [one.plane.corners_px for one in sources]
        if not in_frame(np.vstack(every)):
            continue
        ends, true_mm = beside(rng, scene)
        ends = scene.noisy(ends, 1.0)
        both = combine(scene.prior, cards, sources)
        return both, span_by(both.plane, both.family, ends), span_alone(scene, cards, sources, ends), true_mm


def span_alone(scene: Scene, cards: list[FoundCard], sources: list[SourcePlane], ends: np.ndarray) -> Length:
    from calibration.plane.fit import fit_plane

    if not cards:
        return span_by(sources[0].plane, sources[0].family, ends)
    card = cards[0]
    return span_by(fit_plane(scene.prior, ID1, card.corners_px, card.corners_cov_px2), None, ends)


def span_by(plane: Plane, family: PlaneFamily | None, ends: np.ndarray, **how: Any) -> Length:
    from measure.kinds.ambiguous_planes import over_family
    from measure.kinds.span import measure_span

    def on(one: Plane) -> Length:
        return measure_span(one, ends, standoff_std_mm=0.0, **how)

    return on(plane) if family is None else over_family(family, on)


def mixtures(rng: np.random.Generator, runs: int) -> list[Tally]:
    tallies = []
    for name in MIXTURES:
        both_tally, alone_tally = Tally(f"span by {name}"), Tally("the same, the first alone")
        disagree = 0
        while len(both_tally.u_mm) < runs:
            both, together, alone, true_mm = drawn(rng, name)
            disagree += not both.agree
            both_tally.add(together, true_mm)
            alone_tally.add(alone, true_mm)
        print(f"    {name}: true ones reported as contradicting {100 * disagree / runs:.1f} % (stated 1 %)")
        tallies += [both_tally, alone_tally]
    return tallies
