"""How much memory a photo takes on the desk, by the kernel's own count."""

import json
import subprocess
import sys
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

SIDE_PX = 4000
PIXELS_MB = 3 * SIDE_PX**2 / 2**20
# In a process of its own, since the largest size ever is counted, not the present one.
_PROGRAM = """
import json, re, sys
from pathlib import Path
from measure.desk.photos.pictures import Picture, give_back
def mb(what):
    return int(re.search(what + r":\\s+(\\d+)", Path("/proc/self/status").read_text())[1]) / 1024
picture = Picture(Path(sys.argv[1]))
data = picture.path.read_bytes()
picture.preview(data)
before = mb("VmRSS")
picture.decode(data)
peak = mb("VmHWM")
tiles = [len(picture.tile(level, 0, 0)) for level in range(5)]
picture.rest()
give_back()
print(json.dumps({"stage": picture.stage, "peak": peak - before, "kept": mb("VmRSS") - before}))
"""


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="the kernel here has no /proc to count by")
@pytest.mark.parametrize(
    ("file_format", "most"),
    [
        # The decoder hands over a copy of its own; turning takes a second one after the first is gone.
        ("JPEG", 2.3),
        # Pillow holds four bytes a pixel until the photo is taken from it.
        ("PNG", 2.8),
    ],
)
def test_opening_a_photo_takes_little_more_than_its_pixels(
    file_format: str, most: float, tmp_path: Path
) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6
    buffer = BytesIO()
    Image.fromarray(np.full((SIDE_PX, SIDE_PX, 3), 90, np.uint8)).save(
        buffer, file_format, exif=exif, compress_level=1
    )
    photo = tmp_path / "photo"
    photo.write_bytes(buffer.getvalue())
    done = subprocess.run(
        [sys.executable, "-c", _PROGRAM, str(photo)], capture_output=True, text=True, check=True
    )
    told = json.loads(done.stdout)
    assert told["stage"] == "ready"
    assert told["peak"] < most * PIXELS_MB
    # What is kept is on disk, and comes back when it is touched.
    assert told["kept"] < 0.5 * PIXELS_MB
