"""The register of the sample photographs against the files, the release sheet, and second methods.

The pose and the lens are checked with OpenCV's ``projectPoints`` (documented model, k1 first), the pictures
with a plain gradient search that shares nothing with the finder.
"""

import hashlib
import json
import tomllib
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image, ImageOps

ROOT = Path(__file__).parents[1]
SAMPLES = ROOT / "sample_images"
REGISTER = json.loads((SAMPLES / "register.json").read_text("utf-8"))
SHEET = tomllib.loads((ROOT / "references/sheets/saltmarsh-ferry.toml").read_text("utf-8"))
PHOTOS = {photo["id"]: photo for photo in REGISTER["photos"]}
WITH_CARD = [key for key, photo in PHOTOS.items() if photo["card"]]
SPANS = [(key, span["id"]) for key, photo in PHOTOS.items() for span in photo["spans"]]
FEATURES = {(part["id"], f["id"]): f for part in SHEET["part"] for f in part["feature"]}
CLICK_ERROR_PX = 0.7


def span_of(photo_id: str, span_id: str) -> dict:
    return next(span for span in PHOTOS[photo_id]["spans"] if span["id"] == span_id)


def upright(photo_id: str) -> np.ndarray:
    with Image.open(SAMPLES / PHOTOS[photo_id]["file"]) as image:
        return np.asarray(ImageOps.exif_transpose(image).convert("RGB"), np.float32)


def by_opencv(photo: dict, card_mm) -> np.ndarray:
    """Project points given as x, y on the card and height above it."""
    camera, card = photo["camera"], photo["card"]
    (cx, cy), f = camera["principal_point_px"], camera["focal_px"]
    matrix = np.array([[f, 0, cx], [0, f, cy], [0, 0, 1.0]])
    points = np.array(card_mm, float) * (1, 1, -1)
    turn, _ = cv2.Rodrigues(np.array(card["rotation_card_to_camera"]))
    shift, lens = np.array(card["translation_mm"]), np.array(camera["distortion"])
    return cv2.projectPoints(points, turn, shift, matrix, lens)[0].reshape(-1, 2)


def card_mm(photo: dict) -> np.ndarray:
    w, h = photo["card"]["width_mm"], photo["card"]["height_mm"]
    return np.array([[0, 0, 0], [w, 0, 0], [w, h, 0], [0, h, 0]], float)


# ------------------------------------------------------------------------------------------------ the files
def test_every_photograph_is_registered_and_no_more_than_ten():
    files = {
        path.name for path in SAMPLES.iterdir() if path.suffix not in {".json", ".png"} and path.is_file()
    }
    assert files == {photo["file"] for photo in PHOTOS.values()}
    assert len(files) <= 10


@pytest.mark.parametrize("key", PHOTOS)
def test_file_is_the_one_registered_and_small(key):
    data = (SAMPLES / PHOTOS[key]["file"]).read_bytes()
    assert hashlib.sha256(data).hexdigest() == PHOTOS[key]["sha256"]
    assert len(data) < 700_000


@pytest.mark.parametrize("key", PHOTOS)
def test_size_and_exif_are_as_registered(key):
    photo = PHOTOS[key]
    with Image.open(SAMPLES / photo["file"]) as image:
        exif = image.getexif()
        detail = exif.get_ifd(0x8769)
        size = ImageOps.exif_transpose(image).size
    assert size == (photo["width_px"], photo["height_px"])
    assert exif.get(0x010F) == photo["exif"]["make"]
    assert exif.get(0x0112, 1) == photo["exif"]["orientation"]
    assert detail.get(0xA405) == photo["exif"]["focal_35mm_mm"]
    assert exif.get_ifd(0x8825) == {}, "no place may travel with a sample"


def test_set_holds_the_hard_cases():
    exif = [photo["exif"] for photo in PHOTOS.values()]
    assert any(facts["orientation"] != 1 for facts in exif)
    assert any(facts["focal_35mm_mm"] is None for facts in exif)
    assert any(photo["card"] is None for photo in PHOTOS.values())
    assert any(photo["height_px"] > photo["width_px"] for photo in PHOTOS.values())
    assert {PHOTOS[key]["card"]["kind"] for key in WITH_CARD} >= {"id1", "trading", "a4"}


# ------------------------------------------------------------------------------------------------- the truth
@pytest.mark.parametrize("key", WITH_CARD)
def test_pose_gives_the_corners_and_points_by_opencv(key):
    photo = PHOTOS[key]
    np.testing.assert_allclose(by_opencv(photo, card_mm(photo)), photo["card"]["corners_px"], atol=0.005)
    for span in photo["spans"]:
        np.testing.assert_allclose(by_opencv(photo, span["points_card_mm"]), span["points_px"], atol=0.005)


@pytest.mark.parametrize("key", WITH_CARD)
def test_focal_length_is_within_the_rounding_of_exif(key):
    photo = PHOTOS[key]
    stated_mm = photo["exif"]["focal_35mm_mm"]
    if stated_mm is None:
        pytest.skip("no focal length in this file")
    diagonal_px = np.hypot(photo["width_px"], photo["height_px"])
    true_mm = photo["camera"]["focal_px"] * np.hypot(36.0, 24.0) / diagonal_px
    assert abs(true_mm / stated_mm - 1) < 0.03


