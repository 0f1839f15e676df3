"""The program that makes the encoder, in small on a processor (needs the extra "hardening")."""

from __future__ import annotations

import itertools
import json
import random

import numpy as np
import pytest
import soundfile

from assistant.exchange import SAMPLE_RATE
from assistant.hearing.encoder import HARDENED, LAYERS
from assistant.hearing.speech_model import SpeechModel, bundled_folder
from audio_fixtures import scale
from audio_fixtures.hardening import sound as sound_files
from audio_fixtures.hardening.actors import PACKED_HEADER, _check_sum, unpack
from audio_fixtures.hardening.rivals import rivals
from audio_fixtures.hardening.sentences import sentences, spoken, trade_sentences


def test_the_sentences_without_the_trade_hold_nothing_of_it():
    from assistant.bench import Bench

    bench = Bench()
    asked = {words for routine in bench.routines.values() for words in routine.examples}
    drawn = list(itertools.islice(sentences(1), 4000))
    assert not asked & {words.lower().rstrip(".?") for words in drawn}
    trade = ("adhesive", "clamp", "bead", "cartridge", "weld", "primer", "sealer", "filler")
    assert not [words for words in drawn if any(term in words for term in trade)]


def test_no_sentence_that_tunes_or_tests_and_no_committed_recording_is_trained_on():
    drawn = set(itertools.islice(trade_sentences(1), 3000))
    assert {scale.purpose_of(words) for words in drawn} == {"train"}
    manifest = json.loads((scale.HERE / "manifest.json").read_text(encoding="utf-8"))
    committed = {row["words"] for row in manifest}
    assert {scale.purpose_of(words) for words in committed} == set(scale.PURPOSES)
    assert not drawn & committed


def test_every_kind_of_question_is_spoken_in_training():
    from assistant.bench import Bench

    bench = Bench()
    drawn = itertools.islice(trade_sentences(1), 1500)
    heard = {found.rule for words in drawn for found in bench.graph.readings(words)}
    assert heard >= set(bench.routines)


@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
def test_the_trade_has_its_share_of_what_is_spoken(share):
    drawn = list(itertools.islice(spoken(1, share), 1000))
    trade = set(itertools.islice(trade_sentences(1), 1000))
    assert abs(sum(words in trade for words in drawn) / len(drawn) - share) < 0.05


@pytest.mark.parametrize("draw", [sentences, trade_sentences, spoken])
def test_the_same_seed_gives_the_same_sentences_and_another_gives_others(draw):
    def first(seed: int) -> list[str]:
        return list(itertools.islice(draw(seed), 50))

    assert first(3) == first(3)
    assert first(3) != first(4)


def test_rivals_differ_from_the_text_in_one_word_and_sound_like_it():
    pairs = (("13.", "30."), ("Ninety yards", "Nineteen yards"), ("115 cups", "150 cups"))
    for text, alike in pairs:
        found = rivals(text, random.Random(1), 6)
        assert alike in found
        assert len(set(found)) == len(found) <= 6
        for rival in found:
            changed = [
                1
                for ours, theirs in zip(text.split(), rival.split(), strict=True)
                if ours != theirs
            ]
            assert changed == [1]


def test_a_text_without_words_of_a_kind_has_no_rivals():
    assert rivals("yes, please", random.Random(1), 6) == []


