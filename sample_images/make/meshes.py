"""Triangle meshes of simple turned, moulded and bent pieces. Lengths in mm, z up, outlines anticlockwise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

CREASE_COS = np.cos(np.radians(38.0))


@dataclass(frozen=True, eq=False)
class Mesh:
    """Vertices (N, 3) in mm, triangles (M, 3) anticlockwise seen from outside; ``uv`` (N, 2) for a print."""

    vertices: np.ndarray
    faces: np.ndarray
    uv: np.ndarray | None = None

    def moved(self, rotation: np.ndarray | None = None, shift=(0.0, 0.0, 0.0)) -> Mesh:
        points = self.vertices if rotation is None else self.vertices @ np.asarray(rotation).T
        return Mesh(points + np.asarray(shift, float), self.faces, self.uv)


def merge(*meshes: Mesh) -> Mesh:
    counts = np.cumsum([0] + [len(m.vertices) for m in meshes])
    faces = [m.faces + start for m, start in zip(meshes, counts, strict=False)]
    return Mesh(np.vstack([m.vertices for m in meshes]), np.vstack(faces))


# ------------------------------------------------------------------------------------------------ outlines
def resample(outline: np.ndarray, step: float) -> np.ndarray:
    """Return the closed outline with points about ``step`` apart, the given corners kept."""
    out = []
    for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        n = max(1, int(np.ceil(np.linalg.norm(b - a) / step)))
        out.append(a + (b - a) * (np.arange(n) / n)[:, None])
    return np.vstack(out)


def arc(centre, radius: float, start_deg: float, end_deg: float, n: int) -> np.ndarray:
    angle = np.radians(np.linspace(start_deg, end_deg, n))
    return np.asarray(centre) + radius * np.column_stack([np.cos(angle), np.sin(angle)])


def circle(radius: float, n: int = 128) -> np.ndarray:
    return arc((0.0, 0.0), radius, 0.0, 360.0 * (1 - 1 / n), n)


def rounded_polygon(corners, radius, n: int = 10) -> np.ndarray:
    """Return the convex polygon with each corner rounded; ``radius`` is one value or one per corner."""
    corners = np.asarray(corners, float)
    radii = np.broadcast_to(np.asarray(radius, float), (len(corners),))
    out = []
    for i, r in enumerate(radii):
        here, back, ahead = corners[i], corners[i - 1], corners[(i + 1) % len(corners)]
        u, v = (back - here) / np.linalg.norm(back - here), (ahead - here) / np.linalg.norm(ahead - here)
        if r <= 0:
            out.append(here[None])
            continue
        half = 0.5 * np.arccos(np.clip(u @ v, -1, 1))
        centre = here + (u + v) / np.linalg.norm(u + v) * r / np.sin(half)
        first, last = here + u * r / np.tan(half) - centre, here + v * r / np.tan(half) - centre
        turn = np.arctan2(first[0] * last[1] - first[1] * last[0], first @ last)
        a0 = np.arctan2(first[1], first[0])
        angles = a0 + turn * np.linspace(0, 1, n)
        out.append(centre + r * np.column_stack([np.cos(angles), np.sin(angles)]))
    return np.vstack(out)


def rounded_rectangle(width: float, height: float, radius: float, n: int = 10) -> np.ndarray:
    x, y = width / 2, height / 2
    return rounded_polygon([(x, y), (-x, y), (-x, -y), (x, -y)], radius, n)


def inset(outline: np.ndarray, distance: float) -> np.ndarray:
    """Move each side of a closed outline inwards (mitred)."""
    ahead = np.roll(outline, -1, axis=0) - outline
    ahead /= np.linalg.norm(ahead, axis=1, keepdims=True)
    normal = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    both = normal + np.roll(normal, 1, axis=0)
    both /= np.maximum(1.0 + np.sum(normal * np.roll(normal, 1, axis=0), axis=1, keepdims=True), 0.2)
    return outline + distance * both


# -------------------------------------------------------------------------------------------------- solids
def loft(rings: np.ndarray, *, cap_first=True, cap_last=True, closed=False) -> Mesh:
    """Join rings (R, P, 3) of equal length, bottom first; caps are fans, so cap only star-shaped rings."""
    count, n = rings.shape[:2]
    i = np.arange(n)
    j = (i + 1) % n
    faces = []
    for r in range(count if closed else count - 1):
        a, b = r * n, ((r + 1) % count) * n
        faces += [np.column_stack([a + i, a + j, b + j]), np.column_stack([a + i, b + j, b + i])]
    points = [rings.reshape(-1, 3)]
    total = count * n
    for wanted, ring, order in ((cap_first, 0, (1, 0)), (cap_last, count - 1, (0, 1))):
        if not wanted or closed:
            continue
        points += [rings[ring], rings[ring].mean(axis=0)[None]]
        pair = (total + i, total + j)
        faces.append(np.column_stack([np.full(n, total + n), pair[order[0]], pair[order[1]]]))
        total += n + 1
    return Mesh(np.vstack(points), np.vstack(faces))


def profiled(outline: np.ndarray, profile, **caps) -> Mesh:
    """Sweep a profile of (inset, z) pairs, bottom first, around an outline."""
    rings = [np.column_stack([inset(outline, d), np.full(len(outline), z)]) for d, z in profile]
    return loft(np.array(rings), **caps)


def fillet(radius: float, z_top: float, start: float = 0.0, n: int = 7):
    """Return (inset, z) pairs of a rounded upper edge whose extreme is ``start`` from the outline."""
    angle = np.linspace(0, np.pi / 2, n)
    return [(start + radius * (1 - np.cos(a)), z_top - radius * (1 - np.sin(a))) for a in angle]


def slab(
    outline, z0: float, z1: float, radius: float = 0.5, foot: float = 0.0, foot_radius: float = 0.0
) -> Mesh:
    """Extrude a convex outline with rounded upper edge; ``foot`` draws the lower edge in (mould draft)."""
    lower = [(foot, z0)]
    if foot_radius > 0:
        lower = [(foot + d, z0 + (z1 - z)) for d, z in reversed(fillet(foot_radius, z1))]
    return profiled(outline, [*lower, *fillet(radius, z1)])


def wall(outline, thickness: float, z0: float, z1: float, radius: float = 0.5) -> Mesh:
    """Return an upright wall along a closed outline, rounded on top."""
    top = fillet(radius, z1)
    inner = [(thickness - d, z) for d, z in reversed(top)]
    return profiled(outline, [(0.0, z0), *top, *inner, (thickness, z0)], cap_first=False, cap_last=False)


def turned(profile, n: int = 96) -> Mesh:
    """Turn a profile of (radius, z) pairs, bottom first, about the z axis; ends are capped."""
    angle = 2 * np.pi * np.arange(n) / n
    ring = np.column_stack([np.cos(angle), np.sin(angle), np.zeros(n)])
    rings = [ring * max(r, 1e-3) + (0, 0, z) for r, z in profile]
    return loft(np.array(rings))


def ring(outer: float, inner: float, z0: float, z1: float, radius: float = 0.5, n: int = 160) -> Mesh:
    """Return a flat hoop with rounded edges."""
    top = fillet(radius, z1)
    low = [(d, z0 + z1 - z) for d, z in reversed(top)]
    t = outer - inner
    inner_side = [(t - d, z) for d, z in [*reversed(top), *reversed(low)]]
    points = [*low, *top, *inner_side]
    angle = 2 * np.pi * np.arange(n) / n
    unit = np.column_stack([np.cos(angle), np.sin(angle), np.zeros(n)])
    return loft(np.array([unit * (outer - d) + (0, 0, z) for d, z in points]), closed=True)


def rod(path, radius: float, n: int = 20) -> Mesh:
    """Sweep a round wire along points (K, 3)."""
    path = np.asarray(path, float)
    tangent = np.gradient(path, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    side = np.cross(tangent[0], (0.0, 0.0, 1.0) if abs(tangent[0, 2]) < 0.9 else (1.0, 0.0, 0.0))
    angle = 2 * np.pi * np.arange(n) / n
    rings = []
    for point, t in zip(path, tangent, strict=True):
        side = side - t * (side @ t)
        side /= np.linalg.norm(side)
        up = np.cross(t, side)
        rings.append(point + radius * (np.cos(angle)[:, None] * side + np.sin(angle)[:, None] * up))
    return loft(np.array(rings))


def box(width: float, depth: float, z0: float, z1: float, radius: float = 0.4, edge: float = 0.3) -> Mesh:
    return slab(rounded_rectangle(width, depth, radius, 5), z0, z1, edge)


def sheet(outline: np.ndarray, z: float) -> Mesh:
    """Return a flat convex face looking up, around the origin; a print on it runs over its whole extent."""
    flat = np.vstack([outline, outline.mean(axis=0)])
    n = len(outline)
    i = np.arange(n)
    faces = np.column_stack([np.full(n, n), i, (i + 1) % n])
    low, high = outline.min(axis=0), outline.max(axis=0)
    return Mesh(np.column_stack([flat, np.full(n + 1, z)]), faces, (flat - low) / (high - low))


def print_face(width: float, height: float, z: float = 0.0) -> Mesh:
    """Return a flat rectangle looking up that carries a print over its whole extent."""
    x, y = width / 2, height / 2
    corners = np.array([[-x, -y, z], [x, -y, z], [x, y, z], [-x, y, z]])
    return Mesh(corners, np.array([[0, 1, 2], [0, 2, 3]]), np.array([[0, 0], [1, 0], [1, 1], [0, 1]], float))


# -------------------------------------------------------------------------------------------------- normals
def corner_normals(mesh: Mesh) -> tuple[np.ndarray, np.ndarray]:
    """Return (3M, 3) corner positions and their normals, smooth except across creases."""
    from scipy import sparse

    corners = mesh.vertices[mesh.faces].reshape(-1, 3)
    tri = corners.reshape(-1, 3, 3)
    area = np.cross(tri[:, 1] - tri[:, 0], tri[:, 2] - tri[:, 0])
    size = np.linalg.norm(area, axis=1, keepdims=True)
    unit = area / np.maximum(size, 1e-12)
    _, key = np.unique(np.round(corners, 4), axis=0, return_inverse=True)
    key = key.ravel()
    n = len(corners)
    at = sparse.csr_matrix((np.ones(n), (np.arange(n), key)), shape=(n, key.max() + 1))
    pairs = (at @ at.T).tocoo()
    face_of = np.arange(n) // 3
    alike = np.sum(unit[face_of[pairs.row]] * unit[face_of[pairs.col]], axis=1) > CREASE_COS
    near = sparse.csr_matrix((np.ones(alike.sum()), (pairs.row[alike], pairs.col[alike])), shape=(n, n))
    normals = near @ np.repeat(area, 3, axis=0)
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    return corners, normals
