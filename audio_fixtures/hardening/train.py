"""Train the encoder to hear in noise what the bundled one hears without it.

    python -m audio_fixtures.hardening.train --weights bundled.npz --sound work --out run --seed 1

The teacher is the bundled network on clean sound; the student, its copy, hears the same sound
spoiled. The loss is the mean squared error of the encoder's output over its variance, plus the
Kullback-Leibler divergence of the decoder's next-piece distribution along the teacher's own text.
Where the teacher writes something other than what was spoken (``taught``, see texts.py), its
output is no example: there the loss is the cross-entropy of the right text alone. With
``--rival-share`` the student also learns to find each text likelier than the sentences that could
be taken for it (rivals.py), which is what a search along a grammar asks of it. Only the encoder
learns, so the decoder and the search stay as they are.

``judge-*.ogg`` in the sound folder holds voices that are never trained on; every JUDGE_EVERY
steps ``curve.jsonl`` gets a row of how well each set is heard, for several distances from the
bundled weights. A run that was cut off goes on from ``state.pt``. With ``--start`` the student
begins as an encoder that was trained before, and distances and pull are from that one; the teacher
stays the bundled network.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
import torch
from torch.nn import functional

from assistant.exchange import SAMPLE_RATE
from audio_fixtures.hardening import model as network
from audio_fixtures.hardening.chunks import (
    FULL_SCALE,
    JUDGE,
    MOST_PIECES,
    PIECES_PER_SECOND,
    WITHOUT_TEXT,
    read_samples,
    source_of,
)
from audio_fixtures.hardening.spoil import SNR_DB, Spoiler, fit

BEGIN, END = 1, 2
DISTANCES = (0.25, 0.5, 0.75, 1.0)
"""Where between the first (0) and the trained weights (1) the judging sets are heard."""
AVERAGE_DECAY = 0.999
SILENCE = SAMPLE_RATE // 3
"""Samples of silence at least, before and behind an utterance together."""
JUDGE_EVERY, SAVE_EVERY = 1000, 1000
ROW_BUDGET_SECONDS = 900.0
"""Seconds of sound in a batch at most, so that long utterances come in smaller batches."""


@dataclass(frozen=True)
class Plan:
    """What a run is: written beside its result."""

    seed: int = 1
    steps: int = 6000
    batch: int = 192
    peak_rate: float = 3e-4
    warm_up: int = 200
    pull: float = 0.0
    """Weight of the squared distance from the weights it begins with."""
    text_share: float = 1.0
    """Weight of the divergence against that of the squared error."""
    taught_share: float = 1.0
    """Weight of the cross-entropy of taught texts; 0 leaves those utterances out."""
    rival_share: float = 0.0
    """Weight of the cross-entropy of the right text among its rivals, nats an utterance."""
    rival_rows: int = 32
    """Utterances of a batch that are put beside their rivals: each costs as many as it has."""
    most_snr_db: float = SNR_DB[1]
    """Ratio of speech to noise in the quietest noise of all."""
    grown_after: str = ""
    """Numbers, with commas, of the encoder's layers that get a further one behind them."""

    @property
    def further_layers_behind(self) -> list[int]:
        return [int(number) for number in self.grown_after.split(",") if number]


