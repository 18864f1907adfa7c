"""Real photographs with known corners and lengths, which tests/real_photos fetches.

Their truth was made with OpenCV's corner detectors and calibration, and by edge fits looked at by eye.
"""

import numpy as np
import pytest

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
