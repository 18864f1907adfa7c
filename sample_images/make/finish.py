"""From the linear picture to the file: lens, development, Exif, JPEG."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from optics import Camera, develop, through_lens
from PIL import Image

MAKE, MODEL, SOFTWARE, ORIENTATION, DATE = 0x010F, 0x0110, 0x0131, 0x0112, 0x0132
EXIF_IFD = 0x8769
EXPOSURE, F_NUMBER, ISO, TAKEN, FOCAL, FOCAL_35, LENS = 0x829A, 0x829D, 0x8827, 0x9003, 0x920A, 0xA405, 0xA434
LIMIT_BYTES = 690_000
UNDO = {1: None, 6: Image.Transpose.ROTATE_90, 8: Image.Transpose.ROTATE_270, 3: Image.Transpose.ROTATE_180}


def exif(shot) -> Image.Exif:
    data = Image.Exif()
    data[ORIENTATION] = shot.orientation
    make, model = shot.camera_name
    if not make:
        return data
    data[MAKE], data[MODEL], data[SOFTWARE], data[DATE] = make, model, f"{model} 4.2", shot.taken
    detail = {EXPOSURE: (1, 60), F_NUMBER: 1.8, ISO: 160, TAKEN: shot.taken}
    if shot.exif_35mm is not None:
        detail |= {
            FOCAL: round(shot.exif_35mm / 6.2, 2),
            FOCAL_35: shot.exif_35mm,
            LENS: f"{make} {shot.exif_35mm} mm",
        }
    data.get_ifd(EXIF_IFD).update(detail)
    return data


def reduced(camera: Camera, reduce: int) -> Camera:
    """Return the camera of a picture ``reduce`` times smaller."""
    x, y = camera.principal_point_px
    centre = ((x + 0.5) / reduce - 0.5, (y + 0.5) / reduce - 0.5)
    size = camera.width_px // reduce, camera.height_px // reduce
    return replace(
        camera,
        width_px=size[0],
        height_px=size[1],
        focal_px=camera.focal_px / reduce,
        principal_point_px=centre,
    )


def encoded(image: Image.Image, shot, quality: int) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", quality=quality, optimize=True, subsampling="4:2:0", exif=exif(shot).tobytes())
    return buffer.getvalue()


def finish(shot, linear: np.ndarray, folder: Path, reduce: int = 1) -> Path:
    """Write the photograph; the quality steps down until the file is small enough."""
    cv2.setNumThreads(4)
    camera = reduced(shot.camera, reduce)
    look = shot.look if reduce == 1 else replace(shot.look, blur_px=max(0.45, shot.look.blur_px / reduce))
    picture = develop(through_lens(linear, camera), camera, look, np.random.default_rng(shot.seed))
    image = Image.fromarray(picture)
    if UNDO[shot.orientation] is not None:
        image = image.transpose(UNDO[shot.orientation])
    quality = shot.quality
    data = encoded(image, shot, quality)
    while len(data) > LIMIT_BYTES and quality > 60:
        quality -= 1
        data = encoded(image, shot, quality)
    path = folder / shot.file
    path.write_bytes(data)
    return path
