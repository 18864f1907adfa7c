"""The camera in a record: each field checked as `calibration` declares it, from and to its value."""

from collections.abc import Mapping
from dataclasses import fields
from typing import Any, get_args, get_origin

from calibration.camera import Camera
from measure.errors import RecordError
from measure.record.checks import Check, exactly, mapping_at, number_at, text_at, tuple_of, whole_at
from measure.wording import Audience, all_worded, recorded_cautions

_PLAIN: dict[Any, Check] = {int: whole_at, float: number_at, str: text_at}
# Beyond any camera, so that arithmetic with it stays within numbers. Lens coefficients of calibrated wide
# lenses reach some tens.
_MOST: dict[str, float] = {
    "focal_px": 1e6,
    "log_focal_std": 2.0,
    "principal_point_px": 1e6,
    "principal_point_std_px": 1e5,
    "distortion": 1e3,
    "division": 10.0,
    "k1_std": 10.0,
}


def camera_at(value: Any, where: str) -> Camera | Mapping[str, Any]:
    """Return a camera, or its fields as they are where they make none.

    Fields that it doesn't know, or lacks, are told when it is measured by: `camera_from_entry`.

    Raises
    ------
    ValueError
        A field is not as expected.
    """
    entry = mapping_at(value, where)
    for item in fields(Camera):
        # Told in words; `calibration` has them as values.
        check = tuple_of(text_at) if item.name == "cautions" else _check_of(item.type)
        if item.name in entry and check is not None:
            _bounded(check(entry[item.name], f"{where}.{item.name}"), item.name, where)
    if entry.keys() != {item.name for item in fields(Camera)}:
        return entry
    try:
        return camera_from_entry(entry, where)
    except RecordError:
        return entry


def camera_entry(camera: Camera) -> dict[str, Any]:
    """Return a camera's fields as JSON values.

    Parameters
    ----------
    camera : Camera
        Angles, lengths and distortion stay in its own units, such as ``focal_px``.

    Returns
    -------
    dict
        What `camera_from_entry` takes.
    """
    entry = {
        field.name: list(value) if isinstance(value := getattr(camera, field.name), tuple) else value
        for field in fields(camera)
    }
    return {**entry, "cautions": list(all_worded(camera.cautions, Audience.COMMAND))}


def camera_from_entry(entry: Mapping[str, Any], where: str) -> Camera:
    """Return the camera that a record holds.

    Parameters
    ----------
    entry : mapping
        The fields, as decoded from JSON.
    where : str
        Its place, for the message.

    Returns
    -------
    Camera

    Raises
    ------
    RecordError
        A field is missing, unknown or not as expected.
    """
    values: dict[str, Any] = {
        key: tuple(value) if isinstance(value, list) else value for key, value in entry.items()
    }
    values["cautions"] = recorded_cautions(values.get("cautions", ()))
    try:
        return Camera(**values)
    except (TypeError, ValueError) as error:
        raise RecordError(
            f"{where}: not a camera ({error}); leave it null to use the photo's Exif"
        ) from error


def _bounded(value: Any, name: str, where: str) -> None:
    most = _MOST.get(name)
    if most is None:
        return
    for number in value if isinstance(value, tuple) else (value,):
        if abs(number) > most:
            raise ValueError(f"{where}.{name}: no camera has {number:g}; expected at most {most:g}")


def _check_of(kind: Any) -> Check | None:
    """Return the check for a field of this type, or None where any value may pass."""
    if get_origin(kind) is tuple:
        each, *others = get_args(kind)
        check = _PLAIN.get(each)
        if check is None:
            return None
        return tuple_of(check) if others == [...] else exactly(1 + len(others), check)
    return _PLAIN.get(kind)
