"""Simulation bench for sources of scale and kinds of measurement: bias, spread over stated u, coverage.

Run as ``python -m tests.bench.sources NAME... [--runs N] [--seed S]``; without names, everything. Points are
projected with OpenCV, not with the code under test; every input that the budget names is drawn from the
distribution that the budget states for it.
"""

import argparse
import sys
import time
from dataclasses import dataclass, field

import cv2
import numpy as np

from calibration.camera import Camera
from calibration.objects import ID1
from calibration.plane import fit_plane

PX = (4032, 3024)
CENTRE = np.array([(PX[0] - 1) / 2, (PX[1] - 1) / 2])


@dataclass
class Scene:
    """One drawn view: the camera as it is, the camera as it is thought to be, and a plane's frame."""

    rng: np.random.Generator
    focal: float = 0.0
    k1: float = 0.0
    centre: np.ndarray = field(default_factory=lambda: CENTRE)
    rvec: np.ndarray = field(default_factory=lambda: np.zeros(3))
    tvec: np.ndarray = field(default_factory=lambda: np.zeros(3))
    prior: Camera | None = None

    def see(self, points_mm, height_mm=0.0):
        """Project points of the plane (z away from the camera) at a height toward the camera."""
        flat = np.atleast_2d(np.asarray(points_mm, float))
        heights = np.broadcast_to(np.asarray(height_mm, float), (len(flat),))
        solid = np.column_stack([flat, -heights])
        K = np.array([[self.focal, 0, self.centre[0]], [0, self.focal, self.centre[1]], [0, 0, 1.0]])
        seen, _ = cv2.projectPoints(solid, self.rvec, self.tvec, K, np.array([self.k1, 0, 0, 0, 0.0]))
        return np.asarray(seen).reshape(-1, 2)

    def noisy(self, points_px, std_px):
        return points_px + self.rng.normal(0, std_px, np.shape(points_px))


# A camera as a good learnt profile leaves it: focal length to 0.3 %, centre to 0.1 % of the width.
PROFILE = {"log_focal_std": 0.003, "k1_std": 0.002, "centre_share": 0.001}


def draw_scene(
    rng,
    *,
    distance=(300, 900),
    tilt=(0, 35),
    log_focal_std=0.03,
    k1_std=0.02,
    centre_share=0.01,
    middle=(42.8, 27.0),
):
    """Draw a 12-megapixel phone photo of a plane; `middle` (mm) is what the camera looks at, roughly."""
    thought = 3029.0
    focal = thought * np.exp(rng.normal(0, log_focal_std))
    centre = CENTRE + rng.normal(0, centre_share * PX[0], 2)
    k1 = rng.normal(0, k1_std)
    distance_mm, tilt_deg = rng.uniform(*distance), rng.uniform(*tilt)
    axis = rng.uniform(0, 2 * np.pi)
    lean = np.radians(tilt_deg) * np.array([np.cos(axis), np.sin(axis), 0.0])
    spin = np.array([0.0, 0.0, rng.uniform(-np.pi, np.pi)])
    R = cv2.Rodrigues(lean)[0] @ cv2.Rodrigues(spin)[0]
    looked = np.array([*middle, 0.0]) + [*rng.normal(0, 15, 2), 0.0]
    tvec = np.array([0, 0, distance_mm]) - R @ looked
    camera = Camera(*PX, thought, log_focal_std, (CENTRE[0], CENTRE[1]), centre_share * PX[0], k1_std=k1_std)
    return Scene(rng, focal, k1, centre, cv2.Rodrigues(R)[0].ravel(), tvec, camera)


def card_plane(scene, *, card=ID1, corner_std_px=0.15, at=(0.0, 0.0)):
    """Draw a card of this kind, its size, lifts and corner noise, and fit its plane."""
    rng = scene.rng
    w = card.width_mm + rng.normal(0, card.width_std_mm)
    h = card.height_mm + rng.normal(0, card.height_std_mm)
    lifts = rng.normal(0, card.flatness_std_mm, 4)
    corners = np.array([[0, 0], [w, 0], [w, h], [0, h]]) + at
    seen = scene.noisy(scene.see(corners, lifts), corner_std_px)
    return fit_plane(scene.prior, card, seen, np.eye(8) * corner_std_px**2)


