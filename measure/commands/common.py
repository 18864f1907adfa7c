"""What the commands share: exit codes, JSON on standard output and messages on standard error."""

from typing import Any

import click

from measure import terminal

EXIT_USAGE = 2
EXIT_NO_ANSWER = 3
EXIT_UNUSABLE = 4


def ERRORS() -> tuple[type[Exception], ...]:  # noqa: N802 - a late-bound constant, so that --help imports nothing
    """Return the error roots that end a command with one line and an exit code.

    Returns
    -------
    tuple of exception types
        What `exit_status` takes, subclasses included.
    """
    from calibration.errors import CalibrationError
    from measure.errors import MeasureError
    from references.errors import SheetError

    return (CalibrationError, MeasureError, SheetError)


def exit_status(error: Exception) -> int:
    """Return the exit status of a command that ends with an error: that of its nearest class in the table.

    Parameters
    ----------
    error : Exception
        One of `ERRORS`, or of a class below it.

    Returns
    -------
    int
        `EXIT_USAGE` where other words of the command would help, else `EXIT_UNUSABLE`.
    """
    from calibration.errors import CalibrationError, GeometryError, ObjectError
    from measure.errors import MeasureError, SpanError, UnitError
    from measure.requests import RequestError
    from references.errors import SheetError

    table: dict[type, int] = {
        CalibrationError: EXIT_UNUSABLE,
        ObjectError: EXIT_USAGE,
        GeometryError: EXIT_USAGE,
        MeasureError: EXIT_UNUSABLE,
        SpanError: EXIT_USAGE,
        RequestError: EXIT_UNUSABLE,
        UnitError: EXIT_USAGE,
        SheetError: EXIT_UNUSABLE,
    }
    return next(table[kind] for kind in type(error).__mro__ if kind in table)


def emit_json(value: Any) -> None:
    """Print one JSON object on standard output.

    Parameters
    ----------
    value : Any
        Plain values; a number that isn't finite is a bug and raises ValueError.
    """
    terminal.write_json(value)


def say(text: str, *, as_json: bool) -> None:
    """Print one line for people: on standard output, or on standard error beside JSON.

    Parameters
    ----------
    text : str
        The line, without its end.
    as_json : bool
        Whether standard output is kept for JSON.
    """
    terminal.write_line(text, err=as_json)


def finish(exit_code: int) -> None:
    """End the command with this status.

    Parameters
    ----------
    exit_code : int
        0 lets the command end by itself.
    """
    if exit_code:
        click.get_current_context().exit(exit_code)
