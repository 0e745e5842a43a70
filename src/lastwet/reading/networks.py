"""The small networks that the package ships, run by OpenCV's own inference; trained on rendered photos and drawings only."""

from __future__ import annotations

import threading
from importlib.resources import as_file, files
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float32]

_of_thread = threading.local()
"""A cv2.dnn network holds its last input, so each thread has its own."""


def _load(path: Path) -> cv2.dnn.Net:
    """Load a network into the older of OpenCV 5's two engines, which has a quick way through 3x3 convolutions, at the cost of memory."""
    older = getattr(cv2.dnn, "ENGINE_CLASSIC", None)  # OpenCV 4 has but one engine
    return cv2.dnn.readNetFromONNX(str(path)) if older is None else cv2.dnn.readNetFromONNX(str(path), older)


def run(name: str, output: str, picture: Array) -> Array:
    """Run the network `name` on a batch of pictures, shape (B, C, H, W), and return its named output."""
    nets = _of_thread.__dict__.setdefault("nets", {})
    if name not in nets:
        with as_file(files("lastwet.data") / "models" / f"{name}.onnx") as path:
            nets[name] = _load(path)
    nets[name].setInput(picture)
    return np.asarray(nets[name].forward(output), np.float32)
