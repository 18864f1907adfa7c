"""The sample photos and their register."""

from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from measure.errors import MeasureError
from measure.json_files import JsonError, read_json
from measure.record import ObservationEntry, Point

REGISTER = "register.json"


@dataclass(frozen=True, slots=True)
class SampleSpan:
    """A length of a part in a sample photo, as a careful hand marks it.

    Attributes
    ----------
    id, name, kind : str
        Its key in the photo, what to call it, and the kind of measurement.
    part, feature : str
        What of the sheet it is of.
    clicks_px : tuple of points
    standoff_mm, standoff_std_mm : float
        Height above the card and its standard uncertainty, as a user would state them.
    """

    id: str
    name: str
    kind: str
    part: str
    feature: str
    clicks_px: tuple[Point, ...]
    standoff_mm: float
    standoff_std_mm: float


@dataclass(frozen=True, slots=True)
class SamplePhoto:
    """A sample photo.

    Attributes
    ----------
    id, file, sha256 : str
        The file lies in the folder of the register.
    card : str or None
        Kind of the card in it.
    spans : tuple of SampleSpan
    """

    id: str
    file: str
    sha256: str
    card: str | None
    spans: tuple[SampleSpan, ...]


@dataclass(frozen=True, slots=True)
class SampleSpecimen:
    """A specimen that the samples show.

    Attributes
    ----------
    id, name, note : str
    photos : tuple of SamplePhoto
    observations : tuple of ObservationEntry
        What a user would note of it.
    """

    id: str
    name: str
    note: str
    photos: tuple[SamplePhoto, ...]
    observations: tuple[ObservationEntry, ...]


@dataclass(frozen=True, slots=True)
class Samples:
    """The samples that are installed.

    Attributes
    ----------
    sheet : str
        Key of the sheet that all are judged by.
    click_std_px : float
        Standard uncertainty of each coordinate of a click.
    specimens : tuple of SampleSpecimen
    """

    sheet: str
    click_std_px: float
    specimens: tuple[SampleSpecimen, ...]


def samples_folder() -> Path:
    """Return where the samples are: in the installed package, or at the top of a checkout.

    Returns
    -------
    Path
        A folder with a register.

    Raises
    ------
    MeasureError
        Neither holds a register.
    """
    package = Path(str(files("measure")))
    for folder in (package / "samples", package.parent / "sample_images"):
        if (folder / REGISTER).is_file():
            return folder
    raise MeasureError("the sample photos are not installed; run this from a checkout of the project")


def read_register(folder: Path) -> dict[str, Any]:
    """Read the register of the samples.

    Parameters
    ----------
    folder : Path
        As `samples_folder` gives it.

    Returns
    -------
    dict
        Keys such as "photos" and "specimens", with files relative to the folder.

    Raises
    ------
    MeasureError
        Missing or not JSON.
    """
    path = folder / REGISTER
    try:
        register = read_json(path)
    except JsonError as error:
        raise MeasureError(f"{error}; install the project again") from error
    if not isinstance(register, dict) or register.get("format") != "cardspan-samples/1":
        raise MeasureError(f'{path}: format: expected "cardspan-samples/1"; install the project again')
    return register


def read_samples(folder: Path) -> Samples:
    """Read what the register tells of the specimens.

    Parameters
    ----------
    folder : Path
        As `samples_folder` gives it.

    Returns
    -------
    Samples

    Raises
    ------
    MeasureError
        The register is missing, not JSON, or lacks a field.
    """
    register = read_register(folder)
    try:
        photos = {facts["id"]: _photo(facts) for facts in register["photos"]}
        return Samples(
            register["sheet"],
            float(register["click_std_px"]),
            tuple(_specimen(entry, photos) for entry in register["specimens"]),
        )
    except (LookupError, TypeError, ValueError) as error:
        raise MeasureError(
            f"{folder / REGISTER}: can't be used ({error}); install the project again"
        ) from error


def _photo(facts: Mapping[str, Any]) -> SamplePhoto:
    card = facts["card"]
    spans = tuple(_span(one) for one in facts["spans"])
    return SamplePhoto(facts["id"], facts["file"], facts["sha256"], card and card["kind"], spans)


def _span(facts: Mapping[str, Any]) -> SampleSpan:
    return SampleSpan(
        facts["id"],
        facts["name"],
        facts["kind"],
        facts["part"],
        facts["feature"],
        tuple((float(x), float(y)) for x, y in facts["clicks_px"]),
        float(facts["standoff_mm"]),
        float(facts["standoff_std_mm"]),
    )


def _specimen(entry: Mapping[str, Any], photos: Mapping[str, SamplePhoto]) -> SampleSpecimen:
    return SampleSpecimen(
        entry["id"],
        entry["name"],
        entry.get("note", ""),
        tuple(photos[key] for key in entry["photos"]),
        tuple(ObservationEntry(**noted) for noted in entry["observations"]),
    )
