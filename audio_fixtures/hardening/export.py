"""From trained weights to the file that the package carries.

    python -m audio_fixtures.hardening.export --weights bundled.npz \
        --run run/encoder-1.npz=0.5 --run run/encoder-2.npz=0.3 --out hardened.safetensors

The weights are those it starts from (the bundled ones, or ``--start``) plus the given shares of
each run's differences from them (share 1 of one run is that run itself). A run may also be an
encoder that this program wrote, whose weights are then good to 8 bits. Encoders of the bundled
one's six layers get further ones that add nothing. Matrix products and the second convolution
are stored in 8 bits, the rest in 16, for the network of ``audio_fixtures/network_graphs.py``.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

from assistant.hearing.encoder import (
    BLOCK,
    CONVOLUTIONS,
    FURTHER_AFTER,
    IN_BLOCKS,
    LAYERS,
)
from assistant.hearing.encoder.network import WEIGHTS, read_weights, write_weights
from audio_fixtures.hardening import model as network

PRODUCTS = {
    "qkv": ("self_attn.q_proj", "self_attn.k_proj", "self_attn.v_proj"),
    "o": ("self_attn.o_proj",),
    "fc1": ("mlp.fc1",),
    "fc2": ("mlp.fc2",),
}
"""A layer's matrix products by their names in our network, and what each is made of in PyTorch."""
PLAIN = {
    "norm1": "input_layernorm.weight",
    "norm2": "post_attention_layernorm.weight",
    "fc1.bias": "mlp.fc1.bias",
    "fc2.bias": "mlp.fc2.bias",
}
WHOLE = {
    "conv1.weight": "conv1.weight",
    "groupnorm.weight": "groupnorm.weight",
    "groupnorm.bias": "groupnorm.bias",
    "conv2.bias": "conv2.bias",
    "conv3.bias": "conv3.bias",
    "norm": "layer_norm.weight",
}
STEPS = 255
"""Between the smallest and the largest byte."""
MIDDLE = 128
"""What stands for zero in a block."""
TINY = 1e-12


def column_bytes(matrix: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Bytes, scale and zero point of each column of [in, out]: (byte - zero) * scale."""
    low, high = np.minimum(matrix.min(axis=0), 0), np.maximum(matrix.max(axis=0), 0)
    scale = np.maximum((high - low) / STEPS, TINY).astype(np.float32)
    zero = np.round(-low / scale)
    stored = np.clip(np.round(matrix / scale) + zero, 0, STEPS)
    return stored.astype(np.uint8), scale, zero.astype(np.uint8)


def block_bytes(matrix: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Bytes [out, blocks, BLOCK] and scales [out * blocks] of [in, out]; zero is MIDDLE."""
    rows, columns = matrix.shape
    count = -(-rows // BLOCK)
    padded = np.zeros((columns, count * BLOCK), np.float32)
    padded[:, :rows] = matrix.T
    parts = padded.reshape(columns, count, BLOCK)
    scale = np.maximum(np.abs(parts).max(-1) / (MIDDLE - 1), TINY).astype(np.float32)
    stored = np.clip(np.round(parts / scale[..., None]) + MIDDLE, 0, STEPS)
    return stored.astype(np.uint8), scale.ravel()


def stored(weights: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """What the package's file holds of an encoder's weights by their names in PyTorch."""
    found = {ours: weights[theirs].astype(np.float16) for ours, theirs in WHOLE.items()}
    for name, (into, outof, kernel) in CONVOLUTIONS.items():
        # a window is its frames one after another, each with all channels
        matrix = weights[f"{name}.weight"].transpose(2, 1, 0).reshape(kernel * into, outof)
        if name in IN_BLOCKS:
            found[f"{name}.weight"], found[f"{name}.scale"] = block_bytes(matrix)
        else:
            found[f"{name}.weight"] = matrix.astype(np.float16)
    for layer in range(LAYERS):
        theirs = f"layers.{layer}."
        for ours, parts in PRODUCTS.items():
            matrix = np.concatenate([weights[f"{theirs}{part}.weight"].T for part in parts], axis=1)
            kept = zip(("weight", "scale", "zero"), column_bytes(matrix), strict=True)
            found |= {f"{layer}.{ours}.{part}": value for part, value in kept}
        for ours, place in PLAIN.items():
            found[f"{layer}.{ours}"] = weights[theirs + place].astype(np.float16)
    return found


def meant(found: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """The weights by their names in PyTorch that ``stored`` gave these for, good to 8 bits."""
    weights = {theirs: found[ours].astype(np.float32) for ours, theirs in WHOLE.items()}
    for name, (into, outof, kernel) in CONVOLUTIONS.items():
        matrix = found[f"{name}.weight"].astype(np.float32)
        if name in IN_BLOCKS:
            scale = found[f"{name}.scale"].reshape(outof, -1, 1)
            matrix = ((matrix - MIDDLE) * scale).reshape(outof, -1)[:, : kernel * into].T
        weights[f"{name}.weight"] = matrix.reshape(kernel, into, outof).transpose(2, 1, 0)
    for layer in range(LAYERS):
        theirs = f"layers.{layer}."
        for ours, parts in PRODUCTS.items():
            p = f"{layer}.{ours}."
            matrix = found[p + "weight"].astype(np.float32) - found[p + "zero"]
            matrix = (matrix * found[p + "scale"]).T
            for part, rows in zip(parts, np.split(matrix, len(parts)), strict=True):
                weights[f"{theirs}{part}.weight"] = rows
        for ours, place in PLAIN.items():
            weights[theirs + place] = found[f"{layer}.{ours}"].astype(np.float32)
    return weights


def read(path: Path) -> dict[str, np.ndarray]:
    """An encoder that train.py or this program wrote, with all LAYERS. Raises ValueError."""
    is_own = path.suffix == WEIGHTS
    weights = meant(read_weights(path)) if is_own else network.load_encoder(path)
    return with_all_layers(weights)


def with_all_layers(weights: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """With further layers where they are lacking; raises ValueError for any other number."""
    layers = network.layers_of(weights)
    if layers == LAYERS - len(FURTHER_AFTER):
        return network.grown(weights, FURTHER_AFTER)
    if layers != LAYERS:
        raise ValueError(f"an encoder of {layers} layers fits into none of {LAYERS}")
    return weights


def mixed(start: dict[str, np.ndarray], runs: dict[Path, float]) -> dict[str, np.ndarray]:
    """The weights of the start plus shares of the runs' differences from them."""
    weights = {name: value.copy() for name, value in start.items()}
    for path, share in runs.items():
        for name, value in read(path).items():
            weights[name] += share * (value - start[name])
    return weights


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--weights", type=Path, required=True, help="what model.pack wrote")
    parser.add_argument("--start", type=Path, help="an encoder to start from (default: bundled)")
    parser.add_argument("--run", action="append", default=[], metavar="FILE=SHARE")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--half", action="store_true", help="all weights in 16 bits, for train.py")
    options = parser.parse_args(arguments)
    runs = {}
    for given in options.run:
        path, _, share = given.rpartition("=")
        runs[Path(path)] = float(share)
    start = (
        with_all_layers(network.encoder_part(network.unpack(options.weights)))
        if options.start is None
        else read(options.start)
    )
    weights = mixed(start, runs)
    if options.half:
        network.save_encoder(options.out, weights)
    else:
        write_weights(options.out, stored(weights))
    print(f"{options.out}: {options.out.stat().st_size / 1e6:.1f} MB")
    return 0


if __name__ == "__main__":
    sys.exit(main())
