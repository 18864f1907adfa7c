"""The one way to the terminal: what others wrote is shown there, never obeyed.

File names, sheets, records, Exif and the errors that quote them may hold characters that clear the screen,
move the cursor or turn the reading direction. `guard` puts a filter before standard output and standard
error, so that nothing reaches them raw, whoever prints. `write_line` also keeps a value from beginning a line
of its own.
"""

import codecs
import errno
import io
import json
import os
import re
import sys
import warnings
from contextlib import suppress
from typing import Any, TextIO

import click

from measure.errors import MeasureError

# C0, DEL and C1 controls (ECMA-48), line separators, the bidirectional controls of Unicode's UAX 9,
# characters without a width, and surrogates, which stand for the bytes of a file name that isn't UTF-8
# (PEP 383).
_HIDDEN = re.compile(
    "[\x00-\x1f\x7f-\x9f\u061c\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb\ud800-\udfff]"
)
_SHORT = {"\n": r"\n", "\r": r"\r", "\t": r"\t"}
# Our own signs, for a terminal that can't show them.
_SPELT = {
    "±": "+/-", "×": "x", "°": " deg", "–": "-", "−": "-", "·": ".", "█": "#", "µ": "u", "²": "^2",
    "…": "...", "σ": "sigma", "≤": "<=", "≥": ">=", "’": "'", "“": '"', "”": '"', "½": "1/2", "→": "->",
}  # fmt: skip
_SPELLING = "cardspan-spelling"


def visible(text: str) -> str:
    """Return a text on one line, each control character as its escape, such as ``\\x1b`` or ``\\u202e``.

    Parameters
    ----------
    text : str
        Any text; a byte of a file name that isn't UTF-8 becomes ``\\xff``.

    Returns
    -------
    str
    """
    return _HIDDEN.sub(lambda found: _SHORT.get(found[0]) or _escape(found[0]), text)


def write_line(text: str = "", *, err: bool = False) -> None:
    """Write one line to standard output or standard error; a line break inside the text is made visible.

    Parameters
    ----------
    text : str
        The line, without its end.
    err : bool
        Write to standard error.
    """
    stream = _guarded(sys.stderr if err else sys.stdout)
    stream.write(visible(text) + "\n")
    stream.flush()


def write_json(value: Any) -> None:
    """Write one JSON object to standard output, in pure ASCII where the output can't take more.

    Parameters
    ----------
    value : Any
        Plain values.

    Raises
    ------
    ValueError
        A number isn't finite, which is a bug.
    """
    stream = _guarded(sys.stdout)
    text = json.dumps(value, ensure_ascii=False, indent=1, allow_nan=False)
    if not stream.can_show(text):
        text = json.dumps(value, indent=1, allow_nan=False)
    # Line breaks are the layout's: those inside strings are escaped already.
    text = _HIDDEN.sub(lambda found: found[0] if found[0] == "\n" else f"\\u{ord(found[0]):04x}", text)
    stream.write(text + "\n")
    stream.flush()


def draw(picture: str) -> None:
    """Write a picture made of characters, and of escape codes of our own, where the terminal can show it.

    Parameters
    ----------
    picture : str
        Without a line break at its end. It is left out where an encoding lacks its characters.
    """
    stream = _guarded(sys.stdout)
    if stream.can_show(picture):
        stream.write_own(picture + "\n")
        stream.flush()


def takes_colours() -> bool:
    """Tell whether standard output is a terminal.

    Returns
    -------
    bool
    """
    return bool(_guarded(sys.stdout).isatty())


def ask(question: str, **options: Any) -> Any:
    """Ask a question on standard error and return the answer.

    Parameters
    ----------
    question : str
        One line.
    **options
        As `click.prompt` takes them.

    Returns
    -------
    Any
        A text, or what the option's type makes of it.

    Raises
    ------
    MeasureError
        The answer is not text in the terminal's encoding.
    """
    return _answered(click.prompt, question, options)


def ask_yes_no(question: str) -> bool:
    """Ask on standard error whether to do something; no answer is no.

    Parameters
    ----------
    question : str
        One line.

    Returns
    -------
    bool

    Raises
    ------
    MeasureError
        The answer is not text in the terminal's encoding.
    """
    return bool(_answered(click.confirm, question, {"default": False}))


