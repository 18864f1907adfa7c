"""Which side of a card is ambiguous, and how that affects lengths."""

import numpy as np
from numpy.typing import NDArray

from calibration.cards.refine.face_edge import FaceOutline
from calibration.cautions import Caution, CautionCode
from calibration.objects import ReferenceObject

# Share of the card's dimension by which a side must be uncertain to be worth a caution.
_OPEN_SHARE = 0.004
_NAMES = ("top", "right", "bottom", "left")


def side_cautions(face: FaceOutline, kind: ReferenceObject) -> tuple[Caution, ...]:
    """Name the sides beside which several edges may be the card's own.

    Parameters
    ----------
    face : FaceOutline
        As `fit_face_edges` returns it.
    kind : ReferenceObject
        What it is taken for; its first side is the outline's.

    Returns
    -------
    tuple of Caution
        With each side as it faces in the picture: top, right, bottom or left.
    """
    corners = face.refined.corners_px
    cautions, unexplained = [], []
    for index, side in enumerate(face.sides):
        name = _NAMES[_facing(corners, index)]
        if not side.explained:
            unexplained.append(name)
            continue
        length_mm, across_mm = kind.width_mm, kind.height_mm
        if index % 2:
            length_mm, across_mm = across_mm, length_mm
        length_px = float(np.linalg.norm(corners[(index + 1) % 4] - corners[index]))
        open_mm = (side.range_px[1] - side.range_px[0]) * length_mm / length_px
        share = 0.5 * open_mm / across_mm
        if share > _OPEN_SHARE:
            cautions.append(Caution.of(CautionCode.OPEN_SIDE, side=name, apart_mm=open_mm, off_share=share))
    if unexplained:
        cautions.append(Caution.of(CautionCode.CROWDED_SIDES, sides=tuple(unexplained)))
    return tuple(cautions)


def _facing(corners: NDArray[np.float64], index: int) -> int:
    """Tell which way a side of an outline, clockwise in the picture, faces: 0 up, 1 right, 2 down, 3 left."""
    x, y = corners[(index + 1) % 4] - corners[index]
    outward_x, outward_y = y, -x
    if abs(outward_x) > abs(outward_y):
        return 1 if outward_x > 0 else 3
    return 2 if outward_y > 0 else 0
