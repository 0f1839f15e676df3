"""The bundled network as a PyTorch model, rebuilt from the files inside its wheel.

The ``.ort`` files are flatbuffers; onnxruntime's own reader classes open them. Node names give
every weight its place in ``MoonshineForConditionalGeneration`` of the library transformers, whose
default configuration is this network. A quantised weight is (q - zero point) * scale.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np

QUANTISED_PRODUCTS = ("MatMulIntegerToFloat", "DynamicQuantizeMatMul")
_TYPES = {1: np.float32, 2: np.uint8, 3: np.int8, 6: np.int32, 7: np.int64}
"""ONNX TensorProto data types that occur here."""

ENCODER = "model.encoder."
"""What the names of the encoder's weights begin with."""
ENCODER_LAYERS = "layers."
ADDED_TO_THE_SUM = ("self_attn.o_proj.", "mlp.fc2.")
"""The weights through which a layer's two halves give what they add."""
_LAYER = re.compile(rf"^{re.escape(ENCODER_LAYERS)}(\d+)\.")


def _graph(path: Path):
    import onnxruntime

    tools = Path(onnxruntime.__file__).parent / "tools" / "ort_format_model"
    if str(tools) not in sys.path:
        sys.path.insert(0, str(tools))
    from ort_flatbuffers_py.fbs.InferenceSession import InferenceSession

    content = bytearray(path.read_bytes())
    return InferenceSession.GetRootAsInferenceSession(content, 0).Model().Graph()


def _constants(graph) -> dict[str, np.ndarray]:
    found = {}
    for number in range(graph.InitializersLength()):
        tensor = graph.Initializers(number)
        shape = [tensor.Dims(axis) for axis in range(tensor.DimsLength())]
        if tensor.RawDataLength() and tensor.DataType() in _TYPES:
            raw = tensor.RawDataAsNumpy().view(_TYPES[tensor.DataType()])
            found[tensor.Name().decode()] = raw.reshape(shape)
    return found


def _nodes(graph):
    """Nodes of a graph and of the branch that its If node takes without a cache."""
    for number in range(graph.NodesLength()):
        node = graph.Nodes(number)
        yield node
        if node.OpType() == b"If":
            for place in range(node.AttributesLength()):
                attribute = node.Attributes(place)
                if attribute.Name() == b"else_branch":
                    yield from _nodes(attribute.G())