class Sound:
    """Utterances in one row of samples on the device, sorted by length."""

    def __init__(self, files: list[Path], device: str):
        parts, rows, at = [], [], 0
        for path in files:
            samples, source = read_samples(path), source_of(path)
            for row in json.loads(path.with_suffix(".json").read_text())["rows"]:
                rows.append(
                    (
                        at + row["start"],
                        row["length"],
                        source not in WITHOUT_TEXT,
                        row.get("pieces"),
                        row.get("taught", False),
                        row.get("rivals", []),
                    )
                )
            parts.append(samples)
            at += len(samples)
        rows.sort(key=lambda row: row[1])
        self.device = device
        self.samples = torch.from_numpy(np.concatenate(parts)).to(device)
        self.rows = rows
        self.starts = torch.tensor([row[0] for row in rows], device=device)
        self.lengths = torch.tensor([row[1] for row in rows], device=device)
        self.texts: list[list[int] | None] = [row[3] if row[2] else [] for row in rows]
        self.taught = torch.tensor([float(row[4]) for row in rows], device=device)
        self.rivals: list[list[list[int]]] = [row[5] for row in rows]

    def __len__(self) -> int:
        return len(self.rows)

    def batch(self, numbers: list[int], generator: torch.Generator | None = None) -> torch.Tensor:
        """Those utterances as one tensor, with silence around each.

        generator: places them at random; without, all begin at the start.
        """
        size = fit(max(self.rows[number][1] for number in numbers) + SILENCE)
        chosen = torch.tensor(numbers).to(self.device, non_blocking=True)
        starts, lengths = self.starts[chosen][:, None], self.lengths[chosen][:, None]
        places = torch.arange(size, device=self.device)[None]
        if generator is not None:
            draw = torch.rand(len(numbers), 1, generator=generator, device=self.device)
            places = places - (draw * (size - lengths)).long()
        inside = (places >= 0) & (places < lengths)
        taken = self.samples[(starts + places).clamp(0, len(self.samples) - 1)]
        return torch.where(inside, taken.float() / FULL_SCALE, 0.0)

    def numbers_near(self, place: float, batch: int) -> list[int]:
        """A batch of utterances of nearly one length, about ``place`` (0..1) of the order.

        How many there are hangs on the batch's padded length alone, so that there are few shapes.
        """
        last = min(int(place * len(self)), len(self) - 1)
        seconds = fit(self.rows[last][1] + SILENCE) / SAMPLE_RATE
        count = max(1, min(batch, int(ROW_BUDGET_SECONDS / seconds), len(self)))
        last = max(last, count - 1)
        return list(range(last - count + 1, last + 1))

    def padded_texts(self, numbers: list[int]) -> tuple[torch.Tensor, torch.Tensor]:
        """Decoder input and a mask [batch, pieces] of the places that count."""
        return padded_texts([self.texts[number] for number in numbers], self.device)


def padded_texts(texts: list[list[int]], device) -> tuple[torch.Tensor, torch.Tensor]:
    """Decoder input and a mask [batch, pieces] of the places that count."""
    longest = max(len(text) for text in texts) + 1
    pieces = torch.full((len(texts), longest), END, dtype=torch.long)
    mask = torch.zeros(len(texts), longest)
    for row, text in enumerate(texts):
        pieces[row, 0] = BEGIN
        pieces[row, 1 : len(text) + 1] = torch.tensor(text, dtype=torch.long)
        mask[row, : len(text) + 1] = 1.0 if text else 0.0
    return pieces.to(device, non_blocking=True), mask.to(device, non_blocking=True)


def next_pieces(pieces: torch.Tensor) -> torch.Tensor:
    """The piece that follows each of the decoder's inputs, END behind the last."""
    return functional.pad(pieces[:, 1:], (0, 1), value=END)


def of_next(odds: torch.Tensor, pieces: torch.Tensor) -> torch.Tensor:
    """Log probability [batch, pieces] of what follows each of the decoder's inputs."""
    return odds.gather(-1, next_pieces(pieces)[..., None]).squeeze(-1)


@dataclass(frozen=True)
class Contests:
    """Right texts and their rivals, a row for each text."""

    pieces: torch.Tensor
    mask: torch.Tensor
    utterances: torch.Tensor
    """Which utterance of the batch a text belongs to."""
    contest: torch.Tensor
    place: torch.Tensor
    """Which contest, and where in it; the right text stands at 0."""
    shape: tuple[int, int]
    """Number of contests, texts in the largest."""


def contests_of(
    sound: Sound, numbers: list[int], most: int, rng: np.random.Generator
) -> Contests | None:
    """At most ``most`` of a batch's utterances beside their rivals; None where none has any."""
    able = [row for row, number in enumerate(numbers) if sound.rivals[number]]
    if not able:
        return None
    chosen = rng.permutation(able)[:most].tolist()
    rows = [
        (row, contest, place, text)
        for contest, row in enumerate(chosen)
        for place, text in enumerate([sound.texts[numbers[row]], *sound.rivals[numbers[row]]])
    ]
    pieces, mask = padded_texts([text for *_, text in rows], sound.device)
    row, contest, place = (
        torch.tensor(column).to(sound.device, non_blocking=True)
        for column in list(zip(*rows, strict=True))[:3]
    )
    largest = 1 + max(len(sound.rivals[numbers[row]]) for row in chosen)
    return Contests(pieces, mask, row, contest, place, (len(chosen), largest))


