"""clampcall bays: what each command prints, and one line for every fault."""

import gc
import json
import os
import subprocess
import sys
import threading
import time

import pytest


@pytest.fixture
def bays(clampcall):
    return lambda *arguments: clampcall("bays", *arguments)


def test_a_job_from_the_command_line(bays):
    code, out, _ = bays("start", 2, "--temperature", "62F", "--product", "long open")
    assert code == 0
    assert out.startswith("Bay 2: the bead clock runs, Long-open panel adhesive at 62 °F. Work")
    code, out, _ = bays("reading", 2, "50", "F")
    assert code == 0 and "Bay 2 is at 50 °F." in out
    assert bays("stage", 2, "clamped")[0] == 0
    code, _, err = bays("stage", 2, "clamps-off")
    assert code == 2 and "too soon" in err and "--early" in err and err.count("\n") == 1
    assert bays("stage", 2, "clamps off", "--early")[0] == 0
    code, out, _ = bays("undo", 2)
    assert code == 0 and "taken back: clamps off" in out
    code, out, _ = bays("correct", 2, "--temperature", "55F", "--product", "fast")
    assert code == 0 and "Fast panel adhesive at 55 °F" in out
    code, out, _ = bays("list")
    assert code == 0 and out.startswith("Bay 2: Fast panel adhesive")
    assert bays("cancel", 2)[0] == 0
    assert bays("list")[1] == "No clock runs in any bay.\n"


def test_timers_quiet_hours_and_heard(bays):
    assert bays("timer", "10 min", 4, "--name", "paint booth")[0] == 0
    assert bays("timer", "1 h")[0] == 0
    assert bays("pause", 4)[0] == 0
    out = bays("list")[1]
    assert "Bay 4: Paint booth: paused, " in out and "The shop: Timer: " in out
    assert bays("resume", 4)[0] == 0
    assert bays("cancel", "--timer")[0] == 0
    assert bays("cancel", 4, "--name", "paint booth")[0] == 0
    assert bays("undo", 4)[0] == 0
    assert bays("quiet", "22:00", "6:00")[1].startswith("Quiet from 22:00 to 06:00")
    assert bays("quiet", "off")[1] == "No quiet hours.\n"
    assert bays("heard")[0] == 0


def test_json(bays):
    code, out, _ = bays("start", 3, "-t", "16.5 C", "--product", "fast", "--ago", "5 min", "--json")
    effect = json.loads(out)
    assert code == 0 and effect["events"] == [1]
    assert effect["figures"]["temperature"] == {"value": 16.5, "unit": "degree_Celsius"}
    bays("timer", "10 min", 4)
    rows = [json.loads(line) for line in bays("list", "--json")[1].splitlines()]
    job, timer = rows
    assert (job["bay"], job["material"], job["invented"]) == (3, "adhesive", True)
    assert 300 <= job["running_seconds"] < 400
    assert set(job["clocks"]) == {"work", "clamp", "sand", "full_cure"}
    assert (timer["bay"], timer["paused"]) == (4, False)
    assert json.loads(bays("list", 3, "--json")[1])["bay"] == 3


def test_a_metric_shop(bays):
    out = bays("start", 2, "-t", "20", "--units", "metric")[1]
    assert "at 20 °C" in out


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("cancel", 2, "--timer", "--material", "filler"), "--timer and --material"),
        (("cancel", 2, "--name", "booth", "--material", "filler"), "--name and --material"),
        (("quiet", "off", "6:00"), "clampcall bays quiet off"),
    ],
)
def test_what_would_do_nothing_is_refused(bays, arguments, told):
    code, out, err = bays(*arguments)
    assert (code, out) == (2, "") and told in err and err.count("\n") == 1


@pytest.mark.parametrize(
    "arguments",
    [
        ("start", 2, "-t", "hot"),
        ("start", 99, "-t", "62F"),
        ("start", 2, "-t", "900F"),
        ("start", 2, "-t", "62F", "--product", "no such"),
        ("start", 2, "-t", "62F", "--material", "gold"),
        ("start", 2, "-t", "62F", "--ago", "soon"),
        ("start", 2),
        ("reading", 2, "62F"),
        ("stage", 2, "varnished"),
        ("stage", 2, "clamped"),
        ("timer", "minus 5 min"),
        ("timer", "tomorrow"),
        ("timer", "10 min", 2, "--name", "x" * 61),
        ("pause",),
        ("cancel",),
        ("cancel", 2),
        ("correct", 2, "--temperature", "62F"),
        ("undo", 2),
        ("quiet", "25:00", "6:00"),
        ("quiet", "22:00"),
        ("quiet", "22:00", "22:00"),
        ("list", 0),
        ("nonsense",),
    ],
)
def test_every_fault_is_one_line_and_code_2(bays, arguments):
    code, out, err = bays(*arguments)
    assert code == 2
    assert out == "" and err.count("\n") == 1


