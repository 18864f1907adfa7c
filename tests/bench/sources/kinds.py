"""The kinds of measurement, drawn at random beside a card."""

from typing import Any, cast

import cv2
import numpy as np

from tests.bench.sources.scenes import PROFILE, Tally, card_plane, draw_scene, in_frame, picture, span_like


def gap(rng: np.random.Generator, runs: int) -> list[Tally]:
    from measure.kinds.gap import clicked_edge, measure_gap

    tally = Tally("gap, clicked, 0-60 mm stand-off")
    while len(tally.u_mm) < runs:
        scene = draw_scene(rng)
        (a, b), width = span_like(rng), rng.uniform(15, 120)
        along = (b - a) / np.linalg.norm(b - a)
        across = np.array([-along[1], along[0]])
        height = rng.uniform(0, 60)
        ends = np.array([a, b, a + width * across + 5 * along, b + width * across - 8 * along])
        seen = scene.see(ends, height)
        if not in_frame(seen):
            continue
        plane = card_plane(scene)
        seen = scene.noisy(seen, 1.0)
        edges = [clicked_edge(seen[:2]), clicked_edge(seen[2:])]
        stated = height + rng.normal(0, 1.0)
        tally.add(measure_gap(plane, edges, standoff_mm=stated, standoff_std_mm=1.0), width)
    return [tally]


def round_(rng: np.random.Generator, runs: int) -> list[Tally]:
    from measure.kinds.round import measure_round

    tallies = [Tally("round, 3-12 clicks, 0-60 mm"), Tally("round, rim fitted, in the plane")]
    for tally, fitted in zip(tallies, (False, True), strict=True):
        while len(tally.u_mm) < runs:
            scene = draw_scene(rng)
            centre, radius = rng.uniform([-80, -80], [170, 140]), rng.uniform(12, 45)
            height = 0.0 if fitted else rng.uniform(0, 60)
            count = 200 if fitted else rng.integers(3, 13)
            arc = 2 * np.pi if fitted else rng.uniform(3.5, 2 * np.pi)
            phases = rng.uniform(0, 6.28) + np.arange(count) / count * arc
            rim = centre + radius * np.column_stack([np.cos(phases), np.sin(phases)])
            seen = scene.see(rim, height)
            if not in_frame(seen):
                continue
            plane = card_plane(scene)
            std = 0.3 if fitted else 1.0
            length = measure_round(
                plane,
                scene.noisy(seen, std),
                point_std_px=std,
                fitted=fitted,
                standoff_mm=height + rng.normal(0, 0.1 if fitted else 1.0),
                standoff_std_mm=0.1 if fitted else 1.0,
            )
            tally.add(length, 2 * radius)
    return tallies


def rise(rng: np.random.Generator, runs: int) -> list[Tally]:
    from measure.errors import SpanError
    from measure.kinds.rise import measure_rise

    tallies = [
        Tally("rise, 25-65 deg, lean 1 mm"),
        Tally("rise, 25-65 deg, edge truly upright"),
        Tally("rise, upright, points to 0.3 px"),
        Tally("the same, camera learnt"),
    ]
    draws: tuple[tuple[float, float, dict[str, Any]], ...]
    draws = ((1.0, 1.0, {}), (0.05, 1.0, {}), (0.05, 0.3, {}), (0.05, 0.3, PROFILE))
    for tally, (lean, std, lens) in zip(tallies, draws, strict=True):
        while len(tally.u_mm) < runs:
            scene = draw_scene(rng, distance=(450, 1000), tilt=(25, 65), **lens)
            foot, height = rng.uniform([-120, -120], [200, 170]), rng.uniform(40, 250)
            top = foot + rng.normal(0, lean, 2)
            foot_height = -0.76 + rng.normal(0, 0.1)
            seen = scene.see([foot, top], [foot_height, foot_height + height])
            if not in_frame(seen):
                continue
            plane = card_plane(scene)
            try:
                length = measure_rise(plane, scene.noisy(seen, std), lean_std_mm=lean, click_std_px=std)
                tally.add(length, height)
            except SpanError:
                tally.refused += 1
    return tallies


def rounded_corner(points_mm: np.ndarray, vertex: np.ndarray, along: np.ndarray, radius: float) -> np.ndarray:
    """Which points lie inside a corner whose two sides leave the vertex along two unit vectors."""
    one, other = along
    middle = (one + other) / np.linalg.norm(one + other)
    half = np.arccos(np.clip(one @ other, -1, 1)) / 2
    local = points_mm - vertex
    wedge = np.all(np.linalg.solve(np.stack([one, other], axis=1), local.T) > 0, axis=0)
    centre = middle * radius / np.sin(half)
    # Between the vertex and the chord of the two touching points only the disc counts.
    chord = radius / np.tan(half) * np.cos(half)
    inside: np.ndarray = wedge & ~(
        (local @ middle < chord) & (np.linalg.norm(local - centre, axis=1) > radius)
    )
    return inside


