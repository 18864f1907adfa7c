"""A drawn table top with a card and toy parts, seen by a pinhole camera, and the record of its sizes."""

from dataclasses import dataclass, field, replace
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw

from calibration.camera.prior import Camera
from calibration.image.photo import read_photo
from calibration.objects import ID1
from calibration.plane.fit import fit_plane
from measure.kinds.span import measure_span
from measure.record.file import write_specimen
from measure.record.specimen import (
    BudgetEntry,
    MeasurementEntry,
    ObservationEntry,
    PhotoEntry,
    ReferenceEntry,
    ResultEntry,
    Specimen,
)
from tests.synthetic.clutter import rounded_outline


@dataclass(frozen=True)
class View:
    """A pinhole camera above the table; the card's first corner is the origin."""

    width_px: int = 1600
    height_px: int = 1200
    focal_px: float = 1450.0
    distance_mm: float = 420.0
    tilt_deg: float = 10.0
    turn_deg: float = 3.0
    aim_mm: tuple[float, float] = (95.0, 70.0)

    def project(self, points_mm, height_mm=0.0):
        """Return pixels (N, 2) of points (N, 2) at a height toward the camera."""
        flat = np.asarray(points_mm, float) - self.aim_mm
        c, s = np.cos(np.radians(self.turn_deg)), np.sin(np.radians(self.turn_deg))
        x, y = flat[:, 0] * c - flat[:, 1] * s, flat[:, 0] * s + flat[:, 1] * c
        z = np.full(len(flat), -float(height_mm))
        c, s = np.cos(np.radians(self.tilt_deg)), np.sin(np.radians(self.tilt_deg))
        y, z = y * c - z * s, y * s + z * c + self.distance_mm
        middle = np.array([(self.width_px - 1) / 2.0, (self.height_px - 1) / 2.0])
        return np.column_stack([x, y]) * (self.focal_px / z)[:, None] + middle

    def camera(self):
        """Return the camera as the tool knows it."""
        middle = ((self.width_px - 1) / 2.0, (self.height_px - 1) / 2.0)
        return Camera(self.width_px, self.height_px, self.focal_px, 0.03, middle, 0.01 * self.width_px)


CARD_MM = np.array([[0, 0], [85.6, 0], [85.6, 53.98], [0, 53.98]])
# Part: outline in mm, height in mm, colour.
PLATE = np.array(
    [[12, 96], [20, 90], [164.1, 90], [172.1, 96], [172.1, 108], [164.1, 114.2], [20, 114.2], [12, 108]]
)
HOUSE = np.array([[125, -20], [185, -20], [185, 68.3], [125, 68.3]])


