"""The exit status belongs to the commands: no error knows it, and each class of error has the right one."""

import importlib
import inspect
import pkgutil
from collections.abc import Iterator

import pytest

import calibration
import measure
import references
from calibration.errors import CalibrationError
from measure.commands.common import ERRORS, exit_status
from measure.errors import MeasureError, SpanError
from references.errors import SheetError

WRONG_USAGE = {"ObjectError", "MarksError", "GeometryError", "SpanError", "UnitError"}


def classes() -> Iterator[type]:
    """Yield every class that the three houses define, whichever module it is in."""
    for house in (calibration, references, measure):
        for found in pkgutil.walk_packages(house.__path__, f"{house.__name__}."):
            module = importlib.import_module(found.name)
            yield from (one for one in vars(module).values() if inspect.isclass(one))


CLASSES = sorted(
    {one for one in classes() if one.__module__.split(".")[0] in {"calibration", "references", "measure"}},
    key=lambda one: (one.__module__, one.__qualname__),
)
ERROR_CLASSES = [one for one in CLASSES if issubclass(one, CalibrationError | MeasureError | SheetError)]


def test_no_class_of_the_houses_knows_an_exit_status() -> None:
    assert [one for one in CLASSES if hasattr(one, "exit_code") or hasattr(one, "exit_status")] == []


@pytest.mark.parametrize("kind", ERROR_CLASSES, ids=lambda kind: kind.__name__)
def test_a_command_that_ends_with_an_error_tells_wrong_usage_from_unusable_input(
    kind: type[Exception],
) -> None:
    assert issubclass(kind, ERRORS())
    # Some errors are built from several values, and a status follows from the class alone.
    assert exit_status(kind.__new__(kind)) == (2 if kind.__name__ in WRONG_USAGE else 4)


def test_the_walk_finds_errors_outside_the_modules_of_errors() -> None:
    assert {"RequestError", "AskError", "UnknownSheetError"} <= {kind.__name__ for kind in ERROR_CLASSES}


def test_a_class_that_the_table_lacks_has_the_status_of_its_nearest_ancestor() -> None:
    class RareError(SpanError):
        pass

    assert exit_status(RareError("what is wrong")) == 2