LINEAR = np.where((x := np.arange(256) / 255.0) <= 0.04045, x / 12.92, ((x + 0.055) / 1.055) ** 2.4)


def encoded(linear):
    """Return the file's grey levels of linear light 0..1."""
    light = np.clip(linear, 0, 1)
    return 255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def picture(inside, size, rng, *, blur, noise, tones=(60, 190), oversample=4):
    """Render a two-tone picture (H, W, 3) of `inside(points_px) -> bool`, blurred in linear light.

    The window is `size` px square with its first pixel centre at (0, 0) of the given function.
    """
    step = (np.arange(size * oversample) + 0.5) / oversample - 0.5
    points = np.stack(np.meshgrid(step, step), axis=-1)
    share = inside(points.reshape(-1, 2)).reshape(points.shape[:2]).astype(np.float32)
    share = cv2.resize(share, (size, size), interpolation=cv2.INTER_AREA)
    share = cv2.GaussianBlur(share, (0, 0), blur)
    low, high = LINEAR[tones[0]], LINEAR[tones[1]]
    shade = 1.0 + 0.1 * (np.arange(size) / size - 0.5)
    grey = encoded((low + (high - low) * share) * shade)
    noisy = (
        grey[..., None] + rng.normal(0, noise, (size, size, 1)) + rng.normal(0, noise / 2, (size, size, 3))
    )
    return np.clip(np.rint(noisy), 0, 255).astype(np.uint8)


def in_frame(points_px, margin=30):
    return bool(np.all((points_px > margin) & (points_px < np.array(PX) - 1 - margin)))


@dataclass
class Tally:
    """Errors of one source or kind."""

    name: str
    error_mm: list = field(default_factory=list)
    true_mm: list = field(default_factory=list)
    u_mm: list = field(default_factory=list)
    k: list = field(default_factory=list)
    refused: int = 0

    def add(self, length, true_mm):
        self.error_mm.append(length.value_mm - true_mm)
        self.true_mm.append(true_mm)
        self.u_mm.append(length.standard_uncertainty_mm)
        self.k.append(length.coverage_factor)

    def line(self):
        e, t, u, k = (np.array(v) for v in (self.error_mm, self.true_mm, self.u_mm, self.k))
        if not len(e):
            return f"{self.name:34s} no result, {self.refused} refused"
        z, relative = e / u, 100 * e / t
        inside = np.abs(e) <= k * u
        width = float(np.median(k) / np.quantile(np.abs(z), 0.95))
        # What errors normal with the stated u would give: where the estimate is a full least-squares fit to
        # what was drawn, the least that any unbiased estimate could reach (Cramer and Rao).
        least = np.abs(np.random.default_rng(0).normal(size=(200, len(e)))) * 100 * u / t
        return (
            f"{self.name:34s} n {len(e):4d} (refused {self.refused:3d})"
            f"  bias {np.mean(relative):+6.3f} %"
            f"  |e| median {np.median(np.abs(relative)):.3f} %"
            f"  p95 {np.quantile(np.abs(relative), 0.95):.3f} %"
            f"  (stated u alone: {np.median(least):.3f} / {np.quantile(least, 0.95):.3f})"
            f"  mm: {np.median(np.abs(e)):.3f} / {np.quantile(np.abs(e), 0.95):.3f}"
            f"  spread/u {np.std(z):.2f}  coverage {100 * inside.mean():.1f} %  width {width:.2f}"
        )

    def coverage(self):
        e, u, k = (np.array(v) for v in (self.error_mm, self.u_mm, self.k))
        return float(np.mean(np.abs(e) <= k * u))


CASES = {}


def case(function):
    CASES[function.__name__] = function
    return function


def span_like(rng, low=40.0, high=200.0):
    """Draw two points of a part that lies beside a card at the origin."""
    while True:
        a = rng.uniform([-120, -120], [210, 170])
        angle, length = rng.uniform(0, 2 * np.pi), rng.uniform(low, high)
        b = a + length * np.array([np.cos(angle), np.sin(angle)])
        if np.all(b > [-160, -150]) and np.all(b < [250, 210]):
            return np.array([a, b])


