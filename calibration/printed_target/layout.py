"""The printed target: where its corners and markers lie on the sheet."""

from dataclasses import dataclass
from functools import lru_cache
from math import isfinite

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.errors import ObjectError

# How far an unchecked print may be off: 0.5 to 2 % is common practice, no source; ±1 % as rectangular limits.
UNCHECKED_SCALE_STD = 0.01 / 3.0**0.5
# A length read off a good rule: half a millimetre graduation, as rectangular limits.
RULE_READING_STD_MM = 0.25 / 3.0**0.5


@dataclass(frozen=True, slots=True)
class TargetLayout:
    """A chessboard whose white squares hold ArUco markers, so that each corner has a name.

    Attributes
    ----------
    columns, rows : int
        Squares across and down; their inner corners are what is measured.
    square_mm, marker_mm : float
        Side of a square, and of the marker with its black border.
    dictionary : str
        Name of OpenCV's predefined marker dictionary.
    check_across_mm, check_down_mm : float
        Lengths of the two check rules printed beside the board.
    """

    columns: int = 15
    rows: int = 19
    square_mm: float = 12.0
    marker_mm: float = 9.0
    dictionary: str = "DICT_4X4_250"
    check_across_mm: float = 150.0
    check_down_mm: float = 200.0

    @property
    def width_mm(self) -> float:
        """Width of the board of squares as drawn."""
        return self.columns * self.square_mm

    @property
    def height_mm(self) -> float:
        """Height of the board of squares as drawn."""
        return self.rows * self.square_mm

    @property
    def corner_count(self) -> int:
        """Number of inner corners."""
        return (self.columns - 1) * (self.rows - 1)

    def board(self) -> cv2.aruco.CharucoBoard:
        """Return OpenCV's description of the same board."""
        return _board(self)

    def corners_mm(self) -> NDArray[np.float64]:
        """Return the inner corners, (N, 2) in mm as drawn: X across, Y down from the board's first corner."""
        points = np.asarray(_board(self).getChessboardCorners(), np.float64)
        return points.reshape(-1, 3)[:, :2].copy()

    def marker_corners_mm(self) -> NDArray[np.float64]:
        """Return the markers' outer corners, (M, 4, 2) in mm as drawn, row m for marker m."""
        corners = np.asarray(_board(self).getObjPoints(), np.float64)
        return corners.reshape(-1, 4, 3)[:, :, :2].copy()


@lru_cache(maxsize=4)
def _board(layout: TargetLayout) -> cv2.aruco.CharucoBoard:
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, layout.dictionary))
    size = (layout.columns, layout.rows)
    return cv2.aruco.CharucoBoard(size, layout.square_mm, layout.marker_mm, dictionary)


TARGET = TargetLayout()


@dataclass(frozen=True, slots=True)
class PrintScale:
    """How large the printer made the target, relative to the drawing.

    Attributes
    ----------
    across, down : float
        Printed length over drawn length along each direction of the sheet; 1 for a faithful print.
    across_std, down_std : float
        Standard uncertainties of the two.
    checked : bool
        Whether the user measured the check rules.
    """

    across: float = 1.0
    down: float = 1.0
    across_std: float = UNCHECKED_SCALE_STD
    down_std: float = UNCHECKED_SCALE_STD
    checked: bool = False


def print_scale(
    across_mm: float,
    down_mm: float | None = None,
    *,
    layout: TargetLayout = TARGET,
    reading_std_mm: float = RULE_READING_STD_MM,
) -> PrintScale:
    """Return the scale of a print from what the user measured on its check rules.

    Parameters
    ----------
    across_mm : float
        Measured length of the rule across the sheet.
    down_mm : float, optional
        Measured length of the rule down the sheet. Without it the same scale is taken, and its uncertainty
        widened by 0.2 %, by which paper feed and print head may differ (common practice, no source).
    layout : TargetLayout
        The drawing that was printed.
    reading_std_mm : float
        Standard uncertainty of either reading.

    Returns
    -------
    PrintScale
        Printed over drawn length in both directions, with standard uncertainties.

    Raises
    ------
    ObjectError
        A reading is more than 10 % away from the drawing: scaled to fit the page, or the wrong rule read.
    """
    across = _ratio(across_mm, layout.check_across_mm, "across")
    across_std = reading_std_mm / layout.check_across_mm
    if down_mm is None:
        return PrintScale(across, across, across_std, float(np.hypot(across_std, 0.002)), checked=True)
    down = _ratio(down_mm, layout.check_down_mm, "down")
    return PrintScale(across, down, across_std, reading_std_mm / layout.check_down_mm, checked=True)


def _ratio(measured_mm: float, drawn_mm: float, direction: str) -> float:
    if not isfinite(measured_mm) or not 0.9 <= measured_mm / drawn_mm <= 1.1:
        raise ObjectError(
            f"printed target: the check rule {direction} is drawn {drawn_mm:g} mm long; {measured_mm:g} mm"
            " was entered; expected within 10 % of it: print again at 100 %, or measure the whole rule"
        )
    return measured_mm / drawn_mm
