"""Cautions of printed targets, coins, rules and known lengths in words, and of references together."""

from calibration.cautions import CautionCode
from measure.wording.terms import Audience, Facts, Wording


def _counted(facts: Facts) -> str:
    (x0, y0), (x1, y1) = facts["first_px"], facts["last_px"]
    return (
        f"{facts['count']} graduations of {facts['spacing_mm']:.4g} mm counted from"
        f" ({x0:.0f}, {y0:.0f}) to ({x1:.0f}, {y1:.0f}) px"
    )


def _by_others(facts: Facts) -> str:
    stretches = {
        "diagonal": "the diagonal of number {number} ({name})",
        "stretch": "the stretch seen of the {name}",
        "width": "the {name}",
    }
    what = stretches[facts["stretch"]].format_map(facts)
    return (
        f"Measured by the others, {what} is {facts['value_mm']:.1f} ± {facts['expanded_mm']:.1f} mm, but it"
        f" should be {facts['stated_mm']:.1f} mm."
    )


def _left_out(facts: Facts) -> str:
    count, kept = facts["count"], facts["kept"]
    what = "Another outline of that kind in the photo is" if count == 1 else f"{count} more such outlines are"
    by = "the one taken" if kept == 1 else f"the {kept} that agree"
    return (
        f"{what} not used: measured by {by}, {'it has' if count == 1 else 'they have'} another size, or"
        " {more} than such cards do."
    ).replace("{more}", "it bows or lies higher" if count == 1 else "they bow or lie higher")


_SIDE = "One coin can't tell which side is nearer"
_ABOVE = "or take the photo from straight above."
_COIN_TILTS = "The rim allows a tilt of {least_deg:.0f}° to {most_deg:.0f}°"
_LENGTH_TILT = (
    "A length alone tells no tilt: the photo is taken to be from straight above within {tilt_std_deg:g}°"
    " (standard uncertainty)"
)
_JOINT_TILTS = (
    "Together the references allow a tilt of {least_deg:.0f}° to {most_deg:.0f}°, the photo taken to"
    " be from about straight above"
)

COMMON: dict[str, Wording] = {
    CautionCode.PRINT_UNCHECKED: (
        "the print's size is unchecked and printers are often 0.5 to 2 % off: measure its check rules"
        " and enter the lengths"
    ),
    CautionCode.COIN_SIDE: f"{_SIDE}: say which, {_ABOVE}",
    CautionCode.COIN_HEIGHTS: (
        "Heights are measured from the coin's upper face, {thickness_mm:g} mm above the table."
    ),
    CautionCode.COIN_TILTS: f"{_COIN_TILTS}; a card tells more.",
    CautionCode.GRADUATIONS: lambda facts: f"{_counted(facts)}: check that against the numbers on the rule.",
    CautionCode.RULE_TILT: (
        "A rule tells no tilt about its own line: the photo is assumed to be from straight above within"
        " {tilt_std_deg:g}° (standard uncertainty)."
    ),
    CautionCode.LENGTH_TILT: f"{_LENGTH_TILT}; measure along it, or lay a card beside it.",
    CautionCode.JOINT_TILTS: f"{_JOINT_TILTS}; a card tells more.",
    CautionCode.CONTRADICTION: (
        "The references in the photo contradict each other: one of them isn't what it is said to be,"
        " isn't flat, or lies at another height."
    ),
    CautionCode.SIZE_BY_OTHERS: _by_others,
    CautionCode.LEFT_OUT: _left_out,
}

VARIANTS: dict[Audience, dict[str, Wording]] = {
    Audience.PAGE: {CautionCode.COIN_SIDE: f"{_SIDE}: press “Mark its nearer side”, {_ABOVE}"},
    Audience.BUYER: {
        CautionCode.PRINT_UNCHECKED: (
            "The print's size is unchecked, and printers are often 0.5 to 2 % off."
        ),
        CautionCode.COIN_SIDE: f"{_SIDE}.",
        CautionCode.COIN_TILTS: f"{_COIN_TILTS}.",
        CautionCode.GRADUATIONS: lambda facts: f"{_counted(facts)}.",
        CautionCode.LENGTH_TILT: f"{_LENGTH_TILT}.",
        CautionCode.JOINT_TILTS: f"{_JOINT_TILTS}.",
    },
}
