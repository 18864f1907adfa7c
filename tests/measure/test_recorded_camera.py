"""The camera in a record: read as a value, and written back as it was found."""

import json
from dataclasses import replace
from typing import Any

import pytest

from calibration.camera import Camera
from calibration.cautions import Caution, CautionCode
from measure.errors import RecordError
from measure.record.file import parse_specimen, specimen_to_json
from measure.record.specimen import PhotoEntry, Specimen
from measure.scale.from_record import camera_for

CAMERA = Camera(4000, 3000, 3000.25, 0.03, (1999.5, 1499.5), 20.0, source="Exif 35 mm equivalent")


def record(camera: object) -> dict[str, Any]:
    photo = {"id": "p", "file": "p.jpg", "sha256": "", "width_px": 4000, "height_px": 3000, "camera": camera}
    return {"format": "cardspan-specimen/1", "name": "toy", "photos": [photo]}


def written(camera: Camera) -> Any:
    entry = PhotoEntry("p", "p.jpg", "", 4000, 3000, camera=camera)
    return json.loads(json.dumps(specimen_to_json(Specimen("toy", photos=(entry,)))))["photos"][0]["camera"]


@pytest.mark.parametrize("cautions", [(), (Caution.of(CautionCode.CROPPED),)])
def test_a_camera_read_back_is_the_one_written(cautions: tuple[Caution, ...]) -> None:
    camera = replace(CAMERA, cautions=cautions)
    assert parse_specimen(record(written(camera))).photos[0].camera == camera


@pytest.mark.parametrize(
    "changed",
    [
        {"shutter": "1/60"},
        {"distortion": [0.1, 0.2]},
        {"focal_px": -1.0},
    ],
)
def test_fields_that_make_no_camera_are_kept_and_refused_when_measured_by(changed: dict[str, Any]) -> None:
    fields = {**written(CAMERA), **changed}
    specimen = parse_specimen(record(fields))
    assert specimen_to_json(specimen)["photos"][0]["camera"] == fields
    with pytest.raises(RecordError, match="photo p: camera: not a camera"):
        camera_for(specimen.photos[0], None)


def test_a_camera_that_leaves_fields_out_is_written_back_as_it_was() -> None:
    fields = {key: value for key, value in written(CAMERA).items() if key != "k1_std"}
    specimen = parse_specimen(record(fields))
    assert specimen_to_json(specimen)["photos"][0]["camera"] == fields
    assert camera_for(specimen.photos[0], None)[0] == CAMERA
