"""Errors of this folder.

::

    SheetError                 a release sheet that cannot be used; lists every `Fault` with its line
    ├── UnknownSheetError      no shipped sheet of that name
    └── UnreadableError        a file that is missing, irregular, too large or not text
    FindingError (SheetError)  a finding that does not match the sheet
    SampleError (SheetError)   measured examples that give no range
    VerdictError (SheetError)  probabilities that are not numbers
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in a sheet.

    Attributes
    ----------
    line : int
        Line in the file, counted from 1.
    field : str
        The field, named from the outside in: ``bow-plate.width.first.min``.
    problem : str
        What was found.
    expected : str
        What was expected.
    """

    line: int
    field: str
    problem: str
    expected: str

    def text(self, file: str) -> str:
        """Return the fault as one line: FILE:LINE: field: problem, expected.

        Parameters
        ----------
        file : str
            The file's name, as the user gave it.

        Returns
        -------
        str
            FILE:LINE: field: problem, expected. One line: what a fault quotes is shortened.
        """
        return f"{file}:{self.line}: {self.field}: {self.problem}, expected {self.expected}"


class SheetError(Exception):
    """A release sheet that cannot be used.

    Attributes
    ----------
    faults : tuple of Fault
        Every fault, in the order of the lines; empty where the file could not be read at all.
    file : str
        The file's name as it was given.
    """

    def __init__(self, message: str, *, file: str = "", faults: tuple[Fault, ...] = ()) -> None:
        super().__init__(message)
        self.file = file
        self.faults = faults

    @classmethod
    def from_faults(cls, file: str, faults: tuple[Fault, ...]) -> "SheetError":
        """Build the error that names the first fault and counts the others.

        Parameters
        ----------
        file : str
            The file's name, as the user gave it.
        faults : tuple of Fault
            At least one, in the order of the lines.

        Returns
        -------
        SheetError
            Its message is one line; it carries the file and all the faults.
        """
        first = faults[0].text(file)
        more = len(faults) - 1
        also = f" (and {more} more: cardspan sheet check {file} lists all)" if more else ""
        return cls(first + also, file=file, faults=faults)


class UnknownSheetError(SheetError):
    """No shipped sheet has that key."""


class UnreadableError(SheetError):
    """A file that is missing, not a regular file, too large or not text; the message is the bare reason."""


class FindingError(SheetError):
    """A finding that does not match the sheet, or lacks what its kind needs."""


class SampleError(SheetError):
    """Measured examples from which no range can be learnt."""


class VerdictError(SheetError):
    """The arithmetic of a verdict gave a probability that is not a number from 0 to 1."""
