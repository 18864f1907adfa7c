"""Render the sample photographs and write the register.

Needs the ``samples`` extra and, for the whole set in minutes, a graphics card; ``--variant scalar_rgb
--reduce 8 --samples 16`` gives a quick look without one.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path

import numpy as np
from finish import finish
from register import write_register
from shots import SHOTS
from specimens import SPECIMENS


def linear_picture(shot, folder: Path, samples: int, reduce: int, detail: int) -> np.ndarray:
    from render import Workshop

    shop = Workshop(folder, shot.seed, detail)
    for mesh, material in shot.contents().pieces:
        shop.add(mesh, material)
    shop.table(shot.table, shot.table_turn_deg)
    shop.light(*shot.light)
    shop.sensor(shot.camera, shot.view[1], shot.aperture_mm, reduce)
    return shop.trace(samples)


def photograph(shot, args: argparse.Namespace) -> None:
    start = time.time()
    with tempfile.TemporaryDirectory() as folder:
        linear = linear_picture(shot, Path(folder), args.samples, args.reduce, args.detail)
    path = finish(shot, linear, args.out, args.reduce)
    print(f"{shot.id}: {path.stat().st_size / 1000:.0f} kB, {time.time() - start:.0f} s", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python sample_images/make", description=__doc__)
    parser.add_argument("--only", nargs="*", default=[], help="render these, by id")
    parser.add_argument("--samples", type=int, default=256, help="light paths per pixel")
    parser.add_argument("--reduce", type=int, default=1, help="divide the size, for a quick look")
    parser.add_argument("--detail", type=int, default=6144, help="pixels across the table's texture")
    parser.add_argument("--variant", default="cuda_ad_rgb", help="of the renderer")
    parser.add_argument("--register-only", action="store_true", help="describe the photographs as they are")
    parser.add_argument("--out", type=Path, default=Path(__file__).resolve().parents[1])
    args = parser.parse_args()
    if not args.register_only:
        import mitsuba as mi

        mi.set_variant(args.variant)
        for shot in SHOTS:
            if not args.only or shot.id in args.only:
                photograph(shot, args)
    print(write_register(SHOTS, SPECIMENS, args.out))


if __name__ == "__main__":
    main()
