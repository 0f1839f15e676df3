"""From trained weights to the file that the package carries.

    python -m audio_fixtures.hardening.export --weights bundled.npz \
        --run run/encoder-1.npz=0.5 --run run/encoder-2.npz=0.3 --out encoder.onnx

The weights are the bundled ones plus the given shares of each run's differences (share 1 of one
run is that run itself). A run may also be an encoder that this program wrote (.onnx), whose
weights are then good to 8 bits. The matrix products are quantised to 8 bits, weight by weight and
output by output; the three convolutions keep half precision.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

import numpy as np

from audio_fixtures.hardening import model as network
from audio_fixtures.hardening.train import load_encoder

SAMPLES, HIDDEN = "input_values", "last_hidden_state"
QUANTISED, HALVED = "_quantized", "_half"
"""What the names of weights end with that are stored in 8 bits (by onnxruntime) and 16 (by us)."""


def mixed(bundled: dict[str, np.ndarray], runs: dict[Path, float]) -> dict[str, np.ndarray]:
    """The bundled weights plus shares of the runs' differences from them."""
    weights = {name: value.copy() for name, value in bundled.items()}
    for path, share in runs.items():
        for name, value in load_encoder(path).items():
            place = network.ENCODER + name
            weights[place] += share * (value - bundled[place])
    return weights


def to_onnx(weights: dict[str, np.ndarray], target: Path) -> None:
    """The encoder as a float ONNX file that takes sound of any length."""
    import torch

    class Encoder(torch.nn.Module):
        def __init__(self):
            super().__init__()
            self.inner = network.load(weights).model.encoder
            self.inner.set_attn_implementation("eager")  # plain products, for the quantiser

        def forward(self, input_values):
            return self.inner(input_values).last_hidden_state

    with torch.no_grad():
        torch.onnx.export(
            Encoder().eval(),
            (torch.randn(1, 24_000),),
            str(target),
            dynamo=True,
            input_names=[SAMPLES],
            output_names=[HIDDEN],
            external_data=False,
            verbose=False,
            dynamic_shapes={"input_values": {1: torch.export.Dim("samples", min=2_000)}},
        )


def shrunk_weights(path: Path) -> dict[str, np.ndarray]:
    """The weights of a file that ``shrink`` wrote, by their names in the float file."""
    import onnx
    from onnx import numpy_helper

    stored = {t.name: numpy_helper.to_array(t) for t in onnx.load(path).graph.initializer}
    weights = {}
    for name, value in stored.items():
        if name.endswith(QUANTISED):
            stem = name.removesuffix(QUANTISED)
            zero = stored[stem + "_zero_point"].astype(np.float32)
            weights[stem] = (value.astype(np.float32) - zero) * stored[stem + "_scale"]
        else:
            weights[name.removesuffix(HALVED)] = value
    return weights


def add_shrunk(whole: Path, bundled: Path, shrunk: Path, share: float) -> None:
    """Add a share of a shrunk encoder's difference from the bundled weights to a float file.

    bundled: the bundled weights as a float file. Raises ValueError where a weight is missing.
    """
    import onnx
    from onnx import numpy_helper

    theirs, model = shrunk_weights(shrunk), onnx.load(whole)
    start = {t.name: numpy_helper.to_array(t) for t in onnx.load(bundled).graph.initializer}
    for tensor in model.graph.initializer:
        value = numpy_helper.to_array(tensor)
        if value.dtype != np.float32 or value.ndim == 0:
            continue  # shapes and single numbers, the same in all
        if tensor.name not in theirs or theirs[tensor.name].shape != value.shape:
            raise ValueError(f"{shrunk} has no weight {tensor.name}: export it anew")
        value = value + share * (theirs[tensor.name] - start[tensor.name])
        tensor.CopyFrom(numpy_helper.from_array(value.astype(np.float32), tensor.name))
    onnx.save(model, whole)


def shrink(source: Path, target: Path) -> None:
    """Matrix products in 8 bits, the convolutions' weights stored in 16."""
    import onnx
    from onnx import TensorProto, helper, numpy_helper
    from onnxruntime.quantization import QuantType, quantize_dynamic

    with tempfile.TemporaryDirectory() as folder:
        quantised = Path(folder) / "quantised.onnx"
        quantize_dynamic(
            source,
            quantised,
            op_types_to_quantize=["MatMul"],
            weight_type=QuantType.QUInt8,
            per_channel=False,
            extra_options={"MatMulConstBOnly": True},
        )
        whole = onnx.load(quantised)
    large = {node.input[1] for node in whole.graph.node if node.op_type == "Conv"}
    casts = []
    for tensor in whole.graph.initializer:
        if tensor.name in large:
            name = tensor.name
            half = numpy_helper.to_array(tensor).astype(np.float16)
            tensor.CopyFrom(numpy_helper.from_array(half, name + HALVED))
            casts.append(helper.make_node("Cast", [name + HALVED], [name], to=TensorProto.FLOAT))
    for node in reversed(casts):
        whole.graph.node.insert(0, node)
    del whole.metadata_props[:]
    for node in whole.graph.node:
        node.doc_string = ""
        del node.metadata_props[:]
    onnx.checker.check_model(whole)
    onnx.save(whole, target)


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--weights", type=Path, required=True)
    parser.add_argument("--run", action="append", default=[], metavar="FILE=SHARE")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--float", action="store_true", help="leave the weights in 32 bits")
    options = parser.parse_args(arguments)
    runs = {}
    for given in options.run:
        path, _, share = given.rpartition("=")
        runs[Path(path)] = float(share)
    bundled = network.unpack(options.weights)
    shrunk = {path: runs.pop(path) for path in list(runs) if path.suffix == ".onnx"}
    with tempfile.TemporaryDirectory() as folder:
        whole, start = Path(folder) / "float.onnx", Path(folder) / "bundled.onnx"
        to_onnx(mixed(bundled, runs), whole)
        if shrunk:
            to_onnx(bundled, start)
        for path, share in shrunk.items():
            add_shrunk(whole, start, path, share)
        if options.float:
            options.out.write_bytes(whole.read_bytes())
            return 0
        shrink(whole, options.out)
    print(f"{options.out}: {options.out.stat().st_size / 1e6:.1f} MB")
    return 0


if __name__ == "__main__":
    sys.exit(main())
