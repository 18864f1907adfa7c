"""What the verdicts of one world were worth."""

from collections.abc import Sequence
from dataclasses import dataclass

from measure.verdict_words import unsettled_parts
from references.verdict import Verdict
from tests.bench.belief import calibration_error
from tests.bench.worlds.specimens import Specimen

SURE = 0.9
CLEAR_OVER_U = 2.0
SCALE_WORDS, COPY_WORDS = ("factor", "scale"), ("recast", "copy")
"""One of these is in the outcome or in the code of a doubt that tells of a scale fault; of a cast, either."""


@dataclass(frozen=True, slots=True)
class Score:
    """One specimen's verdict against the truth.

    Attributes
    ----------
    right, wrong_release, wrong_part, copy_wrongly, undecided : bool
        A release named at 90 % or more that is right, or not, a clear cast named as genuine among the latter;
        a part called foreign or fitting none that is not; a recast named that is none; no release named, nor
        a copy.
    hedged : bool
        A wrong release is named, but with parts in doubt.
    cause : bool or None
        Whether a scale fault was told; None where there was none that these lengths can tell clearly.
    stated : float or None
        Probability of the likeliest release; None where the verdict doubts its own model.
    """

    right: bool
    wrong_release: bool
    wrong_part: bool
    copy_wrongly: bool
    undecided: bool
    cause: bool | None
    stated: float | None
    hedged: bool
    likeliest_right: bool

    @property
    def wrong(self) -> bool:
        """A wrong release or part was named."""
        return self.wrong_release or self.wrong_part


def score(specimen: Specimen, verdict: Verdict) -> Score:
    """Compare a verdict with the truth."""
    named = verdict.release
    clear = specimen.factor != 1.0 and specimen.over_u > CLEAR_OVER_U
    likeliest = max(verdict.posterior, key=lambda key: verdict.posterior[key])
    accused = [
        part for part in verdict.parts if part.present and (part.foreign or part.outcome == "fits none")
    ]
    copied = verdict.outcome == "recast"
    # On a toy of no listed release, or a cast, a part that fits none of the sheet's is told rightly.
    excused = specimen.release is None or specimen.copy
    wrong_part = [p for p in accused if p.part not in specimen.foreign and not (excused and not p.foreign)]
    told = " ".join([verdict.outcome, *(doubt.code for doubt in verdict.doubts)])
    words = (*SCALE_WORDS, *COPY_WORDS) if specimen.copy else SCALE_WORDS
    passed = specimen.copy and clear and verdict.outcome in ("release", "mixed")
    right = named is not None and named == specimen.release and not passed
    return Score(
        right=right,
        wrong_release=named is not None and not right,
        wrong_part=bool(wrong_part),
        copy_wrongly=copied and not specimen.copy,
        undecided=named is None and not copied,
        cause=any(word in told for word in words) if clear else None,
        stated=None if verdict.doubts else verdict.posterior[likeliest],
        hedged=named is not None and not right and bool(unsettled_parts(verdict)),
        likeliest_right=likeliest == specimen.release,
    )


def line(name: str, scores: Sequence[Score]) -> str:
    """Return a line of the table: figures in per cent of the specimens."""

    def share(flags: Sequence[bool]) -> str:
        return f"{100 * sum(flags) / len(flags):6.1f}" if flags else "     -"

    stated = [(each.stated, each.likeliest_right) for each in scores if each.stated is not None]
    error = f"{calibration_error(*zip(*stated, strict=True)):7.4f}" if stated else "      -"
    causes = [each.cause for each in scores if each.cause is not None]
    columns = (
        [each.right for each in scores],
        [each.wrong for each in scores],
        [each.wrong_release for each in scores],
        [each.hedged for each in scores],
        [each.wrong_part for each in scores],
        [each.copy_wrongly for each in scores],
        [each.undecided for each in scores],
        causes,
    )
    return f"{name:36} {len(scores):6d} {' '.join(share(each) for each in columns)} {len(causes):6d} {error}"


HEAD = (
    f"{'world':36} {'number':>6} {'right':>6} {'WRONG':>6} {'rel.':>6} {'hedged':>6} {'part':>6} {'copy':>6}"
    f" {'open':>6} {'cause':>6} {'of':>6} {'ECE':>7}"
)
