"""Things that lie about on a collector's table."""

from __future__ import annotations

from meshes import print_face, turned
from toy import Group, spin


def pencil(length: float = 148.0) -> Group:
    """Return a sharpened six-sided pencil lying along y."""
    body = Group()
    body.add(turned([(3.7, 0.0), (3.7, length - 20)], 6), "mustard")
    body.add(turned([(3.7, length - 20.05), (1.1, length - 4)], 48), "wood-light")
    body.add(turned([(1.1, length - 4), (0.25, length - 0.4), (0.0, length)], 32), "dark")
    group = Group()
    group.put(body, spin(90, "x") @ spin(30), (0, length / 2, 3.21))
    return group


def polish_tin(radius: float = 31.0, height: float = 17.0) -> Group:
    """Return a round tin with a printed lid."""
    group = Group()
    side = [(radius - 1.2, 0), (radius - 0.8, 0.6), (radius - 0.8, height - 8.2)]
    lid = [
        (radius, height - 8.0),
        (radius, height - 0.8),
        (radius - 0.6, height),
        (radius - 1.8, height),
        (radius - 2.6, height - 0.8),
        (radius - 4.0, height - 0.8),
    ]
    group.add(turned(side, 160), "steel")
    group.add(turned(lid, 160), "mustard")
    group.add(print_face(44.0, 13.0, height - 0.65), "decal:polish")
    return group
