"""What the decoders of photographs raise and warn of, so that nothing else is taken for a damaged file."""

import struct
import threading
import warnings
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

# What Pillow, its plug-ins and pillow-heif raise of a damaged file, by their documentation and by thousands
# of damaged files of each format (tests/bench/damage.py). KeyError, TypeError and AttributeError are not
# among them: those are what a fault of this program looks like, and must not pass for the file's.
DAMAGE = (OSError, SyntaxError, ValueError, EOFError, RuntimeError, OverflowError, struct.error, zlib.error)

# A process has one list of warning filters, so only one thread may change it at a time.
_FILTERS = threading.Lock()
_DECODERS = ("PIL", "pillow_heif")
# A tag with more values than the standard has for it spoils nothing.
_HARMLESS = ("Metadata Warning",)


@contextmanager
def heard(told: list[str]) -> Iterator[None]:
    """Add to `told` what the decoders warn of meanwhile, each in one line."""
    with _FILTERS, warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        yield
    # Another thread's warnings come here, too; the size is checked by its own rule.
    told += [
        first_line(one.message)
        for one in caught
        if Path(one.filename).parent.name in _DECODERS
        and issubclass(one.category, UserWarning)
        and not str(one.message).startswith(_HARMLESS)
    ]


def first_line(error: BaseException | str) -> str:
    """Return an error or warning as one short line."""
    text = str(error).strip() or type(error).__name__
    return text.splitlines()[0].rstrip(" .")[:120]