class Window:
    """A photo of which only a window was rendered; the plane is shifted to it."""

    def __init__(self, pixels: np.ndarray) -> None:
        self.pixels_bgr = pixels


def tip(rng: np.random.Generator, runs: int) -> list[Tally]:
    from calibration.cautions import NoAnswer
    from calibration.plane import projection
    from calibration.plane.metric_plane import with_parameters
    from measure.kinds.tip import measure_tip

    tallies = []
    for px_per_mm in (20.0, 8.0, 4.0):
        for low, high in ((0.2, 1.0), (2.2, 3.8)):
            tally = Tally(f"tip {low}-{high} mm at {px_per_mm:g} px/mm")
            while len(tally.u_mm) + tally.refused < runs:
                distance = 3029.0 / px_per_mm
                scene = draw_scene(rng, distance=(distance, distance * 1.05), tilt=(0, 25))
                plane = card_plane(scene)
                vertex, radius = rng.uniform([20, 10], [70, 45]), rng.uniform(low, high)
                turn, angle = rng.uniform(0, 6.28), np.radians(rng.uniform(60, 120))
                along = np.array([[np.cos(turn + s), np.sin(turn + s)] for s in (-angle / 2, angle / 2)])
                side = 12.0
                clicks = np.concatenate(
                    [vertex + along[0] * [[side], [side * 0.55]], vertex + along[1] * [[side * 0.55], [side]]]
                )
                seen = scene.see(clicks)
                size = int(np.ptp(np.vstack([seen, scene.see([vertex])]), axis=0).max() + 40)
                corner = np.floor(np.vstack([seen, scene.see([vertex])]).min(axis=0)) - 20
                # A local affine map from pixels to true mm is exact enough over the window.
                H, _ = cv2.findHomography(
                    scene.see(vertex + np.array([[-20, -20], [20, -20], [20, 20], [-20, 20.0], [0, 0]])),
                    vertex + np.array([[-20, -20], [20, -20], [20, 20], [-20, 20.0], [0, 0]]),
                )

                def inside(
                    points: np.ndarray,
                    H: np.ndarray = H,
                    corner: np.ndarray = corner,
                    vertex: np.ndarray = vertex,
                    along: np.ndarray = along,
                    radius: float = radius,
                ) -> np.ndarray:
                    mm = cv2.perspectiveTransform((points + corner).reshape(-1, 1, 2), H).reshape(-1, 2)
                    return rounded_corner(mm, vertex, along, radius)

                dark, light = int(rng.uniform(30, 90)), int(rng.uniform(120, 230))
                pixels = picture(
                    inside,
                    size,
                    rng,
                    blur=rng.uniform(0.7, 2.0),
                    noise=rng.uniform(1, 4),
                    tones=(dark, light) if rng.choice([-1, 1]) > 0 else (light, dark),
                )
                moved = plane.parameters.copy()
                moved[projection.PRINCIPAL_POINT] -= corner
                local = with_parameters(plane, moved)
                found = measure_tip(
                    cast("Any", Window(pixels)), local, scene.noisy(seen, 1.0) - corner, standoff_std_mm=0.2
                )
                if isinstance(found, NoAnswer):
                    tally.refused += 1
                else:
                    tally.add(found, radius)
            tallies.append(tally)
    return tallies


def difference(rng: np.random.Generator, runs: int) -> list[Tally]:
    from measure.kinds.difference import measure_difference
    from measure.kinds.span import measure_span

    tally, apart = Tally("difference of two heights, 6.35 mm"), []
    while len(tally.u_mm) < runs:
        scene = draw_scene(rng, distance=(600, 1000), tilt=(0, 25))
        a, angle, gap_mm = rng.uniform([-60, -60], [60, 60]), rng.uniform(0, 6.28), rng.uniform(30, 90)
        along, across = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
        one = np.array([a, a + 210.0 * along])
        two = np.array([a + gap_mm * across, a + gap_mm * across + (210.0 - 6.35) * along])
        height = rng.uniform(0, 40)
        seen = [scene.see(one, height), scene.see(two, height)]
        if not all(in_frame(points) for points in seen):
            continue
        plane, stated = card_plane(scene), height + rng.normal(0, 1.0)
        lengths = [
            measure_span(
                plane,
                scene.noisy(points, 0.3),
                standoff_mm=stated,
                standoff_std_mm=1.0,
                click_std_px=0.3,
                span_id=str(index),
            )
            for index, points in enumerate(seen)
        ]
        found = measure_difference(*lengths, same_standoff=True)
        tally.add(found, 6.35)
        apart.append(sum(length.standard_uncertainty_mm**2 for length in lengths) ** 0.5)
    print(f"    u paired {np.median(tally.u_mm):.2f} mm, as if independent {np.median(apart):.2f} mm")
    return [tally]
