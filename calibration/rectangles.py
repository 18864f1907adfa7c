"""The catalogue of flat rectangles that lie about: sizes, corners, and how common each is."""

import csv
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from math import log


@dataclass(frozen=True, slots=True)
class Rectangle:
    """One kind of thing, or a family of makes.

    Attributes
    ----------
    key, name : str
        Name on the command line, and for people, without its size.
    long_mm, short_mm : float
        Sides, prolonged to sharp corners; of a family the middle.
    long_std_mm, short_std_mm : float
        Standard deviation of each side of one example.
    radius_least_mm, radius_most_mm : float
        Range of the corners' radius; 0 where they are sharp.
    thickness_mm : float
        Of one example.
    bows : bool
        Whether it is usually bent where it lies loose.
    family : bool
        Whether makes differ so that no size serves as a reference.
    ratio_log_std : float
        Standard deviation of the logarithm of long over short side.
    weight : float
        How common it is: the chance that a photo with something flat and rectangular shows this.
    known : str
        "read" where the sides were read in the source, "memory" where they are from memory.
    source : str
        Where they are from.
    """

    key: str
    name: str
    long_mm: float
    short_mm: float
    long_std_mm: float
    short_std_mm: float
    radius_least_mm: float
    radius_most_mm: float
    thickness_mm: float
    bows: bool
    family: bool
    ratio_log_std: float
    weight: float
    known: str
    source: str

    def __post_init__(self) -> None:
        """Refuse the impossible."""
        if not self.long_mm >= self.short_mm > 0.0 or min(self.long_std_mm, self.short_std_mm) <= 0.0:
            raise ValueError(f"{self.key}: sides must be positive, the longer first, and not exact")
        if not 0.0 <= self.radius_least_mm <= self.radius_most_mm <= self.short_mm / 2.0:
            raise ValueError(f"{self.key}: radii must run from least to most, to half the short side")
        if not (0.0 < self.weight <= 1.0 and self.ratio_log_std > 0.0):
            raise ValueError(f"{self.key}: a weight is above 0 and at most 1, a spread above 0")

    @property
    def log_ratio(self) -> float:
        """Natural logarithm of long over short side."""
        return log(self.long_mm / self.short_mm)

    @property
    def area_mm2(self) -> float:
        """Area, the corners taken as sharp."""
        return self.long_mm * self.short_mm


@lru_cache(maxsize=1)
def catalogue() -> tuple[Rectangle, ...]:
    """Return all rectangles of the catalogue.

    Returns
    -------
    tuple of Rectangle
        In the order of the file.
    """
    text = files("calibration").joinpath("rectangles.csv").read_text("utf-8")
    lines = (line for line in text.splitlines() if not line.startswith("#"))
    return tuple(_rectangle(row) for row in csv.DictReader(lines))


@lru_cache(maxsize=1)
def by_key() -> dict[str, Rectangle]:
    """Return the catalogue by key.

    Returns
    -------
    dict of str to Rectangle
        In the order of the file.
    """
    return {one.key: one for one in catalogue()}


_NUMBERS = (
    "long_mm", "short_mm", "long_std_mm", "short_std_mm", "radius_least_mm", "radius_most_mm", "thickness_mm",
    "weight",
)  # fmt: skip


def _rectangle(row: dict[str, str]) -> Rectangle:
    numbers = {name: float(row[name]) for name in _NUMBERS}
    middle = log(numbers["long_mm"] / numbers["short_mm"])
    # The range of a square begins at 1, its middle.
    reach = max(log(float(row["ratio_most"])) - middle, middle - log(float(row["ratio_least"])))
    return Rectangle(
        row["key"],
        row["name"],
        **numbers,
        bows=row["bows"] == "yes",
        family=row["family"] == "yes",
        ratio_log_std=reach / 2.0,
        known=row["known"],
        source=row["source"],
    )
