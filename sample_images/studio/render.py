"""From things on a table to a photo: Mitsuba 3 traces the light, then a phone's lens and sensor.

`llvm_ad_rgb` is used where an LLVM library is named in DRJIT_LIBLLVM_PATH, else `scalar_rgb`.
"""

import os
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import mitsuba as mi
import numpy as np
from numpy.typing import NDArray

from sample_images.studio.build import Part
from sample_images.studio.shapes import Array, Mesh, Point
from sample_images.studio.tables import HEIGHT_MM, WIDTH_MM, sample

mi.set_variant("llvm_ad_rgb" if os.environ.get("DRJIT_LIBLLVM_PATH") else "scalar_rgb")
mi.set_log_level(mi.LogLevel.Error)

WIDTH, HEIGHT = 1600, 1200
PASS_SPP = 8


@dataclass(frozen=True)
class Camera:
    """A phone held over the table: lens at `eye` mm (x right, y up, z up), looking at `target` mm."""

    eye: tuple[float, float, float]
    target: tuple[float, float]
    roll_deg: float
    fov_x_deg: float

    def axes(self) -> tuple[Array, Array, Array]:
        """Unit vectors: right, up and forward."""
        forward = np.array([*self.target, 0.0]) - np.array(self.eye)
        forward /= np.linalg.norm(forward)
        roll = np.radians(self.roll_deg)
        right = np.cross(forward, [np.sin(roll), np.cos(roll), 0.0])
        right /= np.linalg.norm(right)
        return right, np.cross(right, forward), forward

    def to_px(self, x: float, y: float, z: float) -> Point:
        """The photo point [px] of a table point (x right, y down, z up) in mm."""
        right, up, forward = self.axes()
        ray = np.array([x, -y, z]) - np.array(self.eye)
        depth = float(ray @ forward)
        focal = WIDTH / 2 / np.tan(np.radians(self.fov_x_deg) / 2)
        return (WIDTH / 2 + focal * float(ray @ right) / depth, HEIGHT / 2 - focal * float(ray @ up) / depth)

    def sensor(self, width: int, height: int, box: bool) -> dict[str, Any]:
        _, up, _ = self.axes()
        return {
            "type": "perspective",
            "fov": self.fov_x_deg,
            "fov_axis": "x",
            "near_clip": 10.0,
            "far_clip": 5000.0,
            "to_world": mi.ScalarTransform4f().look_at(
                origin=list(self.eye), target=[*self.target, 0.0], up=up.tolist()
            ),
            "film": {
                "type": "hdrfilm",
                "width": width,
                "height": height,
                "pixel_format": "rgb",
                "rfilter": {"type": "box" if box else "gaussian"},
            },
        }


@dataclass(frozen=True)
class Light:
    """A lamp (x right, y down, z up, mm), its half size, its colour and strength; and the room."""

    at: tuple[float, float, float]
    half_mm: float = 90.0
    lamp: tuple[float, float, float] = (1.0, 0.90, 0.76)
    strength: float = 13.0
    room: tuple[float, float, float] = (0.30, 0.33, 0.37)


def write_ply(mesh: Mesh, path: Path) -> None:
    """The mesh as binary PLY, as Mitsuba reads it."""
    columns, names = [mesh.points], ["x", "y", "z"]
    if mesh.uv is not None:
        columns.append(mesh.uv)
        names += ["u", "v"]
    if mesh.colours is not None:
        columns.append(mesh.colours)
        names += ["r", "g", "b"]
    head = ["ply", "format binary_little_endian 1.0", f"element vertex {len(mesh.points)}"]
    head += [f"property float {name}" for name in names]
    head += [f"element face {len(mesh.faces)}", "property list uchar int vertex_indices", "end_header\n"]
    rows = np.zeros(len(mesh.faces), dtype=[("n", "u1"), ("i", "<i4", 3)])
    rows["n"], rows["i"] = 3, mesh.faces
    body = np.hstack(columns).astype("<f4").tobytes()
    path.write_bytes("\n".join(head).encode() + body + rows.tobytes())


def _shape(part: Part, path: Path) -> dict[str, Any]:
    if isinstance(part.shape, dict):
        return dict(part.shape)
    write_ply(part.shape, path)
    return {"type": "ply", "filename": str(path)}


def table_part(top: Array, relief: Array) -> Part:
    """The table as a gently waved sheet with its picture."""
    rows, cols = HEIGHT_MM + 1, WIDTH_MM + 1
    y, x = np.mgrid[:rows, :cols].astype(float)
    x, y = x - WIDTH_MM / 2, y - HEIGHT_MM / 2
    points = np.stack([x, -y, sample(relief, x, y)], -1).reshape(-1, 3)
    uv = np.stack([x / WIDTH_MM + 0.5, 0.5 + y / HEIGHT_MM], -1).reshape(-1, 2)
    n = np.arange(rows * cols).reshape(rows, cols)
    a, b, c, d = (v.ravel() for v in (n[:-1, :-1], n[:-1, 1:], n[1:, :-1], n[1:, 1:]))
    faces = np.vstack([np.stack([a, c, d], -1), np.stack([a, d, b], -1)]).astype(np.int32)
    picture = {"type": "bitmap", "bitmap": mi.Bitmap(top[::1].astype(np.float32)), "raw": True}
    surface = {"type": "twosided", "bsdf": {"type": "diffuse", "reflectance": picture}}
    return Part(Mesh(points, faces, uv=uv), surface, 0)


