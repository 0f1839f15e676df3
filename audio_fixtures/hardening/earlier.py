"""The weights of an encoder that was shipped before, as a file that export.py and train.py take.

    git show f3e0aef:assistant/hearing/encoder/hardened.onnx > before.onnx
    python -m audio_fixtures.hardening.earlier before.onnx --out before.npz

Until then the package carried one ONNX file of six layers. Its matrix products have no names that
tell what they are, but they stand in the order in which they are done.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

from audio_fixtures.hardening.model import save_encoder

PRODUCTS = (
    "self_attn.q_proj",
    "self_attn.k_proj",
    "self_attn.v_proj",
    "self_attn.o_proj",
    "mlp.fc1",
    "mlp.fc2",
)
"""A layer's matrix products in the order of its operations."""
INNER, TURNS = "inner.", "inner.rotary_emb.inv_freq"
"""What the other weights' names begin with, and what is no weight."""
QUANTISED, HALVED = "_quantized", "_half"
"""What the names of weights end with that are stored in 8 bits and in 16."""


def weights(path: Path) -> dict[str, np.ndarray]:
    """By their names in PyTorch, float32; good to 8 bits where they were stored so."""
    import onnx
    from onnx import numpy_helper

    graph = onnx.load(path).graph
    constants = {tensor.name: numpy_helper.to_array(tensor) for tensor in graph.initializer}

    def product(name: str) -> np.ndarray:
        stem = name.removesuffix(QUANTISED)
        zero = constants[stem + "_zero_point"].astype(np.float32)
        return (constants[name].astype(np.float32) - zero) * constants[stem + "_scale"]

    found: dict[str, np.ndarray] = {}
    products = [node.input[1] for node in graph.node if node.op_type == "MatMulInteger"]
    layers = len(products) // len(PRODUCTS)
    places = [f"layers.{layer}.{name}" for layer in range(layers) for name in PRODUCTS]
    for place, name in zip(places, products, strict=True):
        found[f"{place}.weight"] = product(name).T
    for name, stored in constants.items():
        if name.startswith(INNER) and name != TURNS:
            found[name.removeprefix(INNER).removesuffix(HALVED)] = stored.astype(np.float32)
    # the only columns: gain and shift of the norm over all
    columns = [stored for stored in constants.values() if stored.ndim == 2 and stored.shape[1] == 1]
    for name, stored in zip(("weight", "bias"), columns, strict=True):
        found[f"groupnorm.{name}"] = stored.ravel()
    return found


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("file", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    options = parser.parse_args(arguments)
    save_encoder(options.out, weights(options.file))
    return 0


if __name__ == "__main__":
    sys.exit(main())
