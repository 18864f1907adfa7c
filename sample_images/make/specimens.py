"""The four ferries of the demonstration: which photographs show them, and what their owners note."""

from __future__ import annotations


def seen(part: str, feature: str | None, value) -> dict:
    return {"part": part, "feature": feature, "value": value}


def unseen(part: str, state: str = "could not see") -> dict:
    return {"part": part, "feature": None, "value": None, "state": state}


FIRST_NOTES = [
    seen("lifeboat", "screws", 5),
    seen("paddle-wheel", "axle", "through-rod"),
    seen("deck-rail", "posts", 12),
    seen("hull", "stamp", "none"),
]
SPECIMENS = [
    {
        "id": "first",
        "name": "Ferry from the harbour sale",
        "note": "Whole, one owner.",
        "photos": ["first-deck", "first-parts"],
        "observations": FIRST_NOTES,
        "truth": {"release": "first", "foreign_parts": [], "shrink_percent": 0.0},
    },
    {
        "id": "second",
        "name": "Ferry offered by the chandler's widow",
        "note": "Bow plate, lifeboat and wheel came loose in the post; the rest was photographed on arrival.",
        "photos": ["second-parts", "second-rise"],
        "observations": [
            seen("lifeboat", "screws", 4),
            seen("paddle-wheel", "axle", "plug-in"),
            seen("deck-rail", "posts", 12),
            seen("hull", "stamp", "none"),
        ],
        "truth": {"release": "second", "foreign_parts": [], "shrink_percent": 0.0},
    },
    {
        "id": "mixed",
        "name": "Ferry from the attic of the lock house",
        "note": "Two empty slots show beside the bow plate.",
        "photos": ["mixed-bow", "mixed-side", "mixed-house"],
        "observations": FIRST_NOTES,
        "truth": {"release": "first", "foreign_parts": ["bow-plate"], "shrink_percent": 0.0},
    },
    {
        "id": "recast",
        "name": "Loose bow plate, sold as an original",
        "note": "Only the plate was for sale.",
        "photos": ["recast-plate", "recast-close"],
        "observations": [],
        "truth": {"release": "first", "foreign_parts": [], "shrink_percent": 1.8},
    },
]
