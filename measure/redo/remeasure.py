"""Recomputing a record's numbers from its corners, clicks and stand-offs."""

from measure.errors import RecordError
from measure.length import Length
from measure.record import BudgetEntry, MeasurementEntry, ResultEntry
from measure.scale import object_of, photo_entry, reference_entry

__all__ = [
    "object_of",
    "photo_entry",
    "recorded_length",
    "reference_entry",
    "result_entry",
]


AT_ONE_HEIGHT = ("span", "gap", "round", "tip")
"""Kinds whose lengths all grow or all shrink by a wrong stand-off."""


def result_entry(length: Length) -> ResultEntry:
    """Return a length as a record keeps it.

    Parameters
    ----------
    length : Length
        Any.

    Returns
    -------
    ResultEntry
        Lengths in mm; the budget holds the size of each source's effect, without its sign.
    """
    return ResultEntry(
        length_mm=length.value_mm,
        standard_uncertainty_mm=length.standard_uncertainty_mm,
        expanded_uncertainty_mm=length.expanded_uncertainty_mm,
        coverage_factor=length.coverage_factor,
        budget=tuple(BudgetEntry(line.source, line.u_mm, line.shared) for line in length.budget),
    )


def recorded_length(entry: MeasurementEntry, record: str = "") -> Length:
    """Return a recorded result as a length, in which what the lengths of one photo share stays shared.

    Parameters
    ----------
    entry : MeasurementEntry
        With its result.
    record : str
        Tells the photos of one record from those of another.

    Returns
    -------
    Length
        Its inputs are the lines of the budget: those that the photo's lengths share are named by photo and
        source, so that a mean doesn't reduce them and a difference cancels them; the stand-off by the part
        that it is stated of; its own by its id.

    Raises
    ------
    RecordError
        The entry has no result.

    Notes
    -----
    A budget keeps the size of each source's effect, not its sign. Where the photo's corners are recorded,
    `measured_again` gives differences that hold for any directions of the two lengths.
    """
    from measure.length import STANDOFF, Contribution

    result = entry.result
    if result is None:
        raise RecordError(f"measurement {entry.id}: it has no result yet; measure it again on the desk")
    photo = ":".join(filter(None, (record, entry.photo or entry.id)))
    parts: dict[str, Contribution] = {}
    for line in result.budget or (BudgetEntry("stated", result.standard_uncertainty_mm),):
        key = f"{photo}:{line.source}" if line.shared else f"{photo}:{entry.id}:{line.source}"
        if line.source == STANDOFF and entry.part is not None and entry.kind in AT_ONE_HEIGHT:
            # One statement about the part, in whatever photo it is used.
            key = f"{record}:{entry.part}:{entry.standoff_mm}:{entry.standoff_std_mm}:{line.source}"
        parts[f"{key}:{len(parts)}" if key in parts else key] = Contribution(
            line.source, line.shared, line.u_mm
        )
    return Length(result.length_mm, parts, result.coverage_factor)