@pytest.mark.parametrize(("key", "name"), SPANS)
def test_points_lie_as_far_apart_as_stated(key, name):
    span = span_of(key, name)
    points = np.array(span["points_card_mm"])
    if span["kind"] in ("span", "rise"):
        assert np.linalg.norm(points[1] - points[0]) == pytest.approx(span["true_mm"], abs=2e-3)
    elif span["kind"] == "round":
        centre = np.linalg.lstsq(
            np.c_[2 * points[:, :2], np.ones(len(points))], np.sum(points[:, :2] ** 2, axis=1)
        )
        radius = np.sqrt(centre[0][2] + np.sum(centre[0][:2] ** 2))
        assert 2 * radius == pytest.approx(span["true_mm"], abs=2e-3)
    else:
        assert len(points) == 4


@pytest.mark.parametrize(("key", "name"), SPANS)
def test_clicks_are_careful_and_standoffs_honest(key, name):
    span = span_of(key, name)
    off = np.linalg.norm(np.subtract(span["clicks_px"], span["points_px"]), axis=1)
    assert off.max() <= CLICK_ERROR_PX + 0.01
    stated, true = np.mean(span["standoff_mm"]), span["true_standoff_mm"]
    middle = true[0] if span["kind"] == "rise" else np.mean(true)
    assert abs(stated - middle) <= 2 * span["standoff_std_mm"]


# ------------------------------------------------------------------------------------------ sheet, specimens
@pytest.mark.parametrize("specimen", REGISTER["specimens"], ids=lambda specimen: specimen["id"])
def test_true_sizes_lie_in_the_ranges_of_the_release(specimen):
    truth = specimen["truth"]
    for photo_id in specimen["photos"]:
        for span in PHOTOS[photo_id]["spans"]:
            release = "second" if span["part"] in truth["foreign_parts"] else truth["release"]
            limits = FEATURES[span["part"], span["feature"]]["by_release"][release]
            as_made_mm = span["true_mm"] / (1 - truth["shrink_percent"] / 100)
            assert limits["min"] <= as_made_mm <= limits["max"]


@pytest.mark.parametrize("specimen", REGISTER["specimens"], ids=lambda specimen: specimen["id"])
def test_notes_of_the_owner_speak_the_sheets_words(specimen):
    assert set(specimen["photos"]) <= set(WITH_CARD)
    for noted in specimen["observations"]:
        feature = FEATURES[noted["part"], noted["feature"]]
        assert feature["by_release"][specimen["truth"]["release"]] == noted["value"]


# ---------------------------------------------------------------------------------------------- the pictures
def steepest_px(picture: np.ndarray, at: np.ndarray, across: np.ndarray) -> float:
    """Return how far from a point, along a unit direction, the nearest clear edge lies, in px."""
    along = np.array([-across[1], across[0]])
    steps = np.arange(-7.0, 7.01, 0.25)
    spots = at + steps[:, None, None] * across + np.arange(-3.0, 3.1)[None, :, None] * along
    grid = spots.astype(np.float32)
    profile = cv2.remap(picture, grid[..., 0], grid[..., 1], cv2.INTER_CUBIC).mean(axis=1)
    smooth = cv2.GaussianBlur(profile, (1, 17), 0, sigmaY=4.0)
    slope = np.linalg.norm(np.gradient(smooth, 0.25, axis=0), axis=1)
    tops = [i for i in range(8, len(slope) - 8) if slope[i] == slope[i - 3 : i + 4].max() and slope[i] > 3.0]
    if not tops:
        return np.inf
    i = min(tops, key=lambda i: abs(steps[i]))
    before, top, after = np.log(slope[i - 1 : i + 2])
    return float(steps[i] + 0.125 * (before - after) / (before - 2 * top + after))


@pytest.mark.parametrize("key", WITH_CARD)
def test_the_cards_sides_are_where_the_register_says(key):
    photo, picture = PHOTOS[key], upright(key)
    corners = card_mm(photo)
    off = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        side = (b - a) / np.linalg.norm(b - a)
        out = np.array([side[1], -side[0], 0.0])
        at = [a + share * (b - a) for share in np.linspace(0.1, 0.9, 25)]
        pairs = zip(by_opencv(photo, at), by_opencv(photo, [point + out for point in at]), strict=True)
        off.append(np.median([steepest_px(picture, p, (q - p) / np.linalg.norm(q - p)) for p, q in pairs]))
    # A dark card's own shadow may hide the edge on the side away from the window.
    assert np.sort(np.abs(off))[2] < 0.6, off


@pytest.mark.parametrize(("key", "name"), [s for s in SPANS if span_of(*s)["kind"] in ("span", "rise")])
def test_the_ends_of_spans_lie_on_edges(key, name):
    ends = np.array(span_of(key, name)["points_px"])
    across = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    picture = upright(key)
    # The edges are rounded, so that the shaded side's last tenths of a millimetre may look like shadow.
    assert max(abs(steepest_px(picture, end, across)) for end in ends) < 2.6
