"""Views, cards and tallies that the bench of sources and kinds draws from."""

from collections.abc import Callable
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import ArrayLike

from calibration.camera.prior import Camera
from calibration.objects import ID1, ReferenceObject
from calibration.plane import Plane
from calibration.plane.fit import fit_plane
from measure.length import Length
from tests.synthetic.optics import grey_levels, linear_light

PX = (4032, 3024)
CENTRE = np.array([(PX[0] - 1) / 2, (PX[1] - 1) / 2])


@dataclass
class Scene:
    """One drawn view: the camera as it is, the camera as it is thought to be, and a plane's frame."""

    rng: np.random.Generator
    prior: Camera
    focal: float = 0.0
    k1: float = 0.0
    centre: np.ndarray = field(default_factory=lambda: CENTRE)
    rvec: np.ndarray = field(default_factory=lambda: np.zeros(3))
    tvec: np.ndarray = field(default_factory=lambda: np.zeros(3))

    def see(self, points_mm: ArrayLike, height_mm: ArrayLike = 0.0) -> np.ndarray:
        """Project points of the plane (z away from the camera) at a height toward the camera."""
        flat = np.atleast_2d(np.asarray(points_mm, float))
        heights = np.broadcast_to(np.asarray(height_mm, float), (len(flat),))
        solid = np.column_stack([flat, -heights])
        K = np.array([[self.focal, 0, self.centre[0]], [0, self.focal, self.centre[1]], [0, 0, 1.0]])
        seen, _ = cv2.projectPoints(solid, self.rvec, self.tvec, K, np.array([self.k1, 0, 0, 0, 0.0]))
        return np.asarray(seen).reshape(-1, 2)

    def noisy(self, points_px: np.ndarray, std_px: float) -> np.ndarray:
        return points_px + self.rng.normal(0, std_px, np.shape(points_px))


# A camera as a good learnt profile leaves it: focal length to 0.3 %, centre to 0.1 % of the width.
PROFILE = {"log_focal_std": 0.003, "k1_std": 0.002, "centre_share": 0.001}


def draw_scene(
    rng: np.random.Generator,
    *,
    distance: tuple[float, float] = (300, 900),
    tilt: tuple[float, float] = (0, 35),
    log_focal_std: float = 0.03,
    k1_std: float = 0.02,
    centre_share: float = 0.01,
    middle: tuple[float, float] = (42.8, 27.0),
) -> Scene:
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
    return Scene(rng, camera, focal, k1, centre, cv2.Rodrigues(R)[0].ravel(), tvec)


def card_plane(
    scene: Scene,
    *,
    card: ReferenceObject = ID1,
    corner_std_px: float = 0.15,
    at: tuple[float, float] = (0.0, 0.0),
) -> Plane:
    """Draw a card of this kind, its size, lifts and corner noise, and fit its plane."""
    rng = scene.rng
    w = card.width_mm + rng.normal(0, card.width_std_mm)
    h = card.height_mm + rng.normal(0, card.height_std_mm)
    lifts = rng.normal(0, card.flatness_std_mm, 4)
    corners = np.array([[0, 0], [w, 0], [w, h], [0, h]]) + at
    seen = scene.noisy(scene.see(corners, lifts), corner_std_px)
    return fit_plane(scene.prior, card, seen, np.eye(8) * corner_std_px**2)


def picture(
    inside: Callable[[np.ndarray], np.ndarray],
    size: int,
    rng: np.random.Generator,
    *,
    blur: float,
    noise: float,
    tones: tuple[int, int] = (60, 190),
    oversample: int = 4,
) -> np.ndarray:
    """Render a two-tone picture (H, W, 3) of `inside(points_px) -> bool`, blurred in linear light.

    The window is `size` px square with its first pixel centre at (0, 0) of the given function.
    """
    step = (np.arange(size * oversample) + 0.5) / oversample - 0.5
    points = np.stack(np.meshgrid(step, step), axis=-1)
    share: np.ndarray = inside(points.reshape(-1, 2)).reshape(points.shape[:2]).astype(np.float32)
    share = cv2.resize(share, (size, size), interpolation=cv2.INTER_AREA)
    share = cv2.GaussianBlur(share, (0, 0), blur)
    low, high = linear_light(tones)
    shade = 1.0 + 0.1 * (np.arange(size) / size - 0.5)
    grey = grey_levels(np.clip((low + (high - low) * share) * shade, 0, 1))
    noisy = (
        grey[..., None] + rng.normal(0, noise, (size, size, 1)) + rng.normal(0, noise / 2, (size, size, 3))
    )
    return np.clip(np.rint(noisy), 0, 255).astype(np.uint8)


def in_frame(points_px: np.ndarray, margin: float = 30) -> bool:
    return bool(np.all((points_px > margin) & (points_px < np.array(PX) - 1 - margin)))


@dataclass
class Tally:
    """Errors of one source or kind."""

    name: str
    error_mm: list[float] = field(default_factory=list)
    true_mm: list[float] = field(default_factory=list)
    u_mm: list[float] = field(default_factory=list)
    k: list[float] = field(default_factory=list)
    refused: int = 0

    def add(self, length: Length, true_mm: float) -> None:
        self.error_mm.append(length.value_mm - true_mm)
        self.true_mm.append(true_mm)
        self.u_mm.append(length.standard_uncertainty_mm)
        self.k.append(length.coverage_factor)

    def line(self) -> str:
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

    def coverage(self) -> float:
        e, u, k = (np.array(v) for v in (self.error_mm, self.u_mm, self.k))
        return float(np.mean(np.abs(e) <= k * u))


def span_like(rng: np.random.Generator, low: float = 40.0, high: float = 200.0) -> np.ndarray:
    """Draw two points of a part that lies beside a card at the origin."""
    while True:
        a = rng.uniform([-120, -120], [210, 170])
        angle, length = rng.uniform(0, 2 * np.pi), rng.uniform(low, high)
        b = a + length * np.array([np.cos(angle), np.sin(angle)])
        if np.all(b > [-160, -150]) and np.all(b < [250, 210]):
            return np.array([a, b])


def beside(rng: np.random.Generator, scene: Scene, high: float = 150.0) -> tuple[np.ndarray, float]:
    """Draw a span near the origin that is in the frame, and see it."""
    while True:
        a, angle, length = rng.uniform(-90, 90, 2), rng.uniform(0, 6.28), rng.uniform(25, high)
        ends = np.array([a, a + length * np.array([np.cos(angle), np.sin(angle)])])
        seen = scene.see(ends)
        if in_frame(seen):
            return seen, length


def tilted(rng: np.random.Generator, std_deg: float) -> float:
    return float(np.degrees(np.hypot(*(np.radians(std_deg) * rng.normal(size=2)))))


def span_between(ends_px: np.ndarray) -> Callable[[Plane], Length]:
    """Return the function that measures a span lying in the plane that it is given."""
    from measure.kinds.span import measure_span

    def on(plane: Plane) -> Length:
        return measure_span(plane, ends_px, standoff_std_mm=0.0)

    return on
