"""Terse building of Blender's shader nodes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import bpy

Colour = tuple[float, float, float]


class Shader:
    """A material under construction; lengths are mm, `at` gives the table point."""

    def __init__(self, name: str) -> None:
        self.material = bpy.data.materials.new(name)
        self.material.use_nodes = True
        self.tree = self.material.node_tree
        self.tree.nodes.clear()
        self.at = self.node("ShaderNodeNewGeometry").outputs["Position"]

    def node(self, kind: str, inputs: dict[str | int, Any] | None = None, **attributes: Any) -> Any:
        """A node with its attributes set, and its inputs set or linked."""
        node = self.tree.nodes.new(kind)
        for name, value in attributes.items():
            setattr(node, name, value)
        for key, value in (inputs or {}).items():
            if isinstance(value, bpy.types.NodeSocket):
                self.tree.links.new(value, node.inputs[key])
            elif isinstance(value, tuple) and len(value) == 3 and node.inputs[key].type == "RGBA":
                node.inputs[key].default_value = (*value, 1.0)
            else:
                node.inputs[key].default_value = value
        return node

    def maths(self, operation: str, *values: Any) -> Any:
        """The result of an arithmetic node."""
        return self.node("ShaderNodeMath", dict(enumerate(values)), operation=operation).outputs[0]

    def stretched(self, x: float, y: float, turn: float = 0.0) -> Any:
        """The table point turned by `turn` radians, then scaled."""
        turned = self.node("ShaderNodeMapping", {"Vector": self.at, "Rotation": (0.0, 0.0, turn)}).outputs[0]
        return self.node("ShaderNodeMapping", {"Vector": turned, "Scale": (x, y, 1.0)}).outputs[0]

    def noise(self, vector: Any, scale: float, detail: float = 1.0, roughness: float = 0.5) -> Any:
        """A noise's value, 0 to 1."""
        inputs = {"Vector": vector, "Scale": scale, "Detail": detail, "Roughness": roughness}
        return self.node("ShaderNodeTexNoise", inputs).outputs[0]  # type: ignore[arg-type]

    def ramp(self, value: Any, *stops: tuple[float, Colour]) -> Any:
        """Colours by a value."""
        node = self.node("ShaderNodeValToRGB", {0: value})
        line = node.color_ramp.elements
        while len(line) < len(stops):
            line.new(0.5)
        for element, (place, colour) in zip(line, stops, strict=True):
            element.position = place
            element.color = (*colour, 1.0)
        return node.outputs[0]

    def mix(self, factor: Any, a: Any, b: Any, blend: str = "MIX") -> Any:
        """Two colours mixed."""
        return self.node("ShaderNodeMix", {0: factor, 6: a, 7: b}, data_type="RGBA", blend_type=blend).outputs[2]

    def image(self, path: Path, vector: Any = None, colour: bool = True) -> Any:
        """An image node, by the mesh's own coordinates when no vector is given."""
        picture = bpy.data.images.load(str(path))
        if not colour:
            picture.colorspace_settings.name = "Non-Color"
        node = self.node("ShaderNodeTexImage", image=picture)
        node.extension = "REPEAT"
        if vector is None:
            vector = self.node("ShaderNodeUVMap").outputs[0]
        self.tree.links.new(vector, node.inputs[0])
        return node

    def bumped(self, height: Any, depth_mm: float) -> Any:
        """The normals of a surface of this height (0 to 1) and depth."""
        return self.node("ShaderNodeBump", {"Height": height, "Distance": depth_mm, "Strength": 1.0}).outputs[0]

    def finish(self, colour: Any, roughness: Any = 0.8, **more: Any) -> Any:
        """The surface closed: the material."""
        inputs: dict[str | int, Any] = {"Base Color": colour, "Roughness": roughness}
        inputs |= {name.replace("_", " "): value for name, value in more.items()}
        return self.out(self.node("ShaderNodeBsdfPrincipled", inputs).outputs[0])

    def out(self, shader: Any) -> Any:
        """The material with this shader as its surface."""
        self.node("ShaderNodeOutputMaterial", {0: shader})
        return self.material
