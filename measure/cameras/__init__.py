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
from measure.cameras.target_sheet import PAPERS, target_pdf

__all__ = [
    "PAPERS",
    "CameraKey",
    "camera_of",
    "forget_profile",
    "learn_from_photos",
    "read_store",
    "save_profile",
    "store_path",
    "target_pdf",
]
