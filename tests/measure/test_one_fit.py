"""One card in a photo: its plane is fitted once, and is what the record gives."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from calibration.plane import Plane, fit
from measure.commands.sighting import sighted
from measure.scale import scale_of

PHOTO = Path(__file__).parents[2] / "sample_images" / "mixed-house.jpg"


def test_the_plane_of_a_lone_card_is_fitted_once_and_is_that_of_the_record(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    fits: list[Plane] = []
    real = fit.fit_plane_correspondences

    def counted(*args: Any, **options: Any) -> Plane:
        fits.append(real(*args, **options))
        return fits[-1]

    monkeypatch.setattr(fit, "fit_plane_correspondences", counted)
    sighting = sighted(str(PHOTO), None, None, 0.5)
    assert len(fits) == 1
    assert sighting.entry is not None
    again, plane = scale_of(sighting.entry).plane, sighting.location.plane
    assert len(fits) == 2
    assert plane is not None
    assert np.array_equal(plane.parameters, again.parameters)
    assert np.array_equal(plane.base, again.base)
    assert np.array_equal(plane.sensitivity_matrix, again.sensitivity_matrix)
    assert plane.error_sources == again.error_sources
