"""From a photograph to a metric plane: the reference card, the camera, the scale and their uncertainties."""

from calibration.locate import Location, locate
from calibration.image.photo import Photo, read_photo

__all__ = ["Location", "Photo", "locate", "read_photo"]