@case
def gap(rng, runs):
    from measure.kind_gap import clicked_edge, measure_gap

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


@case
def round_(rng, runs):
    from measure.kind_round import measure_round

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


@case
def rise(rng, runs):
    from measure.errors import SpanError
    from measure.kind_rise import measure_rise

    tallies = [
        Tally("rise, 25-65 deg, lean 1 mm"),
        Tally("rise, 25-65 deg, edge truly upright"),
        Tally("rise, upright, points to 0.3 px"),
        Tally("the same, camera learnt"),
    ]
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


def rounded_corner(points_mm, vertex, along, radius):
    """Which points lie inside a corner whose two sides leave the vertex along two unit vectors."""
    one, other = along
    middle = (one + other) / np.linalg.norm(one + other)
    half = np.arccos(np.clip(one @ other, -1, 1)) / 2
    local = points_mm - vertex
    wedge = np.all(np.linalg.solve(np.stack([one, other], axis=1), local.T) > 0, axis=0)
    centre = middle * radius / np.sin(half)
    # Between the vertex and the chord of the two touching points only the disc counts.
    chord = radius / np.tan(half) * np.cos(half)
    return wedge & ~((local @ middle < chord) & (np.linalg.norm(local - centre, axis=1) > radius))


class Window:
    """A photo of which only a window was rendered; the plane is shifted to it."""

    def __init__(self, pixels):
        self.pixels_bgr = pixels


@case
def tip(rng, runs):
    from calibration import pose
    from calibration.metric_plane import with_parameters
    from measure.kind_tip import CannotTell, measure_tip

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

                def inside(points, H=H, corner=corner, vertex=vertex, along=along, radius=radius):
                    mm = cv2.perspectiveTransform((points + corner).reshape(-1, 1, 2), H).reshape(-1, 2)
                    return rounded_corner(mm, vertex, along, radius)

                tones = (int(rng.uniform(30, 90)), int(rng.uniform(120, 230)))
                pixels = picture(
                    inside,
                    size,
                    rng,
                    blur=rng.uniform(0.7, 2.0),
                    noise=rng.uniform(1, 4),
                    tones=tones[:: rng.choice([-1, 1])],
                )
                moved = plane.parameters.copy()
                moved[pose.CENTRE] -= corner
                local = with_parameters(plane, moved)
                found = measure_tip(
                    Window(pixels), local, scene.noisy(seen, 1.0) - corner, standoff_std_mm=0.2
                )
                if isinstance(found, CannotTell):
                    tally.refused += 1
                else:
                    tally.add(found, radius)
            tallies.append(tally)
    return tallies


@case
def difference(rng, runs):
    from measure.kind_difference import measure_difference
    from measure.span import measure_span

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
        tally.add(found.length, 6.35)
        apart.append(found.u_if_independent_mm)
    print(f"    u paired {np.median(tally.u_mm):.2f} mm, as if independent {np.median(apart):.2f} mm")
    return [tally]


def beside(rng, scene, high=150.0):
    """Draw a span near the origin that is in the frame, and see it."""
    while True:
        a, angle, length = rng.uniform(-90, 90, 2), rng.uniform(0, 6.28), rng.uniform(25, high)
        ends = np.array([a, a + length * np.array([np.cos(angle), np.sin(angle)])])
        seen = scene.see(ends)
        if in_frame(seen):
            return seen, length


def tilted(rng, std_deg):
    return float(np.degrees(np.hypot(*(np.radians(std_deg) * rng.normal(size=2)))))


@case
def known_length(rng, runs):
    from calibration.known_length import fit_known_length
    from measure.span import measure_span
    from measure.undecided import over_family

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
        tally.add(
            over_family(family, lambda plane, e=ends: measure_span(plane, e, standoff_std_mm=0.0)), length
        )
    return [tally]


