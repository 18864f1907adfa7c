"""Edges as arcs of circles, which is what straight lines become by the division model."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# So many of the longest edges count, and how long they are at least, as a share of the diagonal.
_LONGEST, _SHORTEST = 60, 0.12
# No lens bends a line further, as a share of its length.
_MOST_SAGITTA = 0.12
# An arc is seen at most of its length, and its points lie on it.
_LEAST_COVER, _LEAST_KEPT, _MOST_RMS_PX = 0.45, 0.8, 0.6
_FEWEST_POINTS = 20
# Errors of points so close along an edge are the same.
_CORRELATED_PX = 8.0
# How straight edges of things are: sagitta in px and as a share of their length (our judgement).
_FLOOR_PX, _FLOOR_SHARE = 0.12, 0.0005


@dataclass(frozen=True, slots=True, eq=False)
class Arcs:
    """Arcs of circles seen in a picture.

    Attributes
    ----------
    middle, normal : (N, 2) arrays
        A point in the middle of each, px, and the unit normal there.
    bend, bend_std : (N,) arrays
        Curvature toward the normal and its standard uncertainty as of a straight edge, 1/px.
    length : (N,) array
        Px.
    """

    middle: Array
    normal: Array
    bend: Array
    bend_std: Array
    length: Array

    def __len__(self) -> int:
        return len(self.bend)

    def only(self, which: list[int]) -> "Arcs":
        """Return some of them.

        Parameters
        ----------
        which : list of int
            Their indices.

        Returns
        -------
        Arcs
        """
        return Arcs(
            self.middle[which],
            self.normal[which],
            self.bend[which],
            self.bend_std[which],
            self.length[which],
        )

    def enlarged(self, scale: float) -> "Arcs":
        """Return them in the pixels of a picture so many times as large.

        Parameters
        ----------
        scale : float
            As of a level of `calibration.image.Pyramid`.

        Returns
        -------
        Arcs
        """
        middle = (self.middle + 0.5) * scale - 0.5
        return Arcs(middle, self.normal, self.bend / scale, self.bend_std / scale, self.length * scale)


def fit_arcs(chains: list[Array], diagonal_px: float) -> Arcs:
    """Fit an arc to each long chain that is one.

    Parameters
    ----------
    chains : list of (N, 2) arrays
        Points of smooth edges, px.
    diagonal_px : float
        Of their picture.

    Returns
    -------
    Arcs
        The longest, in the same pixels.
    """
    shortest_px = _SHORTEST * diagonal_px
    spans = np.array([np.hypot(*np.ptp(chain, axis=0)) for chain in chains])
    longest = [k for k in np.argsort(-spans, kind="stable")[:_LONGEST] if spans[k] > shortest_px]
    rows = [row for row in (_arc(chains[k], shortest_px) for k in longest) if row is not None]
    table = np.array(rows).reshape(-1, 7)
    return Arcs(table[:, 0:2], table[:, 2:4], table[:, 4], table[:, 5], table[:, 6])


def _arc(points: Array, shortest_px: float) -> list[float] | None:
    """Return middle, normal, bend, its uncertainty and length; None where the points are on no arc."""
    if len(points) < _FEWEST_POINTS:
        return None
    middle = points.mean(axis=0)
    off = points - middle
    along = np.linalg.eigh(off.T @ off)[1][:, 1]
    normal = np.array([-along[1], along[0]])
    u, v = off @ along, off @ normal
    half, centre = 0.5 * float(np.ptp(u)), 0.5 * float(u.max() + u.min())
    t = (u - centre) / half
    basis = np.column_stack([np.ones_like(t), t, t * t])
    keep = np.ones(len(t), dtype=bool)
    for _ in range(3):
        fit = np.linalg.lstsq(basis[keep], v[keep], rcond=None)[0]
        miss = v - basis @ fit
        keep = np.abs(miss) < max(4.0 * float(np.median(np.abs(miss[keep]))), 0.5)
        if np.count_nonzero(keep) < _FEWEST_POINTS:
            return None
    length, rms = float(np.ptp(u[keep])), float(np.sqrt(np.mean(miss[keep] ** 2)))
    cover = len(np.unique(np.floor(u[keep]))) / length
    bent = abs(float(fit[2])) > _MOST_SAGITTA * length
    if (
        length < shortest_px
        or cover < _LEAST_COVER
        or rms > _MOST_RMS_PX
        or bent
        or keep.mean() < _LEAST_KEPT
    ):
        return None
    inverse = np.linalg.inv(basis[keep].T @ basis[keep])
    sagitta_std = np.hypot(rms * np.sqrt(inverse[2, 2] * _CORRELATED_PX), _FLOOR_PX + _FLOOR_SHARE * length)
    slope = float(fit[1]) / half
    upright = (normal - slope * along) / np.hypot(1.0, slope)
    bend = 2.0 * float(fit[2]) / half**2 / (1.0 + slope**2) ** 1.5
    place = middle + centre * along + float(fit[0]) * normal
    return [*place, *upright, bend, 2.0 * float(sagitta_std) / half**2, length]