class Distiller:
    """Teacher and student, and what they make of a batch."""

    def __init__(
        self,
        weights: dict[str, np.ndarray],
        device: str,
        start: dict[str, np.ndarray] | None = None,
        grown_after: Sequence[int] = (),
    ):
        """start: what the student's encoder begins as, if not as the teacher's.
        grown_after: numbers of its layers that get a further one behind them."""
        self.device = device
        self.whole = network.load(weights).to(device).requires_grad_(False)
        self.teacher = self.whole.model.encoder
        # frozen, so half precision saves a cast at every call; the teacher's encoder, whose output
        # is the target, stays exact
        self.whole.model.decoder.to(torch.bfloat16)
        self.whole.proj_out.to(torch.bfloat16)
        begun = network.encoder_part(weights) if start is None else start
        begun = network.grown(begun, grown_after)
        self.student = network.load(network.with_encoder(weights, begun)).model.encoder.to(device)
        self.first = {
            name: value.detach().clone() for name, value in self.student.named_parameters()
        }
        self.averaged = {name: value.clone() for name, value in self.first.items()}

    def hidden(self, encoder, sound: torch.Tensor) -> torch.Tensor:
        with self._autocast():
            return encoder(sound).last_hidden_state.float()

    def odds(self, hidden: torch.Tensor, pieces: torch.Tensor) -> torch.Tensor:
        """Log probabilities [batch, pieces, vocabulary] of the frozen decoder."""
        decoded = self.whole.model.decoder(
            input_ids=pieces, encoder_hidden_states=hidden.to(torch.bfloat16), use_cache=False
        ).last_hidden_state
        return functional.log_softmax(self.whole.proj_out(decoded).float(), dim=-1)

    def _autocast(self):
        return torch.autocast(self.device.split(":")[0], dtype=torch.bfloat16)

    @torch.no_grad()
    def write(self, sound: Sound, batch: int) -> None:
        """Fill the gaps in ``sound.texts`` with what the teacher writes."""
        missing = [number for number, text in enumerate(sound.texts) if text is None]
        for start in range(0, len(missing), batch):
            numbers = missing[start : start + batch]
            hidden = self.hidden(self.teacher, sound.batch(numbers))
            seconds = max(sound.rows[number][1] for number in numbers) / SAMPLE_RATE
            pieces = torch.full((len(numbers), 1), BEGIN, device=self.device)
            open_rows = torch.ones(len(numbers), dtype=torch.bool, device=self.device)
            for _ in range(min(MOST_PIECES, int(PIECES_PER_SECOND * seconds + 8))):
                best = self.odds(hidden, pieces)[:, -1].argmax(-1)
                best = torch.where(open_rows, best, END)
                open_rows &= best != END
                pieces = torch.cat([pieces, best[:, None]], dim=1)
                if not open_rows.any():
                    break
            for number, row in zip(numbers, pieces[:, 1:].tolist(), strict=True):
                sound.texts[number] = row[: row.index(END)] if END in row else row

    def loss(
        self,
        clean: torch.Tensor,
        spoiled: torch.Tensor,
        text: tuple[torch.Tensor, torch.Tensor],
        taught: torch.Tensor,
        contests: Contests | None,
        plan: Plan,
    ) -> tuple[torch.Tensor, torch.Tensor]:
        """The loss, and its three parts: of the output, of the texts, and of the rivals.

        text: pieces and their mask; taught: 1.0 for each utterance whose text is taught.
        """
        with torch.no_grad():
            right = self.hidden(self.teacher, clean)
        heard = self.hidden(self.student, spoiled)
        apart = (heard - right).pow(2).mean(dim=(1, 2)) / right.var()
        error = (apart * (1 - taught)).sum() / (1 - taught).sum().clamp(min=1)
        texts = torch.zeros((), device=self.device)
        if plan.text_share or plan.taught_share:
            pieces, mask = text
            with torch.no_grad():
                wanted = self.odds(right, pieces)
            given = self.odds(heard, pieces)
            divergence = functional.kl_div(given, wanted, log_target=True, reduction="none").sum(-1)
            surprise = -of_next(given, pieces)
            shares = plan.text_share * (1 - taught) + plan.taught_share * taught
            of_piece = torch.where(taught[:, None] > 0, surprise, divergence)
            texts = (of_piece * mask * shares[:, None]).sum() / mask.sum().clamp(min=1)
        lost = torch.zeros((), device=self.device)
        if contests is not None:
            lost = self._lost(heard, contests)
        total = error + texts + plan.rival_share * lost
        if plan.pull:
            total = total + plan.pull * sum(
                (value - self.first[name]).pow(2).sum()
                for name, value in self.student.named_parameters()
            )
        return total, torch.stack([error, texts, lost]).detach()

    def _lost(self, heard: torch.Tensor, contests: Contests) -> torch.Tensor:
        """Mean cross-entropy of the right text among its rivals."""
        odds = self.odds(heard[contests.utterances], contests.pieces)
        of_text = (of_next(odds, contests.pieces) * contests.mask).sum(1)
        places = torch.full(contests.shape, -torch.inf, device=heard.device)
        places[contests.contest, contests.place] = of_text
        return -functional.log_softmax(places, dim=1)[:, 0].mean()

    @torch.no_grad()
    def average(self, step: int) -> None:
        """Move the averaged weights towards the student's."""
        decay = min(AVERAGE_DECAY, (1 + step) / (10 + step))
        torch._foreach_lerp_(
            list(self.averaged.values()), list(self.student.parameters()), 1 - decay
        )

    def at(self, distance: float) -> dict[str, torch.Tensor]:
        """Weights on the way from the first (0) to the averaged ones (1)."""
        return {
            name: torch.lerp(value, self.averaged[name], distance)
            for name, value in self.first.items()
        }

    @torch.no_grad()
    def judge(self, sets: dict[str, Sound], batch: int) -> list[dict]:
        """How well each set is heard, clean and spoiled: the share of right pieces, and the mean
        surprise (negative log probability, nats a piece) of the right text, each piece given
        those before it."""
        kept = {name: value.clone() for name, value in self.student.named_parameters()}
        rows = []
        for distance in (0.0, *DISTANCES):
            self.student.load_state_dict(self.at(distance), strict=False)
            for name, sound in sets.items():
                spoiler, sums = Spoiler(7, self.device), torch.zeros(5, device=self.device)
                for start in range(0, len(sound), batch):
                    numbers = list(range(start, min(start + batch, len(sound))))
                    pieces, mask = sound.padded_texts(numbers)
                    wanted = next_pieces(pieces)
                    clean = sound.batch(numbers)
                    for place, heard in enumerate((clean, spoiler.spoil(clean))):
                        odds = self.odds(self.hidden(self.student, heard), pieces)
                        of_right = of_next(odds, pieces)
                        sums[2 * place] += ((odds.argmax(-1) == wanted) * mask).sum()
                        sums[2 * place + 1] -= (of_right * mask).sum()
                    sums[4] += mask.sum()
                means = (sums[:4] / sums[4].clamp(min=1)).tolist()
                names = ("clean", "clean_surprise", "spoiled", "spoiled_surprise")
                rows.append(
                    {"set": name, "distance": distance}
                    | {key: round(value, 5) for key, value in zip(names, means, strict=True)}
                )
        self.student.load_state_dict(kept, strict=False)
        return rows