def coin_sight(scene, coin, at, rng, std_px, wall):
    """The outline of a coin whose upper face is the plane: its near side follows the wall by a share."""
    from calibration.rims import Rim, fit_ellipse

    R, _ = cv2.Rodrigues(scene.rvec)
    eye = -(R.T @ scene.tvec)
    phases = np.arange(240) / 240 * 2 * np.pi
    unit = np.column_stack([np.cos(phases), np.sin(phases)])
    near = unit @ (eye[:2] - at) > 0
    heights = -wall * coin.thickness_mm * near
    radius = coin.diameter_mm / 2 + rng.uniform(-0.05, 0.05) + rng.normal(0, 0.05)
    seen = scene.noisy(scene.see(at + radius * unit, heights), std_px)
    ellipse = fit_ellipse(seen)
    _, normals = ellipse.at(ellipse.phases(seen))
    return Rim(ellipse, seen, normals, std_px, std_px, 1.0)


@case
def coin(rng, runs):
    from calibration.coins import COINS, fit_coin
    from measure.span import measure_span
    from measure.undecided import over_family

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
            tally.add(
                over_family(family, lambda plane, e=ends: measure_span(plane, e, standoff_std_mm=0.0)), length
            )
    return tallies


def target_plane(scene, rng, *, checked=True, covered=0.5):
    """Fit the plane of a print of which a share is covered, its size read off the check rules."""
    from calibration.markers import FoundTarget
    from calibration.target_layout import TARGET, PrintScale, print_scale
    from calibration.target_plane import plane_of_target

    true = 1.0 + rng.uniform(-0.01, 0.01, 2)
    reading = rng.uniform(-0.25, 0.25, 2)
    scale = print_scale(150 * true[0] + reading[0], 200 * true[1] + reading[1]) if checked else PrintScale()
    drawn = TARGET.corners_mm()
    ids = np.flatnonzero(drawn[:, 0] > covered * 180.0)
    lifts = rng.normal(0, 0.4, 4)
    u, v = drawn[ids, 0] / 180.0, drawn[ids, 1] / 228.0
    heights = np.stack([(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v], axis=1) @ lifts
    seen = scene.see(drawn[ids] * true, heights)
    inside = np.all((seen > 10) & (seen < np.array(PX) - 11), axis=1)
    if inside.sum() < 30:
        return None
    ids, seen = ids[inside], scene.noisy(seen[inside], 0.06)
    found = FoundTarget(ids, seen, drawn[ids] * [scale.across, scale.down], 0.07, TARGET, scale)
    return plane_of_target(scene.prior, found)


@case
def spans(rng, runs):
    from calibration.objects import A4
    from measure.span import measure_span

    tallies = []
    references = (
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


@case
def rule(rng, runs):
    from calibration.rule import GRADUATIONS_MM, Graduations, fit_rule
    from measure.span import measure_span
    from measure.undecided import over_family

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
        found = Graduations(numbers, scene.noisy(seen, 0.15), 0.15, 5.0, 1.0)
        family = fit_rule(scene.prior, found, kind)
        ends, span_mm = beside(rng, scene)
        ends = scene.noisy(ends, 1.0)
        tally.add(
            over_family(family, lambda plane, e=ends: measure_span(plane, e, standoff_std_mm=0.0)), span_mm
        )
    return [tally]


@case
def two_cards(rng, runs):
    from calibration.combine import combine_cards
    from calibration.quads import FoundCard
    from measure.span import measure_span

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
        both = combine_cards(scene.prior, found)
        disagree += not both.agree
        alone = fit_plane(scene.prior, ID1, found[0].corners_px, found[0].corners_cov_px2)
        for tally, plane in zip(tallies, (both.plane, alone), strict=True):
            tally.add(measure_span(plane, points, standoff_std_mm=1e-3, click_std_px=0.3), 230.0)
    print(f"    two true cards reported as contradicting: {100 * disagree / runs:.1f} % (stated 1 %)")
    return tallies


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("names", nargs="*", choices=[[], *CASES])
    parser.add_argument("--runs", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    cv2.setNumThreads(1)
    for index, name in enumerate(CASES):
        if given.names and name not in given.names:
            continue
        start = time.process_time()
        for tally in CASES[name](np.random.default_rng([given.seed, index]), given.runs):
            print(tally.line())
        sys.stdout.write(f"    [{name}: {time.process_time() - start:.0f} s CPU]\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
