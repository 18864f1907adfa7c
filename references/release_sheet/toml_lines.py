"""The line number of each value in a TOML text."""

import re
from collections.abc import Iterator

Path = tuple[str | int, ...]

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)+")
_SCALAR = re.compile(r"[^,\]}#\n]+")
_STRINGS = (
    re.compile(r'"""(?:\\.|[^\\])*?"{3,5}', re.DOTALL),
    re.compile(r"'''.*?'{3,5}", re.DOTALL),
    re.compile(r'"(?:\\.|[^"\\])*"'),
    re.compile(r"'[^']*'"),
)


def line_numbers(text: str) -> dict[Path, int]:
    """Map the path of every table, key and array item to its line.

    Parameters
    ----------
    text : str
        TOML that a parser has already accepted: this finds positions and does not check.

    Returns
    -------
    dict
        ``("part", 0, "feature", 1, "kind")`` to the line of the key, counted from 1.
    """
    return dict(_Scanner(text).entries())


def nearest_line(lines: dict[Path, int], path: Path) -> int:
    """Return the line of a path, or of the nearest enclosing table in the text."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return 1


class _Scanner:
    """Walks a TOML text once, from statement to statement."""

    def __init__(self, text: str) -> None:
        self.text = text.replace("\r\n", "\n")
        self.at = 0
        self.array_sizes: dict[Path, int] = {}
        self.line, self.counted = 1, 0

    def entries(self) -> Iterator[tuple[Path, int]]:
        """Yield every path and its line, tables before their content."""
        table: Path = ()
        self._skip_blank()
        while self.at < len(self.text):
            if self.text.startswith("[", self.at):
                line = self._line()
                table = self._header()
                for length in range(1, len(table) + 1):
                    if length == len(table) or isinstance(table[length - 1], str):
                        yield table[:length], line
            else:
                yield from self._key_and_value(table)
            self._skip_blank()

    def _line(self) -> int:
        self.line += self.text.count("\n", self.counted, self.at)
        self.counted = self.at
        return self.line

    def _skip_blank(self) -> None:
        match = _BLANK.match(self.text, self.at)
        if match:
            self.at = match.end()

    def _skip_spaces(self) -> None:
        while self.at < len(self.text) and self.text[self.at] in " \t":
            self.at += 1

    def _header(self) -> Path:
        is_array = self.text.startswith("[[", self.at)
        self.at += 2 if is_array else 1
        keys = self._keys()
        self.at += 2 if is_array else 1
        path: Path = ()
        for position, key in enumerate(keys):
            path = (*path, key)
            if is_array and position == len(keys) - 1:
                self.array_sizes[path] = self.array_sizes.get(path, 0) + 1
            if path in self.array_sizes:
                path = (*path, self.array_sizes[path] - 1)
        return path

    def _keys(self) -> list[str]:
        keys = []
        while True:
            self._skip_spaces()
            keys.append(self._key())
            self._skip_spaces()
            if not self.text.startswith(".", self.at):
                return keys
            self.at += 1

    def _key(self) -> str:
        start = self.at
        if self.text[start] in "\"'":
            self._skip_string()
            quoted = self.text[start : self.at]
            return quoted[1:-1] if quoted[0] == "'" else _unescape(quoted)
        match = _BARE_KEY.match(self.text, start)
        if not match:
            raise AssertionError(f"not TOML at character {start}")
        self.at = match.end()
        return match[0]

    def _key_and_value(self, table: Path) -> Iterator[tuple[Path, int]]:
        line = self._line()
        path = table
        for key in self._keys():
            path = (*path, key)
            yield path, line
        self.at += 1  # the equals sign
        self._skip_spaces()
        yield from self._value(path)

    def _value(self, path: Path) -> Iterator[tuple[Path, int]]:
        opening = self.text[self.at]
        if opening in "\"'":
            self._skip_string()
        elif opening == "[":
            yield from self._array(path)
        elif opening == "{":
            yield from self._inline_table(path)
        else:
            match = _SCALAR.match(self.text, self.at)
            self.at = match.end() if match else self.at + 1

    def _array(self, path: Path) -> Iterator[tuple[Path, int]]:
        index = 0
        self.at += 1
        self._skip_blank()
        while self.text[self.at] != "]":
            yield (*path, index), self._line()
            yield from self._value((*path, index))
            index += 1
            self._skip_separator()
        self.at += 1

    def _inline_table(self, path: Path) -> Iterator[tuple[Path, int]]:
        self.at += 1
        self._skip_blank()
        while self.text[self.at] != "}":
            yield from self._key_and_value(path)
            self._skip_separator()
        self.at += 1

    def _skip_separator(self) -> None:
        self._skip_blank()
        if self.text[self.at] == ",":
            self.at += 1
            self._skip_blank()

    def _skip_string(self) -> None:
        for pattern in _STRINGS:
            match = pattern.match(self.text, self.at)
            if match:
                self.at = match.end()
                return
        raise AssertionError(f"not TOML at character {self.at}")


def _unescape(quoted: str) -> str:
    import tomllib

    return str(tomllib.loads(f"key = {quoted}")["key"])