def save_encoder(target: Path, weights: dict[str, torch.Tensor]) -> None:
    """An encoder's weights in half precision, by the names of the PyTorch model."""
    network.save_encoder(
        target, {name: value.detach().cpu().numpy() for name, value in weights.items()}
    )


def learning_rate(plan: Plan, step: int, spent: float = 0.0) -> float:
    """Linear warm-up, then a half cosine down to a hundredth.

    spent: share of the time allowed that is over; the rate falls by whichever is further on.
    """
    if step < plan.warm_up:
        return plan.peak_rate * (step + 1) / plan.warm_up
    way = max((step - plan.warm_up) / max(1, plan.steps - plan.warm_up), spent)
    return plan.peak_rate * (0.01 + 0.99 * 0.5 * (1 + math.cos(math.pi * min(1.0, way))))


def train(
    plan: Plan,
    weights: Path,
    sound_folders: list[Path],
    out: Path,
    device: str,
    state_folder: Path | None = None,
    minutes: float | None = None,
    start: Path | None = None,
) -> Path:
    """One run; the path of its averaged encoder.

    start: an encoder that ``save_encoder`` wrote, to begin with instead of the bundled one.
    minutes: an end by time, if it comes before the plan's last step; the learning rate then falls
        to its end within it. Such a run does not repeat exactly.
    """
    torch.manual_seed(plan.seed)
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.backends.cudnn.allow_tf32 = True
    out.mkdir(parents=True, exist_ok=True)
    state_file = (state_folder or out) / f"state-{plan.seed}.pt"
    state_file.parent.mkdir(parents=True, exist_ok=True)
    files = sorted(
        path
        for folder in sound_folders
        for path in folder.iterdir()
        if path.suffix in (".ogg", ".npy") and path.with_suffix(".json").exists()
    )
    distiller = Distiller(
        network.unpack(weights),
        device,
        None if start is None else network.load_encoder(start),
        plan.further_layers_behind,
    )
    began = time.monotonic()
    sound = Sound([path for path in files if not path.name.startswith(JUDGE)], device)
    sets: dict[str, Sound] = {}
    for name in sorted({source_of(path) for path in files if path.name.startswith(JUDGE)}):
        sets[name] = Sound(
            [path for path in files if path.name.startswith(f"{JUDGE}{name}-")], device
        )
    for each in (sound, *sets.values()):
        distiller.write(each, plan.batch)
    hours = sum(row[1] for row in sound.rows) / SAMPLE_RATE / 3600
    print(
        f"{len(sound)} utterances, {hours:.2f} h; judges: "
        f"{ {name: len(each) for name, each in sets.items()} }; "
        f"texts written in {time.monotonic() - began:.0f} s",
        flush=True,
    )

    optimiser = torch.optim.AdamW(
        distiller.student.parameters(),
        lr=plan.peak_rate,
        betas=(0.9, 0.98),
        weight_decay=0.0,
        fused=device.startswith("cuda"),
    )
    spoiler = Spoiler(plan.seed, device, plan.most_snr_db)
    places, first = np.random.default_rng(plan.seed), 0
    if state_file.exists():
        state = torch.load(state_file, map_location=device, weights_only=False)
        distiller.student.load_state_dict(state["student"], strict=False)
        distiller.averaged = state["averaged"]
        optimiser.load_state_dict(state["optimiser"])
        spoiler.restore(state["spoiler"])
        places.bit_generator.state = state["places"]
        first = state["step"]
        print(f"goes on from step {first}", flush=True)

    curve = (out / f"curve-{plan.seed}.jsonl").open("a")
    (out / f"plan-{plan.seed}.json").write_text(
        json.dumps(asdict(plan) | {"utterances": len(sound), "hours": round(hours, 3)})
    )
    began, sums = time.monotonic(), torch.zeros(3, device=device)
    for step in range(first, plan.steps):
        spent = (time.monotonic() - began) / (minutes * 60) if minutes else 0.0
        for group in optimiser.param_groups:
            group["lr"] = learning_rate(plan, step, spent)
        numbers = sound.numbers_near(float(places.random()), plan.batch)
        clean = spoiler.pace(sound.batch(numbers, spoiler.generator))
        contests = None
        if plan.rival_share:
            contests = contests_of(sound, numbers, plan.rival_rows, places)
        loss, parts = distiller.loss(
            clean,
            spoiler.spoil(clean),
            sound.padded_texts(numbers),
            sound.taught[numbers],
            contests,
            plan,
        )
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(distiller.student.parameters(), 1.0)
        optimiser.step()
        distiller.average(step)
        sums += parts
        done = step + 1
        if done % 100 == 0:
            pace = (time.monotonic() - began) / (done - first)
            error, texts, lost = (sums / 100).tolist()
            print(
                f"seed {plan.seed} step {done} of {plan.steps}: output {error:.4f} "
                f"texts {texts:.4f} rivals {lost:.4f}, {pace * 1000:.0f} ms a step",
                flush=True,
            )
            sums.zero_()
        last = done == plan.steps or spent >= 1.0
        if done % JUDGE_EVERY == 0 or last:
            for row in distiller.judge(sets, plan.batch):
                curve.write(json.dumps({"step": done} | row) + "\n")
            curve.flush()
        if done % SAVE_EVERY == 0 or last:
            torch.save(
                {
                    "step": done,
                    "student": dict(distiller.student.named_parameters()),
                    "averaged": distiller.averaged,
                    "optimiser": optimiser.state_dict(),
                    "spoiler": spoiler.state(),
                    "places": places.bit_generator.state,
                },
                state_file.with_suffix(".part"),
            )
            state_file.with_suffix(".part").replace(state_file)
        if last and done < plan.steps:
            print(f"stopped at step {done}: {minutes} minutes are over", flush=True)
            break
    target = out / f"encoder-{plan.seed}.npz"
    save_encoder(target, distiller.averaged)
    return target


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--weights", type=Path, required=True, help="what model.pack wrote")
    parser.add_argument("--sound", type=Path, action="append", required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--state", type=Path, help="folder for the state (default: --out)")
    parser.add_argument("--device", default="cuda" if torch.cuda.is_available() else "cpu")
    parser.add_argument("--minutes", type=float)
    parser.add_argument("--start", type=Path, help="an encoder to begin with (default: bundled)")
    for name, value in asdict(Plan()).items():
        parser.add_argument(f"--{name.replace('_', '-')}", type=type(value), default=value)
    options = parser.parse_args(arguments)
    plan = Plan(**{name: getattr(options, name) for name in asdict(Plan())})
    target = train(
        plan,
        options.weights,
        options.sound,
        options.out,
        options.device,
        options.state,
        options.minutes,
        options.start,
    )
    print(target)
    return 0


if __name__ == "__main__":
    sys.exit(main())
