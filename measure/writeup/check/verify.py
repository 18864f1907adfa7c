"""Checks a write-up: its files against their digests, its numbers against record and photos."""

import hashlib
from collections.abc import Iterator, Mapping
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from measure import __version__
from measure.errors import RecordError
from measure.length import Length, round_with_uncertainty
from measure.record import (
    MeasurementEntry,
    PhotoEntry,
    Specimen,
    read_specimen,
    read_verdict,
    specimen_to_json,
)
from measure.redo import measured_again, moved_by_px
from measure.writeup.check.photo_checks import Check, photo_checks
from measure.writeup.gather import found_photos, sheet_beside
from measure.writeup.manifest import MANIFEST, OTHER, RECORD, Manifest, read_manifest
from measure.writeup.produce import Options, build

if TYPE_CHECKING:
    from calibration.image import Photo

Shots = Mapping[str, "tuple[PhotoEntry, Photo | None]"]
# Agreement required of a length, in its expanded uncertainty: far finer than what matters, and coarser
# than the last digits in which two numerical libraries differ.
_SHARE_OF_U = 1e-3
_POINT_PX = 0.05
_PROBABILITY = 1e-6


def verify(folder: Path, photos: Path | None = None) -> tuple[Check, ...]:
    """Check a write-up.

    Parameters
    ----------
    folder : Path
        The write-up.
    photos : Path, optional
        Where the original photos are; else they are looked for in the folder and in the one above.

    Returns
    -------
    tuple of Check
        Files first, then photos, lengths, verdict and documents.

    Raises
    ------
    MeasureError, SheetError
        The folder is no write-up, or its record or sheet can't be read.
    """
    listed = read_manifest(folder)
    specimen = read_specimen(folder / RECORD)
    found = found_photos(specimen.photos, folder, photos)
    checks = [*_files(folder, listed.files), *photo_checks(specimen, found), *_lengths(specimen, found)]
    checks += _verdict(specimen, folder)
    shots = [photo for photo, _ in found]
    if OTHER in listed.files:
        other = read_specimen(folder / OTHER)
        beside = found_photos(other.photos, folder, photos)
        checks += _named("other specimen", (*photo_checks(other, beside), *_lengths(other, beside)))
        shots += [photo for photo, _ in beside]
    return (*checks, *_documents(folder, listed, shots, photos))


def _named(name: str, checks: tuple[Check, ...]) -> list[Check]:
    return [Check(f"{name}, {check.what}", check.state, check.detail) for check in checks]


def _files(folder: Path, files: Mapping[str, str]) -> Iterator[Check]:
    for name, wanted in files.items():
        path = folder / name
        if not path.is_file():
            yield Check(name, "differs", "the file is missing")
        elif hashlib.sha256(path.read_bytes()).hexdigest() != wanted:
            yield Check(name, "differs", "the file was changed after it was written")
        else:
            yield Check(name, "same")


def _lengths(specimen: Specimen, found: "list[tuple[Photo | None, str]]") -> Iterator[Check]:
    shots = {entry.id: (entry, photo) for entry, (photo, _) in zip(specimen.photos, found, strict=True)}
    known = {entry.id: entry for entry in specimen.measurements}
    for entry in specimen.measurements:
        name = f"length {entry.id} {entry.name}".strip()
        if entry.photo is None and entry.kind != "difference":
            yield Check(name, "not checked", "taken by hand, not from a photo")
        elif entry.result is None:
            yield Check(name, "not checked", "the record holds no result")
        else:
            yield from _length(name, entry, shots, known)


def _again(entry: MeasurementEntry, shots: Shots, known: Mapping[str, MeasurementEntry]) -> Length | None:
    """Measure an entry again; a difference by measuring both of its lengths again."""
    from measure.redo import difference_of
    from measure.scale import scale_of

    if entry.kind == "difference":
        parts = [known[str(key)] for key in entry.extra.get("of") or () if str(key) in known]
        lengths = [_again(part, shots, known) for part in parts if part.kind != "difference"]
        one, other = lengths if len(lengths) == 2 else (None, None)
        return None if one is None or other is None else difference_of(entry, one, other)
    if entry.photo is None:
        return None
    shot, photo = shots[entry.photo]
    return measured_again(entry, scale_of(shot, photo), photo, shot.id)


