"""The part of `cardspan span` that measures, prints and keeps the results."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from measure.commands.common import EXIT_NO_ANSWER, emit_json, say

if TYPE_CHECKING:
    from measure.commands.sighting import Sighting
    from measure.kinds import Measured
    from measure.length import Length
    from measure.requests import KindRequest

NO_MEAN = (
    "no mean: these readings contradict each other, so that they are not all of one length; measure again"
)


@dataclass(frozen=True, slots=True)
class Done:
    """Measurements made.

    Attributes
    ----------
    requests, results : tuples
        The requests, and the result of each; none if the photo gives no plane.
    differences : tuple of (int, str, Length)
        Of later lengths and the first: the later one's index, a name, the difference.
    mean : Length or None
        Of all, if they are repeats of one.
    apart : bool
        They were to be repeats of one, but contradict each other, so that there is no mean.
    """

    requests: "tuple[KindRequest, ...]"
    results: "tuple[Measured, ...]" = ()
    differences: "tuple[tuple[int, str, Length], ...]" = ()
    mean: "Length | None" = None
    apart: bool = False


def measured(
    sighting: "Sighting", requests: "Sequence[KindRequest]", *, difference: bool, repeat: bool
) -> Done:
    """Measure on the located plane, where there is one.

    Parameters
    ----------
    sighting : Sighting
        The photo and what gives its scale.
    requests : sequence of KindRequest
        What to measure.
    difference : bool
        Also take each later length minus the first.
    repeat : bool
        Take all as repeats of one length.

    Returns
    -------
    Done
        Without results where the photo gives no plane.

    Raises
    ------
    SpanError, GeometryError
        A request can't be measured; the message starts with its name.
    """
    from measure.length import Length, contradict, repeated
    from measure.requests import differences, measure_kind_request

    if sighting.location.plane is None:
        return Done(tuple(requests))
    results = tuple(
        measure_kind_request(sighting.photo, sighting.location, request, f"{number}-{request.name}")
        for number, request in enumerate(requests, 1)
    )
    lengths = [one.result for one in results if isinstance(one.result, Length)]
    pairs = tuple(differences(requests, results)) if difference else ()
    apart = repeat and contradict(lengths)
    mean = repeated(lengths) if repeat and lengths and not apart else None
    return Done(tuple(requests), results, pairs, mean, apart)


def told(sighting: "Sighting", done: Done, *, as_json: bool) -> int:
    """Print what was measured.

    Parameters
    ----------
    sighting : Sighting
        The photo and what gives its scale.
    done : Done
        What was measured.
    as_json : bool
        One JSON object on standard output; the lines for people then go to standard error.

    Returns
    -------
    int
        The exit status: 0 if there is any length, else `EXIT_NO_ANSWER`.
    """
    from measure.commands.locate import describe
    from measure.length import Length, format_mm
    from measure.requests import describe_kind, describe_length, kind_json, length_json
    from measure.scale import location_json

    pairs = list(zip(done.requests, done.results, strict=False))
    if as_json:
        body: dict[str, Any] = {
            **location_json(sighting.photo, sighting.location),
            "beside": list(sighting.beside),
            "spans": [kind_json(request, result) for request, result in pairs],
            "differences": [{"name": name, **length_json(length)} for _, name, length in done.differences],
        }
        if done.apart:
            body |= {"mean": None, "reason": NO_MEAN}
        emit_json(body if done.mean is None else {**body, "mean": length_json(done.mean)})
    lines = describe(sighting.photo, sighting.location, sighting.beside)
    for request, result in pairs:
        lines += describe_kind(request, result)
    lines += [f"{name}: {format_mm(length)}" for _, name, length in done.differences]
    if done.mean is not None:
        lines += describe_length(f"mean of {len(done.results)}", done.mean)
    if done.apart:
        lines.append(NO_MEAN)
    for line in lines:
        say(line, as_json=as_json)
    return 0 if any(isinstance(one.result, Length) for one in done.results) else EXIT_NO_ANSWER


def keep(
    path: Path, sighting: "Sighting", done: Done, place: tuple[str | None, str | None], sheet: str | None
) -> None:
    """Add the photo, its references and what was measured to a specimen's record.

    Parameters
    ----------
    path : Path
        The record; a new one is made where there is no such file.
    sighting : Sighting
        With a plane.
    done : Done
        What was measured on it.
    place : pair of str or None
        Part and feature of the measurements that name none.
    sheet : str or None
        The sheet for a record that names none.

    Raises
    ------
    RecordError
        The record can't be used.
    MeasureError
        It can't be written.
    """
    from measure.length import default_standoff_std_mm
    from measure.record import record_lock, write_specimen
    from measure.requests import record_or_new, with_difference, with_measured, with_photo

    plane, entry = sighting.location.plane, sighting.entry
    assert plane is not None
    assert entry is not None
    usual_mm = default_standoff_std_mm(plane)
    kept = []
    for request, result in zip(done.requests, done.results, strict=True):
        stated_mm = request.choices.standoff_std_mm
        kept.append((request, result, usual_mm if stated_mm is None else stated_mm))
    # Read only now, and kept from others until it is written: what they added meanwhile stays in it.
    with record_lock(path):
        specimen, photo_id = with_photo(record_or_new(path, sheet), entry, path.parent)
        specimen, ids = with_measured(specimen, photo_id, kept, place)
        for number, name, length in done.differences:
            specimen = with_difference(specimen, name, (ids[number], ids[0]), length)
        write_specimen(path, specimen)
