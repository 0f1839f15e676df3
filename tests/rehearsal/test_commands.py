"""``clampcall rehearse`` as a process: exit codes, one line for every fault."""

import json
import os
import subprocess
import sys
from importlib.resources import as_file, files

import pytest

from assistant.cli import main
from assistant.rehearsal.library import FOLDER_VARIABLE
from assistant.shop.journal import FOLDER_VARIABLE as DATA_VARIABLE
from assistant.speaking.playback import save_wav
from assistant.speaking.voices import BundledVoice


@pytest.fixture
def rehearse(tmp_path):
    surroundings = os.environ | {
        DATA_VARIABLE: str(tmp_path / "data"),
        FOLDER_VARIABLE: str(tmp_path / "cards"),
    }

    def run(*arguments, typed=""):
        return subprocess.run(
            [sys.executable, "-m", "assistant", "rehearse", *map(str, arguments)],
            capture_output=True,
            text=True,
            input=typed,
            timeout=120,
            env=surroundings,
        )

    return run


def test_list_show_check(rehearse, tmp_path):
    done = rehearse("list")
    assert done.returncode == 0 and "cartridge-start-up" in done.stdout
    done = rehearse("show", "clamping")
    assert "Set the panel straight down" in done.stdout and "Why:" in done.stdout
    bad = tmp_path / "bad.toml"
    bad.write_text('name = "Bad"\nspoken = "bad"\nabout = "x"\nsteps = []\n')
    done = rehearse("check", bad)
    assert done.returncode == 2
    assert done.stderr.startswith("bad.toml, line 4: steps: ") and done.stdout == ""
    assert rehearse("check", tmp_path / "none.toml").returncode == 2


def test_a_question_that_nothing_answers_is_a_fault_of_the_card(rehearse, library, tmp_path):
    card = library.card("clamping")
    with as_file(files("assistant.rehearsal") / "cards" / card.file) as path:
        text = path.read_text(encoding="utf-8")
    (tmp_path / "clamping.toml").write_text(text, encoding="utf-8")
    assert rehearse("check", tmp_path / "clamping.toml").returncode == 0
    wrong = text.replace('figure = "clamp_time"', 'figure = "clamp_tim"')
    (tmp_path / "clamping.toml").write_text(wrong, encoding="utf-8")
    line = 1 + wrong.splitlines().index('question = "when can i unclamp at {temperature}"')
    done = rehearse("check", tmp_path / "clamping.toml")
    assert done.returncode == 2 and done.stdout == ""
    assert done.stderr.startswith(f"clamping.toml, line {line}: steps[12].figures[1].question: ")
    assert "has no figure 'clamp_tim'" in done.stderr


def test_show_tells_the_figures(rehearse):
    told = rehearse("show", "clamping").stdout
    assert "at least 50 degF, at most 95 degF" in told
    assert 'at least the answer to "when can i unclamp at ..."' in told


def test_damaged_names_are_not_written_over(rehearse, tmp_path):
    rehearse("recite", "clamping", "gloves on", "--trainee", "Ann")
    names = tmp_path / "data" / "trainees.json"
    whole = names.read_bytes()
    names.write_bytes(whole[:-4])
    for command in (("recite", "clamping", "gloves on", "--trainee", "Bob"), ("progress", "ann")):
        done = rehearse(*command)
        assert done.returncode == 2 and "trainees.json cannot be read" in done.stderr
        assert len(done.stderr.splitlines()) == 1
    assert names.read_bytes() == whole[:-4]
    names.write_bytes(whole)
    assert rehearse("progress", "ann").returncode == 0


