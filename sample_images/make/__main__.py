"""Render the sample photographs and write the register.

python sample_images/make [--only ID ...] [--samples N] [--reduce N] [--variant NAME] [--out DIR]
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path

import numpy as np
from shots import SHOTS


def linear_picture(shot, folder: Path, samples: int, reduce: int, detail: int) -> np.ndarray:
    from render import Workshop

    shop = Workshop(folder, shot.seed, detail)
    for mesh, material in shot.contents().pieces:
        shop.add(mesh, material)
    shop.table(shot.table, shot.table_turn_deg)
    shop.light(*shot.light)
    shop.sensor(shot.camera, shot.view[1], shot.aperture_mm, reduce)
    return shop.trace(samples)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", nargs="*", default=[])
    parser.add_argument("--samples", type=int, default=256)
    parser.add_argument("--reduce", type=int, default=1)
    parser.add_argument("--detail", type=int, default=6144)
    parser.add_argument("--variant", default="cuda_ad_rgb")
    parser.add_argument("--out", type=Path, default=Path(__file__).parents[1])
    args = parser.parse_args()
    import mitsuba as mi

    mi.set_variant(args.variant)
    from finish import finish
    from register import write_register
    from specimens import SPECIMENS

    for shot in SHOTS:
        if args.only and shot.id not in args.only:
            continue
        start = time.time()
        with tempfile.TemporaryDirectory() as folder:
            linear = linear_picture(shot, Path(folder), args.samples, args.reduce, args.detail)
        path = finish(shot, linear, args.out, args.reduce)
        print(
            f"{shot.id}: {path} {path.stat().st_size / 1000:.0f} kB, {time.time() - start:.0f} s", flush=True
        )
    print(write_register(SHOTS, SPECIMENS, args.out))


if __name__ == "__main__":
    main()
