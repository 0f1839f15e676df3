"""Write the encoder's and the decoder's networks, without their weights.

    python -m audio_fixtures.network_graphs

Both are those of MoonshineForConditionalGeneration in the library transformers, the encoder with
LAYERS of its own. The encoder: three convolutions over the sound, behind the first a hyperbolic
tangent and a norm over all; then layers of attention with rotary positions and a feed-forward
part. The decoder's layers: attention to the text so far with rotary positions, attention to the
sound, and a gated feed-forward part. Before each part is a layer norm without bias. Needs the
package onnx (extra "hardening").

The encoder's second and third convolution are matrix products of windows of the sound. The second
takes 8 bits, with a scale for every BLOCK numbers of a window: with one for all, as in the other
products, what is loud hides the rest (both convolutions so, and beside an impact wrench 71 instead
of 87 % of a person's numbers were heard rightly). The third stays in 32 bits: in blocks it was
what moved the output most.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from onnx import TensorProto, helper, numpy_helper

from assistant.hearing import encoder
from assistant.hearing.decoder import (
    FOLDER,
    HEAD_SIZE,
    HEADS,
    INNER,
    LAYERS,
    PAST_NAMES,
    PIECES,
    PRESENT_NAMES,
    ROTARY,
    SOUND_NAMES,
    WIDTH,
)
from assistant.hearing.decoder.weights import turning_speeds
from assistant.hearing.networks import PROBE, PROBED, PROBED_ROWS, network_file

MICROSOFT = "com.microsoft"
"""Operators of onnxruntime itself: fused attention, norms and quantised products."""
EPSILON = 1e-5
"""Of the layer norms."""
FLOAT = TensorProto.FLOAT
IN_BYTES = 4
"""onnxruntime's accuracy level of products whose numbers are made bytes block by block."""


