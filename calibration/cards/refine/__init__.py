"""The sides of a card to a fraction of a pixel, its upper face told from rim and shadow."""

from calibration.cards.refine.corners import RefinedQuad, assemble, corner_margin, refine_through
from calibration.cards.refine.face_edge import fit_face_edges
from calibration.cards.refine.side_cautions import side_cautions

__all__ = ["RefinedQuad", "assemble", "corner_margin", "fit_face_edges", "refine_through", "side_cautions"]
