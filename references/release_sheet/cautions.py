"""What a sheet leaves open though it has no fault."""

from dataclasses import dataclass
from typing import Literal

from references.release_sheet.sheet import Sheet
from references.release_sheet.values import Normal, Range

SheetCautionCode = Literal["no number", "one value"]


@dataclass(frozen=True, slots=True)
class SheetCaution:
    """One thing that a sheet leaves open.

    Attributes
    ----------
    code : str
        ``"no number"``: it isn't said how many examples a range or a spread comes from; ``"one value"``: the
        smallest and the largest length are the same.
    part, feature, release : str
        Keys in the sheet.
    """

    code: SheetCautionCode
    part: str
    feature: str
    release: str


def find_cautions(sheet: Sheet) -> tuple[SheetCaution, ...]:
    """Return what a sheet leaves open.

    Parameters
    ----------
    sheet : Sheet
        A sheet without faults.

    Returns
    -------
    tuple of SheetCaution
        In the order of the sheet.
    """
    found = []
    for part in sheet.parts:
        for feature in part.features:
            for release in sheet.release_ids:
                value = feature.by_release[release]
                if isinstance(value, Range | Normal) and value.examples is None:
                    found.append(SheetCaution("no number", part.id, feature.id, release))
                if isinstance(value, Range) and value.low_mm == value.high_mm:
                    found.append(SheetCaution("one value", part.id, feature.id, release))
    return tuple(found)
