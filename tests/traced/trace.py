"""The scene in Blender, and its picture in linear light."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix, Vector
from numpy.typing import NDArray

from .lens import Flatbed, Phone
from .shapes import Points

MARGIN = 0.04  # of the picture, rendered round it for the lens to bend in


@dataclass(frozen=True)
class Slab:
    """An upright prism without a foot in the table frame, its upper face printed by `uv` where that is given."""

    outline: Points
    low: float
    high: float
    face: Any
    side: Any
    uv: Points | None = None


@dataclass(frozen=True)
class Light:
    """A key light towards `towards` (from the table), and the sky: irradiances on a level table, linear colours."""

    kind: str  # sun, lamp, window, bar
    towards: tuple[float, float, float]  # unit vector
    distance: float
    size: float  # mm; degrees of spread for sun and bar
    key: tuple[float, float, float]
    sky: tuple[float, float, float]


@dataclass(frozen=True)
class Work:
    """How much is spent on a picture."""

    samples: int
    threads: int


def begin() -> None:
    """Blender emptied."""
    bpy.ops.wm.read_factory_settings(use_empty=True)


def traced(slabs: Sequence[Slab], ground: Any, ground_z: float, light: Light, camera: Phone | Flatbed,
           aperture: float, focus: float, work: Work, into: Path) -> NDArray[np.float32]:  # fmt: skip
    """The scene as (h, w, 3) linear light, without distortion; a phone's with its margin round it."""
    stretch = (1.0, 1.0) if isinstance(camera, Phone) else (1 + camera.off[0], 1 + camera.off[1])
    for slab in slabs:
        _add_slab(slab, stretch)
    far = 3000.0
    _add_slab(
        Slab(np.array([[-far, -far], [far, -far], [far, far], [-far, far]]), ground_z - 5, ground_z, ground, ground)
    )
    _shine(light)
    size = _aim_phone(camera, aperture, focus) if isinstance(camera, Phone) else _aim_flatbed(camera)
    return _rendered(size, work, into)


def margin(camera: Phone) -> int:
    """The rendered margin, px."""
    return round(MARGIN * max(camera.size))


def _add(name: str, data: Any) -> Any:
    thing = bpy.data.objects.new(name, data)
    bpy.context.scene.collection.objects.link(thing)
    return thing


def _add_slab(slab: Slab, stretch: tuple[float, float] = (1.0, 1.0)) -> None:
    outline = slab.outline
    area = np.sum(outline[:, 0] * np.roll(outline[:, 1], -1) - np.roll(outline[:, 0], -1) * outline[:, 1])
    uv = slab.uv
    if area < 0:
        outline, uv = outline[::-1], None if uv is None else uv[::-1]
    count = len(outline)
    flat = outline * np.array(stretch)
    points = np.vstack([np.column_stack([flat, np.full(count, z)]) for z in (slab.high, slab.low)])
    walls = [(k, k + count, (k + 1) % count + count, (k + 1) % count) for k in range(count)]
    mesh = bpy.data.meshes.new("slab")
    mesh.from_pydata(points.tolist(), [], [tuple(range(count)), *walls])
    mesh.materials.append(slab.face)
    mesh.materials.append(slab.side)
    for k, polygon in enumerate(mesh.polygons):
        polygon.material_index = 0 if k == 0 else 1
    if uv is not None:
        layer = mesh.uv_layers.new(name="printed")
        for loop in mesh.polygons[0].loop_indices:
            layer.data[loop].uv = uv[mesh.loops[loop].vertex_index]
    _add("slab", mesh)


def _shine(light: Light) -> None:
    world = bpy.data.worlds.new("sky")
    world.use_nodes = True
    bpy.context.scene.world = world
    world.node_tree.nodes["Background"].inputs[0].default_value = (*(c / np.pi for c in light.sky), 1.0)
    towards, level = Vector(light.towards), light.towards[2]
    colour = np.array(light.key)
    strength = float(colour.max())
    if light.kind in {"sun", "bar"}:
        lamp = bpy.data.lights.new("key", "SUN")
        lamp.angle = float(np.radians(light.size))
        lamp.energy = strength / level
    else:
        lamp = bpy.data.lights.new("key", "AREA")
        lamp.shape = "DISK" if light.kind == "lamp" else "RECTANGLE"
        lamp.size, lamp.size_y = light.size, light.size * 1.3
        lamp.energy = strength * np.pi * light.distance**2 / level
    lamp.color = (colour / strength).tolist()
    thing = _add("key", lamp)
    thing.location = towards * light.distance
    thing.rotation_euler = towards.to_track_quat("Z", "Y").to_euler()


