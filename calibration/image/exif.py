"""What a photograph's Exif block says of the camera, read defensively."""

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Any

from calibration.image.decoders import DAMAGE, first_line, heard

if TYPE_CHECKING:
    from PIL.Image import Image

_EXIF_IFD = 0x8769
_UNITS_PER_MM = {2: 25.4, 3: 10.0, 4: 1.0, 5: 0.001}  # FocalPlaneResolutionUnit: inch, cm, mm, µm


@dataclass(frozen=True, slots=True)
class ExifFacts:
    """The facts of an Exif block that bear on measuring; None where absent or implausible.

    Attributes
    ----------
    make, model, lens, taken : str or None
        Camera and lens names, and the time of exposure as written.
    focal_35mm_mm : float or None
        FocalLengthIn35mmFilm, a whole number of millimetres in the file.
    focal_mm : float or None
        True focal length.
    focal_plane_px_per_mm : float or None
        Sensor resolution along the picture's width as stored, before any turning.
    digital_zoom : float or None
        DigitalZoomRatio; None where absent or 0 (not used).
    stated_width_px, stated_height_px : int or None
        Size that the camera says it wrote, before any turning.
    orientation : int
        Exif orientation 1..8 as found in the file; 1 where absent.
    """

    make: str | None = None
    model: str | None = None
    lens: str | None = None
    taken: str | None = None
    focal_35mm_mm: float | None = None
    focal_mm: float | None = None
    focal_plane_px_per_mm: float | None = None
    digital_zoom: float | None = None
    stated_width_px: int | None = None
    stated_height_px: int | None = None
    orientation: int = 1


def _text(value: Any) -> str | None:
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    if not isinstance(value, str):
        return None
    return value.replace("\x00", " ").strip()[:120] or None


def _positive(value: Any) -> float | None:
    try:
        number = float(value)
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return number if isfinite(number) and number > 0.0 else None


def _whole(value: Any) -> int | None:
    number = _positive(value)
    return int(number) if number is not None and number < 10**6 else None


def _sensor_px_per_mm(ifd: dict[int, Any]) -> float | None:
    resolution = _positive(ifd.get(0xA20E))
    unit_mm = _UNITS_PER_MM.get(_whole(ifd.get(0xA210, 2)) or 0)
    return resolution / unit_mm if resolution and unit_mm else None


def read_exif(image: "Image") -> tuple[ExifFacts, str | None]:
    """Gather the facts of an opened picture; a damaged entry counts as absent, as many editors leave them so.

    Parameters
    ----------
    image : PIL.Image.Image
        Of a PNG that isn't decoded yet, Pillow decodes the pixels to look for a block behind them.

    Returns
    -------
    facts : ExifFacts
    trouble : str or None
        What the parser found wrong with the block.
    """
    told: list[str] = []
    try:
        with heard(told):
            exif = image.getexif()
            main, ifd = dict(exif), dict(exif.get_ifd(_EXIF_IFD))
    except DAMAGE as error:
        return ExifFacts(), first_line(error)
    return _facts(main, ifd), told[0] if told else None


def _facts(main: dict[int, Any], ifd: dict[int, Any]) -> ExifFacts:
    orientation = _whole(main.get(0x0112)) or 1
    return ExifFacts(
        make=_text(main.get(0x010F)),
        model=_text(main.get(0x0110)),
        lens=_text(ifd.get(0xA434)),
        taken=_text(ifd.get(0x9003)),
        focal_35mm_mm=_positive(ifd.get(0xA405)),
        focal_mm=_positive(ifd.get(0x920A)),
        focal_plane_px_per_mm=_sensor_px_per_mm(ifd),
        digital_zoom=_positive(ifd.get(0xA404)),
        stated_width_px=_whole(ifd.get(0xA002)),
        stated_height_px=_whole(ifd.get(0xA003)),
        orientation=orientation if 1 <= orientation <= 8 else 1,
    )
