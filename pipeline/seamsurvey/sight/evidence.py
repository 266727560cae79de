"""What each pixel shows, by the trained network: ground, face, side, shadow, reference, clutter, border of a card.

Frames: *image* = pixels of the picture, x right, y down, a pixel's centre is the integer, upright; *small* = that
picture made small enough for the network, `Evidence.scale` small px an image px.
"""

from functools import cache
from importlib.resources import files

import cv2
import numpy as np
import onnxruntime
from attrs import field, frozen
from numpy.typing import NDArray

LONG_SIDE = 1024  # of what the network is shown: the smallest cards that count, 25 px there, are told surely
_STRIDE = 32  # the network halves five times

# One thread: the same sums in the same order, so the same bytes out for the same picture.
_THREADS = 1


@frozen(eq=False)
class Evidence:
    """`maps`: (7, h, w) float32, each pixel's chances in the order of the names above, which sum to 1; in *small*.

    `small`: (h, w, 3) uint8 sRGB, the picture as shown to the network; `scale` small px an image px.
    """

    maps: NDArray[np.float32] = field()
    small: NDArray[np.uint8] = field()
    scale: float = field()

    def to_image(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 2) *small* px as *image* px: pixels' edges, not centres, keep their place in shrinking."""
        return (points + 0.5) / self.scale - 0.5


@cache
def session(name: str) -> onnxruntime.InferenceSession:
    """The trained file of this name beside this module, ready to run on the processor."""
    onnxruntime.disable_telemetry_events()
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = _THREADS
    options.execution_mode = onnxruntime.ExecutionMode.ORT_SEQUENTIAL
    options.use_deterministic_compute = True
    data = files("seamsurvey.sight").joinpath(name).read_bytes()
    return onnxruntime.InferenceSession(data, options, providers=["CPUExecutionProvider"])


def shrunk(picture: NDArray[np.uint8], long_side: int = LONG_SIDE) -> tuple[NDArray[np.uint8], float]:
    """The picture (h, w, 3) with its longer side at most `long_side` px, and small px an image px."""
    height, width = picture.shape[:2]
    scale = min(1.0, long_side / max(height, width))
    if scale == 1.0:
        return picture, 1.0
    size = (max(1, round(width * scale)), max(1, round(height * scale)))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.uint8), scale


def maps(picture: NDArray[np.uint8]) -> Evidence:
    """What each pixel of `picture` ((h, w, 3) uint8, sRGB, upright) shows.

    Raises TypeError when it is no such array.
    """
    if picture.dtype != np.uint8 or picture.ndim != 3 or picture.shape[2] != 3:
        raise TypeError(f"a picture is (h, w, 3) uint8, not {picture.shape} {picture.dtype}")
    small, scale = shrunk(picture)
    height, width = small.shape[:2]
    down, right = -height % _STRIDE, -width % _STRIDE
    padded = cv2.copyMakeBorder(small, 0, down, 0, right, cv2.BORDER_REPLICATE)
    planes = np.ascontiguousarray(padded.transpose(2, 0, 1)[None], np.float32) / np.float32(255)
    (evidence,) = session("sight.onnx").run(None, {"picture": planes})
    return Evidence(np.ascontiguousarray(evidence[0, :, :height, :width]), small, scale)