def _aim_phone(phone: Phone, aperture: float, focus: float) -> tuple[int, int]:
    border = margin(phone)
    width, height = phone.size[0] + 2 * border, phone.size[1] + 2 * border
    lens = bpy.data.cameras.new("phone")
    lens.sensor_fit, lens.sensor_width = "HORIZONTAL", 36.0
    lens.lens = phone.focal * 36.0 / width
    lens.shift_x = (width / 2 - (phone.centre[0] + 0.5 + border)) / width
    lens.shift_y = ((phone.centre[1] + 0.5 + border) - height / 2) / width
    lens.clip_start, lens.clip_end = 1.0, 1e5
    lens.dof.use_dof, lens.dof.focus_distance = True, focus
    lens.dof.aperture_fstop = lens.lens * 1e-3 / (2 * aperture)  # Cycles' unit is the metre: radius = lens / 2 N
    thing = _add("phone", lens)
    right, down, forward = phone.turn
    frame = Matrix(np.column_stack([right, -down, -forward]).tolist()).to_4x4()
    frame.translation = Vector(phone.place.tolist())
    thing.matrix_world = frame
    bpy.context.scene.camera = thing
    # The phone's own body takes its share of the light.
    body = bpy.data.meshes.new("body")
    corners = [(-38, -110, 6), (38, -110, 6), (38, 45, 6), (-38, 45, 6)]
    body.from_pydata([frame @ Vector(c) for c in corners], [], [(0, 1, 2, 3)])
    black = bpy.data.materials.new("black")
    black.use_nodes = True
    black.node_tree.nodes["Principled BSDF"].inputs["Base Color"].default_value = (0.02, 0.02, 0.02, 1.0)
    body.materials.append(black)
    _add("body", body)
    return width, height


def _aim_flatbed(bed: Flatbed) -> tuple[int, int]:
    lens = bpy.data.cameras.new("bed")
    lens.type, lens.sensor_fit = "ORTHO", "HORIZONTAL"
    mm = 25.4 / bed.dpi
    lens.ortho_scale = bed.size[0] * mm
    lens.clip_start, lens.clip_end = 1.0, 1e4
    thing = _add("bed", lens)
    thing.location = (bed.size[0] * mm / 2, bed.size[1] * mm / 2, 200.0)
    bpy.context.scene.camera = thing
    return bed.size


def _rendered(size: tuple[int, int], work: Work, into: Path) -> NDArray[np.float32]:
    scene = bpy.context.scene
    scene.render.engine = "CYCLES"
    scene.render.resolution_x, scene.render.resolution_y = size
    scene.render.resolution_percentage = 100
    scene.render.threads_mode, scene.render.threads = "FIXED", work.threads
    scene.view_settings.view_transform = "Raw"
    scene.render.image_settings.file_format = "OPEN_EXR"
    scene.render.image_settings.color_depth = "16"
    cycles = scene.cycles
    cycles.device, cycles.samples, cycles.use_adaptive_sampling = "CPU", work.samples, False
    cycles.max_bounces, cycles.transparent_max_bounces = 2, 12
    cycles.use_denoising, cycles.denoiser = True, "OPENIMAGEDENOISE"
    cycles.denoising_quality, cycles.denoising_prefilter = "BALANCED", "FAST"
    path = into / "light.exr"
    scene.render.filepath = str(path)
    bpy.ops.render.render(write_still=True)
    image = bpy.data.images.load(str(path))
    values = np.empty(size[0] * size[1] * 4, dtype=np.float32)
    image.pixels.foreach_get(values)
    path.unlink()
    return np.ascontiguousarray(values.reshape(size[1], size[0], 4)[::-1, :, :3])
