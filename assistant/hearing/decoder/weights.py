"""The decoder's weights, read from the wheel's ``.ort`` file without copying them.

The file is a flatbuffer; onnxruntime's own reader classes open it. Names of nodes tell which
quantised weight is which. A quantised weight is (stored - zero point) * scale.
"""

from __future__ import annotations

import mmap
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from assistant.hearing.decoder import LAYERS, PLACES, ROTARY, ROTARY_BASE, WIDTH

_PRODUCTS = (b"MatMulIntegerToFloat", b"DynamicQuantizeMatMul")
_TYPES = {1: np.float32, 2: np.uint8}
"""ONNX TensorProto data types of the weights."""
_EMBEDDING = "model.decoder.embed_tokens.weight_merged_0"


@dataclass(frozen=True, eq=False)
class Quantised:
    """A matrix as it is stored: unsigned bytes, with a scale and zero point for the whole."""

    stored: np.ndarray
    scale: np.ndarray
    zero: np.ndarray

    def rows(self, chosen: np.ndarray) -> np.ndarray:
        """Some rows as they are meant, float32."""
        return (self.stored[chosen].astype(np.float32) - np.float32(self.zero)) * self.scale


@dataclass(frozen=True, eq=False)
class Weights:
    """By the names of the initializers of the networks in this folder."""

    embedding: Quantised
    sound: dict[str, np.ndarray]
    text: dict[str, np.ndarray]
    file: mmap.mmap

    def let_go(self) -> None:
        """Give back the memory that the file has taken; what is used again is read again."""
        if hasattr(self.file, "madvise"):  # not on every system
            self.file.madvise(mmap.MADV_DONTNEED)


def read_weights(path: Path) -> Weights:
    """All of ``decoder_model_merged.ort``; arrays are views of the mapped file where they can be.

    Raises KeyError if it is not the file of the pinned release.
    """
    with path.open("rb") as opened:
        file = mmap.mmap(opened.fileno(), 0, access=mmap.ACCESS_READ)
    graph = _graph(file)
    plain = dict(_constants(graph))
    products = dict(_quantised_products(graph, plain))
    layers = [f"model/decoder/layers.{layer}/" for layer in range(LAYERS)]
    sound = _named(
        "sound",
        _joined(
            [products[f"{layer}encoder_attn/{part}_proj"] for layer in layers for part in "kv"]
        ),
    )
    text: dict[str, np.ndarray] = {"zeros": np.zeros(WIDTH, dtype=np.float32)}
    text |= dict(zip(("cos", "sin"), _turns(), strict=True))
    for number, layer in enumerate(layers):
        text |= _named(
            f"{number}.qkv", _joined([products[f"{layer}self_attn/{part}_proj"] for part in "qkv"])
        )
        for name, place in _SINGLE.items():
            text |= _named(f"{number}.{name}", products[layer + place])
        dotted = layer.replace("/", ".")
        for name, place in _PLAIN.items():
            text[f"{number}.{name}"] = plain[f"{dotted}{place}_merged_0"]
    text["norm"] = plain["model.decoder.norm.weight_merged_0"]
    text |= _named("head", products["proj_out"])
    return Weights(_stored(plain, _EMBEDDING), sound, text, file)


_SINGLE = {
    "o": "self_attn/o_proj",
    "cross_q": "encoder_attn/q_proj",
    "cross_o": "encoder_attn/o_proj",
    "fc1": "mlp/fc1",
    "fc2": "mlp/fc2",
}
_PLAIN = {
    "norm1": "input_layernorm.weight",
    "norm2": "post_attention_layernorm.weight",
    "norm3": "final_layernorm.weight",
    "fc1.bias": "mlp.fc1.bias",
    "fc2.bias": "mlp.fc2.bias",
}


def _graph(content: mmap.mmap) -> Any:
    import onnxruntime

    tools = str(Path(onnxruntime.__file__).parent / "tools" / "ort_format_model")
    if tools not in sys.path:  # as a package it would draw in all of onnxruntime's tools
        sys.path.append(tools)
    from ort_flatbuffers_py.fbs.InferenceSession import InferenceSession

    return InferenceSession.GetRootAs(content, 0).Model().Graph()


def _constants(graph: Any) -> Iterator[tuple[str, np.ndarray]]:
    for number in range(graph.InitializersLength()):
        tensor = graph.Initializers(number)
        kind = _TYPES.get(tensor.DataType())
        if kind is not None and tensor.RawDataLength():
            shape = [tensor.Dims(axis) for axis in range(tensor.DimsLength())]
            yield tensor.Name().decode(), tensor.RawDataAsNumpy().view(kind).reshape(shape)


def _nodes(graph: Any) -> Iterator[Any]:
    """Nodes of a graph and of the branch that its If node takes without a cache, which alone
    has all products."""
    for number in range(graph.NodesLength()):
        node = graph.Nodes(number)
        yield node
        if node.OpType() == b"If":
            for place in range(node.AttributesLength()):
                attribute = node.Attributes(place)
                if attribute.Name() == b"else_branch":
                    yield from _nodes(attribute.G())


def _quantised_products(
    graph: Any, plain: dict[str, np.ndarray]
) -> Iterator[tuple[str, Quantised]]:
    for node in _nodes(graph):
        if node.OpType() in _PRODUCTS:
            inputs = [node.Inputs(place).decode() for place in range(node.InputsLength())]
            (stored,) = [name for name in inputs if name.endswith("_quantized") and name in plain]
            place = node.Name().decode().removesuffix("/MatMul_quant").strip("/")
            yield place, _stored(plain, stored.removesuffix("_quantized"))


def _stored(plain: dict[str, np.ndarray], stem: str) -> Quantised:
    return Quantised(
        plain[stem + "_quantized"], plain[stem + "_scale"], plain[stem + "_zero_point"]
    )


def _joined(parts: list[Quantised]) -> Quantised:
    """Products of the same input as one, each column with its own scale and zero point."""
    widths = [part.stored.shape[1] for part in parts]
    return Quantised(
        np.concatenate([part.stored for part in parts], axis=1),
        np.repeat([part.scale for part in parts], widths),
        np.repeat([part.zero for part in parts], widths),
    )


def _named(name: str, matrix: Quantised) -> dict[str, np.ndarray]:
    return {
        f"{name}.weight": matrix.stored,
        f"{name}.scale": matrix.scale,
        f"{name}.zero": matrix.zero,
    }


def turning_speeds() -> np.ndarray:
    """Radians a place of rotary position embedding (Su et al. 2021, arXiv 2104.09864)."""
    return ROTARY_BASE ** (-np.arange(0, ROTARY, 2) / ROTARY)


def _turns() -> tuple[np.ndarray, np.ndarray]:
    """Cosines and sines of every place in a text."""
    angles = np.arange(PLACES)[:, None] * turning_speeds()
    return np.cos(angles).astype(np.float32), np.sin(angles).astype(np.float32)
