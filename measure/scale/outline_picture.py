"""A picture of the reference as it was found, for the user to check by eye."""

from typing import TYPE_CHECKING

import cv2
import numpy as np

from measure.errors import MeasureError

if TYPE_CHECKING:
    from calibration.image import Photo
    from calibration.locate import Location

_LONGEST_PX = 1600


def outline_png(photo: "Photo", location: "Location") -> bytes:
    """Return a PNG of the photo, at most 1600 px long, with the outline in two tones and corner 0 ringed.

    Parameters
    ----------
    photo : Photo
        The photo.
    location : Location
        With a reference found in it, accepted or not.

    Returns
    -------
    bytes
        The PNG file.

    Raises
    ------
    MeasureError
        The picture could not be encoded.
    """
    assert location.found is not None
    scale = min(1.0, _LONGEST_PX / max(photo.width_px, photo.height_px))
    size = (max(1, round(photo.width_px * scale)), max(1, round(photo.height_px * scale)))
    picture = cv2.resize(photo.pixels_bgr, size, interpolation=cv2.INTER_AREA)
    factors = np.array(size) / (photo.width_px, photo.height_px)
    corners = (np.asarray(location.found.corners_px) + 0.5) * factors - 0.5
    shift = 4
    fixed = np.rint(corners * 2**shift).astype(np.int32).reshape(-1, 1, 2)
    for colour, thickness in (((20, 20, 20), 5), ((90, 240, 250), 2)):
        cv2.polylines(picture, [fixed], True, colour, thickness, cv2.LINE_AA, shift)
        x, y = fixed[0, 0].tolist()
        cv2.circle(picture, (x, y), 9 << shift, colour, thickness, cv2.LINE_AA, shift)
    done, data = cv2.imencode(".png", picture)
    if not done:
        raise MeasureError("the picture of the outline could not be encoded; try a smaller photo")
    return bytes(data.tobytes())
