"""Corners of calibration boards in a photo: the printed target, or a plain chessboard."""

from dataclasses import dataclass

import cv2
import numpy as np

from calibration.camera import Array
from calibration.cautions import NoAnswer, NoAnswerCode
from calibration.image import Photo
from calibration.printed_target import TARGET, TargetLayout, find_target


@dataclass(frozen=True, slots=True, eq=False)
class BoardView:
    """One board in one photo.

    Attributes
    ----------
    name : str
        The photo's.
    points_mm : (N, 2) array
        Corners on the board. A lens depends only on their ratios, so those of a chessboard of unknown size
        are in squares.
    points_px : (N, 2) array
        The same in the photo, (x, y).
    """

    name: str
    points_mm: Array
    points_px: Array


def target_view(photo: Photo, layout: TargetLayout = TARGET) -> BoardView | NoAnswer:
    """Return the printed target's corners, or why there are none.

    Parameters
    ----------
    photo : Photo
        The photo; parts of the target may be hidden.
    layout : TargetLayout
        The target as printed.

    Returns
    -------
    BoardView or NoAnswer
        The corners that are seen, or the reason.
    """
    found = find_target(photo, layout=layout)
    if isinstance(found, NoAnswer):
        return found
    return BoardView(photo.name, found.corners_mm, found.corners_px)


def chessboard_view(photo: Photo, columns: int, rows: int) -> BoardView | NoAnswer:
    """Return the inner corners of a chessboard, or why there are none.

    Parameters
    ----------
    photo : Photo
        The photo; the whole board must be in it.
    columns, rows : int
        Inner corners across and down.

    Returns
    -------
    BoardView or NoAnswer
        All inner corners, row after row, or the reason.

    Notes
    -----
    The sector-based detector of OpenCV finds the corners; they are refined in a window of a third of the
    smallest square: a fixed one of 11 px reaches into neighbouring squares on small boards and doubles the
    residual (measured on OpenCV's own sample photos).

    References
    ----------
    Duda and Frese, Accurate detection and localization of checkerboard corners for calibration, BMVC 2018.
    """
    grey = cv2.cvtColor(photo.pixels_bgr, cv2.COLOR_BGR2GRAY)
    found, corners = cv2.findChessboardCornersSB(grey, (columns, rows), flags=cv2.CALIB_CB_NORMALIZE_IMAGE)
    if not found:
        return NoAnswer.of(NoAnswerCode.NO_CHESSBOARD, photo=photo.name, columns=columns, rows=rows)
    points = np.asarray(corners, np.float32).reshape(-1, 2)
    grid = points.reshape(rows, columns, 2)
    sides = [np.linalg.norm(np.diff(grid, axis=axis), axis=2).min() for axis in (0, 1)]
    window = int(np.clip(min(sides) / 3.0, 2, 15))
    criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.001)
    refined = cv2.cornerSubPix(grey, points.reshape(-1, 1, 2).copy(), (window, window), (-1, -1), criteria)
    x, y = np.meshgrid(np.arange(columns), np.arange(rows))
    on_board = np.column_stack([x.ravel(), y.ravel()]).astype(float)
    return BoardView(photo.name, on_board, np.asarray(refined, np.float64).reshape(-1, 2))
