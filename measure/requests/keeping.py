"""Measurements added to a specimen's record."""

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from measure.errors import RecordError, SpanError
from measure.length import Length
from measure.record import MeasurementEntry, PhotoEntry, Specimen, read_specimen
from measure.redo import new_entry, result_entry, with_result
from measure.requests.kind_requests import KindRequest
from measure.requests.span_file import RequestError
from measure.texts import clean_text
from references.limits import shortened

if TYPE_CHECKING:
    from measure.kinds import Measured
    from references.release_sheet import Sheet


def record_or_new(path: Path, sheet: str | None) -> Specimen:
    """Read a record, or start one if there is no such file.

    Parameters
    ----------
    path : Path
        The record, which need not exist yet.
    sheet : str or None
        The sheet for a record that names none.

    Returns
    -------
    Specimen
        A new one takes the name of its file.

    Raises
    ------
    RecordError
        It can't be used, or names another sheet.
    """
    try:
        there = path.exists()
    except OSError as error:  # a name that no file can have
        raise RecordError(f"{path}: {error.strerror}; give another name") from error
    if not there:
        name = path.name.removesuffix(".json").removesuffix(".specimen")
        return Specimen(clean_text(name), sheet=sheet)
    specimen = read_specimen(path)
    if sheet is not None and specimen.sheet not in (None, sheet):
        raise RecordError(f"{path}: its sheet is {specimen.sheet}, not {sheet}; leave --sheet out")
    return replace(specimen, sheet=specimen.sheet or sheet)


def check_places(
    path: Path, requests: Sequence[KindRequest], place: tuple[str | None, str | None], sheet: str | None
) -> None:
    """Refuse, before anything is measured, a part or feature that the record's sheet lacks.

    Parameters
    ----------
    path : Path
        The record, which need not exist yet.
    requests : sequence of KindRequest
        What is to be measured.
    place : pair of str or None
        Part and feature of those that name none.
    sheet : str or None
        The sheet named; the record's own where None. Without either, nothing is checked.

    Raises
    ------
    SpanError
        No such part, or no such dimension on it.
    RequestError
        The same for a measurement that names its own part or feature.
    RecordError, SheetError
        The record or its sheet can't be used.
    """
    from measure.redo import sheet_of

    specimen = record_or_new(path, sheet)
    named = [one for one in requests if any((one.part, one.feature, *place))]
    if not named or specimen.sheet is None:
        return
    release_sheet = sheet_of(specimen, path.parent, sheet)
    for one in named:
        try:
            _check_place(release_sheet, one.part or place[0], one.feature or place[1])
        except SpanError as error:
            if one.part or one.feature:
                raise RequestError(f"{one.name}: {error}") from error
            raise


def _check_place(sheet: "Sheet", part_id: str | None, feature_id: str | None) -> None:
    if part_id is None:
        raise SpanError(f'feature "{shortened(feature_id or "")}": of which part? name it as well')
    part = sheet.part(part_id)
    if part is None:
        parts = ", ".join(one.id for one in sheet.parts)
        raise SpanError(f'sheet {sheet.key} has no part "{shortened(part_id)}"; its parts are {parts}')
    feature = part.feature(feature_id or "")
    if feature_id is not None and (feature is None or feature.kind != "dimension"):
        lengths = ", ".join(one.id for one in part.features if one.kind == "dimension") or "none"
        raise SpanError(
            f'part {part.id} of sheet {sheet.key} has no dimension "{shortened(feature_id)}";'
            f" its dimensions are {lengths}"
        )


def with_photo(specimen: Specimen, shot: PhotoEntry, folder: Path) -> tuple[Specimen, str]:
    """Return the record with a photo, and the photo's id in it.

    Parameters
    ----------
    specimen : Specimen
        The record.
    shot : PhotoEntry
        The photo, its path from the working folder.
    folder : Path
        The record's folder.

    Returns
    -------
    Specimen, str
        The photo's path now starts from the record's folder.

    Raises
    ------
    RecordError
        Its file has a name that no record can hold.

    Notes
    -----
    The same photo with the same references stays one entry; with others it gets a second one, since the
    lengths already measured depend on the first.
    """
    shot = replace(shot, file=_relative(Path(shot.file), folder))
    if clean_text(shot.file) != shot.file:
        raise RecordError(f"{shot.file!a}: no record can hold this file name; rename the photo or its folder")
    for known in specimen.photos:
        if replace(known, id=shot.id, file=shot.file, extra={}) == shot:
            return specimen, known.id
    unused = _unused("photo", [one.id for one in specimen.photos])
    return replace(specimen, photos=(*specimen.photos, replace(shot, id=unused))), unused


def with_measured(
    specimen: Specimen,
    photo_id: str,
    done: Sequence[tuple[KindRequest, "Measured", float]],
    place: tuple[str | None, str | None],
) -> tuple[Specimen, tuple[str, ...]]:
    """Return the record with measurements on one of its photos, and their ids.

    Parameters
    ----------
    specimen : Specimen
        The record.
    photo_id : str
        The photo.
    done : sequence of (KindRequest, Measured, float)
        The request, its result, and the standard uncertainty of its stand-off in mm.
    place : pair of str or None
        Part and feature of the sheet that they are of.

    Returns
    -------
    Specimen, tuple of str
        The ids in the order of `done`; a measurement without a length says why there is none.
    """
    ids: list[str] = []
    for request, measured, standoff_std_mm in done:
        entry = new_entry(
            _unused("m", [one.id for one in specimen.measurements], dash=""),
            request.kind,
            photo_id,
            request.clicks_px,
            part=request.part or place[0],
            feature=request.feature or place[1],
            name=request.name,
            snap=request.choices.snap,
            standoff_mm=request.choices.standoff_mm,
            standoff_std_mm=standoff_std_mm,
            lean_std_mm=request.choices.lean_std_mm,
        )
        entry = with_result(entry, measured)
        specimen = replace(specimen, measurements=(*specimen.measurements, entry))
        ids.append(entry.id)
    return specimen, tuple(ids)


def with_difference(specimen: Specimen, name: str, of: tuple[str, str], length: Length) -> Specimen:
    """Return the record with the difference of two of its lengths, both at one stand-off.

    Parameters
    ----------
    specimen : Specimen
        The record.
    name : str
        What to call it.
    of : pair of str
        Ids of its measurements: the first minus the second.
    length : Length
        The difference, mm.

    Returns
    -------
    Specimen
    """
    unused = _unused("m", [one.id for one in specimen.measurements], dash="")
    entry = MeasurementEntry(unused, "difference", None, None, None, name, result=result_entry(length))
    entry = replace(entry, extra={"of": list(of), "same_standoff": True})
    return replace(specimen, measurements=(*specimen.measurements, entry))


def _relative(path: Path, folder: Path) -> str:
    whole, base = path.absolute(), folder.absolute()
    try:
        return Path(os.path.relpath(whole, base)).as_posix()
    except ValueError:  # another drive
        return whole.as_posix()


def _unused(word: str, taken: Sequence[str], *, dash: str = "-") -> str:
    number = len(taken) + 1
    while f"{word}{dash}{number}" in taken:
        number += 1
    return f"{word}{dash}{number}"
