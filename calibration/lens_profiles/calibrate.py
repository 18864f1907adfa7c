r"""Learning a camera profile from photos of a board, or saying which photos are missing.

A corner at (X, Y, 0) of a board with rotation R and translation t lies at

.. math::
    x &= P_1 / P_3, \quad y = P_2 / P_3, \quad P = R\,(X, Y, 0)^T + t, \quad r^2 = x^2 + y^2, \\
    q &= (1 + k_1 r^2 + k_2 r^4 + k_3 r^6) / (1 + k_4 r^2 + k_5 r^4 + k_6 r^6), \\
    u &= c_x + f\,(q x + 2 p_1 x y + p_2 (r^2 + 2 x^2)), \\
    v &= c_y + f\,(q y + p_1 (r^2 + 2 y^2) + 2 p_2 x y)

in the photo, and the fit makes the sum of squared distances from the corners found least over

============== ====== ==========================================================================
parameter      number meaning
============== ====== ==========================================================================
f              1      focal length, px, of both axes: pixels are square
cx, cy         2      principal point, px
k1, k2, k3     1 to 3 radial distortion; k3 = 0, or k2 = k3 = 0, in the poorer models
p1, p2         0 or 2 tangential distortion
k4, k5, k6     0 or 3 denominator of the rational model
R              3      rotation vector, rad, for each photo
t              3      translation, in units of the board's coordinates, for each photo
============== ====== ==========================================================================
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from calibration.camera import Array
from calibration.errors import ProfileError
from calibration.lens_profiles.boards import BoardView
from calibration.lens_profiles.profile import Profile, ViewResidual

MIN_VIEWS = 8
_LEAST_CORNERS = 12  # of one photo
# Corners of a good print in sharp photos: residual below this (common practice, no source).
MOST_RMS_PX = 1.0
# A board is tilted enough if the scale changes by this (log) from one side of it to the other.
_LEAN = 0.08
# Share of the half diagonal beyond which board corners must have been seen, in each quarter of the frame: a
# polynomial learnt only from the middle diverges outside it.
_REACH = 0.6
# To choose a model, about so many corners of a view are enough; each of so many parts is predicted once.
_ENOUGH_POINTS, _FOLDS = 60, 4
_MODELS: tuple[tuple[str, int], ...] = (
    ("k1", cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K2 | cv2.CALIB_FIX_K3),
    ("k1 k2", cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K3),
    ("k1 k2 p1 p2", cv2.CALIB_FIX_K3),
    ("k1 k2 p1 p2 k3", 0),
    ("rational, 8 coefficients", cv2.CALIB_RATIONAL_MODEL),
)


def learn_profile(views: Sequence[BoardView], width_px: int, height_px: int) -> Profile:
    """Calibrate a camera from photos of a board.

    Parameters
    ----------
    views : sequence of BoardView
        One for each photo, all of one camera, lens, zoom and size; corners where the sensor had them, as
        `as_stored` returns them.
    width_px, height_px : int
        Size of the photos as stored.

    Returns
    -------
    Profile
        For photos as stored, with standard uncertainties and the residual of each photo.

    Raises
    ------
    ProfileError
        The set can't support a profile; the message says which photos to add.

    Notes
    -----
    Zhang's method as OpenCV has it, with square pixels. How many distortion coefficients the photos support
    is decided by views that the fit has not seen: a richer model must predict them by 2 % better. Views with
    three times the usual residual are left out and named.

    References
    ----------
    Zhang, A flexible new technique for camera calibration, IEEE TPAMI 22(11), 2000.
    """
    size = (width_px, height_px)
    views = [view for view in views if len(view.points_px) >= _LEAST_CORNERS]
    wanting = shortcomings(views, width_px, height_px)
    if wanting:
        raise ProfileError("these photos are no basis for a profile: " + "; ".join(wanting))
    used, left_out = list(views), []
    model = _best_model([_thinned(view) for view in used], size)
    fit = calibrate(used, size, _MODELS[model][1])
    limit = 3.0 * float(np.median(fit.per_view_px))
    if float(fit.per_view_px.max()) > max(limit, 0.3):
        left_out = [view for view, rms in zip(used, fit.per_view_px, strict=True) if rms > max(limit, 0.3)]
        used = [view for view in used if view not in left_out]
        wanting = shortcomings(used, width_px, height_px)
        if wanting:
            names = ", ".join(view.name for view in left_out)
            raise ProfileError(f"{names} don't fit the others, and without them: " + "; ".join(wanting))
        fit = calibrate(used, size, _MODELS[model][1])
    held_out_px = _held_out([_thinned(view) for view in used], size, _MODELS[model][1])
    _refuse(fit, held_out_px)
    return _profile(fit, held_out_px, (used, left_out), size, _MODELS[model][0])


def shortcomings(views: Sequence[BoardView], width_px: int, height_px: int) -> list[str]:
    """Return what a set of photos lacks, as advice on what to add; empty if it suffices."""
    lacks = []
    if len(views) < MIN_VIEWS:
        lacks.append(
            f"{len(views)} photos with a board, at least {MIN_VIEWS} are needed: add {MIN_VIEWS - len(views)}"
        )
    if not views:
        return lacks
    half = np.array([width_px - 1, height_px - 1]) / 2.0
    places = (np.concatenate([view.points_px for view in views]) - half) / half
    for name, corner in _CORNERS.items():
        there = places[np.all(places * corner > 0.0, axis=1)]
        reach = np.linalg.norm(there * half, axis=1).max(initial=0.0) / float(np.linalg.norm(half))
        if reach < _REACH:
            lacks.append(f"add photos with the board in the {name} corner of the frame")
    leans = [_lean(view) for view in views]
    if sum(lean > _LEAN for lean in leans) < 3:
        lacks.append("add at least three photos with the board tilted by 20° to 40°, in different directions")
    return lacks


_CORNERS = {
    "upper left": (-1.0, -1.0),
    "upper right": (1.0, -1.0),
    "lower left": (-1.0, 1.0),
    "lower right": (1.0, 1.0),
}


def _lean(view: BoardView) -> float:
    """How much the scale changes over the board: a measure of tilt that needs no camera."""
    H, _ = cv2.findHomography(view.points_mm, view.points_px)
    if H is None:
        return 0.0
    low, high = view.points_mm.min(axis=0), view.points_mm.max(axis=0)
    outline = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    depth = np.column_stack([outline, np.ones(4)]) @ H[2]
    return float(np.log(depth.max() / depth.min())) if depth.min() > 0 else 0.0


def _thinned(view: BoardView) -> BoardView:
    step = max(1, len(view.points_px) // _ENOUGH_POINTS)
    # OpenCV takes no strided arrays.
    return BoardView(view.name, view.points_mm[::step].copy(), view.points_px[::step].copy())


@dataclass(frozen=True, slots=True, eq=False)
class Calibration:
    """A lens fitted to views of a board.

    Attributes
    ----------
    rms_px : float
        Root mean square residual.
    matrix, distortion : (3, 3) and (D,) arrays
        As OpenCV has them.
    std : (S,) array
        Standard uncertainties of fx, fy, cx, cy and the coefficients.
    per_view_px : (V,) array
        Residual of each view.
    turns : tuple of (3,) arrays
        Rotation vector of each board.
    """

    rms_px: float
    matrix: Array
    distortion: Array
    std: Array
    per_view_px: Array
    turns: tuple[Array, ...]


def calibrate(views: Sequence[BoardView], size: tuple[int, int], flags: int) -> Calibration:
    """Fit one lens and a pose for each view, by OpenCV, with square pixels.

    Parameters
    ----------
    views : sequence of BoardView
        The boards.
    size : tuple of int
        Width and height in px.
    flags : int
        OpenCV's, for the distortion model.
    """
    solid = [
        np.column_stack([view.points_mm, np.zeros(len(view.points_mm))]).astype(np.float32) for view in views
    ]
    seen = [view.points_px.astype(np.float32) for view in views]
    guess = cv2.initCameraMatrix2D(solid, seen, size, 1.0)
    guess[0, 2], guess[1, 2] = (size[0] - 1) / 2.0, (size[1] - 1) / 2.0
    flags |= cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_USE_INTRINSIC_GUESS
    rms, matrix, distortion, turns, _, std, _, per_view = cv2.calibrateCameraExtended(
        solid, seen, size, guess, np.zeros(8 if flags & cv2.CALIB_RATIONAL_MODEL else 5), flags=flags
    )
    return Calibration(
        float(rms),
        np.asarray(matrix, np.float64),
        np.asarray(distortion, np.float64).ravel(),
        np.asarray(std, np.float64).ravel(),
        np.asarray(per_view, np.float64).ravel(),
        tuple(np.asarray(turn, np.float64).ravel() for turn in turns),
    )


def _best_model(views: Sequence[BoardView], size: tuple[int, int]) -> int:
    scores = [_held_out(views, size, flags) for _, flags in _MODELS]
    best = 0
    for index, score in enumerate(scores):
        if score < 0.98 * scores[best]:
            best = index
    return best


def _held_out(views: Sequence[BoardView], size: tuple[int, int], flags: int) -> float:
    """Root mean square residual of views predicted by fits without them; their poses are their own."""
    squares, count = 0.0, 0
    for fold in range(_FOLDS):
        kept = [view for index, view in enumerate(views) if index % _FOLDS != fold]
        try:
            fit = calibrate(kept, size, flags)
        except cv2.error:
            return float("inf")
        for view in views[fold::_FOLDS]:
            solid = np.column_stack([view.points_mm, np.zeros(len(view.points_mm))])
            found, rotation, translation = cv2.solvePnP(solid, view.points_px, fit.matrix, fit.distortion)
            if not found:
                return float("inf")
            again, _ = cv2.projectPoints(solid, rotation, translation, fit.matrix, fit.distortion)
            squares += float(np.sum((np.asarray(again).reshape(-1, 2) - view.points_px) ** 2))
            count += len(view.points_px)
    return float(np.sqrt(squares / max(count, 1)))


def _refuse(fit: Calibration, held_out_px: float) -> None:
    if fit.rms_px > MOST_RMS_PX:
        raise ProfileError(
            f"the corners fit no lens better than {fit.rms_px:.2f} px, at most {MOST_RMS_PX:g} px is usual:"
            " is the board flat, the focus fixed, every photo of the same camera and zoom?"
        )
    if held_out_px > 3.0 * fit.rms_px + 0.2:
        raise ProfileError(
            f"each photo is predicted by the others only to {held_out_px:.2f} px: add photos, sharper ones"
            " and from more directions"
        )
    focal = float(fit.matrix[0, 0])
    if fit.std[0] > 0.01 * focal:
        raise ProfileError(
            f"the focal length is known only to {100 * fit.std[0] / focal:.1f} %: add photos with the board"
            " tilted by 20° to 40°"
        )


def _profile(
    fit: Calibration,
    held_out_px: float,
    views: tuple[list[BoardView], list[BoardView]],
    size: tuple[int, int],
    model: str,
) -> Profile:
    focal = float(fit.matrix[0, 0])
    edge = 0.4 * float(np.hypot(*size)) / focal
    residuals = [
        ViewResidual(view.name, float(rms), _tilt_deg(turn))
        for view, rms, turn in zip(views[0], fit.per_view_px, fit.turns, strict=True)
    ]
    residuals += [ViewResidual(view.name, float("nan"), float("nan"), used=False) for view in views[1]]
    count = 8 if len(fit.distortion) >= 8 and np.any(fit.distortion[5:8]) else 5
    return Profile(
        size[0],
        size[1],
        focal,
        float(fit.std[0]),
        (float(fit.matrix[0, 2]), float(fit.matrix[1, 2])),
        float(max(np.hypot(fit.std[2], fit.std[3]) / 2.0**0.5, 0.0005 * max(size))),
        tuple(float(value) for value in fit.distortion[:count]),
        float(max(held_out_px / focal / edge**3, 0.0005)),
        model,
        fit.rms_px,
        held_out_px,
        tuple(residuals),
    )


def _tilt_deg(turn: Array) -> float:
    return float(np.degrees(np.arccos(min(1.0, abs(float(cv2.Rodrigues(turn)[0][2, 2]))))))
