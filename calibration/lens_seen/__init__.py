"""The lens as a picture's own long straight edges show it."""

import numpy as np

from calibration.camera import Camera, camera_from_photo
from calibration.image import Photo, Pyramid
from calibration.lens_seen.arcs import Arcs, fit_arcs
from calibration.lens_seen.chains import edge_chains
from calibration.lens_seen.posterior import UNCERTAIN_STD, camera_by_arcs

__all__ = ["Arcs", "camera_by_arcs", "camera_seen"]


def camera_seen(photo: Photo) -> Camera:
    """Return the camera that a photo's Exif describes; where that leaves the lens open, its edges tell.

    Parameters
    ----------
    photo : Photo
        Its size, Exif and pixels.

    Returns
    -------
    Camera
        As of `camera_from_photo`, with another `division` and `k1_std` where long straight edges agree on it.

    References
    ----------
    Brown, Close-range camera calibration, Photogrammetric Engineering 37(8), 1971 (the plumb-line method).
    """
    camera = camera_from_photo(photo)
    if camera.k1_std < UNCERTAIN_STD or camera.has_profile:
        return camera
    pyramid = Pyramid.of(photo.pixels_bgr)
    level = len(pyramid.levels) - 1
    diagonal_px = float(np.hypot(*pyramid.levels[level].shape[:2]))
    arcs = fit_arcs(edge_chains(pyramid.levels[level]), diagonal_px)
    return camera_by_arcs(camera, arcs.enlarged(pyramid.scales[level]))
