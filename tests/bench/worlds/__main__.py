"""Verdicts on specimens from worlds that the verdict's model does not know.

    python -m tests.bench.worlds [--draws 400] [--jobs 2] [--seed 15] [--only scale]

For each world, on the sample sheet and on invented sheets, in per cent of the specimens: the right release
named; a wrong release or part named, and which; a copy named that is none; nothing named; of scale faults
above 2 U (of what the lengths could tell at best), a factor or a copy told. Then the expected calibration
error of the likeliest release where the verdict has no doubts.
"""

import argparse
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from zlib import crc32

import numpy as np

from references import judge, shipped_sheet
from references.inference.options import DEFAULT_OPTIONS
from tests.bench.belief import swapped_plates
from tests.bench.worlds import specimens as made
from tests.bench.worlds.scoring import HEAD, Score, line, score
from tests.bench.worlds.specimens import Maker, Specimen
from tests.bench.worlds.toys import Shape, Toy, invented_toy, sample_toy, with_ranges
from tests.synthetic.specimens import Circumstances, draw_findings, draw_truth

PER_SHEET = 5
"""So many specimens are drawn of each invented sheet."""
OWN_WORLD_TIMES = 25
"""The calibration error of the sheet's own world needs many: of 1500, chance alone makes some 0.01 of it."""


@dataclass(frozen=True, slots=True)
class World:
    """How specimens and their sheet come about."""

    name: str
    draw: Callable[[Maker], Specimen]
    shape: Shape = "normal"
    examples: tuple[int, int] = (4, 10)
    stated: bool = True
    mislabelled: float = 0.0

    def toy(self, rng: np.random.Generator, *, sample: bool) -> Toy:
        """Return a toy with its sheet; the sample sheet stays as it is where the world lets it."""
        if sample and self.as_shipped:
            return sample_toy(self.shape)
        bare = sample_toy(self.shape) if sample else invented_toy(rng, self.shape)
        return with_ranges(bare, self.examples, rng, stated=self.stated, mislabelled=self.mislabelled)

    @property
    def as_shipped(self) -> bool:
        """Whether the sheet's ranges come of an ordinary number of examples, rightly labelled."""
        return self.examples == (4, 10) and self.stated and not self.mislabelled


def own_world(maker: Maker) -> Specimen:
    """A specimen and findings exactly as the verdict assumes them."""
    sheet, rng = maker.toy.sheet, maker.rng
    how = Circumstances(looked_at=float(rng.uniform(0.3, 1.0)), photos=int(rng.integers(1, 4)))
    truth = draw_truth(sheet, DEFAULT_OPTIONS, rng)
    findings = draw_findings(sheet, truth, how, DEFAULT_OPTIONS, rng)
    foreign = frozenset(part for part in truth.parts if truth.is_foreign(part))
    return Specimen(sheet.release_ids[truth.release], findings, foreign, truth.shrink > 0)


WORLDS = (
    World("its own", own_world),
    World("genuine, normal production", made.own_parts),
    World("scale: wrong reference, all photos", made.wrong_reference),
    World("scale: wrong reference, one photo", made.wrong_photo),
    World("scale: stand-offs forgotten", made.forgotten_standoff),
    World("scale: a cast, 1 to 5 % smaller", made.shrunk),
    World("a release not listed", made.unlisted),
    World("two parts swapped together", made.pair_swapped),
    World("one length at a wrong edge", made.misplaced),
    World("one wrong point in two lengths", made.doubly_misplaced),
    World("read twice, once at a wrong edge", made.read_twice),
    World("the same clicks twice", made.same_clicks_twice),
    World("genuine, even production", made.own_parts, shape="even"),
    World("skewed production", made.own_parts, shape="skewed"),
    World("two moulds", made.own_parts, shape="two moulds"),
    World("a wrong example in 3 ranges of 10", made.own_parts, mislabelled=0.3),
    World("ranges of 3 examples, stated", made.own_parts, examples=(3, 3)),
    World("ranges of 3 examples, not stated", made.own_parts, examples=(3, 3), stated=False),
    World("ranges of 5 examples, not stated", made.own_parts, examples=(5, 5), stated=False),
    World("ranges of 10 examples, stated", made.own_parts, examples=(10, 10)),
    World("ranges of 30 examples, stated", made.own_parts, examples=(30, 30)),
)


def examine(world: World, seed: int, draws: int, *, sample: bool) -> list[Score]:
    """Draw so many specimens of a world, each from a seed of its own, and judge them."""
    base = [seed, crc32(world.name.encode()), int(sample)]
    toy, scores = None, []
    for index in range(draws * (OWN_WORLD_TIMES if world.draw is own_world else 1)):
        if toy is None or index % PER_SHEET == 0:
            toy = world.toy(np.random.default_rng([*base, index, 1]), sample=sample)
        specimen = world.draw(Maker(toy, np.random.default_rng([*base, index])))
        scores.append(score(specimen, judge(toy.sheet, specimen.findings)))
    return scores


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=400)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--seed", type=int, default=15)
    parser.add_argument("--only", default="", help="worlds whose name has this in it")
    given = parser.parse_args()
    chosen = [world for world in WORLDS if given.only in world.name]
    start = time.monotonic()
    with ProcessPoolExecutor(given.jobs) as pool:
        for sample in (True, False):
            print("the sample sheet" if sample else "invented sheets")
            print(HEAD)
            work = partial(examine, seed=given.seed, draws=given.draws, sample=sample)
            for world, scores in zip(chosen, pool.map(work, chosen), strict=True):
                print(line(world.name, scores), flush=True)
    if not given.only:
        found, called = swapped_plates(shipped_sheet("saltmarsh-ferry"), given.draws, 1.0, given.seed)
        print(f"plates swapped, u 1 mm: found {100 * found:.1f} %, whole ones accused {100 * called:.1f} %")
    print(f"{time.monotonic() - start:.0f} s")


if __name__ == "__main__":
    main()
