"""The encoder's own network against the wheel's encoder file, run as it is."""

import numpy as np
import onnxruntime as ort
import pytest
from tests_support import audio_path

from assistant.hearing import encoder, networks
from assistant.hearing.encoder.network import open_encoder, read_weights, write_weights
from assistant.hearing.sources import read_wav
from assistant.hearing.speech_model import ModelMissing, SpeechModel, bundled_folder
from audio_fixtures.hardening import export, model

FILE = bundled_folder() / "encoder_model.ort"
RECORDINGS = slice(0, 80, 10)
APART = 0.08
"""Of the reference's size: both make bytes of what runs through them, each in its own way. The
bundled file is 4 % from the same weights in 32 bits (measured here: 3 to 5 %)."""

LAST_APART = 0.25
"""The same of a single frame."""


@pytest.fixture(scope="module")
def bundled_weights():
    """By their names in PyTorch, with further layers that add nothing."""
    return export.with_all_layers(model.encoder_part(model.encoder_weights(bundled_folder())))


@pytest.fixture(scope="module")
def same_as_bundled(bundled_weights, tmp_path_factory):
    path = tmp_path_factory.mktemp("encoder") / "bundled.safetensors"
    write_weights(path, export.stored(bundled_weights))
    return path


def reference(samples):
    session = ort.InferenceSession(str(FILE), providers=["CPUExecutionProvider"])
    mask = np.ones((1, len(samples)), dtype=np.int64)
    (hidden,) = session.run(None, {"input_values": samples[None], "attention_mask": mask})
    return hidden


@pytest.mark.parametrize("signed", [True, False])
def test_with_the_bundled_weights_it_hears_what_the_wheels_encoder_hears(
    same_as_bundled, spoken_files, signed, monkeypatch
):
    if signed and not networks.exact_with_signs():
        pytest.skip("this processor does not multiply signed bytes exactly")
    monkeypatch.setattr(networks, "exact_with_signs", lambda: signed)
    ours = open_encoder(same_as_bundled, threads=1)
    for entry in spoken_files[RECORDINGS]:
        samples = read_wav(audio_path(entry)).samples
        hidden, wanted = ours.hidden(samples[None]), reference(samples)
        assert hidden.shape == wanted.shape
        assert np.abs(hidden - wanted).mean() < APART * np.abs(wanted).mean()


@pytest.mark.parametrize("rest", [0, 1, 47, 63, 64, 127, 128, 191, 192, 300, 383])
def test_windows_end_where_the_wheels_end(same_as_bundled, spoken_files, rest):
    """Lengths where strides of 64, 3 and 2, 384 samples together, leave different rests."""
    sound = read_wav(audio_path(spoken_files[0])).samples[6000 : 6000 + 40 * 384 + rest]
    hidden, wanted = open_encoder(same_as_bundled, 1).hidden(sound[None]), reference(sound)
    assert hidden.shape == wanted.shape
    for frame in (0, -1):  # the last one sees the last window; measured 6 to 17 %
        apart = np.abs(hidden[0, frame] - wanted[0, frame]).mean()
        assert apart < LAST_APART * np.abs(wanted[0, frame]).mean()


def test_weights_come_back_from_their_bytes(bundled_weights):
    again = export.meant(export.stored(bundled_weights))
    assert again.keys() == bundled_weights.keys()
    for name, value in bundled_weights.items():
        # a byte is a 255th of what a column or a block spans, 16 bits have 11 that count
        assert np.abs(again[name] - value).max() <= np.ptp(value) / 250 + 1e-6, name


def test_a_further_layer_adds_nothing_until_it_is_trained(
    bundled_weights, same_as_bundled, tmp_path
):
    changed = {name: value.copy() for name, value in bundled_weights.items()}
    for place, after in enumerate(encoder.FURTHER_AFTER, start=1):
        changed[f"layers.{after + place}.mlp.fc1.weight"] += 0.5
    path = tmp_path / "changed.safetensors"
    write_weights(path, export.stored(changed))
    sound = np.random.default_rng(1).standard_normal((1, 8000)).astype(np.float32) * 0.05
    untouched = open_encoder(same_as_bundled, 1).hidden(sound)
    assert (open_encoder(path, 1).hidden(sound) == untouched).all()
    given = changed[f"layers.{encoder.FURTHER_AFTER[0] + 1}.mlp.fc2.weight"]
    given += np.random.default_rng(2).standard_normal(given.shape).astype(np.float32) * 0.05
    write_weights(path, export.stored(changed))
    assert np.abs(open_encoder(path, 1).hidden(sound) - untouched).max() > 0.1


def test_weights_are_read_as_they_were_written(bundled_weights, tmp_path):
    written = export.stored(bundled_weights)
    write_weights(tmp_path / "weights.safetensors", written)
    read = read_weights(tmp_path / "weights.safetensors")
    assert read.keys() == written.keys()
    for name, value in written.items():
        assert read[name].dtype != np.float16
        assert np.array_equal(read[name], value.astype(read[name].dtype)), name
    # reference: the format's own library, where it is installed
    library = pytest.importorskip("safetensors.numpy")
    theirs = library.load_file(tmp_path / "weights.safetensors")
    assert theirs.keys() == written.keys()
    assert all(np.array_equal(theirs[name], value) for name, value in written.items())


def test_weights_are_put_into_a_model_as_the_library_reads_them():
    """Reference: the library onnx reads back what stands behind the model's own bytes."""
    onnx = pytest.importorskip("onnx")
    model = networks.network_file(encoder.FOLDER, "encoder").read_bytes()
    own = {tensor.name for tensor in onnx.load_from_string(model).graph.initializer}
    weights = {
        "long": np.arange(-70_000, 70_000, dtype=np.float32).reshape(2, -1),
        "bytes": np.arange(200, dtype=np.uint8),
        "signed": np.arange(-128, 128, dtype=np.int8).reshape(2, 4, 32),
        "none": np.zeros((0, 3), dtype=np.float32),
    }
    read = onnx.load_from_string(networks.with_weights(model, weights)).graph
    found = {t.name: onnx.numpy_helper.to_array(t) for t in read.initializer if t.name not in own}
    assert found.keys() == weights.keys()
    for name, value in weights.items():
        assert found[name].dtype == value.dtype and np.array_equal(found[name], value)
    assert len(read.node) == len(onnx.load_from_string(model).graph.node)


def test_an_encoder_of_another_height_is_refused(bundled_weights):
    with pytest.raises(ValueError, match="10 layers"):
        export.with_all_layers(model.grown(bundled_weights, (0,)))


@pytest.mark.parametrize("content", ["weights", "bytes", "nothing"])
def test_a_file_that_is_no_encoder_gets_one_line(tmp_path, content):
    path = tmp_path / "other.safetensors"
    if content == "weights":
        write_weights(path, {"conv1": np.zeros(3, dtype=np.float32)})
    else:
        path.write_bytes(b"not a network" if content == "bytes" else b"")
    with pytest.raises(ModelMissing, match=r"other\.safetensors"):
        SpeechModel(encoder=str(path)).load()
    onnx = path.rename(path.with_suffix(".onnx"))
    with pytest.raises(ModelMissing, match=r"other\.onnx"):
        SpeechModel(encoder=str(onnx)).load()
