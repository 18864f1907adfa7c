"""What is told of a photo beside its numbers, as values: a code, and the facts that its sentence needs.

No sentence is made here: what a code says to whom is the shell's to word. Two values may read the same once
their numbers are rounded, so who words several drops what is said twice.
"""

from collections.abc import Hashable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Self


class CautionCode(StrEnum):
    """What may spoil a measurement; each with the facts that go with it."""

    # The photo's file.
    PIXELS_DAMAGED = "pixels damaged"  # decoder
    PIXELS_STEP = "step across the picture"
    METADATA_DAMAGED = "metadata damaged"  # decoder
    # The camera.
    CROPPED = "cropped"
    DIGITAL_ZOOM = "digital zoom"
    # The plane.
    STEEP_PLANE = "steep plane"  # tilt_deg
    SMALL_REFERENCE = "small reference"  # across_px
    VAGUE_FOCAL = "vague focal length"
    VAGUE_LENS = "vague lens"
    MISFIT = "corners misfit"
    DISAGREEMENT = "references disagree"
    TWO_TILTS = "two tilts"
    # A card's outline.
    UNSURE_OUTLINE = "unsure outline"  # confidence
    STEEP_OUTLINE = "steep outline"  # tilt_deg
    SMALL_OUTLINE = "small outline"  # longest_px, picture_share
    BLURRED_OUTLINE = "blurred outline"  # blur_width_px
    COVERED_SIDE = "covered side"  # seen_share
    ODD_PROPORTIONS = "odd proportions"  # off_share, name
    OPEN_SIDE = "open side"  # side, apart_mm, off_share
    CROWDED_SIDES = "crowded sides"  # sides
    CORNERS_AS_GIVEN = "corners as given"  # corner_std_px
    KIND_ASSUMED = "kind assumed"  # name
    IDENTITY = "identity"  # name, key, said, probability, rivals
    # Other sources of scale.
    PRINT_UNCHECKED = "print unchecked"
    COIN_HEIGHTS = "heights above a coin"  # thickness_mm
    COIN_TILTS = "tilts of a coin"  # least_deg, most_deg
    COIN_SIDE = "nearer side of a coin"
    GRADUATIONS = "graduations counted"  # count, spacing_mm, first_px, last_px
    RULE_TILT = "tilt of a rule"  # tilt_std_deg
    LENGTH_TILT = "tilt of a length"  # tilt_std_deg
    # Several references together.
    JOINT_TILTS = "tilts of references together"  # least_deg, most_deg
    CONTRADICTION = "contradiction"
    LEFT_OUT = "cards left out"  # count, kept
    SIZE_BY_OTHERS = "size by the others"  # stretch, number, name, value_mm, expanded_mm, stated_mm


class NoAnswerCode(StrEnum):
    """Why there is no answer; each with the facts that go with it."""

    # No plane.
    NO_OUTLINE = "no outline"  # name
    # A doubtful outline: name, corners_px, confidence, likely, likely_key, naming_helps, and its doubt.
    ANY_RECTANGLE = "any rectangle"  # tilt_deg
    OUTLINE_ODD = "outline of odd proportions"  # off_share
    OUTLINE_COVERED = "outline covered"  # seen_share
    OUTLINE_UNCLEAR = "outline unclear"
    IDENTITY_OPEN = "identity open"  # name, key, corners_px, probability, rivals
    NO_PLANE = "no plane"
    # No board or target.
    TARGET_UNSEEN = "target unseen"  # photo, count, least
    TARGET_STRIP = "target in one strip"  # photo
    NO_CHESSBOARD = "no chessboard"  # photo, columns, rows
    # No edge beside a click.
    ONE_POINT = "one point"
    NO_EDGE = "no edge"
    FAR_EDGE = "far edge"
    # No radius of a corner.
    SIDES_UNCLEAR = "sides unclear"
    CORNER_AT_BORDER = "corner at the border"
    NO_CORNER = "no corner"
    ROUNDED_TOO_FAR = "rounded too far"


@dataclass(frozen=True, slots=True)
class Remark:
    """A code and its facts.

    Attributes
    ----------
    code : StrEnum
        What is told; those of this package are `CautionCode` and `NoAnswerCode`.
    facts : tuple of (name, value)
        The numbers and names that belong to it; units ride in the names, a share is a part of 1.
    """

    code: StrEnum
    facts: tuple[tuple[str, Hashable], ...] = ()

    @classmethod
    def of(cls, code: StrEnum, **facts: Hashable) -> Self:
        """Return a remark with these facts.

        Parameters
        ----------
        code : StrEnum
            What is told.
        **facts : Hashable
            The numbers and names that belong to it; units ride in the names, a share is a part of 1.

        Returns
        -------
        Self
            The facts in the order given.
        """
        return cls(code, tuple(facts.items()))

    def __getitem__(self, name: str) -> Any:
        """Return a fact by its name."""
        return dict(self.facts)[name]

    def __iter__(self) -> Iterator[str]:
        """Yield the names of the facts."""
        return (name for name, _ in self.facts)


@dataclass(frozen=True, slots=True)
class Caution(Remark):
    """What may spoil a measurement."""


@dataclass(frozen=True, slots=True)
class NoAnswer(Remark):
    """Why there is no answer: no plane, no edge, no radius."""
