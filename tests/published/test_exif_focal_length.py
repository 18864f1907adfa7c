"""Exif FocalLengthIn35mmFilm by the diagonal (CIPA DCG-001 as reported by an encyclopaedia copy)."""

import pytest

from calibration.camera.prior import FULL_FRAME_DIAGONAL_MM, focal_from_equivalent
from tests.published.printed import agrees

CASES = [
    (26, 4032, 3024, "3028.66"),
    (24, 4000, 3000, "2773.50"),
    (28, 4608, 3456, "3727.59"),
    (50, 6000, 4000, "8333.33"),
    # A 16:9 crop of a 4:3 frame keeps the frame's diagonal.
    (26, 4032, 2268, "3028.66"),
]


def test_the_diagonal_of_a_36_by_24_frame() -> None:
    assert agrees(FULL_FRAME_DIAGONAL_MM, "43.27")  # as printed on camera reference pages
    assert agrees(FULL_FRAME_DIAGONAL_MM, "43.26662")


@pytest.mark.parametrize(("equivalent_mm", "width_px", "height_px", "printed_px"), CASES)
def test_the_focal_length_in_pixels(
    equivalent_mm: int, width_px: int, height_px: int, printed_px: str
) -> None:
    assert agrees(focal_from_equivalent(equivalent_mm, width_px, height_px)[0], printed_px)


def test_rounding_to_a_whole_millimetre_is_within_the_stated_uncertainty() -> None:
    _, log_std = focal_from_equivalent(26, 4032, 3024)
    assert 2 * log_std > 0.5 / 26
