"""The photos on the desk: opened, kept, cut into tiles, searched for a reference."""

from measure.desk.photos.pictures import Darkroom, Picture, give_back, quick_look, thumb_of

__all__ = ["Darkroom", "Picture", "give_back", "quick_look", "thumb_of"]
