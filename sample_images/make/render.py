"""From pieces to a linear picture, by path tracing with Mitsuba."""

from __future__ import annotations

from pathlib import Path

import faces
import numpy as np
import surfaces
from meshes import Mesh, corner_normals
from optics import Camera, margin_px
from PIL import Image

TABLE_MM = 2600.0
TEXTURE_MM = 200.0


def write_ply(path: Path, mesh: Mesh) -> None:
    """Write a mesh with normals; without coordinates of its own a texture lies over the main axes."""
    corners, normals = corner_normals(mesh)
    if mesh.uv is not None:
        uv = mesh.uv[mesh.faces.ravel()]
    else:
        tri = corners.reshape(-1, 3, 3)
        flat = np.abs(np.cross(tri[:, 1] - tri[:, 0], tri[:, 2] - tri[:, 0])).argmax(axis=1).repeat(3)
        over = np.stack([corners[:, [1, 2]], corners[:, [0, 2]], corners[:, [0, 1]]])
        uv = over[flat, np.arange(len(corners))] / TEXTURE_MM
    uv = uv * (1, -1) + (0, 1)  # pictures start at the top
    names = ["x", "y", "z", "nx", "ny", "nz", "u", "v"]
    table = np.zeros(len(corners), [(name, "<f4") for name in names])
    for name, column in zip(names, np.hstack([corners, normals, uv]).T, strict=True):
        table[name] = column
    index = np.zeros(len(corners) // 3, [("n", "u1"), ("i", "<i4", 3)])
    index["n"], index["i"] = 3, np.arange(len(corners)).reshape(-1, 3)
    head = ["ply", "format binary_little_endian 1.0", f"element vertex {len(table)}"]
    head += [f"property float {name}" for name in names]
    head += [f"element face {len(index)}", "property list uchar int vertex_indices", "end_header", ""]
    path.write_bytes("\n".join(head).encode() + table.tobytes() + index.tobytes())


class Workshop:
    """Builds the renderer's scene description in a scratch folder."""

    def __init__(self, folder: Path, seed: int, detail: int):
        self.folder, self.detail = folder, detail
        self.rng = np.random.default_rng(seed)
        self.scene: dict = {"type": "scene", "integrator": {"type": "path", "max_depth": 6}}
        self.bsdfs: dict[str, dict] = {}
        self.count = 0

    def texture(self, name: str, image: np.ndarray) -> dict:
        path = self.folder / f"{name.replace(':', '-')}.png"
        Image.fromarray(image).save(path, compress_level=1)
        return {"type": "bitmap", "filename": str(path)}

    def principled(self, texture: dict, paint: surfaces.Paint) -> dict:
        return {
            "type": "twosided",
            "inner": {
                "type": "principled",
                "base_color": texture,
                "roughness": paint.roughness,
                "metallic": paint.metallic,
                "specular": 0.5,
                "clearcoat": paint.clearcoat,
                "clearcoat_gloss": 0.9,
            },
        }

    def bsdf(self, name: str) -> dict:
        if name not in self.bsdfs:
            self.bsdfs[name] = self.make_bsdf(name)
        return self.bsdfs[name]

    def make_bsdf(self, name: str) -> dict:
        if name in surfaces.PAINTS:
            paint = surfaces.PAINTS[name]
            return self.principled(self.texture(name, surfaces.painted(paint, self.rng)), paint)
        if name == "deck":
            return self.principled(
                self.texture(name, surfaces.deck(self.rng)), surfaces.Paint((0, 0, 0), 0.4, clearcoat=0.2)
            )
        if name.startswith("decal:"):
            words, width, height, ink, under = faces.DECALS[name]
            paint = surfaces.PAINTS[under]
            ground = surfaces.painted(paint, self.rng, 2048)[:height, :width]
            return self.principled(self.texture(name, faces.lettering(words, ink, ground)), paint)
        if name.startswith("face:"):
            gloss = {"id1": (0.22, 0.5), "trading": (0.34, 0.3), "a4": (0.9, 0.0)}[name[5:]]
            paint = surfaces.Paint((0, 0, 0), gloss[0], clearcoat=gloss[1])
            return self.principled(self.texture(name, faces.FACES[name[5:]](self.rng)), paint)
        raise KeyError(name)

    def add(self, mesh: Mesh, material: str) -> None:
        path = self.folder / f"piece-{self.count}.ply"
        write_ply(path, mesh)
        self.scene[f"piece{self.count}"] = {"type": "ply", "filename": str(path), "bsdf": self.bsdf(material)}
        self.count += 1

    def table(self, name: str, turn_deg: float) -> None:
        import mitsuba as mi

        make, roughness = surfaces.TABLES[name]
        paint = surfaces.Paint((0, 0, 0), roughness, clearcoat=0.0)
        cloth = self.texture("table", make(self.rng, self.detail))  # covers the middle, mirrored around it
        cloth["wrap_mode"] = "mirror"
        cloth["to_uv"] = mi.ScalarTransform3f().translate([-0.5, -0.5]).scale([2.0, 2.0])
        world = mi.ScalarTransform4f().rotate([0, 0, 1], turn_deg).scale([TABLE_MM / 2, TABLE_MM / 2, 1])
        bsdf = self.principled(cloth, paint)
        self.scene["table"] = {"type": "rectangle", "to_world": world, "bsdf": bsdf}

    def light(
        self, azimuth_deg: float, height_deg: float, strength: float, ambient: float, spread_mm: float
    ) -> None:
        """Light the table from one window with a sash bar, and softly from all around."""
        import mitsuba as mi

        a, e = np.radians(azimuth_deg), np.radians(height_deg)
        way = np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])
        across, up = np.array([-np.sin(a), np.cos(a), 0.0]), np.array([0.0, 0.0, 1.0])
        middle, half = 1500.0 * way, spread_mm / 2
        for i, (x, y) in enumerate([(-1, -1), (1, -1), (-1, 1), (1, 1)]):
            origin = middle + across * x * half * 1.06 + up * y * half * 1.06
            world = (
                mi.ScalarTransform4f()
                .look_at(origin=origin, target=origin - way, up=[0, 0, 1])
                .scale([half, half, 1])
            )
            glow = {
                "type": "area",
                "radiance": {"type": "rgb", "value": [strength, 0.98 * strength, 0.94 * strength]},
            }
            self.scene[f"pane{i}"] = {"type": "rectangle", "to_world": world, "emitter": glow}
        sky = {"type": "rgb", "value": [0.94 * ambient, 0.97 * ambient, ambient]}
        self.scene["room"] = {"type": "constant", "radiance": sky}

    def sensor(self, camera: Camera, focus_mm: float, aperture_mm: float, reduce: int = 1) -> None:
        """Set a pinhole picture wide enough for the lens; ``reduce`` divides its size for a preview."""
        import mitsuba as mi

        m = margin_px(camera)
        width, height = camera.width_px + 2 * m, camera.height_px + 2 * m
        width, height = width - width % (2 * reduce), height - height % (2 * reduce)
        world = np.eye(4)
        r = camera.rotation
        world[:3, :4] = np.column_stack([-r[0], -r[1], r[2], camera.centre_mm])
        fov = 2 * np.degrees(np.arctan(width / 2 / camera.focal_px))
        self.scene["sensor"] = {
            "type": "thinlens",
            "fov": fov,
            "fov_axis": "x",
            "near_clip": 5.0,
            "far_clip": 1e5,
            "aperture_radius": max(aperture_mm, 1e-3),
            "focus_distance": focus_mm,
            "to_world": mi.ScalarTransform4f(world),
            "sampler": {"type": "independent"},
            "film": {
                "type": "hdrfilm",
                "width": width // reduce,
                "height": height // reduce,
                "pixel_format": "rgb",
                "component_format": "float32",
                "rfilter": {"type": "box"},
            },
        }

    def trace(self, samples: int, per_pass: int = 64) -> np.ndarray:
        """Return the linear picture (height, width, 3)."""
        import mitsuba as mi

        scene = mi.load_dict(self.scene)
        total, done = None, 0
        while done < samples:
            n = min(per_pass, samples - done)
            image = np.asarray(mi.render(scene, spp=n, seed=1 + done), np.float32)
            image = np.minimum(image, 12.0)
            total = image * n if total is None else total + image * n
            done += n
        return total / done