def test_a_folder_that_is_none(bays, tmp_path):
    (tmp_path / "data").write_text("a file")
    code, _, err = bays("list")
    assert code == 2 and "not a folder" in err and err.count("\n") == 1


def test_a_mended_journal_is_told(bays, tmp_path):
    bays("timer", "10 min", 4)
    gc.collect()  # closes the journals that this process had open
    (tmp_path / "data" / "journal.db").write_bytes(b"rubbish" * 2000)
    for side in ("-wal", "-shm"):
        (tmp_path / "data" / f"journal.db{side}").unlink(missing_ok=True)
    code, out, err = bays("list")
    assert code == 0 and "Bay 4: Timer: " in out
    assert "set aside" in err and "events restored: 1" in err


# --- watch ------------------------------------------------------------------------------------


def watch(folder, *arguments):
    return subprocess.Popen(
        [sys.executable, "-m", "assistant", "bays", "watch", "--voice", "none", *arguments],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "CLAMPCALL_DATA": str(folder)},
    )


def test_watch_says_what_another_program_started(bays, tmp_path):
    process = watch(tmp_path / "data", "--json")
    lines = []
    reader = threading.Thread(target=lambda: lines.extend(iter(process.stdout.readline, "")))
    reader.start()
    bays("timer", "1 s", 4, "--name", "paint booth")
    bays("start", 2, "-t", "70F", "--ago", "41 min")
    ends = time.monotonic() + 60
    while len(lines) < 2 and time.monotonic() < ends:
        time.sleep(0.05)
    process.terminate()
    reader.join()
    process.wait()
    told = {line["key"]: line for line in map(json.loads, lines)}
    assert "1/timer" in told and told["1/timer"]["sentence"].endswith("The timer of 1 s is over.")
    assert told["2/work/gone"]["priority"] == "critical"
    assert told["2/work/gone"]["sentence"].startswith("Late by ")


def test_watch_takes_readings_from_a_feed(bays, tmp_path):
    bays("start", 2, "-t", "70F")
    feed = tmp_path / "feed"
    feed.write_text("")
    process = watch(tmp_path / "data", "--feed", str(feed))
    lines = []
    reader = threading.Thread(target=lambda: lines.extend(iter(process.stdout.readline, "")))
    reader.start()
    ends = time.monotonic() + 60
    while not any("at 71" in line for line in lines) and time.monotonic() < ends:
        with feed.open("a") as file:
            file.write("junk\n2 900 F\n2 71 F\n")
        time.sleep(0.3)
        if json.loads(bays("list", "--json")[1])["celsius"] == pytest.approx((71 - 32) / 1.8):
            break
    while not any("900 °F from the sensor is refused" in line for line in lines):
        assert time.monotonic() < ends
        time.sleep(0.05)
    process.terminate()
    reader.join()
    errors = process.communicate()[1]
    assert "'junk' is not a reading" in errors
    assert json.loads(bays("list", "--json")[1])["celsius"] == pytest.approx((71 - 32) / 1.8)


def test_watch_ends_when_it_is_told_to(bays, tmp_path):
    process = watch(tmp_path / "data", "--for", "0.2")
    assert process.wait(timeout=60) == 0


def test_enter_at_the_watch_means_heard(bays, tmp_path):
    import pty

    bays("timer", "1 h", 4)
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "assistant", "bays", "watch", "--voice", "none"],
        stdin=theirs,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "CLAMPCALL_DATA": str(tmp_path / "data")},
    )
    os.write(ours, b"\n4\n")
    assert [process.stdout.readline() for _ in range(2)] == [
        "All bays: heard.\n",
        "Bay 4: heard.\n",
    ]
    process.terminate()
    process.wait()
    os.close(ours)
    os.close(theirs)


def test_a_second_watch_waits_for_the_first(bays, tmp_path):
    bays("list")
    first = watch(tmp_path / "data")
    ends = time.monotonic() + 60
    while not (tmp_path / "data" / "speaker.lock").exists():
        assert time.monotonic() < ends
        time.sleep(0.05)
    second = watch(tmp_path / "data", "--for", "1")
    assert "another watch" in second.communicate(timeout=60)[1]
    first.terminate()
    first.wait()
