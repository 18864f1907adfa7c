"""The difference: two lengths compared, with shared errors cancelling."""

from measure.length import STANDOFF, Contribution, Length


def measure_difference(one: Length, other: Length, *, same_standoff: bool = False) -> Length:
    """Return one length minus another.

    Parameters
    ----------
    one, other : Length
        Of one photo, so that card, lens and tilt are shared, or of different ones. Each measurement must have
        its own `span_id`, or else clicks would be taken as shared too.
    same_standoff : bool
        Whether an error in one's stand-off is the other's as well: the same features of two specimens lying
        on one table, measured at one stated height.

    Returns
    -------
    Length
        The difference, which may be negative; its uncertainty holds shared errors once, cancelled.

    References
    ----------
    JCGM 100:2008, 5.2: correlated inputs.
    """
    if same_standoff:
        one, other = _with_common_standoff(one), _with_common_standoff(other)
    return one - other


def _with_common_standoff(length: Length) -> Length:
    """Return the length with its stand-off inputs named alike for all lengths of the photo."""
    parts: dict[str, Contribution] = {}
    for key, part in length.contributions.items():
        photo, last = key.split(":")[0], key.rsplit(":")[-1]
        parts[f"{photo}:common:{last}" if part.source == STANDOFF else key] = part
    return Length(length.value_mm, parts, length.coverage_factor)
