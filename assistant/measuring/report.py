"""Rows as a table for the screen, as CSV and as a plot."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import fields
from pathlib import Path

from assistant.measuring.scores import Row, Trial, is_free, wilson

HEADINGS = (
    "engine",
    "voices",
    "family",
    "condition",
    "n",
    "all slots right",
    "sentence",
    "routine",
    "asked",
    "in doubt",
    "for a value",
    "read back",
    "turned away",
    "wrong accepted",
    "WER",
    "s/s",
    "x free",
)


class NoPlot(RuntimeError):
    """The plot's library is not installed; one line."""


def share(hits: int, count: int) -> str:
    """A share and its 95 % interval: "96.2 (94.0-97.6)"."""
    low, high = wilson(hits, count)
    return f"{100 * hits / count:.1f} ({100 * low:.1f}-{100 * high:.1f})"


def where(row: Row) -> str:
    return row.condition if row.snr_db is None else f"{row.condition} {row.snr_db:g} dB"


def cells(row: Row) -> tuple[str, ...]:
    """One row of the table, as text; shares in percent."""
    percent = [
        f"{100 * part / row.count:.1f}"
        for part in (
            row.sentence_right,
            row.routine_right,
            row.asked_back,
            row.asked_in_doubt,
            row.asked_for_value,
            row.read_back,
            row.turned_away,
        )
    ]
    ratio = row.ratio_to_free
    return (
        row.engine,
        row.group,
        row.family,
        where(row),
        str(row.count),
        share(row.slots_right, row.count),
        *percent,
        share(row.wrong_accepted, row.count),
        f"{100 * row.word_error_rate:.1f}",
        f"{row.share_of_sound:.3f}",
        "" if ratio is None or is_free(row.engine) else f"{ratio:.2f}",
    )


def as_table(rows: Sequence[Row]) -> str:
    """Plain text, columns aligned; memory and start-up below, once for each engine."""
    lines = [HEADINGS, *(cells(row) for row in rows)]
    widths = [max(len(line[column]) for line in lines) for column in range(len(HEADINGS))]
    text = [
        "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
        for line in lines
    ]
    processes: dict[tuple[float, float], list[str]] = {}
    for row in rows:  # the last word of one process is the same for all its engines
        engines = processes.setdefault((row.peak_megabytes, row.ready_seconds), [])
        if row.engine not in engines:
            engines.append(row.engine)
    for (megabytes, seconds), engines in processes.items():
        if megabytes:
            several = " in one process" if len(engines) > 1 else ""
            text.append(
                f"{' and '.join(engines)}{several}: peak memory {megabytes:.0f} MB, ready to hear "
                f"{seconds:.1f} s after it was started"
            )
            if several:
                text.append("(measure an engine by itself, with --engine, for its memory alone)")
    return "\n".join(text)


def write_csv(path: Path, rows: Sequence[Row]) -> None:
    """One line for each row, shares and intervals as numbers from 0 to 1."""
    records = [row.as_dict() for row in rows]
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, fieldnames=list(records[0]))
        writer.writeheader()
        writer.writerows(records)


class DetailsFile:
    """A CSV with one line for each trial, written as they come: a run that is cut off keeps
    what it has heard. Raises OSError if the file cannot be made."""

    def __init__(self, path: Path):
        self._file = path.open("w", newline="", encoding="utf-8")
        self._writer = csv.DictWriter(self._file, [field.name for field in fields(Trial)])
        self._writer.writeheader()

    def add(self, trial: Trial) -> None:
        """Write one trial, and hand it to the disk."""
        self._writer.writerow(trial.as_dict())
        self._file.flush()

    def __enter__(self) -> DetailsFile:
        return self

    def __exit__(self, *trouble: object) -> None:
        self._file.close()


PLOTTED = (
    ("all slots right, %", lambda row: row.slots_right, "-"),
    ("asked back, %", lambda row: row.asked_in_doubt, "-"),
    ("asked back, %", lambda row: row.asked_back, ":"),
)
"""Label of the axis, what is counted, and how its line is drawn."""


def write_plot(path: Path, rows: Sequence[Row]) -> None:
    """Shares over the ratio: a column of panels for each condition, a line for each engine. Above,
    all slots right; below, asked back in doubt, and for any reason as a dotted line.

    Needs matplotlib (extra "measure"); raises NoPlot without it.
    """
    try:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure
    except ImportError:
        raise NoPlot(
            "the plot needs matplotlib: install clampcall with its extra 'measure'"
        ) from None
    conditions = list(dict.fromkeys(row.condition for row in rows))
    labels = list(dict.fromkeys(label for label, _, _ in PLOTTED))
    figure = Figure(figsize=(3.6 * len(conditions), 3.4 * len(labels)), layout="constrained")
    FigureCanvasAgg(figure)
    panels = figure.subplots(len(labels), len(conditions), squeeze=False, sharey="row")
    for column, condition in enumerate(conditions):
        here = [row for row in rows if row.condition == condition]
        for label, count, style in PLOTTED:
            panel = panels[labels.index(label)][column]
            for number, key in enumerate(dict.fromkeys((row.engine, row.group) for row in here)):
                line = [row for row in here if (row.engine, row.group) == key]
                line.sort(key=lambda row: -1e9 if row.snr_db is None else row.snr_db)
                name = ", ".join(key) + (", for any reason" if style == ":" else "")
                _draw_line(panel, line, count, style, f"C{number}", name)
            panel.grid(alpha=0.3)
        for panel in panels[:, column]:
            if any(row.snr_db is not None for row in here):
                panel.set_xlabel("speech over noise, dB")
            else:
                panel.set_xticks([])
            panel.set_ylim(0, 101)
        panels[0][column].set_title(condition)
    for label, panel in zip(labels, panels[:, 0], strict=True):
        panel.set_ylabel(label)
    for panel in panels[:, -1]:
        panel.legend(fontsize="small")
    figure.savefig(path, dpi=150)


def _draw_line(panel, line: Sequence[Row], count, style: str, colour: str, name: str) -> None:
    """Shares of one engine over the ratio, with their 95 % intervals."""
    places = [0.0 if row.snr_db is None else row.snr_db for row in line]
    middle = [100 * count(row) / row.count for row in line]
    ends = [wilson(count(row), row.count) for row in line]
    panel.errorbar(
        places,
        middle,
        yerr=[
            [max(0.0, at - 100 * low) for at, (low, _) in zip(middle, ends, strict=True)],
            [max(0.0, 100 * high - at) for at, (_, high) in zip(middle, ends, strict=True)],
        ],
        marker="o",
        capsize=3,
        linestyle=style,
        color=colour,
        label=name,
    )