def _length(
    name: str, entry: MeasurementEntry, shots: Shots, known: Mapping[str, MeasurementEntry]
) -> Iterator[Check]:
    from calibration.errors import CalibrationError
    from measure.errors import MeasureError

    assert entry.result is not None
    try:
        length = _again(entry, shots, known)
    except (CalibrationError, MeasureError) as error:
        yield Check(name, "differs", f"can't be measured again: {error}")
        return
    if length is None:
        yield Check(name, "not checked", f"a {entry.kind} can't be measured again without its photo")
        return
    result, limit_mm = entry.result, _SHARE_OF_U * entry.result.expanded_uncertainty_mm
    off = abs(length.value_mm - result.length_mm) > limit_mm
    off |= abs(length.expanded_uncertainty_mm - result.expanded_uncertainty_mm) > limit_mm
    if off:
        now = " ± ".join(round_with_uncertainty(length.value_mm, length.expanded_uncertainty_mm))
        then = " ± ".join(round_with_uncertainty(result.length_mm, result.expanded_uncertainty_mm))
        yield Check(name, "differs", f"measured again {now} mm, recorded {then} mm")
    else:
        yield Check(name, "same")
    if entry.photo is not None:
        yield from _points(name, entry, *shots[entry.photo])


def _points(name: str, entry: MeasurementEntry, shot: PhotoEntry, photo: "Photo | None") -> Iterator[Check]:
    from measure.scale import scale_of

    if photo is None:
        return
    if (moved := moved_by_px(entry, photo, scale_of(shot, photo).plane)) > _POINT_PX:
        yield Check(f"{name}, points", "differs", f"the photo's edges put them up to {moved:.2f} px off")


def _verdict(specimen: Specimen, folder: Path) -> Iterator[Check]:
    from measure.redo import judge_specimen

    sheet, _ = sheet_beside(specimen, folder / RECORD)
    if sheet is None or specimen.verdict is None:
        yield Check("verdict", "not checked", "the record names no release sheet")
        return
    try:
        if isinstance(specimen.verdict, Mapping):
            read_verdict(specimen.verdict)
    except RecordError as error:
        yield Check("verdict", "differs", str(error))
        return
    # Compared as files hold them: what was changed in the record may be no verdict any more.
    kept = specimen_to_json(specimen)["verdict"]
    differences = _verdict_differences(kept, judge_specimen(specimen, sheet).to_json())
    yield Check("verdict", "differs" if differences else "same", "; ".join(differences))


def _verdict_differences(kept: Mapping[str, Any], again: Mapping[str, Any]) -> list[str]:
    differences = [
        f"{key}: judged again {again.get(key)}, recorded {kept.get(key)}"
        for key in ("outcome", "release")
        if kept.get(key) != again.get(key)
    ]
    shares, now = kept.get("posterior") or {}, again.get("posterior") or {}
    differences += [
        f"probability of {key}: judged again {now.get(key)}, recorded {shares.get(key)}"
        for key in sorted(shares.keys() | now.keys())
        if abs(float(shares.get(key, -1.0)) - float(now.get(key, -1.0))) > _PROBABILITY
    ]
    parts, redone = ({p["part"]: p for p in v.get("parts", ())} for v in (kept, again))
    differences += [
        f"part {key}: its verdict differs"
        for key in sorted(parts.keys() | redone.keys())
        if _outcome(parts.get(key)) != _outcome(redone.get(key))
    ]
    return differences


def _outcome(part: Mapping[str, Any] | None) -> Any:
    return part and (part.get("outcome"), sorted(part.get("releases", ())), bool(part.get("foreign")))


def _documents(
    folder: Path, listed: Manifest, shots: "list[Photo | None]", photos: Path | None
) -> Iterator[Check]:
    """Make every file again and compare, if the same program and photos are available."""
    others = [f"{name} {kept}" for name, kept in listed.made_with.items() if version(name) != kept]
    if listed.program != f"cardspan {__version__}":
        others.insert(0, listed.program)
    if others:
        yield Check("documents", "not checked", f"made with {', '.join(others)}, which is not installed here")
        return
    if listed.photos_shown != tuple(shot is not None for shot in shots):
        yield Check(
            "documents", "not checked", "the available photos are not those the documents were made with"
        )
        return
    against = folder / OTHER if OTHER in listed.files else None
    files = build(folder / RECORD, _options(listed, photos, against)).files
    changed = [name for name, data in files.items() if name != MANIFEST and not _same(folder / name, data)]
    changed += [name for name in listed.files if name not in files]
    if changed:
        yield Check("documents", "differs", f"made again they differ: {', '.join(sorted(changed))}")
    else:
        yield Check("documents", "same")


def _options(listed: Manifest, photos: Path | None, against: Path | None) -> Options:
    return Options(
        show_card=listed.show_card,
        paper=listed.paper,
        inches_first=listed.inches_first,
        photos=photos,
        date=listed.date,
        against=against,
    )


def _same(path: Path, data: bytes) -> bool:
    return path.is_file() and path.read_bytes() == data
