"""Write the decoder's networks (assistant/hearing/decoder/*.onnx), without their weights.

    python -m audio_fixtures.decoder_graphs

The layers are those of MoonshineForConditionalGeneration in the library transformers (default
configuration): before each part a layer norm without bias, attention to the text so far with
rotary positions, attention to the sound, and a gated feed-forward part. Needs the package onnx
(extra "hardening").
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from onnx import TensorProto, helper, numpy_helper

from assistant.hearing.decoder import (
    FOLDER,
    HEAD_SIZE,
    HEADS,
    INNER,
    LAYERS,
    PAST_NAMES,
    PIECES,
    PLACES,
    PRESENT_NAMES,
    PROBE,
    ROTARY,
    SOUND_NAMES,
    WIDTH,
    network_file,
)

MICROSOFT = "com.microsoft"
"""Operators of onnxruntime itself: fused attention, norms and quantised products."""
EPSILON = 1e-5
"""Of the layer norms."""
FLOAT = TensorProto.FLOAT
STORED = {"uint8": TensorProto.UINT8, "int8": TensorProto.INT8}


class Network:
    """A graph in the making."""

    def __init__(self, stored: int):
        self._stored = stored
        self._nodes: list = []
        self._constants: list = []

    def add(self, kind: str, inputs: list[str], outputs: list[str], domain: str = "", **settings):
        node = helper.make_node(
            kind, inputs, outputs, domain=domain, name=outputs[0] or outputs[-1], **settings
        )
        self._nodes.append(node)

    def given(self, name: str, shape: list[int], kind: int = FLOAT) -> str:
        """A weight that is handed over when the network is loaded."""
        tensor = TensorProto(name=name, data_type=kind, dims=shape)
        tensor.data_location = TensorProto.EXTERNAL
        tensor.external_data.add(key="location", value="given")
        self._constants.append(tensor)
        return name

    def constant(self, name: str, value: np.ndarray) -> str:
        self._constants.append(numpy_helper.from_array(value, name))
        return name

    def product(
        self,
        name: str,
        source: str,
        out: str,
        shape: tuple[int, int],
        bias: bool = False,
        joined: bool = False,
    ) -> None:
        """A quantised matrix product; joined: of several, each column with a scale."""
        marks = [shape[1]] if joined else []
        inputs = [
            source,
            self.given(f"{name}.weight", list(shape), self._stored),
            self.given(f"{name}.scale", marks),
            self.given(f"{name}.zero", marks, self._stored),
        ]
        if bias:
            inputs.append(self.given(f"{name}.bias", [shape[1]]))
        self.add("DynamicQuantizeMatMul", inputs, [out], MICROSOFT)

    def write(
        self, path: Path, inputs: dict[str, list], outputs: dict[str, list], whole=()
    ) -> None:
        def infos(table: dict[str, list]) -> list:
            return [
                helper.make_tensor_value_info(
                    name, TensorProto.INT64 if name in whole else FLOAT, shape
                )
                for name, shape in table.items()
            ]

        graph = helper.make_graph(
            self._nodes, path.name, infos(inputs), infos(outputs), self._constants
        )
        versions = [helper.make_opsetid("", 17), helper.make_opsetid(MICROSOFT, 1)]
        model = helper.make_model(graph, opset_imports=versions, ir_version=8)
        path.write_bytes(model.SerializeToString(deterministic=True))


def write_sound(weights: str) -> None:
    """Encoder output [1, frames, WIDTH] to a key and value for each layer."""
    net = Network(STORED[weights])
    net.product("sound", "hidden", "joined", (WIDTH, 2 * LAYERS * WIDTH), joined=True)
    shape = net.constant("shape", np.array([0, -1, 2 * LAYERS * HEADS, HEAD_SIZE]))
    net.add("Reshape", ["joined", shape], ["by_head"])
    net.add("Transpose", ["by_head"], ["heads"], perm=[0, 2, 1, 3])
    parts = net.constant("parts", np.array([HEADS] * (2 * LAYERS)))
    net.add("Split", ["heads", parts], SOUND_NAMES, axis=1)
    net.write(
        network_file("sound", weights),
        {"hidden": [1, "frames", WIDTH]},
        {name: [1, HEADS, "frames", HEAD_SIZE] for name in SOUND_NAMES},
    )


def write_text(weights: str) -> None:
    """New pieces to log probabilities of what follows each, and the keys and values with them.

    begun: embedding of the new pieces. places: their places in their texts. unseen: 0 where a
    new piece follows an earlier or new one, far below 0 elsewhere.
    """
    net = Network(STORED[weights])
    net.given("cos", [PLACES, ROTARY // 2])
    net.given("sin", [PLACES, ROTARY // 2])
    net.given("zeros", [WIDTH])
    thirds = net.constant("thirds", np.array([WIDTH] * 3))
    halves = net.constant("halves", np.array([INNER] * 2))
    net.add(
        "LayerNormalization",
        ["begun", net.given("0.norm1", [WIDTH])],
        ["0.n1"],
        epsilon=EPSILON,
        axis=-1,
    )
    stream = "begun"

    def close(part: str, norm: str, out: str) -> None:
        """Add a part's output to the stream, and the norm that the next part begins with."""
        nonlocal stream
        inputs = [stream, part, net.given(norm, [WIDTH]), "zeros"]
        stream = part + "+"
        net.add("SkipLayerNormalization", inputs, [out, "", "", stream], MICROSOFT, epsilon=EPSILON)

    for layer in range(LAYERS):
        p = f"{layer}."
        net.product(p + "qkv", p + "n1", p + "qkv", (WIDTH, 3 * WIDTH), joined=True)
        net.add("Split", [p + "qkv", thirds], [p + "q", p + "k", p + "v"], axis=-1)
        for part in ("q", "k"):
            net.add(
                "RotaryEmbedding",
                [p + part, "places", "cos", "sin"],
                [p + part + "t"],
                MICROSOFT,
                interleaved=1,
                num_heads=HEADS,
                rotary_embedding_dim=ROTARY,
            )
        past = [f"past_key.{layer}", f"past_value.{layer}"]
        net.add(
            "MultiHeadAttention",
            [p + "qt", p + "kt", p + "v", "", "", "unseen", *past],
            [p + "a", f"key.{layer}", f"value.{layer}"],
            MICROSOFT,
            num_heads=HEADS,
        )
        net.product(p + "o", p + "a", p + "ao", (WIDTH, WIDTH))
        close(p + "ao", p + "norm2", p + "n2")
        net.product(p + "cross_q", p + "n2", p + "cq", (WIDTH, WIDTH))
        sound = [f"sound_key.{layer}", f"sound_value.{layer}"]
        net.add("MultiHeadAttention", [p + "cq", *sound], [p + "ca"], MICROSOFT, num_heads=HEADS)
        net.product(p + "cross_o", p + "ca", p + "co", (WIDTH, WIDTH))
        close(p + "co", p + "norm3", p + "n3")
        net.product(p + "fc1", p + "n3", p + "f1", (WIDTH, 2 * INNER), bias=True)
        net.add("Split", [p + "f1", halves], [p + "up", p + "gate"], axis=-1)
        net.add("QuickGelu", [p + "gate"], [p + "open"], MICROSOFT, alpha=1.0)  # alpha 1: SiLU
        net.add("Mul", [p + "up", p + "open"], [p + "m"])
        net.product(p + "fc2", p + "m", p + "f2", (INNER, WIDTH), bias=True)
        last = layer == LAYERS - 1
        close(p + "f2", "norm" if last else f"{layer + 1}.norm1", f"{layer + 1}.n1")
    net.product("head", f"{LAYERS}.n1", "odds", (WIDTH, PIECES))
    net.add("LogSoftmax", ["odds"], ["log_probabilities"], axis=-1)
    net.write(
        network_file("text", weights),
        {
            "begun": [1, "new", WIDTH],
            "places": [1, "new"],
            "unseen": [1, 1, "new", "all"],
            **{name: [1, HEADS, "past", HEAD_SIZE] for name in PAST_NAMES},
            **{name: [1, HEADS, "frames", HEAD_SIZE] for name in SOUND_NAMES},
        },
        {
            "log_probabilities": [1, "new", PIECES],
            **{name: [1, HEADS, "all", HEAD_SIZE] for name in PRESENT_NAMES},
        },
        whole=("places",),
    )


def write_probe() -> None:
    """Bytes times signed bytes, all as large as they go: what a processor may get wrong."""
    stored = np.full((WIDTH, HEADS), 127, dtype=np.int8)
    graph = helper.make_graph(
        [helper.make_node("MatMulInteger", ["bytes", "signed"], ["product"])],
        PROBE.name,
        [helper.make_tensor_value_info("bytes", TensorProto.UINT8, ["rows", WIDTH])],
        [helper.make_tensor_value_info("product", TensorProto.INT32, ["rows", HEADS])],
        [numpy_helper.from_array(stored, "signed")],
    )
    model = helper.make_model(graph, opset_imports=[helper.make_opsetid("", 17)], ir_version=8)
    PROBE.write_bytes(model.SerializeToString(deterministic=True))


def main() -> int:
    for weights in STORED:
        write_sound(weights)
        write_text(weights)
    write_probe()
    print(f"written to {FOLDER.name}/: {', '.join(p.name for p in sorted(FOLDER.glob('*.onnx')))}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