def photo_light(
    parts: Sequence[Part], camera: Camera, light: Light, size: tuple[int, int], spp: int
) -> Array:
    """The light on the sensor, (H, W, 3) linear, 1 is white."""
    with tempfile.TemporaryDirectory() as folder:
        scene: dict[str, Any] = {"type": "scene", "integrator": {"type": "path", "max_depth": 4}}
        for i, part in enumerate(parts):
            shape = _shape(part, Path(folder) / f"{i}.ply")
            surface = (
                part.surface
                if part.surface["type"] == "twosided"
                else {"type": "twosided", "bsdf": part.surface}
            )
            scene[f"part{i}"] = shape | {"bsdf": surface}
            if part.glow is not None:
                scene[f"part{i}"]["emitter"] = {
                    "type": "area",
                    "radiance": {"type": "rgb", "value": list(part.glow)},
                }
        scene["lamp"] = _lamp(light)
        scene["room"] = {"type": "constant", "radiance": {"type": "rgb", "value": list(light.room)}}
        scene["sensor"] = camera.sensor(*size, box=False)
        loaded = mi.load_dict(scene, optimize=False)
        total = np.zeros((size[1], size[0], 3))
        passes = max(1, spp // PASS_SPP)
        for number in range(passes):
            total += np.minimum(
                np.array(mi.render(loaded, spp=min(spp, PASS_SPP), seed=number))[..., :3], 8.0
            )
    return total / passes


def _lamp(light: Light) -> dict[str, Any]:
    x, y, z = light.at
    place = mi.ScalarTransform4f().look_at(origin=[x, -y, z], target=[0, 0, 0], up=[0, 1, 0.01])
    return {
        "type": "disk",
        "to_world": place @ mi.ScalarTransform4f().scale(light.half_mm),
        "emitter": {
            "type": "area",
            "radiance": {"type": "rgb", "value": [light.strength * c for c in light.lamp]},
        },
    }


def label_raster(parts: Sequence[Part], camera: Camera) -> NDArray[np.uint8]:
    """What each photo pixel shows, (H, W) uint8: the label of the part that its ray meets first."""
    values = scene_of(parts, camera, (WIDTH, HEIGHT), "label:albedo")[..., -1]
    return np.asarray(np.rint(values * 255).astype(np.uint8))


def scene_of(parts: Sequence[Part], camera: Camera, size: tuple[int, int], wanted: str) -> Array:
    """What one ray a pixel meets first, (H, W, channels): `albedo` is the label / 255 of the part."""
    with tempfile.TemporaryDirectory() as folder:
        scene: dict[str, Any] = {"type": "scene"}
        scene["integrator"] = {"type": "aov", "aovs": wanted}
        for i, part in enumerate(parts):
            paint = {"type": "diffuse", "reflectance": {"type": "rgb", "value": part.label / 255}}
            scene[f"part{i}"] = _shape(part, Path(folder) / f"{i}.ply")
            scene[f"part{i}"]["bsdf"] = {"type": "twosided", "bsdf": paint}
        scene["sensor"] = camera.sensor(*size, box=True)
        return np.array(mi.render(mi.load_dict(scene, optimize=False), spp=1, seed=7))


def develop(light: Array, seed: int, exposure: float) -> NDArray[np.uint8]:
    """What a phone makes of it, (H, W, 3) uint8 sRGB: glare, vignetting, noise, tone curve, sharpening."""
    rng = np.random.default_rng(seed)
    rows, cols = light.shape[:2]
    scene = np.minimum(light * exposure, 6.0).astype(np.float32)
    glare = np.maximum(scene - 1.1, 0)
    scale = cols / 1600
    for sigma, share in ((4, 0.20), (14, 0.12), (45, 0.06)):
        scene = scene + share * cv2.GaussianBlur(glare, (0, 0), sigma * scale)
    y, x = np.mgrid[:rows, :cols]
    off = ((x - cols / 2) ** 2 + (y - rows / 2) ** 2) / (rows**2 + cols**2) * 4
    scene = scene * (1 - 0.20 * off.astype(np.float32) ** 1.3)[..., None]
    tone = np.where(scene < 0.7, scene, 0.7 + 0.3 * (1 - np.exp(-(scene - 0.7) / 0.3)))
    picture = np.where(tone <= 0.0031308, 12.92 * tone, 1.055 * np.maximum(tone, 1e-6) ** (1 / 2.4) - 0.055)
    picture = cv2.fastNlMeansDenoisingColored(_bytes(picture), None, 4, 8, 5, 13).astype(np.float32) / 255
    picture = picture + 0.4 * (picture - cv2.GaussianBlur(picture, (0, 0), 1.1))
    fine, coarse = (rng.standard_normal(picture.shape).astype(np.float32) for _ in range(2))
    grain = 0.6 * fine + 1.4 * cv2.GaussianBlur(coarse, (0, 0), 0.9)
    return _bytes(picture + grain * (0.0075 - 0.003 * picture))


def _bytes(picture: Array) -> NDArray[np.uint8]:
    return np.rint(np.clip(picture, 0, 1) * 255).astype(np.uint8)
