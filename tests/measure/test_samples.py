"""The samples as values: complete, or refused with a word."""

import json
from pathlib import Path
from typing import Any

import pytest

from measure.demo.samples import read_register, read_samples, samples_folder
from measure.errors import MeasureError

REGISTER = read_register(samples_folder())


def test_the_samples_hold_what_the_register_tells_of_each_specimen() -> None:
    samples = read_samples(samples_folder())
    assert [one.id for one in samples.specimens] == [one["id"] for one in REGISTER["specimens"]]
    spans = {photo["id"]: photo["spans"] for photo in REGISTER["photos"]}
    for shown in samples.specimens:
        for photo in shown.photos:
            clicks = [[list(point) for point in span.clicks_px] for span in photo.spans]
            assert clicks == [span["clicks_px"] for span in spans[photo.id]]


@pytest.mark.parametrize(
    "changed", [{"photos": []}, {"specimens": [{"id": "first"}]}, {"click_std_px": "fine"}, {"photos": 7}]
)
def test_a_register_that_lacks_something_is_refused(changed: dict[str, Any], tmp_path: Path) -> None:
    (tmp_path / "register.json").write_text(json.dumps({**REGISTER, **changed}))
    with pytest.raises(MeasureError, match=r"register\.json: can't be used .*install the project again"):
        read_samples(tmp_path)
