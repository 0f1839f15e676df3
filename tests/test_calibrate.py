"""The thresholds' measurement: which sentences it takes, and how a hearing ends."""

from functools import cache

import pytest

from assistant.understanding.requests import Limits
from audio_fixtures import calibrate, scale
from audio_fixtures.calibrate import ALIKE, TRUE, Line


@pytest.mark.parametrize("purpose", calibrate.PURPOSES)
def test_only_sentences_of_the_purpose_are_drawn(bench, purpose):
    questions, alike = calibrate.question_rows(purpose, 3), calibrate.alike_rows(purpose, 3)
    assert {row["rule"] for row in questions} >= set(bench.routines)
    assert {scale.purpose_of(row["words"]) for row in (*questions, *alike)} == {purpose}
    assert len(alike) == calibrate.ALIKE_COUNT
    assert len({row["words"] for row in alike}) > 100
    for row in alike:
        assert row["rule"] in bench.routines


def test_training_sentences_cannot_be_asked_for(capsys):
    with pytest.raises(SystemExit):
        calibrate.main(["make", "--out", "nowhere", "--purpose", "train"])
    assert "train" in capsys.readouterr().err


def line(best, *, right=True, margin=9.0, rivals=(), free=None, free_margin=0.0, rule="clamp_time"):
    return Line(
        kind=TRUE, source="", snr_db=12.0, seconds=2.0, estimated_snr=13.0,
        free_margin=free_margin, margin=margin, rule=rule, right=right, best=best,
        rivals=tuple(rivals), free=best if free is None else free, bare=False,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("heard", "end"),
    [
        (line("when can i unclamp at sixty"), "right at once"),
        (line("when can i unclamp at sixty", right=False), "wrong and accepted"),
        (line("when can i unclamp at sixty", margin=0.5, rivals=["when can i unclamp at sixteen"]),
         "asked back in doubt"),
        (line("how much adhesive do i need", rule="adhesive_for_bead"), "asked in no doubt"),
        (line("how much adhesive do i need", rule="adhesive_for_bead", right=False),
         "asked back in doubt"),
        (line("accept the deviations in bay two by alfa bravo", rule="record_accept"),
         "asked in no doubt"),
        (line("accept the deviations in bay two by alfa bravo", rule="record_accept", margin=0.5,
              rivals=["accept the deviations in bay ten by alfa bravo"]), "asked back in doubt"),
        (line("when can i unclamp at sixty", free_margin=90.0, free="rain in spain"),
         "turned away"),
        (line("what can i ask", rule="what_to_ask", right=False), "wrong and accepted"),
        (line("when can i unclamp at nine hundred degrees", right=False), "asked back in doubt"),
    ],
)  # fmt: skip
def test_how_a_hearing_ends(bench, heard, end):
    read = cache(lambda text: bench.read(text).best)
    assert calibrate._end(bench.interpreter, read, heard, Limits()) == end
    assert end in calibrate.ENDS


def test_the_table_tells_every_end(bench):
    lines = [line("when can i unclamp at sixty"), line("how much adhesive do i need",
                                                      rule="adhesive_for_bead")]  # fmt: skip
    rows = [row for row in calibrate.doubt_rows(lines, Limits()) if row["margin more"] == 0.0]
    (row,) = rows
    assert row["kind"] == TRUE and row["kind"] != ALIKE and row["count"] == 2
    assert row["right at once"] == row["asked in no doubt"] == 50.0
    assert sum(row[end] for end in calibrate.ENDS) == 100.0
