"""Lengths as the documents show them: millimetres or inches first, each with its expanded uncertainty."""

from dataclasses import dataclass

from measure.length import MM_PER_INCH, format_fraction, round_with_uncertainty
from measure.record import ResultEntry

# Below this only decimals are useful; a sixteenth is 1.6 mm.
_FRACTION_FROM_MM = 12.0


@dataclass(frozen=True, slots=True)
class Figures:
    """One length in both units.

    Attributes
    ----------
    mm, inches : str
        Value with U, in millimetres and in decimal inches.
    fraction : str
        The nearest fraction of an inch, or nothing if a fraction says too little.
    inches_first : bool
        Which of the two leads.
    """

    mm: str
    inches: str
    fraction: str
    inches_first: bool

    @property
    def lines(self) -> tuple[str, str]:
        """The two units, the leading one first."""
        return (self.inches, self.mm) if self.inches_first else (self.mm, self.inches)

    @property
    def phrase(self) -> str:
        """Both units in one phrase: '160.1 ± 1.6 mm (6.303 ± 0.064 in, about 6 5/16 in)'."""
        first, second = self.lines
        about = f", about {self.fraction}" if self.fraction else ""
        return f"{first} ({second}{about})"


def figures(result: ResultEntry, *, inches_first: bool = False) -> Figures:
    """Return a measured length as text.

    Parameters
    ----------
    result : ResultEntry
        In mm, with its expanded uncertainty.
    inches_first : bool
        Which unit leads.

    Returns
    -------
    Figures
        Two digits of the uncertainty; a fraction no finer than it.
    """
    value_mm, expanded_mm = result.length_mm, result.expanded_uncertainty_mm
    mm = "{} ± {} mm".format(*round_with_uncertainty(value_mm, expanded_mm))
    inches = "{} ± {} in".format(*round_with_uncertainty(value_mm / MM_PER_INCH, expanded_mm / MM_PER_INCH))
    return Figures(mm, inches, _fraction(value_mm, expanded_mm), inches_first)


def _fraction(value_mm: float, expanded_mm: float) -> str:
    # A fraction finer than the uncertainty would claim too much.
    for denominator in (16, 8, 4, 2):
        if expanded_mm <= MM_PER_INCH / denominator:
            return format_fraction(value_mm, denominator) if abs(value_mm) >= _FRACTION_FROM_MM else ""
    return ""


def plain_range(low_mm: float, high_mm: float, *, inches_first: bool = False) -> str:
    """Return limits as text: '158.5 to 161.5 mm'.

    Parameters
    ----------
    low_mm, high_mm : float
        The limits.
    inches_first : bool
        Give inches in place of millimetres.

    Returns
    -------
    str
        To 0.1 mm or 0.001 in.
    """
    if inches_first:
        return f"{low_mm / MM_PER_INCH:.3f} to {high_mm / MM_PER_INCH:.3f} in"
    return f"{low_mm:.1f} to {high_mm:.1f} mm"
