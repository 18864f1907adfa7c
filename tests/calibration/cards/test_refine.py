"""The four sides of an outline, fitted one by one."""

import cv2
import numpy as np
import pytest

from calibration.cards.refine.corners import refine_quad
from calibration.objects import ID1

CARD = np.array([[80.0, 60.0], [420.0, 60.0], [420.0, 274.4], [80.0, 274.4]])
LEAN_PX = 2.0


def above_a_strip(stripe):
    """A card with a pale stripe; the dark strip under its lower edge widens by `LEAN_PX` along it."""
    fine = 4
    picture = np.full((340 * fine, 500 * fine, 3), (120, 170, 220), np.uint8)

    def fill(corners, colour):
        cv2.fillPoly(picture, [np.round((np.array(corners) + 0.5) * fine).astype(np.int32)], colour)

    fill([(80, 270), (420, 270), (420, 276.4 + 0.5 * LEAN_PX), (80, 276.4 - 0.5 * LEAN_PX)], (70, 70, 70))
    fill(CARD, (120, 100, 30))
    left, right = stripe
    fill([(left, 60), (right, 60), (right, 274.4), (left, 274.4)], (235, 250, 252))
    small = cv2.resize(picture, (500, 340), interpolation=cv2.INTER_AREA)
    return cv2.GaussianBlur(small, (0, 0), 0.8)


@pytest.mark.parametrize("stripe", [(90, 180), (100, 200)])
def test_a_side_is_not_laid_slantwise_from_the_face_to_the_foot(stripe):
    refined = refine_quad(above_a_strip(stripe), CARD + [0.0, 0.5], ID1, search_px=5.0)
    assert refined is not None
    lower = refined.sides[2]
    slant_px = abs((lower.end - lower.start)[1]) * 340.0 / np.linalg.norm(lower.end - lower.start)
    # Along the face it is 0, along the foot LEAN_PX: a line from one to the other leans more than either.
    assert slant_px < LEAN_PX + 0.3
    assert lower.residual_px < 0.3
