"""Boils the records of a finder benchmark down to the figures that are promised."""

from itertools import pairwise
from typing import Any

import numpy as np

from calibration.cautions import CautionCode

Row = dict[str, Any]

BINS = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.95, 0.98, 0.995, 1.0001)


# Cautions about something else than whether the outline, its kind and its scale are right.
ELSEWHERE = {
    CautionCode.VAGUE_FOCAL,
    CautionCode.VAGUE_LENS,
    CautionCode.DIGITAL_ZOOM,
    CautionCode.CROPPED,
}


def warned(record: Row) -> bool:
    """Whether a caution bears on the outline, the kind or the scale."""
    return any(code not in ELSEWHERE for code in record["cautions"])


def share_interval(hits: int, total: int) -> Row | None:
    """Share in per cent with its 95 % Wilson interval."""
    if total == 0:
        return None
    z, p = 1.96, hits / total
    middle = (p + z * z / (2 * total)) / (1 + z * z / total)
    half = z * np.sqrt(p * (1 - p) / total + z * z / (4 * total**2)) / (1 + z * z / total)
    return {
        "percent": 100 * p, "hits": int(hits), "of": int(total),
        "low": 100 * max(middle - half, 0), "high": 100 * min(middle + half, 1),
    }  # fmt: skip


def summarise(records: list[Row]) -> Row:
    """Figures of one level."""
    n = len(records)
    answered = [r for r in records if r["answered"]]
    accepted = [r for r in answered if r.get("accepted")]
    silent = [r for r in accepted if not warned(r)]
    out = {
        "photos": n,
        "crashes": sum("crash" in r for r in records),
        "answered": share_interval(len(answered), n),
        "accepted": share_interval(len(accepted), n),
        **_times([r for r in records if "locate_s" in r]),
    }
    if records and records[0]["level"] == "none":
        out["false_alarms_accepted"] = share_interval(len(accepted), n)
        out["false_alarms_silent"] = share_interval(len(silent), n)
        return out
    found = [r for r in records if r["found"]]
    sharp = [r["corner_error_px"] for r in found if r["facts"]["sharp"]]
    lines = [r["line_corner_error_px"] for r in found if r["facts"]["sharp"]]
    return out | {
        "found": share_interval(len(found), n),
        "outline_right_accepted_or_not": share_interval(
            sum(bool(r.get("outline_right")) for r in records), n
        ),
        "found_and_accepted": share_interval(sum(bool(r.get("accepted")) for r in found), n),
        "found_accepted_without_caution": share_interval(
            sum(not warned(r) for r in found if r["accepted"]), n
        ),
        "wrong_accepted": share_interval(_wrong(accepted), n),
        "wrong_accepted_without_caution": share_interval(_wrong(silent), n),
        "wrong_beyond_stated_without_caution": share_interval(sum(_beyond(r) for r in silent), n),
        "wrong_seeds": [r["seed"] for r in accepted if _is_wrong(r)],
        "missed_seeds": [r["seed"] for r in records if not r["found"]],
        "corner_error_px_sharp": _spread(sharp),
        "line_corner_error_px_sharp": _spread(lines),
        "corner_error_px_all": _spread([r["corner_error_px"] for r in found]),
        "reliability": _reliability(records),
    }


def _times(records: list[Row]) -> dict[str, float | None]:
    """Seconds of processor time and by the clock, and how often decoding fits into the search."""
    out: dict[str, float | None] = {}
    for name, unit in (("cpu", "s"), ("wall", "wall_s")):
        decode, locate = ([r[f"{what}_{unit}"] for r in records] for what in ("decode", "locate"))
        decoding, locating = _median(decode), _median(locate)
        out |= {
            f"decode_{name}_s_median": decoding,
            f"locate_{name}_s_median": locating,
            f"locate_{name}_s_p95": _percentile(locate, 95),
            f"locate_over_decode_{name}": locating / decoding if locating is not None and decoding else None,
        }
    return out


def _is_wrong(record: Row) -> bool:
    return record.get("wrong") or not record.get("kind_right", True)


def _beyond(record: Row) -> bool:
    return record.get("beyond_stated") or not record.get("kind_right", True)


def _wrong(records: list[Row]) -> int:
    return sum(bool(_is_wrong(r)) for r in records)


def _median(values: list[float]) -> float | None:
    return float(np.median(values)) if values else None


def _percentile(values: list[float], q: float) -> float | None:
    return float(np.percentile(values, q)) if values else None


def _spread(values: list[float]) -> Row:
    return {"n": len(values), "median": _median(values), "p90": _percentile(values, 90)}


def _reliability(records: list[Row]) -> list[Row]:
    rows = []
    judged = [r for r in records if "confidence" in r and "right" in r]
    for low, high in pairwise(BINS):
        inside = [r for r in judged if low <= r["confidence"] < high]
        if inside:
            mean = float(np.mean([r["confidence"] for r in inside]))
            right = float(np.mean([r["right"] for r in inside]))
            rows.append({"from": low, "to": min(high, 1.0), "n": len(inside), "stated": mean, "right": right})
    return rows


def table(level: str, summary: Row) -> str:
    """The summary as text."""
    lines = [f"== {level}: {summary['photos']} photos, {summary['crashes']} crashes"]
    for key, value in summary.items():
        if isinstance(value, dict) and "percent" in value:
            lines.append(f"  {key:36s} {value['percent']:6.1f} %  ({value['low']:.1f} - {value['high']:.1f})")
        elif isinstance(value, dict):
            lines.append(
                f"  {key:36s} {_text(value['median'])} / p90 {_text(value['p90'])}  (n = {value['n']})"
            )
        elif isinstance(value, float):
            lines.append(f"  {key:36s} {value:.3f}")
        elif isinstance(value, list) and key.endswith("seeds"):
            lines.append(f"  {key:36s} {value[:40]}")
    for row in summary.get("reliability", []):
        span = f"{row['from']:.3f}-{row['to']:.3f}"
        lines.append(
            f"  confidence {span}: n {row['n']:4d}, stated {row['stated']:.3f}, right {row['right']:.3f}"
        )
    return "\n".join(lines)


def _text(value: float | None) -> str:
    return "-" if value is None else f"{value:.3f}"
