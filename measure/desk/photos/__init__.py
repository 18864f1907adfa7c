"""The photos on the desk: opened, kept, cut into tiles, searched for a reference."""

from measure.desk.photos.inspection import cautions_on, grade
from measure.desk.photos.photo_store import PhotoStore
from measure.desk.photos.pictures import Picture, thumb_of

__all__ = ["PhotoStore", "Picture", "cautions_on", "grade", "thumb_of"]
