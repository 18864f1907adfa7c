"""The user's cameras: learnt, kept and chosen."""

from measure.cameras.learning import learn_from_photos
from measure.cameras.store import (
    CameraKey,
    forget_profile,
    key_of,
    read_store,
    save_profile,
    store_path,
    stored_camera,
)
from measure.cameras.target_sheet import PAPERS, target_pdf

__all__ = [
    "PAPERS",
    "CameraKey",
    "forget_profile",
    "key_of",
    "learn_from_photos",
    "read_store",
    "save_profile",
    "store_path",
    "stored_camera",
    "target_pdf",
]