def draw(view: View, *, digits: bool = True, bits=()) -> np.ndarray:
    """Return the photo, BGR."""
    rng = np.random.default_rng(7)
    photo = np.full((view.height_px, view.width_px, 3), (168, 190, 205), np.float32)
    rows = np.linspace(0, 18, view.height_px)[:, None, None]
    photo = (photo - rows + rng.normal(0, 2.0, photo.shape)).clip(0, 255).astype(np.uint8)
    fill(photo, view, rounded_outline(*CARD_MM[2], 3.18, steps=9), 0.0, (120, 60, 30))
    if digits:
        for place in range(16):
            x = 8 + place * 4 + (place // 4) * 2
            fill(
                photo, view, np.array([[x, 28], [x + 2.4, 28], [x + 2.4, 34], [x, 34]]), 0.0, (240, 240, 240)
            )
    for number, want in enumerate(bits):
        (x0, y0), (x1, y1) = want.ends_mm
        outline = np.array([[x0, y0 - 4], [x1, y1 - 4], [x1, y1 + 4], [x0, y0 + 4]])
        fill(photo, view, outline, want.height_mm, (60 + 5 * number, 90, 170 - 4 * number))
    if not bits:
        fill(photo, view, HOUSE, 12.0, (60, 60, 170))
        fill(photo, view, np.array([[135, -5], [175, -5], [175, 20], [135, 20]]), 12.0, (200, 220, 220))
        fill(photo, view, PLATE, 14.0, (70, 120, 60))
    return cv2.GaussianBlur(photo, (0, 0), 0.8)


def fill(photo, view, outline_mm, height_mm, colour):
    """Paint a flat shape into the photo, its edge smoothed by counting sub-pixels."""
    outline = view.project(outline_mm, height_mm)
    low, high = np.floor(outline.min(axis=0)).astype(int) - 2, np.ceil(outline.max(axis=0)).astype(int) + 3
    wide, tall = high - low
    many = 8
    mask = Image.new("L", (int(wide) * many, int(tall) * many))
    ImageDraw.Draw(mask).polygon([tuple((point - low + 0.5) * many - 0.5) for point in outline], fill=255)
    share = np.asarray(mask.reduce(many), np.float32)[..., None] / 255.0
    x0, y0 = np.maximum(low, 0)
    x1, y1 = np.minimum(high, [photo.shape[1], photo.shape[0]])
    share = share[y0 - low[1] : y1 - low[1], x0 - low[0] : x1 - low[0]]
    photo[y0:y1, x0:x1] = np.rint(photo[y0:y1, x0:x1] * (1 - share) + np.array(colour) * share)


def thirty():
    """Return thirty small parts around the card, with long names."""
    spots = [(-55 + 47 * column, -52 + 30 * row) for row in range(8) for column in range(6)]
    free = [(x, y) for x, y in spots if not (-25 < x < 95 and -10 < y < 66)]
    words = ("starboard", "port", "forward", "after", "upper", "lower")
    return tuple(
        Wanted(None, None, f"Stanchion of the {words[i % 6]} deck rail, number {i + 1}, over paint",
               ((x, y), (x + 14 + i * 0.5, y)), 3.0)
        for i, (x, y) in enumerate(free[:30])
    )  # fmt: skip


@dataclass(frozen=True)
class Wanted:
    """A span to measure: part, feature, name, ends in mm, height in mm."""

    part: str | None
    feature: str | None
    name: str
    ends_mm: tuple
    height_mm: float = 14.0


SPANS = (
    Wanted("bow-plate", "width", "Bow plate, width", ((12, 102), (172.1, 102))),
    Wanted("bow-plate", "depth", "Bow plate, depth", ((92, 90), (92, 114.2))),
    Wanted("wheelhouse", "height", "Wheelhouse, height", ((155, -20), (155, 68.3)), 12.0),
)
OBSERVATIONS = (
    ObservationEntry("lifeboat", "screws", 4),
    ObservationEntry("paddle-wheel", "axle", "plug-in"),
    ObservationEntry("funnel-cap", None, None, "not present"),
    ObservationEntry("hull", "stamp", None, "could not see"),
)


def write_photo(path: Path, view: View, **options) -> None:
    """Save the photo as JPEG with the metadata of a phone: place, serial number, owner."""
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x013B] = "Quillcam", "Model 3", "A. Collector"
    exif.get_ifd(0x8825).update({1: "N", 2: (51.0, 30.0, 0.0), 3: "W", 4: (0.0, 7.0, 0.0)})
    exif.get_ifd(0x8769).update({0xA431: "SN-12345", 0xA430: "A. Collector", 0x9286: b"ASCII\0\0\0private"})
    picture = Image.fromarray(draw(view, **options)[:, :, ::-1].copy())
    picture.save(path, quality=92, exif=exif, comment=b"taken at home")


def specimen(
    folder: Path,
    *,
    view: View = View(),
    spans=SPANS,
    observations=OBSERVATIONS,
    name="Ferry from the harbour sale",
    sheet="saltmarsh-ferry",
    file="ferry.jpg",
    note="",
    bits=False,
) -> Specimen:
    """Take the photo, measure it, and return the record."""
    write_photo(folder / file, view, bits=spans if bits else ())
    photo = read_photo(folder / file)
    corners = view.project(CARD_MM)
    plane = fit_plane(view.camera(), ID1, corners, np.eye(8) * 0.15**2)
    entries = []
    for number, want in enumerate(spans, 1):
        ends = view.project(np.array(want.ends_mm, float), want.height_mm)
        length = measure_span(
            plane,
            ends,
            standoff_mm=want.height_mm,
            standoff_std_mm=1.5,
            photo_id="photo-1",
            span_id=f"m{number}",
        )
        budget = tuple(BudgetEntry(line.source, line.u_mm, line.shared) for line in length.budget)
        result = ResultEntry(
            length.value_mm,
            length.standard_uncertainty_mm,
            length.expanded_uncertainty_mm,
            length.coverage_factor,
            budget,
        )
        points = tuple((float(x), float(y)) for x, y in ends)
        entries.append(
            MeasurementEntry(
                f"m{number}",
                "span",
                "photo-1",
                want.part,
                want.feature,
                want.name,
                points,
                points,
                (1.0, 1.0),
                False,
                (want.height_mm,),
                1.5,
                result,
            )
        )
    camera = plane_camera(view)
    reference = ReferenceEntry(
        "id1", 85.6, 53.98, tuple(map(tuple, corners.tolist())), None, 0.15, "found", 0.97
    )
    entry = PhotoEntry("photo-1", file, photo.sha256, photo.width_px, photo.height_px, reference, camera)
    return Specimen(name, sheet, note, (entry,), tuple(entries), tuple(observations))


def plane_camera(view):
    """Return the camera as a record holds it."""
    from dataclasses import asdict

    return asdict(view.camera())


def save(folder: Path, record: Specimen, name: str = "ferry.specimen.json") -> Path:
    """Write the record."""
    path = folder / name
    write_specimen(path, record)
    return path


__all__ = ["OBSERVATIONS", "SPANS", "View", "Wanted", "field", "replace", "save", "specimen"]
