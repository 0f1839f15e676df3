"""Counts, intervals and word errors, against scipy and by hand."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from assistant.measuring import report, scores
from assistant.measuring.scores import Trial

ONE = Trial(
    engine="bundled",
    group="neural and flite",
    voice="neural-man",
    family="clamp",
    condition="pink",
    snr_db=6.0,
    words="when can i unclamp at sixty",
    heard="when can i unclamp at sixty",
    routine_right=True,
    sentence_right=True,
    slots_right=True,
    verdict="accepted",
    margin=4.0,
    word_errors=0,
    word_count=6,
    sound_seconds=2.0,
    seconds=0.2,
)
WRONG = replace(
    ONE,
    heard="when can i unclamp at sixteen",
    sentence_right=False,
    slots_right=False,
    word_errors=1,
)


@given(st.integers(1, 500).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_interval_against_scipy(pair):
    """scipy.stats.binomtest, method "wilson" (reference library, computed)."""
    hits, count = pair
    expected = stats.binomtest(hits, count).proportion_ci(0.95, method="wilson")
    low, high = scores.wilson(hits, count)
    assert low == pytest.approx(expected.low, abs=1e-6)
    assert high == pytest.approx(expected.high, abs=1e-6)


def test_interval_of_nothing_is_everything():
    assert scores.wilson(0, 0) == (0.0, 1.0)


@pytest.mark.parametrize(
    ("said", "heard", "errors", "count"),
    [
        ("when can i unclamp at sixty", "when can i unclamp at sixty", 0, 6),
        ("when can i unclamp at sixty", "when can i unclamp at 60", 0, 6),  # the same number
        ("when can i unclamp at sixty", "when can i unclamp at sixteen", 1, 6),
        ("when can i unclamp at sixty", "can i unclamp at sixty please", 2, 6),
        ("a hundred and five inches", "one hundred five inch", 0, 2),
        ("when can i unclamp", "", 4, 4),
    ],
)
def test_word_errors_by_hand(said, heard, errors, count):
    assert scores.word_errors(said, heard) == (errors, count)


def test_a_row_counts_what_happened():
    asked = replace(WRONG, verdict="asked back")
    away = replace(WRONG, verdict="turned away", routine_right=False)
    (row,) = scores.tally([ONE, ONE, WRONG, asked, asked, away], ("engine", "condition", "snr_db"))
    assert (row.count, row.slots_right, row.sentence_right, row.routine_right) == (6, 2, 2, 5)
    assert (row.asked_back, row.turned_away, row.wrong_accepted) == (2, 1, 1)
    assert row.word_error_rate == pytest.approx(4 / 36)
    assert row.share_of_sound == pytest.approx(0.1)
    assert row.group == row.family == "all"
    assert row.ratio_to_free is None
    figures = row.as_dict()
    assert figures["slots_right_share"] == 0.3333
    assert figures["slots_right_low"] < 0.33 < figures["slots_right_high"]
    assert figures["wrong_accepted_share"] == 0.1667


def test_what_is_asked_back_in_no_doubt_is_told_apart_and_stays_in_the_sum():
    doubt = replace(ONE, verdict="asked back")
    value = replace(ONE, verdict="asked for a value")
    record = replace(ONE, verdict="read back")
    (row,) = scores.tally([ONE, doubt, value, value, record, record, record, WRONG])
    assert row.asked_back == 6
    assert (row.asked_in_doubt, row.asked_for_value, row.read_back) == (1, 2, 3)
    figures = row.as_dict()
    assert figures["asked_back_share"] == 0.75 and figures["asked_in_doubt_share"] == 0.125
    parts = ("asked_in_doubt", "asked_for_value", "read_back")
    assert [figures[part] for part in parts] == [1, 2, 3]
    headings = report.HEADINGS
    cells = dict(zip(headings, report.cells(row), strict=True))
    assert (cells["asked"], cells["in doubt"]) == ("75.0", "12.5")
    assert (cells["for a value"], cells["read back"]) == ("25.0", "37.5")


def test_rows_are_kept_apart_and_compared_with_free_decoding():
    free = replace(ONE, engine="free", seconds=0.1)
    louder = replace(ONE, snr_db=12.0)
    rows = scores.tally([ONE, free, louder], costs={"bundled": (250.0, 1.2)})
    assert [(row.engine, row.snr_db, row.count) for row in rows] == [
        ("bundled", 6.0, 1),
        ("free", 6.0, 1),
        ("bundled", 12.0, 1),
    ]
    assert rows[0].ratio_to_free == pytest.approx(2.0)
    assert rows[2].ratio_to_free is None  # free decoding was not run there
    assert rows[0].peak_megabytes == 250.0 and rows[1].peak_megabytes == 0.0


def test_times_are_not_compared_over_different_recordings():
    free = replace(ONE, engine="free", seconds=0.1)
    rows = scores.tally([ONE, ONE, free])
    assert rows[0].ratio_to_free is None


def test_a_row_for_each_voice():
    other = replace(ONE, voice="flite-slt")
    rows = scores.tally([scores.by_voice(trial) for trial in (ONE, other, ONE)])
    assert {row.group: row.count for row in rows} == {"neural-man": 2, "flite-slt": 1}
