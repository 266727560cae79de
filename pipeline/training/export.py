"""The network as an ONNX file, written node by node, so that the same weights give the same bytes; and back.

Weights are kept as float16 (half the wheel) under the names of the network's own parameters; the runtime makes
float32 of them once, when it loads the file.
"""

from pathlib import Path

import numpy as np
import onnx
import torch
from numpy.typing import NDArray
from onnx import TensorProto, helper, numpy_helper

from training.network import HEADS, MIXES, Net

OPSET = 17
IR_VERSION = 8
NAMES = ("ground", "face", "side", "shadow", "reference", "clutter", "border")


class _Graph:
    def __init__(self, weights: dict[str, NDArray[np.float32]]) -> None:
        self.weights = weights
        self.nodes: list[onnx.NodeProto] = []
        self.kept: list[onnx.TensorProto] = []
        self.made = 0

    def node(self, kind: str, inputs: list[str], **attributes: object) -> str:
        self.made += 1
        name = f"x{self.made}"
        self.nodes.append(helper.make_node(kind, inputs, [name], **attributes))
        return name

    def constant(self, values: object, kind: type = np.int64) -> str:
        self.made += 1
        name = f"c{self.made}"
        self.kept.append(numpy_helper.from_array(np.asarray(values, kind), name))
        return name

    def weight(self, name: str) -> str:
        if all(w.name != name for w in self.kept):
            self.kept.append(numpy_helper.from_array(self.weights[name].astype(np.float16), name))
            self.nodes.append(helper.make_node("Cast", [name], [name + "/32"], to=TensorProto.FLOAT))
        return name + "/32"

    def conv(self, x: str, name: str, *, stride: int = 1, group: int = 1, pad: int = 1) -> str:
        inputs = [x, self.weight(f"{name}.weight")]
        if f"{name}.bias" in self.weights:
            inputs.append(self.weight(f"{name}.bias"))
        return self.node("Conv", inputs, strides=[stride] * 2, pads=[pad] * 4, group=group)

    def block(self, x: str, name: str) -> str:
        for conv, norm in ((0, 1), (3, 4)):
            x = self.conv(x, f"{name}.{conv}")
            parts = [self.weight(f"{name}.{norm}.{p}") for p in ("weight", "bias", "running_mean", "running_var")]
            x = self.node("Relu", [self.node("BatchNormalization", [x, *parts], epsilon=1e-5)])
        return x

    def linear(self, x: str, name: str) -> str:
        turned = self.node("Transpose", [self.weight(f"{name}.weight")], perm=[1, 0])
        return self.node("Add", [self.node("MatMul", [x, turned]), self.weight(f"{name}.bias")])

    def norm(self, x: str, name: str) -> str:
        return self.node(
            "LayerNormalization",
            [x, self.weight(f"{name}.weight"), self.weight(f"{name}.bias")],
            axis=-1,
            epsilon=1e-5,
        )

    def mix(self, x: str, name: str) -> str:
        width = self.weights[f"{name}.out.weight"].shape[0]
        x = self.node("Add", [x, self.conv(x, f"{name}.place", group=width, pad=3)])
        shape = self.node("Shape", [x])
        t = self.node("Transpose", [self.node("Reshape", [x, self.constant([0, width, -1])])], perm=[0, 2, 1])
        t = self.norm(t, f"{name}.norm0")
        split = self.node(
            "Reshape",
            [
                self.linear(self.norm(t, f"{name}.norm1"), f"{name}.qkv"),
                self.constant([0, -1, 3, HEADS, width // HEADS]),
            ],
        )
        parts = self.node("Transpose", [split], perm=[2, 0, 3, 1, 4])
        q, k, v = (self.node("Gather", [parts, self.constant(i)], axis=0) for i in range(3))
        scores = self.node("MatMul", [q, self.node("Transpose", [k], perm=[0, 1, 3, 2])])
        scores = self.node("Mul", [scores, self.constant((width // HEADS) ** -0.5, np.float32)])
        seen = self.node("MatMul", [self.node("Softmax", [scores], axis=-1), v])
        seen = self.node(
            "Reshape", [self.node("Transpose", [seen], perm=[0, 2, 1, 3]), self.constant([0, -1, width])]
        )
        t = self.node("Add", [t, self.linear(seen, f"{name}.out")])
        wide = self.node("Relu", [self.linear(self.norm(t, f"{name}.norm2"), f"{name}.wide")])
        t = self.node("Add", [t, self.linear(wide, f"{name}.narrow")])
        return self.node("Reshape", [self.node("Transpose", [t], perm=[0, 2, 1]), shape])


def model(weights: dict[str, NDArray[np.float32]], note: str = "") -> onnx.ModelProto:
    """The ONNX model of these parameters (as in `Net.state_dict`); `note` goes into its description."""
    g = _Graph(weights)
    stages = len({name.split(".")[1] for name in weights if name.startswith("down.")})
    picture = g.node("Sub", ["picture", g.constant(0.5, np.float32)])
    x = g.conv(picture, "stem", stride=2)
    kept = []
    for i in range(stages):
        x = g.block(x if i == 0 else g.node("MaxPool", [x], kernel_shape=[2, 2], strides=[2, 2]), f"down.{i}")
        kept.append(x)
    for i in range(MIXES):
        x = g.mix(x, f"mix.{i}")
    for i in range(stages - 1):
        big = g.node(
            "Resize",
            [x, "", g.constant([1, 1, 2, 2], np.float32)],
            mode="linear",
            coordinate_transformation_mode="half_pixel",
        )
        x = g.block(g.node("Concat", [big, kept[-2 - i]], axis=1), f"up.{i}")
    x = g.node("DepthToSpace", [g.node("Relu", [g.conv(x, "fine")])], blocksize=2, mode="CRD")
    x = g.node("Relu", [g.conv(g.node("Concat", [x, picture], axis=1), "sharp")])
    x = g.node("Softmax", [g.conv(x, "head", pad=0)], axis=1)
    g.nodes.append(helper.make_node("Identity", [x], ["evidence"]))
    size = [1, 3, "height", "width"]
    graph = helper.make_graph(
        g.nodes, "sight", [helper.make_tensor_value_info("picture", TensorProto.FLOAT, size)],
        [helper.make_tensor_value_info("evidence", TensorProto.FLOAT, [1, len(NAMES), "height", "width"])], g.kept,
    )  # fmt: skip
    made = helper.make_model(
        graph,
        opset_imports=[helper.make_opsetid("", OPSET)],
        producer_name="seamsurvey",
        ir_version=IR_VERSION,
        doc_string=note,
    )
    helper.set_model_props(made, {"classes": " ".join(NAMES)})
    onnx.checker.check_model(made)
    return made


def save(net: Net, path: Path, note: str = "") -> None:
    """The network's file; the same weights, the same bytes."""
    weights = {
        k: v.detach().float().cpu().numpy()
        for k, v in net.state_dict().items()
        if not k.endswith("num_batches_tracked")
    }
    path.write_bytes(model(weights, note).SerializeToString(deterministic=True))


def load(paths: list[Path], net: Net) -> None:
    """The mean of network files' own weights into `net`, to train on: often better than either."""
    files = [{w.name: numpy_helper.to_array(w) for w in onnx.load(str(path)).graph.initializer} for path in paths]
    state = net.state_dict()
    own = [k for k in state if not k.endswith("num_batches_tracked")]
    for path, held in zip(paths, files, strict=True):
        missing = [k for k in own if k not in held]
        if missing:
            raise ValueError(f"{path} was made of another network: it lacks {missing[0]}")
    mean = {k: np.mean([held[k].astype(np.float32) for held in files], 0) for k in own}
    net.load_state_dict(state | {k: torch.from_numpy(v) for k, v in mean.items()})