def _products(graph, constants: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Weights of the quantised matrix products, as PyTorch holds them: [out, in]."""
    found = {}
    for node in _nodes(graph):
        if node.OpType().decode() not in QUANTISED_PRODUCTS:
            continue
        inputs = [node.Inputs(place).decode() for place in range(node.InputsLength())]
        (stored,) = [name for name in inputs if name.endswith("_quantized") and name in constants]
        stem = stored.removesuffix("_quantized")
        place = node.Name().decode().removesuffix("/MatMul_quant").strip("/").replace("/", ".")
        found[place + ".weight"] = _plain(constants, stem).T
    return found


def _plain(constants: dict[str, np.ndarray], stem: str) -> np.ndarray:
    zero = constants[stem + "_zero_point"].astype(np.float32)
    return (constants[stem + "_quantized"].astype(np.float32) - zero) * constants[stem + "_scale"]


def encoder_weights(folder: Path) -> dict[str, np.ndarray]:
    """The encoder's weights by the names of the PyTorch model, float32."""
    graph = _graph(folder / "encoder_model.ort")
    constants = _constants(graph)
    weights = _products(graph, constants)
    for name, value in constants.items():
        if name.startswith("conv"):
            weights[name.removesuffix("_add_tensor")] = value
        elif name.startswith("layer") and name.endswith((".weight", ".bias")):
            weights[name] = value
    weights["groupnorm.weight"] = constants["onnx::Mul_2080"].ravel()
    weights["groupnorm.bias"] = constants["onnx::Add_2081"].ravel()
    return {ENCODER + name: np.array(value, np.float32) for name, value in weights.items()}


def decoder_weights(folder: Path) -> dict[str, np.ndarray]:
    """The decoder's weights by the names of the PyTorch model, float32."""
    graph = _graph(folder / "decoder_model_merged.ort")
    constants = _constants(graph)
    weights = _products(graph, constants)
    for name, value in constants.items():
        plain = name.removesuffix("_merged_0")
        if plain != name and plain.endswith((".weight", ".bias")):
            weights[plain] = value
    weights["model.decoder.embed_tokens.weight"] = _plain(
        constants, "model.decoder.embed_tokens.weight_merged_0"
    )
    return {name: np.array(value, np.float32) for name, value in weights.items()}


def encoder_part(weights: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """The encoder's own weights of the whole network, by the names that they have within it."""
    return {
        name.removeprefix(ENCODER): value
        for name, value in weights.items()
        if name.startswith(ENCODER)
    }


def with_encoder(
    weights: dict[str, np.ndarray], encoder: dict[str, np.ndarray]
) -> dict[str, np.ndarray]:
    """The whole network with another encoder."""
    rest = {name: value for name, value in weights.items() if not name.startswith(ENCODER)}
    return rest | {ENCODER + name: value for name, value in encoder.items()}


def layers_of(weights: Iterable[str]) -> int:
    """How many layers an encoder has, by the names of its weights."""
    return 1 + max(int(found[1]) for name in weights if (found := _LAYER.search(name)))


def grown(weights: dict[str, np.ndarray], after: Sequence[int]) -> dict[str, np.ndarray]:
    """The encoder's weights with a further layer behind each of those numbered ``after``.

    A further layer is a copy of the one before it that adds nothing at first: what it gives to
    the sum is multiplied by zeros, from which it learns on.
    """
    order = []
    for number in range(layers_of(weights)):
        order.append((number, False))
        if number in after:
            order.append((number, True))
    taller = {name: value for name, value in weights.items() if not _LAYER.search(name)}
    for place, (number, is_new) in enumerate(order):
        for name, value in weights.items():
            found = _LAYER.search(name)
            if found and int(found[1]) == number:
                silent = is_new and any(part in name for part in ADDED_TO_THE_SUM)
                target = _LAYER.sub(f"{ENCODER_LAYERS}{place}.", name)
                taller[target] = np.zeros_like(value) if silent else value.copy()
    return taller


def new_model(layers: int = 6):
    """An empty network of this shape, for weights to be loaded into."""
    from transformers import MoonshineConfig, MoonshineForConditionalGeneration

    # the head size of 36 is padded to 40, which the fast attention kernels take
    config = MoonshineConfig(
        pad_head_dim_to_multiple_of=8, tie_word_embeddings=False, encoder_num_hidden_layers=layers
    )
    return MoonshineForConditionalGeneration(config)


def load(weights: dict[str, np.ndarray]):
    """The network with these weights; every place must be filled and every weight used."""
    import torch

    model = new_model(layers_of(encoder_part(weights)))
    tensors = {name: torch.from_numpy(np.array(value)) for name, value in weights.items()}
    model.load_state_dict(tensors, strict=True)
    return model.eval()


def pack(folder: Path, target: Path) -> None:
    """Both networks' weights in one file of half-precision numbers.

    The output layer is left out: it is the embedding, quantised once more.
    """
    weights = encoder_weights(folder) | decoder_weights(folder)
    weights.pop("proj_out.weight")
    np.savez_compressed(
        target, **{name: value.astype(np.float16) for name, value in weights.items()}
    )


def unpack(path: Path) -> dict[str, np.ndarray]:
    """What ``pack`` wrote, as float32, with the output layer."""
    with np.load(path) as stored:
        weights = {name: stored[name].astype(np.float32) for name in stored.files}
    weights["proj_out.weight"] = weights["model.decoder.embed_tokens.weight"]
    return weights


def save_encoder(target: Path, weights: dict[str, np.ndarray]) -> None:
    """An encoder's weights in half precision, by their names in it."""
    np.savez(target, **{name: value.astype(np.float16) for name, value in weights.items()})


def load_encoder(path: Path) -> dict[str, np.ndarray]:
    """What ``save_encoder`` wrote, float32."""
    with np.load(path) as stored:
        return {name: stored[name].astype(np.float32) for name in stored.files}


def main(arguments: list[str] | None = None) -> int:
    """Write the bundled network's weights to a file for train.py and export.py."""
    import argparse

    from assistant.hearing.speech_model import bundled_folder

    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--out", type=Path, required=True)
    pack(bundled_folder(), parser.parse_args(arguments).out)
    return 0


if __name__ == "__main__":
    sys.exit(main())
