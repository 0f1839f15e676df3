"""``clampcall measure``: accuracy and speed of recognisers on spoken sentences."""

from __future__ import annotations

from contextlib import nullcontext
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from assistant.commands.recogniser import ENCODER_HELP
from assistant.commands.shared import (
    BadInput,
    JsonOption,
    Units,
    UnitsOption,
    need_together,
    print_json,
)
from assistant.hearing.encoder import DEFAULT_ENCODER


class EngineName(StrEnum):
    bundled = "bundled"
    free = "free"
    pocketsphinx = "pocketsphinx"
    vosk = "vosk"


class LevelName(StrEnum):
    active = "active"
    loudest = "loudest"


class Split(StrEnum):
    family = "family"
    voice = "voice"


def measure(
    folder: Annotated[
        Path, typer.Argument(help="Folder with a manifest.json of spoken sentences.")
    ] = Path("audio_fixtures"),
    engine: Annotated[
        list[EngineName] | None,
        typer.Option(
            help="Recogniser to measure; more than once to compare. Default: bundled and free."
        ),
    ] = None,
    condition: Annotated[
        list[str] | None,
        typer.Option(
            help="What the sound goes through: clean, pink, impact, grinder, leak, "
            "compressor, fan, hammer, babble, shop, room, telephone, cheap, clipped; "
            "joined with +, with a figure after a colon: room:0.5+pink. Default: "
            "clean, and pink where --snr is given."
        ),
    ] = None,
    snr: Annotated[
        list[float] | None,
        typer.Option(help="Speech over noise in dB; may be given more than once."),
    ] = None,
    level: Annotated[
        LevelName,
        typer.Option(
            help="What the ratio is taken against: the mean of the active speech, or "
            "its loudest 128 ms, which is 4 to 6 dB harsher."
        ),
    ] = LevelName.active,
    rounds: Annotated[int, typer.Option(min=1, help="Noise seeds for each recording.")] = 1,
    seed: Annotated[int, typer.Option(help="Repeats noise and choice exactly.")] = 0,
    group: Annotated[
        list[str] | None, typer.Option(help="Only this group of voices; more than once.")
    ] = None,
    family: Annotated[
        list[str] | None, typer.Option(help="Only this family of questions; more than once.")
    ] = None,
    limit: Annotated[
        int | None, typer.Option(min=1, help="So many recordings of each group, by the seed.")
    ] = None,
    split: Annotated[
        list[Split] | None, typer.Option(help="A row for each family or voice too.")
    ] = None,
    encoder: Annotated[
        list[str] | None,
        typer.Option(
            help=f"{ENCODER_HELP}; more than once to compare them, turn by turn on the same "
            f"sound. Default: {DEFAULT_ENCODER}."
        ),
    ] = None,
    model: Annotated[Path | None, typer.Option(help="Folder of a Vosk model.")] = None,
    csv: Annotated[Path | None, typer.Option(help="Write the rows as CSV.")] = None,
    details: Annotated[
        Path | None, typer.Option(help="Write every trial as CSV, as it comes.")
    ] = None,
    plot: Annotated[
        Path | None, typer.Option(help="Draw the rows (PNG, SVG or PDF by its ending).")
    ] = None,
    units: UnitsOption = Units.us,
    as_json: JsonOption = False,
) -> None:
    """Measure recognisers on spoken sentences: accuracy with intervals, speed and memory."""
    from assistant.measuring import report, run, scores
    from assistant.measuring.engines import EngineError, EngineOptions
    from assistant.measuring.manifest import ManifestError

    vosk = EngineName.vosk in (engine or ())
    need_together(("--model", model, "--engine vosk", vosk))
    conditions = condition or (["clean", "pink"] if snr else ["clean"])
    plan = run.Plan(
        folder=folder,
        engines=tuple(dict.fromkeys(name.value for name in engine or _DEFAULT)),
        conditions=tuple(dict.fromkeys(conditions)),
        snrs=tuple(dict.fromkeys(snr or ())),
        rounds=rounds,
        seed=seed,
        groups=tuple(group or ()),
        families=tuple(family or ()),
        limit=limit,
        level=level.value,
        units=units.value,
        options=EngineOptions(tuple(dict.fromkeys(encoder or (DEFAULT_ENCODER,))), model),
    )
    for path in (csv, details, plot):
        if path is not None and not path.parent.is_dir():
            raise BadInput(f"{path.parent} is no folder to write into: make it first")
    try:
        with report.DetailsFile(details) if details is not None else nullcontext() as kept:
            found, finished = _run_with_progress(plan, kept)
    except (ManifestError, EngineError, OSError) as trouble:
        raise BadInput(str(trouble)) from None
    costs = {
        name: (last.peak_megabytes, last.ready_seconds)
        for last in finished
        for name in last.engines
    }
    whole = ("engine", "group", "condition", "snr_db")
    rows = scores.tally(found, whole, costs)
    shown = list(rows)
    if split and Split.family in split:
        shown += scores.tally(found, (*whole, "family"), costs)
    if split and Split.voice in split:
        voices = [scores.by_voice(trial) for trial in found]
        shown += scores.tally(voices, whole, costs)
    if as_json:
        for row in shown:
            print_json(row.as_dict())
    else:
        print(report.as_table(shown))
    try:
        if csv is not None:
            report.write_csv(csv, shown)
        if plot is not None:
            report.write_plot(plot, rows)
    except (OSError, ValueError, report.NoPlot) as trouble:
        raise BadInput(str(trouble)) from None


_DEFAULT = (EngineName.bundled, EngineName.free)


def _run_with_progress(plan, kept):
    """Every trial, and what each process cost; a bar on the terminal while it goes on.

    kept: takes each trial as it comes, or None.
    """
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
    )

    from assistant.measuring import run
    from assistant.measuring.subjects import Subjects

    entries = plan.entries(Subjects(plan.folder, plan.units))
    total = len(plan.cells()) * len(entries) * len(plan.labels())
    console = Console(stderr=True)
    found = []
    with Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        console=console,
        disable=not console.is_terminal,
        transient=True,
    ) as progress:
        task = progress.add_task("starting", total=total)

        def on_trial(trial) -> None:
            found.append(trial)
            if kept is not None:
                kept.add(trial)
            at = trial.condition if trial.snr_db is None else f"{trial.condition} {trial.snr_db:g}"
            progress.update(task, advance=1, description=f"{trial.engine}, {at}")

        finished = run.run(plan, on_trial)
    return found, finished
