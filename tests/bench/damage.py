"""What becomes of damaged photo files: refused, cautioned, or read without a word.

python -m tests.bench.damage [--count 400] [--formats png jpeg]

Of those read without a word it tells how far their pixels are off: a flip in a comment is no harm, a shifted
half of the picture is.
"""

import argparse
import io
import time
import traceback
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pillow_heif
from PIL import Image

from calibration.errors import PhotoError
from calibration.image.photo import decode_photo
from tests.damage import damaged, how_far_off

SOURCE = Path(__file__).parents[2] / "sample_images" / "first-parts.jpg"
ENCODINGS: dict[str, tuple[str, dict[str, Any]]] = {
    "jpeg": ("JPEG", {"quality": 90}),
    "jpeg-444": ("JPEG", {"quality": 95, "subsampling": 0}),
    "jpeg-progressive": ("JPEG", {"quality": 90, "progressive": True}),
    "jpeg-restarts": ("JPEG", {"quality": 90, "restart_marker_rows": 1}),
    "png": ("PNG", {}),
    "webp": ("WEBP", {"quality": 90}),
    "webp-lossless": ("WEBP", {"lossless": True}),
    "tiff": ("TIFF", {}),
    "tiff-deflate": ("TIFF", {"compression": "tiff_adobe_deflate"}),
    "tiff-lzw": ("TIFF", {"compression": "tiff_lzw"}),
    "tiff-jpeg": ("TIFF", {"compression": "jpeg"}),
    "heic": ("HEIF", {"quality": 90}),
    "avif": ("AVIF", {"quality": 80}),
}
FATES = ("refused", "cautioned", "same", "slight", "visible", "crash")


def encoded(name: str, width_px: int = 1200) -> bytes:
    """Return the sample photo in one format, with an Exif block in all but the PNG."""
    with Image.open(SOURCE) as sample:
        small = sample.convert("RGB").resize((width_px, width_px * 3 // 4))
    exif = Image.Exif()
    exif[0x010F] = "Halyard"
    exif.get_ifd(0x8769)[0xA405] = 26
    stream = io.BytesIO()
    file_format, options = ENCODINGS[name]
    small.save(stream, file_format, **options, **({} if name == "png" else {"exif": exif}))
    return stream.getvalue()


def fate(data: bytes, sound: np.ndarray) -> str:
    """Return what becomes of one file."""
    try:
        photo = decode_photo(data, "damaged")
    except PhotoError:
        return "refused"
    except Exception:  # the benchmark counts crashes instead of stopping at the first
        traceback.print_exc()
        return "crash"
    return "cautioned" if photo.cautions else how_far_off(photo.pixels_bgr, sound)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--formats", nargs="*", default=list(ENCODINGS))
    parser.add_argument("--by-kind", action="store_true", help="A line for each kind of damage, too.")
    asked = parser.parse_args()
    pillow_heif.register_heif_opener()
    print(f"{'':24}{''.join(f'{one:>10}' for one in FATES)}   ms to read it undamaged")
    for name in asked.formats:
        data = encoded(name)
        start = time.perf_counter()
        sound = decode_photo(data, name).pixels_bgr
        took_ms = 1e3 * (time.perf_counter() - start)
        assert decode_photo(data, name).cautions == (), decode_photo(data, name).cautions
        rng = np.random.default_rng(asked.seed)
        counts: Counter[str] = Counter()
        by_kind: dict[str, Counter[str]] = {}
        for _ in range(asked.count):
            kind, bad = damaged(data, rng)
            one = fate(bad, sound) if bad != data else "same"
            counts[one] += 1
            by_kind.setdefault(kind, Counter())[one] += 1
        print(f"{name:24}{''.join(f'{counts[one]:10}' for one in FATES)}   {took_ms:.0f}", flush=True)
        for kind, part in sorted(by_kind.items()) if asked.by_kind else ():
            print(f"    {kind:20}{''.join(f'{part[one]:10}' for one in FATES)}")


if __name__ == "__main__":
    main()
