"""What is known of a camera beforehand: focal length, principal point, lens distortion."""

from calibration.camera.intrinsics import Camera
from calibration.camera.lens_distortion import Array
from calibration.camera.prior import camera_from_photo, lens_hypotheses

__all__ = ["Array", "Camera", "camera_from_photo", "lens_hypotheses"]