class Network:
    """A graph in the making."""

    def __init__(self):
        self._nodes: list = []
        self._constants: list = []

    def add(self, kind: str, inputs: list[str], outputs: list[str], domain: str = "", **settings):
        node = helper.make_node(
            kind, inputs, outputs, domain=domain, name=outputs[0] or outputs[-1], **settings
        )
        self._nodes.append(node)

    def constant(self, name: str, value: np.ndarray) -> str:
        self._constants.append(numpy_helper.from_array(value, name))
        return name

    def product(self, name: str, source: str, out: str, bias: bool = False) -> None:
        """A quantised matrix product."""
        inputs = [source, f"{name}.weight", f"{name}.scale", f"{name}.zero"]
        if bias:
            inputs.append(f"{name}.bias")
        self.add("DynamicQuantizeMatMul", inputs, [out], MICROSOFT)

    def turn(self, source: str, out: str) -> None:
        """Rotary positions: each pair of a head's first ROTARY numbers turned by its place."""
        self.add(
            "RotaryEmbedding",
            [source, "places", "cos", "sin"],
            [out],
            MICROSOFT,
            interleaved=1,
            num_heads=HEADS,
            rotary_embedding_dim=ROTARY,
        )

    def convolution(self, name: str, source: str, out: str, stride: int) -> None:
        """A convolution over [1, frames, in] as a matrix product of windows, with a bias.

        The frames are laid out in rows of ``stride`` of them, and a window is a row and the
        beginning of the next ones.
        """
        into, outof, kernel = encoder.CONVOLUTIONS[name]
        p = f"{name}."
        rows_more = -(-kernel // stride) - 1

        def whole(part: str, *numbers: int) -> str:
            return self.constant(p + part, np.array(numbers, dtype=np.int64))

        nothing, one = whole("nothing", 0), whole("one", 1)
        self.add("Shape", [source], [p + "frames"], start=1, end=2)
        self.add("Sub", [p + "frames", whole("kernel", kernel)], [p + "over"])
        self.add("Div", [p + "over", whole("stride", stride)], [p + "last"])
        self.add("Add", [p + "last", one], [p + "windows"])
        self.add("Add", [p + "windows", whole("more", rows_more)], [p + "rows"])
        self.add("Mul", [p + "rows", p + "stride"], [p + "needed"])
        self.add("Sub", [p + "needed", p + "frames"], [p + "lack"])
        # below zero it cuts off; what it adds lies behind the last window's end
        ends = [nothing, nothing, nothing, nothing, p + "lack", nothing]
        self.add("Concat", ends, [p + "ends"], axis=0)
        self.add("Pad", [source, p + "ends"], [p + "fitted"])
        self.add("Reshape", [p + "fitted", whole("row", 0, -1, stride * into)], [p + "in_rows"])
        parts = []
        for row in range(rows_more + 1):
            width = min(stride, kernel - row * stride) * into
            self.add("Add", [p + "windows", whole(f"row{row}", row)], [p + f"end{row}"])
            stop = [p + f"end{row}", whole(f"width{row}", width)]
            self.add("Concat", stop, [p + f"stop{row}"], axis=0)
            cut = [p + "in_rows", whole(f"start{row}", row, 0), p + f"stop{row}", p + "axes"]
            self.add("Slice", cut, [p + f"part{row}"])
            parts.append(p + f"part{row}")
        whole("axes", 1, 2)
        self.add("Concat", parts, [p + "window"], axis=2)
        if name not in encoder.IN_BLOCKS:
            self.add("MatMul", [p + "window", p + "weight"], [p + "product"])
            self.add("Add", [p + "product", p + "bias"], [out])
            return
        self.add(
            "MatMulNBits",
            [p + "window", p + "weight", p + "scale", "", "", p + "bias"],
            [out],
            MICROSOFT,
            K=kernel * into,
            N=outof,
            bits=8,
            block_size=encoder.BLOCK,
            accuracy_level=IN_BYTES,
        )

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


def write_encoder() -> None:
    """Sound [1, samples] to [1, frames, WIDTH]."""
    net = Network()
    first, second, third = encoder.STRIDES
    net.add("Unsqueeze", ["sound", net.constant("axis", np.array([1]))], ["channel"])
    net.add(
        "Conv",
        ["channel", "conv1.weight"],
        ["c1"],
        strides=[first],
    )
    net.add("Tanh", ["c1"], ["t1"])
    # a norm over all channels and times is one over a single long channel
    net.add("Reshape", ["t1", net.constant("as_one", np.array([0, 1, -1]))], ["long"])
    one = net.constant("one", np.ones(1, dtype=np.float32))
    nothing = net.constant("nothing", np.zeros(1, dtype=np.float32))
    net.add("InstanceNormalization", ["long", one, nothing], ["normed"], epsilon=EPSILON)
    net.add("Reshape", ["normed", net.constant("apart", np.array([0, WIDTH, -1]))], ["channels"])
    net.add("Transpose", ["channels"], ["in_time"], perm=[0, 2, 1])
    net.add("Mul", ["in_time", "groupnorm.weight"], ["gained"])
    net.add("Add", ["gained", "groupnorm.bias"], ["n1"])
    net.convolution("conv2", "n1", "c2", second)
    net.add("Gelu", ["c2"], ["g2"], MICROSOFT)
    net.convolution("conv3", "g2", "c3", third)
    net.add("Gelu", ["c3"], ["g3"], MICROSOFT)

    net.add("Shape", ["g3"], ["frames"], start=1, end=2)
    net.add("Squeeze", ["frames"], ["count"])
    steps = [net.constant("from", np.array(0)), "count", net.constant("step", np.array(1))]
    net.add("Range", steps, ["numbers"])
    net.add("Unsqueeze", ["numbers", net.constant("front", np.array([0]))], ["places"])
    net.add("Cast", ["numbers"], ["times"], to=FLOAT)
    net.add("Unsqueeze", ["times", "axis"], ["column"])
    speeds = net.constant("speeds", turning_speeds().astype(np.float32))
    net.add("Mul", ["column", speeds], ["angles"])
    net.add("Cos", ["angles"], ["cos"])
    net.add("Sin", ["angles"], ["sin"])

    thirds = net.constant("thirds", np.array([WIDTH] * 3))
    stream = "g3"

    def norm(name: str, out: str) -> None:
        inputs = [stream, name]
        net.add("LayerNormalization", inputs, [out], epsilon=EPSILON, axis=-1)

    norm("0.norm1", "0.n1")
    for layer in range(encoder.LAYERS):
        p = f"{layer}."
        net.product(p + "qkv", p + "n1", p + "qkv")
        net.add("Split", [p + "qkv", thirds], [p + "q", p + "k", p + "v"], axis=-1)
        for part in ("q", "k"):
            net.turn(p + part, p + part + "t")
        heads = [p + "qt", p + "kt", p + "v"]
        net.add("MultiHeadAttention", heads, [p + "a"], MICROSOFT, num_heads=HEADS)
        net.product(p + "o", p + "a", p + "ao")
        net.add("Add", [stream, p + "ao"], [p + "s1"])
        stream = p + "s1"
        norm(p + "norm2", p + "n2")
        net.product(p + "fc1", p + "n2", p + "f1", bias=True)
        net.add("Gelu", [p + "f1"], [p + "g"], MICROSOFT)
        net.product(p + "fc2", p + "g", p + "f2", bias=True)
        net.add("Add", [stream, p + "f2"], [p + "s2"])
        stream = p + "s2"
        last = layer == encoder.LAYERS - 1
        norm("norm" if last else f"{layer + 1}.norm1", "hidden" if last else f"{layer + 1}.n1")
    net.write(
        network_file(encoder.FOLDER, "encoder"),
        {"sound": [1, "samples"]},
        {"hidden": [1, "frames", WIDTH]},
    )


def write_sound() -> None:
    """Encoder output [1, frames, WIDTH] to a key and value for each layer."""
    net = Network()
    net.product("sound", "hidden", "joined")
    shape = net.constant("shape", np.array([0, -1, 2 * LAYERS * HEADS, HEAD_SIZE]))
    net.add("Reshape", ["joined", shape], ["by_head"])
    net.add("Transpose", ["by_head"], ["heads"], perm=[0, 2, 1, 3])
    parts = net.constant("parts", np.array([HEADS] * (2 * LAYERS)))
    net.add("Split", ["heads", parts], SOUND_NAMES, axis=1)
    net.write(
        network_file(FOLDER, "sound"),
        {"hidden": [1, "frames", WIDTH]},
        {name: [1, HEADS, "frames", HEAD_SIZE] for name in SOUND_NAMES},
    )


def write_text() -> None:
    """New pieces to log probabilities of what follows each, and the keys and values with them.

    begun: embedding of the new pieces. places: their places in their texts. unseen: 0 where a
    new piece follows an earlier or new one, far below 0 elsewhere.
    """
    net = Network()
    thirds = net.constant("thirds", np.array([WIDTH] * 3))
    halves = net.constant("halves", np.array([INNER] * 2))
    net.add(
        "LayerNormalization",
        ["begun", "0.norm1"],
        ["0.n1"],
        epsilon=EPSILON,
        axis=-1,
    )
    stream = "begun"

    def close(part: str, norm: str, out: str) -> None:
        """Add a part's output to the stream, and the norm that the next part begins with."""
        nonlocal stream
        inputs = [stream, part, norm, "zeros"]
        stream = part + "+"
        net.add("SkipLayerNormalization", inputs, [out, "", "", stream], MICROSOFT, epsilon=EPSILON)

    for layer in range(LAYERS):
        p = f"{layer}."
        net.product(p + "qkv", p + "n1", p + "qkv")
        net.add("Split", [p + "qkv", thirds], [p + "q", p + "k", p + "v"], axis=-1)
        for part in ("q", "k"):
            net.turn(p + part, p + part + "t")
        past = [f"past_key.{layer}", f"past_value.{layer}"]
        net.add(
            "MultiHeadAttention",
            [p + "qt", p + "kt", p + "v", "", "", "unseen", *past],
            [p + "a", f"key.{layer}", f"value.{layer}"],
            MICROSOFT,
            num_heads=HEADS,
        )
        net.product(p + "o", p + "a", p + "ao")
        close(p + "ao", p + "norm2", p + "n2")
        net.product(p + "cross_q", p + "n2", p + "cq")
        sound = [f"sound_key.{layer}", f"sound_value.{layer}"]
        net.add("MultiHeadAttention", [p + "cq", *sound], [p + "ca"], MICROSOFT, num_heads=HEADS)
        net.product(p + "cross_o", p + "ca", p + "co")
        close(p + "co", p + "norm3", p + "n3")
        net.product(p + "fc1", p + "n3", p + "f1", bias=True)
        net.add("Split", [p + "f1", halves], [p + "up", p + "gate"], axis=-1)
        net.add("QuickGelu", [p + "gate"], [p + "open"], MICROSOFT, alpha=1.0)  # alpha 1: SiLU
        net.add("Mul", [p + "up", p + "open"], [p + "m"])
        net.product(p + "fc2", p + "m", p + "f2", bias=True)
        last = layer == LAYERS - 1
        close(p + "f2", "norm" if last else f"{layer + 1}.norm1", f"{layer + 1}.n1")
    net.product("head", f"{LAYERS}.n1", "odds")
    net.add("LogSoftmax", ["odds"], ["log_probabilities"], axis=-1)
    net.write(
        network_file(FOLDER, "text"),
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
    stored = np.full((PROBED, PROBED_ROWS), 127, dtype=np.int8)
    graph = helper.make_graph(
        [helper.make_node("MatMulInteger", ["bytes", "signed"], ["product"])],
        PROBE.name,
        [helper.make_tensor_value_info("bytes", TensorProto.UINT8, ["rows", PROBED])],
        [helper.make_tensor_value_info("product", TensorProto.INT32, ["rows", PROBED_ROWS])],
        [numpy_helper.from_array(stored, "signed")],
    )
    model = helper.make_model(graph, opset_imports=[helper.make_opsetid("", 17)], ir_version=8)
    PROBE.write_bytes(model.SerializeToString(deterministic=True))


def main() -> int:
    write_encoder()
    write_sound()
    write_text()
    write_probe()
    for folder in (encoder.FOLDER, FOLDER):
        print(f"{folder.name}/: {', '.join(p.name for p in sorted(folder.glob('*.onnx')))}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
