"""Check of the camera in a record: each field as `calibration` declares it."""

from collections.abc import Mapping
from dataclasses import fields
from typing import Any, get_args, get_origin

from measure.record.checks import Check, exactly, mapping_at, number_at, text_at, tuple_of, whole_at

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


def camera_at(value: Any, where: str) -> Mapping[str, Any]:
    """Return the fields of a camera.

    Fields that it doesn't know, or lacks, are told when it is measured by: `measure.scale.reference_entries`.

    Raises
    ------
    ValueError
        A field is not as expected.
    """
    from calibration.camera import Camera

    entry = mapping_at(value, where)
    for item in fields(Camera):
        # Told in words; `calibration` has them as values.
        check = tuple_of(text_at) if item.name == "cautions" else _check_of(item.type)
        if item.name in entry and check is not None:
            _bounded(check(entry[item.name], f"{where}.{item.name}"), item.name, where)
    return entry


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
