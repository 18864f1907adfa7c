"""Marks for tests that need real photographs."""

import pytest

from tests.real_photos.manifest import lacking, lacking_files


def needs_real_photos(*uses: str) -> pytest.MarkDecorator:
    """Skip a test, with the command that fetches them, unless all photographs of these uses are at hand."""
    return pytest.mark.skipif(bool(why := lacking(*uses)), reason=why)


def needs_these_photos(*files: str) -> pytest.MarkDecorator:
    """Skip a test, with the command that fetches them, unless these photographs are at hand."""
    return pytest.mark.skipif(bool(why := lacking_files(*files)), reason=why)
