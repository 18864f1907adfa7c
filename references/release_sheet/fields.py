"""Reads the fields of one table of a sheet and notes every fault with its line."""

import difflib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from references.errors import Fault
from references.limits import (
    LEAST_MM,
    LEAST_NUMBER,
    LONGEST_MM,
    LONGEST_TEXT,
    MOST_TABLES,
    number_of,
    shortened,
    whole_of,
)
from references.release_sheet.lengths import EXAMPLES, parse_length_mm
from references.release_sheet.toml_lines import Path, nearest_line

LONGEST_IN_FAULT = 300
"""Characters of each text in the line that reports a fault."""


@dataclass(slots=True)
class FaultList:
    """Collects faults while a sheet is read.

    Attributes
    ----------
    lines : dict
        Line of each path in the text.
    faults : list of Fault
        What was found so far.
    """

    lines: dict[Path, int]
    faults: list[Fault] = field(default_factory=list)

    def add(self, path: Path, name: str, problem: str, expected: str) -> None:
        """Note one fault at the line of a path; its texts may hold anything that a sheet can."""
        texts = (shortened(text, LONGEST_IN_FAULT) for text in (name, problem, expected))
        self.faults.append(Fault(nearest_line(self.lines, path), *texts))


class Fields:
    """One table: its values, where it stands, what it is called in messages, and where faults go."""

    def __init__(self, table: dict[str, object], path: Path, name: str, faults: FaultList) -> None:
        self.table, self.path, self.name, self.faults = table, path, name, faults

    def label(self, key: str) -> str:
        """Name a field of this table in a message."""
        return f"{self.name}.{key}" if self.name else key

    def fault(self, key: str, problem: str, expected: str) -> None:
        """Note a fault of one field."""
        self.faults.add(
            (*self.path, key) if key else self.path, self.label(key) if key else self.name, problem, expected
        )

    def refuse_unknown(self, known: Sequence[str]) -> None:
        """Note every key that the format does not have."""
        for key in self.table:
            if key not in known:
                near = difflib.get_close_matches(key, known, 1)
                hint = f' (did you mean "{near[0]}"?)' if near else ""
                self.fault(key, f"unknown field{hint}", f"one of {', '.join(known)}")

    def text(self, key: str, default: str | None = None) -> str:
        """Return a text; without a default it must be present and not blank."""
        value = self.table.get(key, default)
        if value is None:
            self.fault(key, "missing", "text in quotes")
            return ""
        if not isinstance(value, str) or (default is None and not value.strip()):
            self.fault(key, f"{_shown(value)} is not text", "text in quotes")
            return default or ""
        if len(value) > LONGEST_TEXT:
            self.fault(key, f"a text of {len(value)} characters", f"at most {LONGEST_TEXT} characters")
            return default or ""
        return value

    def choice(self, key: str, allowed: Sequence[str]) -> str | None:
        """Return one of the allowed words, or None after noting the fault."""
        value = self.table.get(key)
        if isinstance(value, str) and value in allowed:
            return value
        problem = "missing" if value is None else f"{_shown(value)} is not known"
        self.fault(key, problem, "one of " + ", ".join(f'"{word}"' for word in allowed))
        return None

    def flag(self, key: str) -> bool:
        """Return true or false, false where the field is not there."""
        value = self.table.get(key, False)
        if not isinstance(value, bool):
            self.fault(key, f"{_shown(value)} is neither true nor false", "true or false")
            return False
        return value

    def share(self, key: str, default: float, *, most: float) -> float:
        """Return a share from 0 up to `most`."""
        value = number_of(self.table.get(key, default), 0.0, most)
        if value is None:
            self.fault(key, f"{_shown(self.table[key])} is not a share", f"a number from 0 to {most:g}")
            return default
        return value if value >= LEAST_NUMBER else 0.0  # the logarithm of less is not finite

    def whole(self, key: str, least: int, most: int) -> int | None:
        """Return a whole number, or None where the field is not there or faulty."""
        value = self.table.get(key)
        number = whole_of(value, least, most)
        if value is not None and number is None:
            expected = f"a whole number from {least} to {most}"
            self.fault(key, f"{_shown(value)} is not a count", expected)
        return number

    def length_mm(self, key: str, unit: str) -> float | None:
        """Return a length in mm, or None after noting the fault."""
        if key not in self.table:
            self.fault(key, "missing", f"a length such as {EXAMPLES}")
            return None
        try:
            return parse_length_mm(self.table[key], unit)
        except ValueError as error:
            self.fault(key, str(error), f"a length such as {EXAMPLES}")
            return None

    def signed_mm(self, key: str, default_mm: float) -> float:
        """Return a signed height in mm; a number is in mm, a text may carry another unit."""
        value = self.table.get(key, default_mm)
        if isinstance(value, str):
            sign, digits = (-1.0, value.strip()[1:]) if value.strip()[:1] in ("-", "−") else (1.0, value)
            try:
                return sign * parse_length_mm(digits, "mm")
            except ValueError:
                value = None
        height = number_of(value, -LONGEST_MM, LONGEST_MM)
        if height is None:
            self.fault(key, f"{_shown(self.table[key])} is not a height", f"a height such as {EXAMPLES}")
            return default_mm
        return height

    def spread_mm(self, key: str, default_mm: float) -> float:
        """Return a standard uncertainty in mm: 0, or at least `LEAST_MM`."""
        value = self.signed_mm(key, default_mm)
        if value < 0 or 0 < value < LEAST_MM:
            problem = f"{value:g} is negative" if value < 0 else f"{value:g} is too small to mean anything"
            self.fault(key, problem, "a standard uncertainty in mm, 0 or more")
            return default_mm
        return value

    def texts(self, key: str) -> tuple[str, ...]:
        """Return a list of texts, empty where the field is not there."""
        value = self.table.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, str) and item.strip() for item in value):
            self.fault(key, f"{_shown(value)} is not a list of texts", 'a list such as ["round", "square"]')
            return ()
        return tuple(value)

    def tables(self, key: str, noun: str) -> Iterator["Fields"]:
        """Yield the tables of an array of tables; the name in messages is the id, where it has one."""
        value = self.table.get(key)
        most = MOST_TABLES[noun]
        if value is None or value == []:
            self.faults.add(
                (*self.path, key) if key in self.table else self.path,
                self.label(key),
                f"no {noun} is given",
                f"at least one [[{self._dotted(key)}]]",
            )
            return
        if not isinstance(value, list):
            self.fault(key, "this is not a list of tables", f"[[{self._dotted(key)}]] in double brackets")
            return
        if len(value) > most:
            self.fault(
                key, f"{len(value)} of them are too many to weigh", f"at most {most} [[{self._dotted(key)}]]"
            )
            return
        for index, item in enumerate(value):
            path = (*self.path, key, index)
            name = f"{self.name}.{key}[{index + 1}]" if self.name else f"{key}[{index + 1}]"
            if not isinstance(item, dict):
                self.faults.add(path, name, f"{_shown(item)} is not a table", f"[[{self._dotted(key)}]]")
                continue
            given = item.get("id")
            if isinstance(given, str) and given:
                name = f"{self.name}.{given}" if self.name else given
            yield Fields(item, path, name, self.faults)

    def sub(self, key: str) -> "Fields | None":
        """Return the table under a key, or None where there is none."""
        value = self.table.get(key)
        if not isinstance(value, dict):
            return None
        return Fields(value, (*self.path, key), self.label(key), self.faults)

    def _dotted(self, key: str) -> str:
        return ".".join([step for step in self.path if isinstance(step, str)] + [key])


def _shown(value: object) -> str:
    if isinstance(value, dict):
        return "a table"
    return f'"{shortened(value)}"' if isinstance(value, str) else shortened(str(value))