def packed_by_hand() -> bytes:
    """Five bytes as they are, then two copied from three before: "abcab" and "ca"."""
    bits: list[int] = []
    literals: dict[int, bytes] = {}

    def put(value: int, count: int) -> None:
        bits.extend(value >> place & 1 for place in range(count))

    def put_table(*lengths: int) -> None:
        put(len(lengths), 5)
        for length in lengths:
            put(length, 4)

    put(0, 2)
    put_table(1, 0, 0, 1)  # runs: code 0 is none, code 1 is 4 to 7 by two bits more
    put_table(0, 0, 1)  # distances: code 0 is 2 or 3, one less than meant, by one bit more
    put_table(1)  # lengths: code 0 is 0, two less than meant
    put(2, 16)
    put(0b1, 1), put(0b01, 2)
    # bytes stand before the word that the reader has loaded last: it holds 16 to 31 bits
    loaded = len(bits) // 16 + (2 if len(bits) % 16 else 1)
    literals[loaded - 1] = b"abcab"
    put(0b0, 1), put(0b0, 1), put(0b0, 1)
    put(0b0, 1)
    bits += [0] * (-len(bits) % 16 + 32)
    body = b"".join(
        literals.get(word, b"")
        + sum(bit << place for place, bit in enumerate(bits[16 * word : 16 * word + 16])).to_bytes(
            2, "little"
        )
        for word in range(len(bits) // 16)
    )
    text = b"abcabca"
    return PACKED_HEADER.pack(b"RNC\x01", len(text), len(body), _check_sum(text), 0, 0, 1) + body


def test_packed_bytes_are_unpacked_and_damage_is_told():
    packed = packed_by_hand()
    assert unpack(packed) == b"abcabca"
    with pytest.raises(ValueError, match="damaged"):
        unpack(packed.replace(b"abcab", b"abcab"[::-1]))
    with pytest.raises(ValueError, match="not packed"):
        unpack(b"ABC\x01" + packed[4:])


def test_the_check_sum_is_the_one_of_the_catalogues():
    # CRC-16/ARC of "123456789", the check value that catalogues of CRCs print
    assert _check_sum(b"123456789") == 0xBB3D


@pytest.mark.hardening
def test_the_rebuilt_network_gives_what_the_bundled_encoder_gives(tmp_path):
    torch = pytest.importorskip("torch")
    from audio_fixtures.hardening import model as network

    network.pack(bundled_folder(), tmp_path / "bundled.npz")
    rebuilt = network.load(network.unpack(tmp_path / "bundled.npz"))
    rng = np.random.default_rng(0)
    sound = (rng.standard_normal(SAMPLE_RATE * 2) * 0.05).astype(np.float32)
    bundled = SpeechModel(encoder="bundled").encode(sound).hidden
    with torch.no_grad():
        ours = rebuilt.model.encoder(torch.from_numpy(sound)[None]).last_hidden_state.numpy()
    # the bundled one rounds its activations to 8 bits: measured 3 % on speech
    assert np.linalg.norm(ours - bundled) / np.linalg.norm(bundled) < 0.08


@pytest.mark.parametrize("unreadable", [0, 1, 3, 4])
def test_a_file_that_cannot_be_read_back_is_written_in_other_parts(
    tmp_path, monkeypatch, unreadable
):
    """libsndfile's Opus writer left one such file in a hundred. Four ways of parting are tried."""
    chunk, target = sound_files.Chunk(), tmp_path / "chunk.ogg"
    tone = (np.sin(np.arange(3 * SAMPLE_RATE) / 20) * 0.1).astype(np.float32)
    chunk.add(tone, "a tone")
    readable = iter([False] * unreadable + [True] * 4)
    monkeypatch.setattr(sound_files, "_can_be_read", lambda *_: next(readable))
    if unreadable == len(sound_files.WRITTEN_AT_A_TIME):
        with pytest.raises(RuntimeError, match="not written whole"):
            chunk.save(target)
        assert not target.with_suffix(".json").exists()
        return
    chunk.save(target)
    samples, rate = soundfile.read(target, dtype="float32")
    assert rate == SAMPLE_RATE
    assert np.corrcoef(samples[: len(tone)], tone)[0, 1] > 0.95
    assert json.loads(target.with_suffix(".json").read_text())["rows"][0]["words"] == "a tone"


def test_a_file_that_is_cut_off_is_told_from_a_whole_one(tmp_path):
    chunk, target = sound_files.Chunk(), tmp_path / "chunk.ogg"
    chunk.add(np.random.default_rng(1).standard_normal(SAMPLE_RATE).astype(np.float32), "noise")
    chunk.save(target)
    whole = target.read_bytes()
    assert sound_files._can_be_read(target, SAMPLE_RATE)
    target.write_bytes(whole[: len(whole) // 3])
    assert not sound_files._can_be_read(target, SAMPLE_RATE)
    target.write_bytes(whole[:40])
    assert not sound_files._can_be_read(target, SAMPLE_RATE)


@pytest.mark.hardening
def test_a_plan_may_have_louder_noise_only():
    """The same draws with a lower ratio at most: what is heard has less of the speech in it."""
    torch = pytest.importorskip("torch")
    from audio_fixtures.hardening.spoil import SNR_DB, Spoiler

    time = torch.arange(2 * SAMPLE_RATE) / SAMPLE_RATE
    clean = 0.1 * torch.sin(2 * torch.pi * torch.linspace(150, 900, 64)[:, None] * time)

    def likeness(*most: float) -> float:
        heard = Spoiler(3, "cpu", *most).spoil(clean)
        return float(torch.cosine_similarity(heard, clean, dim=1).mean())

    assert likeness() == likeness(SNR_DB[1])
    assert likeness(SNR_DB[0]) < likeness(5.0) - 0.05 < likeness(SNR_DB[1]) - 0.1


@pytest.mark.hardening
def test_a_small_training_runs_resumes_and_exports(tmp_path):
    pytest.importorskip("torch")
    from audio_fixtures.hardening import export, train
    from audio_fixtures.hardening import model as network

    rng = random.Random(1)
    sound = tmp_path / "sound"
    sound.mkdir()
    samples = np.concatenate(
        [
            np.sin(np.arange(SAMPLE_RATE) * 2 * np.pi * rng.uniform(100, 400) / SAMPLE_RATE) * 0.1
            for _ in range(6)
        ]
    ).astype(np.float32)
    rows = [{"start": n * SAMPLE_RATE, "length": SAMPLE_RATE, "words": ""} for n in range(6)]
    texts = [
        {"pieces": [300 + n, 400], "taught": n % 2 == 0, "rivals": [[300 + n, 401 + n]] * (n % 3)}
        for n in range(6)
    ]
    taught = [row | text for row, text in zip(rows, texts, strict=True)]
    for name, index in (("tones-1-000", taught), ("judge-tones-000", rows)):
        soundfile.write(sound / f"{name}.ogg", samples, SAMPLE_RATE, subtype="OPUS", format="OGG")
        (sound / f"{name}.json").write_text(json.dumps({"minutes": 0.1, "rows": index}))
    weights = tmp_path / "bundled.npz"
    network.pack(bundled_folder(), weights)

    def run(steps: int):
        plan = train.Plan(
            steps=steps, batch=4, warm_up=1, rival_share=0.3, rival_rows=2, grown_after="1,3,5"
        )
        return train.train(plan, weights, [sound], tmp_path / "run", "cpu")

    run(2)
    encoder = run(3)  # goes on from the second step
    curve = [json.loads(line) for line in (tmp_path / "run" / "curve-1.jsonl").open()]
    assert {row["step"] for row in curve} == {2, 3}
    assert all(row["clean"] == 1.0 for row in curve if row["distance"] == 0.0)

    # a run may begin with an encoder that was trained before: without a step taken it is that one
    started = train.Distiller(network.unpack(weights), "cpu", network.load_encoder(encoder))
    untouched = tmp_path / "untouched.npz"
    train.save_encoder(untouched, started.at(1.0))
    taken, given = network.load_encoder(untouched), network.load_encoder(encoder)
    assert all(np.array_equal(taken[name], value) for name, value in given.items())
    whole = network.unpack(weights)
    assert network.layers_of(given) == LAYERS
    assert any((whole[network.ENCODER + "conv1.weight"] != given["conv1.weight"]).ravel())
    assert all(
        (whole[network.ENCODER + name] == value).all()
        for name, value in started.teacher.state_dict().items()
    )

    target = tmp_path / "small.safetensors"
    export.main(["--weights", str(weights), "--run", f"{encoder}=0", "--out", str(target)])
    tone = samples[: 2 * SAMPLE_RATE]
    ours = SpeechModel(encoder=str(target)).encode(tone).hidden
    bundled = SpeechModel(encoder="bundled").encode(tone).hidden
    assert np.linalg.norm(ours - bundled) / np.linalg.norm(bundled) < 0.1
    assert target.stat().st_size < 12e6

    # an encoder written here is a run like any other: all of it is that encoder again
    shipped = str(HARDENED)
    export.main(["--weights", str(weights), "--run", f"{shipped}=1", "--out", str(target)])
    again = SpeechModel(encoder=str(target)).encode(tone).hidden
    as_shipped = SpeechModel(encoder="hardened").encode(tone).hidden
    assert np.linalg.norm(again - as_shipped) / np.linalg.norm(as_shipped) < 0.02
    assert np.linalg.norm(again - bundled) / np.linalg.norm(bundled) > 0.1
