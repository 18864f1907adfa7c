"""What must stay private: metadata in exported pictures, and the face of the reference card."""

import io
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from calibration.objects import ReferenceObject
from measure.errors import MeasureError
from measure.writeup.draw.planes import MetricPlane, Points

if TYPE_CHECKING:
    from calibration.cards import FoundCard

# The margin left visible all round, so that a reader can check the outline. Print on a bank card is further
# in: its number starts about 7 mm from the side (ISO/IEC 7811-1 layout, from memory).
RIM_MM = 1.2
COVER_BGR = (196, 190, 182)
_SUBPIXEL_BITS = 4
# Sheets are larger than cards; a toy may stand on one.
CARD_LIMIT_MM = 130.0


def rounded_outline_mm(thing: ReferenceObject, inset_mm: float = 0.0, per_corner: int = 9) -> Points:
    """Return the outline of an object with rounded corners, inset on every side.

    Parameters
    ----------
    thing : ReferenceObject
        Its size and corner radius.
    inset_mm : float
        How far inside the true edge the outline runs.
    per_corner : int
        Points on each rounded corner.

    Returns
    -------
    (4 per_corner, 2) array, mm
        In the object's plane, in order around it.
    """
    radius_mm = max(thing.corner_radius_mm - inset_mm, 0.0)
    low = inset_mm + radius_mm
    centres = [
        (thing.width_mm - low, low), (thing.width_mm - low, thing.height_mm - low),
        (low, thing.height_mm - low), (low, low),
    ]  # fmt: skip
    points = []
    for quarter, centre in enumerate(centres):
        turn = np.pi / 2.0 * (quarter - 1.0 + np.linspace(0.0, 1.0, per_corner))
        points.append(centre + radius_mm * np.column_stack([np.cos(turn), np.sin(turn)]))
    return np.concatenate(points)


def cover_outline_px(plane: MetricPlane, thing: ReferenceObject) -> Points:
    """Return where the cover of a card's face lies in the photo.

    Parameters
    ----------
    plane : MetricPlane
        The plane that the card defines.
    thing : ReferenceObject
        The card.

    Returns
    -------
    (N, 2) array
        In px, in order around the face; a rim stays free.
    """
    rim_mm = min(RIM_MM, 0.1 * min(thing.width_mm, thing.height_mm))
    return plane.to_px(rounded_outline_mm(thing, rim_mm))


def cover_by_corners_px(face: "FoundCard") -> Points:
    """Return where the cover of a further card's face lies, from its corners as seen.

    Parameters
    ----------
    face : FoundCard
        Corners in px, side 0->1 along the object's width.

    Returns
    -------
    (N, 2) array
        In px, in order around the face; a rim stays free.
    """
    thing = face.object
    rim_mm = min(RIM_MM, 0.1 * min(thing.width_mm, thing.height_mm))
    w, h = thing.width_mm, thing.height_mm
    flat = np.array([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]], dtype=np.float32)
    to_px = cv2.getPerspectiveTransform(flat, np.asarray(face.corners_px, np.float32))
    outline = rounded_outline_mm(thing, rim_mm).reshape(-1, 1, 2)
    return np.asarray(cv2.perspectiveTransform(outline, to_px), np.float64).reshape(-1, 2)


def covered(pixels_bgr: NDArray[np.uint8], outline_px: Points) -> NDArray[np.uint8]:
    """Return a copy of the photo with the inside of an outline painted over.

    Parameters
    ----------
    pixels_bgr : (H, W, 3) array of uint8
        The photo, which stays as it is.
    outline_px : (N, 2) array
        In order around the face, in px.

    Returns
    -------
    (H, W, 3) array of uint8
        BGR.
    """
    copy = np.array(pixels_bgr, copy=True)
    at = np.rint(np.asarray(outline_px) * 2**_SUBPIXEL_BITS).astype(np.int32)
    cv2.fillPoly(copy, [at.reshape(-1, 1, 2)], COVER_BGR, cv2.LINE_AA, _SUBPIXEL_BITS)
    return np.asarray(copy, np.uint8)


def jpeg(picture: Image.Image) -> bytes:
    """Encode a picture as JPEG with nothing but its pixels, and check it by reading it back.

    Parameters
    ----------
    picture : Image
        In any mode; transparency is lost.

    Returns
    -------
    bytes
        The JPEG file.

    Raises
    ------
    MeasureError
        It carries metadata all the same.
    """
    stream = io.BytesIO()
    # A fresh image made of the pixels alone has no Exif, profile or comment to pass on.
    bare = Image.fromarray(np.asarray(picture.convert("RGB")))
    bare.save(stream, "JPEG", quality=90, subsampling=0, optimize=True)
    return checked(stream.getvalue())


def checked(data: bytes) -> bytes:
    """Return an encoded picture unchanged if it carries no metadata.

    Parameters
    ----------
    data : bytes
        A picture file of a format that Pillow reads.

    Returns
    -------
    bytes
        The same.

    Raises
    ------
    MeasureError
        It carries some.
    """
    found = metadata_of(data)
    if found:
        raise MeasureError(
            f"an exported picture carries metadata ({', '.join(found)}); it was not written: report this"
        )
    return data


def metadata_of(data: bytes) -> tuple[str, ...]:
    """Name every kind of metadata that an encoded picture carries; nothing for a bare one."""
    with Image.open(io.BytesIO(data)) as image:
        image.load()
        harmless = {"jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi"}
        found = {key for key in image.info if key not in harmless}
        if len(image.getexif()):
            found.add("exif")
        found |= {str(name) for name, _ in getattr(image, "applist", ()) if name != "APP0"}
        found |= set(getattr(image, "text", {}))
    return tuple(sorted(map(str, found)))
