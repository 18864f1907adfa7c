"""From a photograph to a metric plane: the reference card, the camera, the scale and their uncertainties."""

from calibration.image import Photo, read_photo
from calibration.locate import Location, locate

__all__ = ["Location", "Photo", "locate", "read_photo"]
