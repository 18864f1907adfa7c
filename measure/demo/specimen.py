"""The whole job on one sample specimen: its photos, the card in each, its spans, its verdict."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from measure.demo.samples import SamplePhoto, Samples, SampleSpecimen
from measure.errors import MeasureError
from measure.record import MeasurementEntry, PhotoEntry, Specimen
from measure.redo import (
    judge_specimen,
    measured_entry,
    new_entry,
    photo_entry,
    reference_entry,
    sheet_of,
)

if TYPE_CHECKING:
    from calibration.image import Photo
    from calibration.locate import Location

Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Located:
    """A sample photo with its register entry and what was found in it."""

    sample: SamplePhoto
    photo: "Photo"
    location: "Location"


def build_specimen(shown: SampleSpecimen, samples: Samples, folder: Path, say: Say) -> Specimen:
    """Measure one specimen of the register from its photos, and judge it.

    Parameters
    ----------
    shown : SampleSpecimen
        What the samples tell of it.
    samples : Samples
        All of them, for their sheet and clicks.
    folder : Path
        Where the photos are, and the record will be.
    say : callable
        Takes lines that report progress.

    Returns
    -------
    Specimen
        With photos, lengths, observations and the verdict; a photo without a plane gives no lengths.

    Raises
    ------
    MeasureError
        The register and the photos don't fit together.
    """
    from measure.cameras import camera_of

    photos: list[PhotoEntry] = []
    measurements: list[MeasurementEntry] = []
    for photo in shown.photos:
        shot = _locate(photo, folder, say)
        reference = None
        if shot.location.plane is not None and shot.location.found is not None:
            reference = reference_entry(shot.location.found, "found")
            measurements += _measure(shot, samples.click_std_px, say)
        # The plane is fitted again from the record, so the camera kept is the one before the fit.
        photos.append(photo_entry(shot.photo, photo.id, photo.file, reference, camera_of(shot.photo)[0]))
    specimen = Specimen(
        name=shown.name,
        sheet=samples.sheet,
        note=shown.note,
        photos=tuple(photos),
        measurements=tuple(measurements),
        observations=shown.observations,
    )
    return replace(specimen, verdict=judge_specimen(specimen, sheet_of(specimen, folder)))


def _locate(sample: SamplePhoto, folder: Path, say: Say) -> Located:
    from calibration import locate, read_photo
    from measure.scale import view_words
    from measure.wording import Audience, all_worded, reason_worded

    photo = read_photo(folder / sample.file)
    if photo.sha256 != sample.sha256:
        raise MeasureError(f"{sample.file}: not the photo that its register describes; install it again")
    # The owner knows which size of trading card or sheet was used; a photo alone can't tell.
    kind = sample.card or "id1"
    location = locate(photo, object_key=None if kind == "id1" else kind)
    plane, found = location.plane, location.found
    if plane is None or found is None:
        say(f"  {photo.name}: no card found: {reason_worded(location.reason, Audience.COMMAND)}")
    else:
        (tilt, tilt_u), (height, height_u), _ = view_words(plane)
        say(
            f"  {photo.name}: {found.object.name}, confidence {found.confidence:.2f},"
            f" tilt {tilt} ± {tilt_u}°, camera {height} ± {height_u} mm above it"
        )
        for caution in all_worded(location.cautions, Audience.COMMAND):
            say(f"    caution: {caution}")
    return Located(sample, photo, location)


def _measure(shot: Located, click_std_px: float, say: Say) -> list[MeasurementEntry]:
    from measure.kinds import Scale
    from measure.length import Length, format_fraction, format_mm
    from measure.wording import Audience, worded

    assert shot.location.plane is not None
    scale = Scale(shot.location.plane, shot.location.family)
    entries = []
    for span in shot.sample.spans:
        entry = new_entry(
            f"{shot.sample.id}-{span.id}",
            span.kind,
            shot.sample.id,
            span.clicks_px,
            part=span.part,
            feature=span.feature,
            name=span.name,
            standoff_mm=span.standoff_mm,
            standoff_std_mm=span.standoff_std_mm,
        )
        entry, measured = measured_entry(entry, scale, shot.photo, click_std_px=click_std_px)
        entries.append(entry)
        if isinstance(measured.result, Length):
            # A fraction of an inch says nothing about a length that is hardly one itself.
            long_enough = measured.result.value_mm > 10.0
            inches = f"   about {format_fraction(measured.result.value_mm)}" if long_enough else ""
            say(f"    {span.name:32} {format_mm(measured.result):>18}{inches}")
        else:
            say(f"    {span.name:32} cannot tell: {worded(measured.result, Audience.COMMAND)}")
    return entries
