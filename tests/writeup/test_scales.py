"""Write-ups of photos whose scale is from something other than one card."""

from dataclasses import replace

from measure.record.specimen import SourceEntry
from measure.writeup.evidence_sheet import _photo_facts
from measure.writeup.gather import words
from measure.writeup.gather.gathering import gather
from measure.writeup.illustrations import _private
from tests.writeup import scene


def gathered(folder, change):
    specimen = scene.specimen(folder)
    shot = change(specimen.photos[0])
    measurements = tuple(replace(one, result=None) for one in specimen.measurements)
    return gather(scene.save(folder, replace(specimen, photos=(shot,), measurements=measurements))).evidence


def ends(points_mm):
    return tuple((float(x), float(y)) for x, y in scene.View().project(points_mm))


def test_a_known_length_is_named_and_its_open_tilt_told(tmp_path):
    known = SourceEntry("length", marks_px=ends([[0, 0], [85.6, 0]]), length_mm=85.6, length_std_mm=0.2)
    evidence = gathered(tmp_path, lambda shot: replace(shot, reference=None, sources=(known,)))
    text = words.measured_with(evidence, evidence.photos[0].entry.id)
    assert "known length of 85.6 mm" in text
    assert "tilt is hardly known" in text
    assert all(item.result is not None for item in evidence.items)
    assert any(line.source == "tilt" for item in evidence.items for line in item.result.budget)
    assert ("Reference", "known length of 85.6 mm") in _photo_facts(evidence.photos[0])


def test_every_cards_face_is_covered(tmp_path):
    def with_second(shot):
        corners = ends(scene.CARD_MM + [0.0, -40.0])
        return replace(shot, also=(replace(shot.reference, corners_px=corners, corners_cov_px2=None),))

    evidence = gathered(tmp_path, with_second)
    shot = evidence.photos[0]
    pixels, is_covered, warning = _private(shot, evidence.items, False)
    assert is_covered
    assert not warning
    for middle in ([42.8, 27.0], [42.8, -27.0]):
        x, y = scene.View().project([middle])[0].round().astype(int)
        assert (pixels[y, x] == pixels[y + 5, x + 5]).all()
    assert len(shot.faces) == 2