def _answered(asking: Any, question: str, options: dict[str, Any]) -> Any:
    # The question may be written by the line editor, past the guard.
    shown = _guarded(sys.stderr).fitting(visible(question))
    try:
        return asking(shown, err=True, **options)
    except UnicodeDecodeError as error:
        raise MeasureError(
            f"this answer is not text in {error.encoding}; type it again, or set the terminal to UTF-8"
        ) from error


def show_error(error: click.ClickException) -> None:
    """Write what is wrong with the words of a command, and how to get help, to standard error.

    Parameters
    ----------
    error : click.ClickException
        As click raises it.
    """
    is_help = getattr(click.exceptions, "NoArgsIsHelpError", ())
    if not isinstance(error, is_help):
        error = click.UsageError(visible(error.format_message()), getattr(error, "ctx", None))
    error.show(_guarded(sys.stderr))


def guard() -> None:
    """Put the filter before both streams, for whatever is printed from now on and by whomever.

    Python's warnings are for programmers: they are not shown unless asked for by ``-W`` or PYTHONWARNINGS.
    """
    sys.stdout, sys.stderr = _guarded(sys.stdout), _guarded(sys.stderr)
    if not sys.warnoptions:
        warnings.showwarning = lambda *told, **more: None


class _Guarded(io.TextIOBase):
    """A stream that makes control characters visible, and goes on in silence when nobody reads any more.

    Parameters
    ----------
    stream : text stream or None
        Where to write; a program started without a terminal has none.
    """

    def __init__(self, stream: TextIO | None) -> None:
        self._stream = stream

    @property
    def encoding(self) -> str:  # type: ignore[override]
        """Encoding of the stream."""
        return getattr(self._stream, "encoding", None) or "utf-8"

    @property
    def errors(self) -> str:  # type: ignore[override]
        """How the stream would treat what it can't encode."""
        return getattr(self._stream, "errors", None) or "strict"

    def can_show(self, text: str) -> bool:
        """Tell whether the stream's encoding has all characters of a text, lone surrogates aside."""
        try:
            _HIDDEN.sub("", text).encode(self.encoding)
        except UnicodeEncodeError:
            return False
        return True

    def fitting(self, text: str) -> str:
        """Return a text in the characters that the stream's encoding has."""
        return text.encode(self.encoding, _SPELLING).decode(self.encoding)

    def write(self, text: str) -> int:
        """Write a text; its line breaks stay."""
        self.write_own(self.fitting("\n".join(map(visible, text.split("\n")))))
        return len(text)

    def write_own(self, text: str) -> None:
        """Write a text as it is."""
        self._on_stream(lambda stream: stream.write(text))

    def flush(self) -> None:
        """Send on what was written."""
        self._on_stream(lambda stream: stream.flush())

    def isatty(self) -> bool:
        """Tell whether a person sees this."""
        return self._stream is not None and self._stream.isatty()

    def fileno(self) -> int:
        """Return the file descriptor."""
        if self._stream is None:
            raise io.UnsupportedOperation("fileno")
        return self._stream.fileno()

    def writable(self) -> bool:
        """Tell that one may write."""
        return True

    def _on_stream(self, act: Any) -> None:
        if self._stream is None:
            return
        try:
            act(self._stream)
        except OSError as error:
            self._give_up()
            # Whoever read has seen enough, as with `| head`: the work goes on and its exit status counts.
            if error.errno != errno.EPIPE and self is not sys.stderr:
                raise MeasureError(f"the output can't be written ({error.strerror or error})") from error

    def _give_up(self) -> None:
        stream, self._stream = self._stream, None
        assert stream is not None
        # What is left in its buffer would fail again when the program ends.
        with suppress(OSError, ValueError):
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, stream.fileno())
            os.close(nowhere)


def _guarded(stream: TextIO | None) -> Any:
    return stream if isinstance(stream, _Guarded) else _Guarded(stream)


def _escape(char: str) -> str:
    code = ord(char)
    if 0xDC80 <= code <= 0xDCFF:
        code -= 0xDC00
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def _spelt(error: UnicodeError) -> tuple[str, int]:
    assert isinstance(error, UnicodeEncodeError)
    lacking = error.object[error.start : error.end]
    return "".join(_SPELT.get(char) or _escape(char) for char in lacking), error.end


codecs.register_error(_SPELLING, _spelt)
