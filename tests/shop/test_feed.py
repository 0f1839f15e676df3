"""The temperature feed: lines, files, pipes, and what is refused."""

import os

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.shop.feed import BadLine, Feed, FeedFile, FeedReading, read_line

F70 = (70 - 32) / 1.8


@pytest.mark.parametrize(
    ("line", "bay", "celsius"),
    [
        ("2 61.5 F", 2, (61.5 - 32) / 1.8),
        ("3 16.4 C", 3, 16.4),
        ("  12   -5c  # outside", 12, -5.0),
        ("2 50°F", 2, 10.0),
        ("2 +20 C\r", 2, 20.0),
    ],
)
def test_lines(line, bay, celsius):
    assert read_line(line) == FeedReading(bay, pytest.approx(celsius))


@pytest.mark.parametrize("line", ["", "   ", "# a remark"])
def test_lines_that_say_nothing(line):
    assert read_line(line) is None


@pytest.mark.parametrize(
    "line",
    ["junk", "2 61.5", "61.5 F", "2 nan F", "2 1e3 C", "99 20 C", "0 20 C", "2 20 K", "2 20 C x"],
)
def test_lines_that_are_no_reading_say_why(line):
    with pytest.raises(BadLine) as bad:
        read_line(line)
    assert "\n" not in str(bad.value)


@given(st.text(max_size=300))
def test_no_line_does_harm(line):
    try:
        found = read_line(line)
    except BadLine:
        return
    assert found is None or 1 <= found.bay <= 60


# --- the file ---------------------------------------------------------------------------------


def test_a_growing_file_is_read_from_where_it_stood(tmp_path):
    path = tmp_path / "feed"
    path.write_text("2 10 C\n")
    feed = FeedFile(path)
    assert feed.lines() == []  # old
    with path.open("a") as file:
        file.write("2 11 C\n2 12")
    assert feed.lines() == ["2 11 C"]
    with path.open("a") as file:
        file.write(" C\n2 13 C\n")
    assert feed.lines() == ["2 12 C", "2 13 C"]
    path.write_text("2 1 C\n")  # begun anew, shorter
    assert feed.lines() == ["2 1 C"]
    other = tmp_path / "other"
    other.write_text("2 2 C\n")
    other.replace(path)
    assert feed.lines() == ["2 2 C"]
    feed.close()


def test_a_feed_that_is_not_there_yet(tmp_path):
    feed = FeedFile(tmp_path / "feed")
    with pytest.raises(OSError):
        feed.lines()
    (tmp_path / "feed").write_text("")
    assert feed.lines() == []
    with pytest.raises(OSError):
        FeedFile(tmp_path).lines()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_a_named_pipe_with_writers_that_come_and_go(tmp_path):
    path = tmp_path / "pipe"
    os.mkfifo(path)
    feed = FeedFile(path)
    assert feed.lines() == []
    for n in range(3):
        with open(path, "w") as writer:
            writer.write(f"2 {n} C\n")
            writer.flush()
            assert feed.lines() == [f"2 {n} C"]
        assert feed.lines() == []
    feed.close()


# --- what counts ------------------------------------------------------------------------------


class Bench:
    def __init__(self, shop, clock):
        self.shop, self.clock, self.feed = shop, clock, Feed("us")

    def take(self, celsius, bay=2, after=10.0):
        self.clock.run(after)
        at = self.shop.read_clock()[0]
        verdict = self.feed.take(FeedReading(bay, celsius), at, self.shop.state)
        if verdict.keep:
            self.shop.read_temperature(bay, celsius)
        return verdict


@pytest.fixture
def bench(shop, clock, long_open):
    shop.source = "feed"
    shop.start(2, long_open, F70)
    return Bench(shop, clock)


def test_a_reading_that_is_hardly_another_is_passed_over(bench):
    assert not bench.take(F70 + 0.2).keep
    assert bench.take(F70 + 0.3).keep
    assert not bench.take(F70 + 0.3, after=500).keep
    assert bench.take(F70 + 0.3, after=100).keep  # ten minutes: the sensor lives


def test_small_steps_add_up_and_are_kept(bench):
    kept = [bench.take(F70 + 0.1 * n).keep for n in range(1, 10)]
    assert sum(kept) == 3


@pytest.mark.parametrize("celsius", [-41.0, 200.0, 121.0])
def test_an_absurd_reading_is_refused_and_the_last_good_one_told(bench, celsius):
    bench.take(F70 + 1)
    verdict = bench.take(celsius, after=90)
    assert not verdict.keep
    assert "refused" in verdict.notice.spoken
    assert "goes on with seventy-one point eight degrees" in verdict.notice.spoken
    assert "one minute thirty seconds old" in verdict.notice.spoken or (
        "one and a half minutes old" in verdict.notice.spoken
    )


def test_a_jump_counts_only_when_a_second_reading_agrees(bench):
    assert "so fast" in bench.take(F70 - 15).notice.written
    assert bench.take(F70 + 0.5).keep is True  # back again: the jump was a fault
    assert not bench.take(F70 - 15).keep
    assert bench.take(F70 - 15.5).keep


def test_a_panel_may_warm_at_five_kelvin_a_minute(bench):
    assert bench.take(F70 + 7.9, after=60).keep
    assert not bench.take(F70 + 7.9 + 8.1, after=60).keep


def test_a_bay_without_a_clock_takes_nothing(bench):
    assert bench.take(20.0, bay=5) == (False, None)


def test_a_silent_sensor_is_told_once_with_the_age(bench, clock):
    bench.take(F70 + 1)
    clock.run(599)
    at = bench.shop.read_clock()[0]
    assert bench.feed.silent(at, bench.shop.state) == []
    at += 1
    (notice,) = bench.feed.silent(at, bench.shop.state)
    assert "no good reading from the sensor for ten minutes" in notice.spoken
    assert bench.feed.silent(at + 600, bench.shop.state) == []
    bench.take(F70 + 1)
    assert len(bench.feed.silent(at + 3000, bench.shop.state)) == 1
