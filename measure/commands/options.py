"""Options and arguments that several commands take, and how they are parsed."""

import re
from math import isfinite
from typing import TYPE_CHECKING, Any

import click

from references.limits import LONGEST_MM, number_of, shortened

if TYPE_CHECKING:
    from calibration.image import Photo

_PAIR = re.compile(r"^\s*([-+]?[\d.]+(?:[eE][-+]?\d+)?)\s*,\s*([-+]?[\d.]+(?:[eE][-+]?\d+)?)\s*$")


class Number(click.types.FloatParamType):
    """The type of every option that is a number: finite, and from a least to a most.

    Parameters
    ----------
    least, most : float
        The bounds, both allowed.
    unit : str
        For messages.
    """

    name = "number"

    def __init__(self, least: float, most: float, unit: str = "") -> None:
        self.least, self.most = least, most
        self._of = f" of {unit}" if unit else ""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the number, or fail with what was expected.

        Parameters
        ----------
        value : Any
            The option's text, or its default.
        param : click.Parameter or None
            For the message.
        ctx : click.Context or None
            For the message.

        Returns
        -------
        float
            From `least` to `most`.

        Raises
        ------
        click.BadParameter
            It is no such number.
        """
        try:
            number = number_of(float(value), self.least, self.most)
        except (TypeError, ValueError):
            number = None
        if number is None:
            expected = f"a number{self._of} from {self.least:g} to {self.most:g}"
            self.fail(f"'{shortened(str(value))}' is not {expected}", param, ctx)
        return number


HEIGHT_MM = Number(-LONGEST_MM, LONGEST_MM, "mm")
SPREAD_MM = Number(0.0, LONGEST_MM, "mm")
LEAN_MM = Number(0.001, 1000.0, "mm")
CLICK_PX = Number(0.001, 1000.0, "pixels")

photo_argument = click.argument("photo", metavar="PHOTO", type=click.Path())
object_option = click.option(
    "--object",
    "object_key",
    metavar="KIND",
    help="What the reference is: id1 (bank card), a4, letter, trading (2.5 x 3.5 in), trading-metric"
    " (63 x 88 mm), WIDTHxHEIGHT in mm such as 85x55, target (the printed target); with --at also a coin"
    " such as us-quarter or euro-1, a rule (rule-mm, rule-cm, rule-in8, rule-in16, rule-in32), or a known"
    " length such as length=120.5. Without it the target and all known cards are looked for.",
)
corners_option = click.option(
    "--corners",
    metavar='"X,Y X,Y X,Y X,Y"',
    help="The reference's corners by hand, in pixels, in order around it; the first side is the object's"
    " WIDTH. For rounded corners: where the extended sides meet.",
)
corner_std_option = click.option(
    "--corner-std-px",
    metavar="U",
    type=CLICK_PX,
    default=1.0,
    show_default=True,
    help="Standard uncertainty of corners by hand, in pixels; they move to the card's edges where visible.",
)
json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON object; messages go to standard error."
)


def parse_points(text: str, count: int | None, what: str) -> list[tuple[float, float]]:
    """Read ``"x,y x,y …"``.

    Parameters
    ----------
    text : str
        Pairs with white space or semicolons between them.
    count : int or None
        How many are needed; None takes any number.
    what : str
        The option, for the message.

    Returns
    -------
    list of (float, float)
        (x, y) in px.

    Raises
    ------
    click.BadParameter
        Not `count` pairs of finite numbers.
    """
    points = []
    for pair in text.replace(";", " ").split():
        match = _PAIR.match(pair)
        try:
            point = (float(match[1]), float(match[2])) if match else None
        except ValueError:
            point = None
        if point is None or not all(isfinite(value) for value in point):
            raise click.BadParameter(
                f"{what}: '{shortened(pair)}' is not a point; write x,y in pixels, such as 1204.5,388"
            )
        points.append(point)
    if count is not None and len(points) != count:
        raise click.BadParameter(
            f"{what}: {count} point{'s' * (count > 1)} needed as x,y with spaces between, {len(points)} given"
        )
    return points


def check_inside(
    points: list[tuple[float, float]], photo: "Photo", what: str, *, beyond: float = 0.0
) -> None:
    """Refuse points outside the photo.

    Parameters
    ----------
    points : list of (x, y)
        px.
    photo : Photo
        The photo.
    what : str
        What they are, for the message.
    beyond : float
        How far outside they may lie, as a share of the photo's width and height.

    Raises
    ------
    click.BadParameter
        A point is outside.
    """
    for x_px, y_px in points:
        off_x = abs(x_px - (photo.width_px - 1) / 2) / photo.width_px
        off_y = abs(y_px - (photo.height_px - 1) / 2) / photo.height_px
        if max(off_x, off_y) > 0.5 + beyond:
            raise click.BadParameter(
                f"{what}: ({x_px:g}, {y_px:g}) is outside the photo, which is"
                f" {photo.width_px} x {photo.height_px} pixels upright"
            )


def check_name(path: Any, suffix: str, what: str, option: str) -> None:
    """Refuse an output file whose name implies another format.

    Parameters
    ----------
    path : Any
        The name as given; None is no name.
    suffix : str
        The ending, in small letters with its dot: ".json".
    what : str
        What is written, for the message.
    option : str
        The option that names it, for the message.

    Raises
    ------
    click.BadParameter
        The name ends otherwise.
    """
    if path is not None and not str(path).lower().endswith(suffix):
        raise click.BadParameter(
            f"'{path}' is no name for {what}; give one that ends in {suffix}", param_hint=option
        )


def source_options(command: Any) -> Any:
    """Add the options that sources of scale other than a card need.

    Parameters
    ----------
    command : callable
        The command's function.

    Returns
    -------
    callable
        The same, decorated.
    """
    for option in reversed(_SOURCE_OPTIONS):
        command = option(command)
    return command


_SOURCE_OPTIONS = (
    click.option(
        "--also",
        metavar='"KIND X,Y X,Y X,Y X,Y"',
        multiple=True,
        help="A further reference in the photo: a card or sheet with its corners; a coin, a rule or a known"
        " length (length=MM) with its points, as for --at; the printed target without any. All are combined"
        " in one fit, and disagreement is reported. A card at each end of a long part makes its length much"
        " better known.",
    ),
    click.option(
        "--only",
        "only_one",
        is_flag=True,
        help="Measure by the surest card alone. Without it, all cards of its kind that are found on the same"
        " plane are measured by together, and those that don't agree are left out with a word.",
    ),
    click.option(
        "--pick",
        type=click.IntRange(1, 99),
        metavar="N",
        help="Take outline number N of those that may be the reference, as --json lists them under"
        ' "candidates", in place of the surest one.',
    ),
    click.option(
        "--at",
        metavar='"X,Y ..."',
        help="Where the object is: one point in a coin or three on its rim, two far apart on a rule's"
        " graduations, the two ends of a known length.",
    ),
    click.option(
        "--sheet",
        "sheet_name",
        metavar="SHEET",
        help="Release sheet for --object feature=PART/FEATURE: a feature that is the same in all releases"
        " serves as the known length, its two ends given by --at.",
    ),
    click.option(
        "--straight",
        metavar='"X,Y X,Y X,Y ..."',
        multiple=True,
        help="Points along an edge that is straight in the scene, both ends and at least one between; how"
        " the photo bends it tells the distortion. Two long ones near the borders help a wide lens most.",
    ),
    click.option("--nearer", metavar="X,Y", help="A point on the side that is nearer to the camera (coins)."),
    click.option(
        "--printed-mm",
        metavar="ACROSSxDOWN",
        help="Lengths of the printed target's two check rules as you measured them, such as 149.6x199.5.",
    ),
    click.option(
        "--camera",
        "camera_name",
        metavar="NAME",
        help="Use the camera profile of this name; else the one that matches the photo's Exif, if any.",
    ),
)
