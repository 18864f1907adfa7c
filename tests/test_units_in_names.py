"""A bare number names its unit: `standoff_mm`, not `standoff`.

Looks at each parameter and each dataclass field that is annotated as a float, in public functions and classes
of the three packages. Names that end in a unit pass; so do the names of numbers that have none.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parent.parent
PACKAGES = ("calibration", "measure", "references")

# "mm" alone is a name too, of a number of millimetres. Steps are those between the samples of a profile.
UNIT = re.compile(r"(^|_)(px2?|steps|mm2?|inch|deg|rad|s|ms|mb|pt|bits|percent|std|per_[a-z0-9]+)$")
# Numbers of a kind that is a number by definition, whatever stands before.
NUMBER = re.compile(
    r"(^|_)(probability|rate|ratio|factor|confidence|odds|evidence|scale|share|degrees_of_freedom|chi2|weight|score)$"
)
DIMENSIONLESS = {
    # Probabilities, shares, and thresholds on them.
    "gross_error", "chance", "chance_at", "checked", "foreign_at", "likelihood", "looked_at", "name_at",
    "own_parts", "prior", "recast", "content", "coverage", "shrink", "shrink_high", "shrink_low", "most",
    # Shares of a size, ratios of lengths, disagreements of logarithms.
    "across", "apart", "aspect_error", "beyond", "down", "error", "floor", "log_area", "margin", "nearest",
    "digital_zoom", "toward",
    # Log-odds of the finder, and what it weighs.
    "misfit", "polarity_consistency", "runner_up", "rounded", "sharp", "right_angle_consistency",
    # A coefficient of the division model of the lens, on lengths in units of the focal length.
    "division",
    # Grey levels.
    "contrast", "threshold",
    # Counts that need not be whole, and distances in standard deviations.
    "distance", "examples",
}  # fmt: skip
# Functions that hold in any unit, as long as it is the same for all that they are given.
ANY_UNIT = {
    "number_of.least", "log_peak.least_bend", "slope_kernel.sigma",
    "conformance_probability.high", "conformance_probability.low", "conformance_probability.value",
    "examples_to_separate.first_sd", "examples_to_separate.gap", "examples_to_separate.second_sd",
    "is_nonlinear.value", "monte_carlo.value", "rectangle_corners.height", "rectangle_corners.width",
    "round_with_uncertainty.uncertainty", "round_with_uncertainty.value", "tick_text.step", "tick_text.value",
    "within.high", "within.low", "within.number",
}  # fmt: skip
# Numbers without a unit whose names, elsewhere, could be those of lengths.
NUMBERS_HERE = {
    # A ratio of lengths, a share, log-odds, standard uncertainties, a multiple of a blur, grey levels.
    "Ratio.value", "Fields.share.default", "with_corner_radii.value", "with_right_angles.value",
    "Plane.moved.step", "misfit.blur", "SideColours.step", "Doubt.factor_expanded_uncertainty",
}  # fmt: skip


def is_float(annotation: ast.expr | None) -> bool:
    """Tell whether an annotation is a float, perhaps an optional one."""
    return (
        annotation is not None
        and re.fullmatch(r"float( \| None)?", ast.unparse(annotation).strip("'\"")) is not None
    )


def float_parameters(node: ast.FunctionDef | ast.AsyncFunctionDef) -> Iterator[str]:
    """Yield the names of a function's parameters that are floats."""
    given = node.args
    for each in (*given.posonlyargs, *given.args, *given.kwonlyargs):
        if is_float(each.annotation):
            yield each.arg


def floats_of(body: list[ast.stmt], owner: str = "") -> Iterator[str]:
    """Yield "function.parameter" and "Class.field" of each float of public functions and classes."""
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and not node.name.startswith("_"):
            yield from (f"{owner}{node.name}.{name}" for name in float_parameters(node))
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            if any("dataclass" in ast.unparse(each) for each in node.decorator_list):
                for each in node.body:
                    if isinstance(each, ast.AnnAssign) and is_float(each.annotation):
                        yield f"{node.name}.{ast.unparse(each.target)}"
            yield from floats_of(node.body, f"{node.name}.")


def unclear() -> set[str]:
    """Return the floats of which nobody can tell the unit by the name."""
    every = {
        name
        for package in PACKAGES
        for path in (ROOT / package).rglob("*.py")
        for name in floats_of(ast.parse(path.read_text("utf-8")).body)
    }
    return {name for name in every - ANY_UNIT - NUMBERS_HERE if not says_unit(name.rpartition(".")[2])}


def says_unit(name: str) -> bool:
    """Tell whether a name ends in a unit, or is that of a number without one."""
    return bool(UNIT.search(name) or NUMBER.search(name)) or name in DIMENSIONLESS


def test_each_float_names_its_unit() -> None:
    assert sorted(unclear()) == []


def test_the_rule_tells_a_length_without_unit_from_one_with() -> None:
    code = (
        "@dataclass\nclass Arm:\n    reach: float\n    reach_mm: float\n    odds: float\n"
        "    def turn(self, by: 'float | None', by_deg: float = 0.0): ...\n"
        "def _own(length: float): ...\n"
    )
    named = list(floats_of(ast.parse(code).body))
    assert named == ["Arm.reach", "Arm.reach_mm", "Arm.odds", "Arm.turn.by", "Arm.turn.by_deg"]
    assert [name for name in named if not says_unit(name.rpartition(".")[2])] == ["Arm.reach", "Arm.turn.by"]
