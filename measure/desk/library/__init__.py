"""What can be laid on the desk: samples, earlier records, release sheets."""

from measure.desk.library.folders import record_beside
from measure.desk.library.library import Library

__all__ = ["Library", "record_beside"]
