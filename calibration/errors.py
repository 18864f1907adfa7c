"""What can go wrong between a photograph and its metric plane.

::

    CalibrationError
    ├── PhotoError      the file is no usable photograph
    ├── ObjectError     no such reference object
    │   └── MarksError  a reference object that has to be marked, and isn't
    ├── GeometryError   the points given describe no plane or length
    └── ProfileError    photos that support no camera profile, or a profile that can't be used
"""


class CalibrationError(Exception):
    """Root of this package's errors; the message is one line and says what to do."""


class PhotoError(CalibrationError):
    """The file can't be used as a photograph."""


class ObjectError(CalibrationError):
    """The name or size given is no reference object."""


class MarksError(ObjectError):
    """The reference object can't be found without points that a person marks."""


class GeometryError(CalibrationError):
    """The points given describe no plane or no length."""


class ProfileError(CalibrationError):
    """The photos support no camera profile, or a stored profile can't be used."""
