"""The finder and the span command on real photographs, which tests/real_photos fetches.

    python -m tests.bench.real_photos

Detection: is the reference found, with the right kind and corners. Negatives: is nothing reported. Metrology:
with the corners given, do the intervals of `cardspan span` hold the known lengths.
"""

import argparse
import json
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from click.testing import CliRunner

from tests.bench import comparing
from tests.real_photos.manifest import having, lacking

Row = dict[str, Any]


def key_of(reference: Row) -> str:
    """What a user would give as --object."""
    if reference["kind"] in {"id1", "a4", "letter", "trading"}:
        return str(reference["kind"])
    return f"{reference['width_mm']:g}x{reference['height_mm']:g}"


def detect(entry: Row, *, named: bool) -> Row:
    """Look for the reference of one photo; a plain dict."""
    from calibration import locate, read_photo

    photo = read_photo(entry["path"])
    key = key_of(entry["reference"]) if named and entry["reference"]["kind"] != "none" else None
    located = locate(photo, object_key=key)
    found = located.found
    out = {
        "id": entry["id"],
        "answered": located.plane is not None,
        "cautions": [one.code for one in located.cautions],
    }
    out |= {
        "reason": located.reason and located.reason.code,
        "confidence": None if found is None else float(found.confidence),
    }
    if found is None or "negative" in entry["use"]:
        return out | {"kind": None if found is None else found.object.key}
    truth = entry["reference"]
    error = comparing.cyclic_error_px(found.corners_px, truth["corners_px"])
    sides = np.linalg.norm(np.diff(np.array(truth["corners_px"] + truth["corners_px"][:1]), axis=0), axis=1)
    known = {(truth["width_mm"], truth["height_mm"]), (truth["height_mm"], truth["width_mm"])}
    right = (found.object.width_mm, found.object.height_mm) in known or found.object.key == truth["kind"]
    allowed = max(3 * entry["corner_uncertainty_px"], 0.01 * sides.max())
    return out | {
        "kind": found.object.key,
        "kind_right": bool(right),
        "corner_error_px": error,
        "corner_error_of_width": error / float(sides.max()),
        "allowed_px": float(allowed),
        "found": bool(located.plane is not None and right and error <= allowed),
    }


def measure(entry: Row, *, click_std_px: float = 1.0, snap: bool = False) -> list[Row]:
    """Run `cardspan span` on one photo with its corners given; one dict a span."""
    from measure.cli import cli

    keys = {"standoff_mm": 0.0, "standoff_std_mm": 0.0}
    spans = {"spans": [{"name": s["name"], "p_px": s["p_px"]} | keys for s in entry["spans"]]}
    corners = " ".join(f"{x},{y}" for x, y in entry["reference"]["corners_px"])
    with tempfile.TemporaryDirectory() as folder:
        wanted = Path(folder) / "spans.json"
        wanted.write_text(json.dumps(spans))
        command = ["span", str(entry["path"]), "--spans", str(wanted), "--corners", corners]
        command += ["--object", key_of(entry["reference"]), "--click-std-px", str(click_std_px), "--json"]
        result = CliRunner().invoke(cli, command + ([] if snap else ["--no-snap"]))
    if result.exit_code:
        return [{"photo": entry["id"], "failed": result.output[-300:] or repr(result.exception)}]
    answer = json.loads(result.stdout)
    return [
        {
            "photo": entry["id"],
            "span": span["name"],
            "length_mm": span["length_mm"],
            "error_mm": span["length_mm"] - known["length_mm"],
            "error_percent": 100 * (span["length_mm"] / known["length_mm"] - 1),
            "u95_percent": 100 * span["expanded_uncertainty_mm"] / known["length_mm"],
            "error_over_u95": (span["length_mm"] - known["length_mm"]) / span["expanded_uncertainty_mm"],
        }
        for span, known in zip(answer["spans"], entry["spans"], strict=True)
    ]


def _print_detection(named: bool) -> list[Row]:
    rows = [detect(entry, named=named) for entry in having("detection")]
    hits = sum(r.get("found", False) for r in rows)
    print(f"== detection, kind {'named' if named else 'not named'}: {hits} of {len(rows)}")
    for row in rows:
        words = f"{row['id']:28s} {row['kind']!s:15s} confidence {row['confidence']!s:.5s}"
        error = row.get("corner_error_px", float("nan"))
        words += f" answered {row['answered']!s:5s} corner error {error:7.2f} px"
        print(f"  {words}  {row['cautions'] or row['reason']}")
    return rows


def _print_metrology(click_std_px: float, snap: bool) -> list[Row]:
    answers = [measure(entry, click_std_px=click_std_px, snap=snap) for entry in having("metrology")]
    rows = [row for answer in answers for row in answer]
    print(f"== metrology, click {click_std_px:g} px, snap {snap}")
    for photo in dict.fromkeys(row["photo"] for row in rows):
        mine = [row for row in rows if row["photo"] == photo and "failed" not in row]
        if not mine:
            print(f"  {photo:24s} FAILED {[row['failed'] for row in rows if row['photo'] == photo]}")
            continue
        ratio = np.abs([row["error_over_u95"] for row in mine])
        error = np.abs([row["error_percent"] for row in mine])
        width = [row["u95_percent"] for row in mine]
        words = f"held {np.sum(ratio <= 1):3d} of {len(mine):3d}   |error|/U median {np.median(ratio):5.2f}"
        words += (
            f" max {ratio.max():5.2f}   |error| median {np.median(error):6.3f} % max {error.max():6.2f} %"
        )
        print(f"  {photo:24s} {words}   U median {np.median(width):6.2f} %")
    ratio = np.abs([row["error_over_u95"] for row in rows if "failed" not in row])
    if len(ratio):
        held = 100 * np.mean(ratio <= 1)
        print(f"  all: held {held:.1f} % of {len(ratio)}, worst |error|/U {ratio.max():.2f}")
    return rows


def main() -> None:
    """Print all three parts and write a report."""
    parser = argparse.ArgumentParser(description="Benchmark on real photographs.")
    parser.add_argument("--out", help="write the rows as JSON here")
    out = parser.parse_args().out
    if why := lacking("detection", "negative", "metrology"):
        raise SystemExit(why)
    report = {"detection": _print_detection(named=False), "detection_named": _print_detection(named=True)}
    report["negatives"] = [detect(entry, named=False) for entry in having("negative")]
    alarms = sum(r["answered"] for r in report["negatives"])
    print(f"== negatives: false alarms {alarms} of {len(report['negatives'])}")
    for row in report["negatives"]:
        print(
            f"  {row['id']:28s} answered {row['answered']} kind {row['kind']} confidence {row['confidence']}"
        )
    for std, snap in ((1.0, False), (0.3, False), (1.0, True)):
        report[f"metrology_{std:g}_{'snap' if snap else 'as_given'}"] = _print_metrology(std, snap)
    if out:
        Path(out).write_text(json.dumps(report, indent=1))


if __name__ == "__main__":
    main()
