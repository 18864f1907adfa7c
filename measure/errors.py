"""What can go wrong between a plane and a verdict.

::

    MeasureError
    ├── RecordError     a specimen record that can't be used
    │   └── RecordChangedError   one that another program has changed meanwhile
    ├── SpanError       a measurement that can't be made as asked
    └── UnitError       a text that is not a length
"""


class MeasureError(Exception):
    """Root of this package's errors; the message is one line and says what to do."""


class RecordError(MeasureError):
    """The specimen record can't be read, or contradicts its photos."""


class RecordChangedError(RecordError):
    """The record on disk is not the one that was read or written last; another program has changed it."""


class SpanError(MeasureError):
    """The measurement can't be made as asked."""


class UnitError(MeasureError, ValueError):
    """The text is not a length."""
