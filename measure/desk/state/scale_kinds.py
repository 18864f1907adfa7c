"""What can give a photo's scale, as the page offers it."""

from dataclasses import asdict, dataclass

from calibration.sources import COINS


@dataclass(frozen=True, slots=True)
class ScaleKind:
    """One kind of thing that gives the scale.

    Attributes
    ----------
    key : str
        "card", or a kind of source in the record.
    name : str
        Name in a list.
    thing : str
        As one says "height above the …".
    """

    key: str
    name: str
    thing: str


SCALE_KINDS = (
    ScaleKind("card", "A card or a sheet of paper", "card"),
    ScaleKind("target", "The printed target of this program", "target"),
    ScaleKind("coin", "A coin", "coin"),
    ScaleKind("rule", "A rule or a tape measure", "rule"),
    ScaleKind("length", "A length that I know", "known length"),
    ScaleKind("feature", "A part that is the same in every release", "known part"),
)
SCALE_KINDS_JSON = [asdict(one) for one in SCALE_KINDS]
COINS_JSON = [
    {"key": one.key, "name": one.name, "size": f"{one.diameter_mm:g} mm across"}
    for one in COINS.values()
    if one.round
]
RULES_JSON = [
    {"key": "rule-mm", "name": "millimetres"},
    {"key": "rule-cm", "name": "centimetres only"},
    {"key": "rule-in16", "name": "sixteenths of an inch"},
    {"key": "rule-in8", "name": "eighths of an inch"},
    {"key": "rule-in32", "name": "thirty-seconds of an inch"},
]
