"""Real photographs with known corners and lengths, which tests/real_photos fetches.

Their truth was made with OpenCV's corner detectors and calibration, and by edge fits looked at by eye.
"""

import numpy as np
import pytest

from tests.bench import identity, shrunk_photos
from tests.bench.real_photos import detect, measure
from tests.real_photos.manifest import having
from tests.real_photos.needing import needs_real_photos

pytestmark = pytest.mark.slow


@needs_real_photos("detection")
def test_sheets_and_cards_are_found_where_they_lie():
    rows = [detect(entry, named=True) for entry in having("detection")]
    missed = [row["id"] for row in rows if not row.get("found")]
    assert missed == []
    wrong = [row for row in rows if row["answered"] and not row["found"]]
    assert not wrong


@needs_real_photos("negative")
def test_photos_without_a_card_give_no_plane():
    assert [
        row["id"] for row in (detect(e, named=False) for e in having("negative")) if row["answered"]
    ] == []


@needs_real_photos("metrology")
def test_intervals_of_spans_hold_the_known_lengths():
    rows = [row for entry in having("metrology") for row in measure(entry)]
    assert [row for row in rows if "failed" in row] == []
    ratio = np.abs([row["error_over_u95"] for row in rows])
    assert np.mean(ratio <= 1) >= 0.95
    assert ratio.max() < 1.5


@needs_real_photos("metrology")
def test_photos_shrunk_without_exif_measure_as_exactly_as_the_originals():
    found = shrunk_photos.groups()
    _, whole = found["phones, cameras, as they are"]
    for size in (1280, 800):
        photos, rows = found[f"phones, cameras, shrunk to {size} px"]
        assert photos >= 10
        assert np.median(np.abs(rows[:, 0])) < 1.5 * np.median(np.abs(whole[:, 0]))
        assert np.mean(np.abs(rows[:, 0]) <= rows[:, 1]) >= 0.93
    _, bent = found["webcams and action cameras, as they are"]
    assert np.mean(np.abs(bent[:, 0]) <= bent[:, 1]) >= 0.93


@needs_real_photos("detection")
def test_no_thing_of_another_size_gives_a_scale_in_silence():
    rows = [identity.examine_real(job) for job in identity.real_jobs() if _is_confusable(job[1])]
    taken = [row for row in rows if row["accepted"]]
    # The others are more likely something else, and give no plane until somebody says what they are.
    assert len(taken) + sum(row.get("open", False) for row in rows) >= 15
    assert [row["id"] for row in rows if identity.is_silently_wrong(row)] == []
    # A sheet may be one of half its length, and no picture tells; a bank card seen well is one.
    assert all(row["asked"] for row in taken if row["kind"] == "a4")
    assert not any(row["asked"] for row in taken if row["id"].startswith("id1_laminated"))


def _is_confusable(entry):
    return entry["reference"]["kind"] in {"bridge", "id1", "a4"} or entry["id"] == "playing_card_scene"
