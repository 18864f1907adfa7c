"""The user's cameras: learnt, kept and chosen."""

from measure.cameras.learning import learn_from_photos
from measure.cameras.store import (
    CameraKey,
    camera_of,
    forget_profile,
    read_store,
    save_profile,
    store_path,
)

__all__ = [
    "CameraKey",
    "camera_of",
    "forget_profile",
    "learn_from_photos",
    "read_store",
    "save_profile",
    "store_path",
]