def test_a_drill_that_is_killed_keeps_what_was_answered(rehearse, tmp_path):
    surroundings = os.environ | {DATA_VARIABLE: str(tmp_path / "data")}
    drill = subprocess.Popen(
        [sys.executable, "-m", "assistant", "rehearse", "drill", "clamping", "--trainee", "Ann"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=surroundings,
    )  # fmt: skip
    drill.stdout.readline()  # a question
    drill.stdin.write("skip\n")
    drill.stdin.flush()
    assert drill.stdout.readline().startswith("  Skipped. It is")  # told: so it is kept
    drill.kill()
    drill.communicate()
    assert json.loads(rehearse("progress", "Ann", "--json").stdout)["answers"] == 1


def test_a_recitation_in_one_go(rehearse):
    done = rehearse("recite", "clamping", "gloves on, clamps off after one hour at 70", "--json")
    assert done.returncode == 0, done.stderr
    verdict = json.loads(done.stdout)
    assert verdict["told"] == ["gloves", "clamps_off"]
    assert verdict["wrong_figures"][0]["limit"] == {"value": 120.0, "unit": "minute"}
    assert not verdict["flawless"]


def test_a_recitation_line_by_line(rehearse):
    typed = "hint\ngloves on\nwhy\nso far\ndone\nlay out the clamps\n"
    done = rehearse("recite", "clamping", "--from", "-", typed=typed)
    lines = done.stdout.splitlines()
    assert lines[0] == "Before the bead, on paper."
    assert lines[1].startswith("Squeezed adhesive spits")
    assert lines[2].startswith("Safety first. You did not say: take the clamps off.")
    assert lines[3] == "Well then."
    assert lines[4] == "Said: 1 of 12 steps of clamping and squeeze-out."


def test_progress_is_kept_and_forgotten(rehearse):
    rehearse("recite", "clamping", "gloves on", "--trainee", "Ann")
    done = rehearse(
        "drill", "clamping", "--trainee", "Ann", "--count", "3", "--seed", "1",
        typed="two hours\nnine\nI do not know\n",
    )  # fmt: skip
    assert done.stdout.rstrip().endswith("of 3 right.")
    done = rehearse("progress", "ann", "--json")
    kept = json.loads(done.stdout)
    assert kept["answers"] == 3 and len(kept["due"]) == 3
    assert kept["recitations"][0]["card"] == "clamping"
    assert rehearse("forget", "Ann").returncode == 0
    done = rehearse("progress", "Ann")
    assert done.returncode == 2
    assert done.stderr == "nothing is kept for 'Ann'; names here: none\n"


def test_reading_along_starts_the_clocks_of_a_bay(rehearse, tmp_path):
    typed = "next\nconfirmed\n" + "next\n" * 10
    done = rehearse(
        "read", "cartridge-start-up", "--bay", "2", "--temperature", "70 F", typed=typed
    )
    assert done.returncode == 0, done.stderr
    assert "Bay 2" in done.stdout and "That was the last step." in done.stdout
    # the journal holds the clock
    from assistant.shop.journal import Journal

    journal = Journal(tmp_path / "data")
    started = [event.payload for event in journal.events() if event.kind == "job_started"]
    journal.close()
    assert [(job.bay, job.product) for job in started] == [(2, "long-open")]


def test_reading_along_by_voice(rehearse, tmp_path):
    voice = BundledVoice()
    said = ("Next.", "Tomorrow it will rain.", "Next.", "Confirmed.", "Where am I?")
    files = []
    for number, words in enumerate(said):
        path = tmp_path / f"{number}.wav"
        save_wav(path, *voice.synthesise(words))
        files += ["--from", path]
    done = rehearse("read", "cartridge-start-up", *files)
    told = done.stdout.splitlines()
    assert told[1].startswith("Step 2.")
    assert told[2].startswith("Say next, back, again")  # talk is no command
    assert told[3] == "Not yet. Are gloves and eye protection on? Say confirmed."
    assert told[4].startswith("Step 3.")
    assert told[5].startswith("Step 3 of 12, 9 left.")


@pytest.mark.parametrize(
    ("arguments", "code", "why"),
    [
        (("recite", "dance", "gloves"), 2, "There is no procedure card 'dance'"),
        (("recite", "clamping", "the weather is nice"), 4, "no step of clamping"),
        (("recite", "clamping", "gloves", "--from", "x.wav"), 2, "either the words or --from"),
        (("recite", "clamping", "--from", "/no/such.wav"), 2, "does not exist"),
        (("recite", "clamping", "gloves", "--dialogue", "/no/such/folder/a.wav"), 2, "a.wav"),
        (("read", "clamping", "--bay", "1"), 2, "--bay needs the temperature"),
        (("read", "clamping", "--temperature", "70"), 2, "goes with --bay"),
        (("read", "clamping", "--bay", "1", "-t", "warm"), 2, "is not a temperature"),
        (("read", "clamping", "--bay", "99", "-t", "70"), 2, "There is no bay 99"),
        (("read", "clamping", "--bay", "1", "-t", "700 F"), 2, "no temperature of a panel"),
        (("recite", "clamping", "gloves", "--trainee", " "), 2, "name cannot be empty"),
        (("drill", "clamping", "--trainee", ""), 2, "name cannot be empty"),
        (("drill", "dance"), 2, "There is no procedure card 'dance'"),
    ],
)
def test_every_fault_is_one_line(tmp_path, monkeypatch, capsys, arguments, code, why):
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "data"))
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "cards"))
    monkeypatch.setattr(sys, "argv", ["clampcall", "rehearse", *arguments])
    with pytest.raises(SystemExit) as left:
        main()
    told = capsys.readouterr().err
    assert left.value.code == code, told
    assert why in told and len(told.strip().splitlines()) == 1
