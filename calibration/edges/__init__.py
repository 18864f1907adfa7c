"""Edges to a fraction of a pixel: straight, curved, elliptic, rounded corners."""

from calibration.edges.corner_radius import CornerRadius, find_corner_radius
from calibration.edges.curved import edge_direction
from calibration.edges.edge_offset import Fading, fades_px, fading, hidden_px, outline_in_shade, softness_px
from calibration.edges.ellipse import Ellipse, Rim, find_rim, fit_ellipse
from calibration.edges.line_fit import median
from calibration.edges.profiles import (
    Path,
    Pixels,
    across,
    encoded_across,
    interpolate,
    medians,
    sample_across,
    to_light,
)
from calibration.edges.srgb import decode, encode
from calibration.edges.straight import EdgeFit, fit_edge, sample, snap_to_edge

__all__ = [
    "CornerRadius",
    "EdgeFit",
    "Ellipse",
    "Fading",
    "Path",
    "Pixels",
    "Rim",
    "across",
    "decode",
    "edge_direction",
    "encode",
    "encoded_across",
    "fades_px",
    "fading",
    "find_corner_radius",
    "find_rim",
    "fit_edge",
    "fit_ellipse",
    "hidden_px",
    "interpolate",
    "median",
    "medians",
    "outline_in_shade",
    "sample",
    "sample_across",
    "snap_to_edge",
    "softness_px",
    "to_light",
]
