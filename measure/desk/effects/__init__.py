"""What takes time, reads pixels or touches the disk; results come back as messages."""

from measure.desk.effects.photo_store import check_photo
from measure.desk.effects.workers import Workers

__all__ = ["Workers", "check_photo"]
