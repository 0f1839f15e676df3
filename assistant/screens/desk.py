"""The desk: where typed lines and spoken questions become turns of one conversation.

Everything slow is done here, on threads of its own: the recogniser, the voice, and whatever is
written to the journal. The screen hands in lines and is told what came of them.

    desk = Desk(conversation, tell)
    desk.submit("how is bay two")        # tell(Exchanged(turn, typed=True)), in time
    desk.listen(open_source)             # tell(Exchanged(turn, typed=False)), tell(EarsTold(..))
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from assistant.exchange import Heard, Refusal, Utterance
from assistant.hearing.sources import SoundError
from assistant.hearing.speech_model import ModelMissing
from assistant.listening.activity import Activity, SpeechActivity
from assistant.listening.conversation import KEY, Conversation, Turn
from assistant.listening.ends import Endpointer, EndSettings
from assistant.listening.loop import CutShort, Ears, Key, NoKey, Spoken, Told, listen
from assistant.listening.mouth import Mouth, Silent
from assistant.listening.sources import Block, Lost, Source
from assistant.screens.offers import Offers, offers

SPEECH = 0.5
"""Probability of speech from which the screen shows that somebody is heard."""

LEVEL_FLOOR_DB = -60.0
"""Of full scale. Quieter than any working microphone's room. Our own choice."""

LEVEL_FALL = 0.8
"""Share of the level that is left a block later, so that the eye can follow it."""

CLOSE_SECONDS = 2.0
"""How long the end waits for a hearing or an answer that is under way. Our own choice."""

LAST_HEARD_SECONDS = 0.5
"""A person counts as speaking for so long after the last sound of speech."""


@dataclass(frozen=True)
class Exchanged:
    """A turn was taken. text: as typed; empty when it was spoken."""

    turn: Turn
    typed: bool
    text: str = ""


@dataclass(frozen=True)
class EarsTold:
    """The microphone has something to say, once. mended: the trouble is over."""

    sentence: str
    mended: bool = False


@dataclass(frozen=True)
class Ear:
    """How the listening stands. word: "off", "starting", "listening", "hearing", "thinking",
    "speaking", "trouble" or "key" (what is said is not heard before the key is pressed).
    level_db: of full scale. key: the name of that key, where there is one."""

    word: str = "off"
    level_db: float = LEVEL_FLOOR_DB
    trouble: str = ""
    key: str = ""

    @property
    def share(self) -> float:
        """The level as 0 to 1."""
        return min(1.0, max(0.0, 1.0 - self.level_db / LEVEL_FLOOR_DB))


def fault(trouble: Exception) -> str:
    """One line for a fault of the program itself, where a thread must go on after it."""
    words = " ".join(str(trouble).split())
    return f"something went wrong inside ({type(trouble).__name__}: {words})"


Happening = Exchanged | EarsTold
Tell = Callable[[Happening], None]


class SharedConversation(Conversation):
    """A conversation that is talked and typed into at once: one turn at a time."""

    def __init__(self, *arguments: Any, **more: Any):
        super().__init__(*arguments, **more)
        self.lock = threading.RLock()

    def hear(self, utterance: Utterance, now: float) -> Heard:
        with self.lock:
            return super().hear(utterance, now)

    def take(self, heard: Heard, now: float) -> Turn:
        with self.lock:
            # the journal tells who was spoken to: the microphone or the screen
            self.bench.shop.source = "screen" if heard.typed else "voice"
            return super().take(heard, now)

    def type(self, text: str, now: float) -> Turn:
        """A typed line to a turn."""
        with self.lock:
            return self.take(self.read(text, now), now)

    def offers(self, text: str, now: float) -> Offers:
        """What can be asked now, and how ``text`` may go on."""
        with self.lock:
            graphs = (*self.turn_graphs(now, typed_text=True), self.typed_questions)
        return offers(text, graphs, self.bench.routines.values())


class Desk:
    """Takes lines and sound, in order. tell: called on the desk's threads. clock: seconds, the
    same for typing, listening and speaking."""

    def __init__(
        self,
        conversation: SharedConversation,
        tell: Tell,
        mouth: Mouth | None = None,
        clock: Callable[[], float] = time.monotonic,
        ends: EndSettings | None = None,
        cut_in: bool = True,
    ):
        self.conversation = conversation
        self.mouth: Mouth = mouth or Silent()
        self.clock = clock
        self._tell = tell
        self.on_cut: Callable[[], None] = lambda: None
        """Called where whatever is being said is cut short."""
        self._ends, self._cut_in = ends or EndSettings(), cut_in
        self._lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._stop_listening = threading.Event()
        self._ears: threading.Thread | None = None
        self._word, self._trouble, self._level = "off", "", 0.0
        self._key_name = ""
        self._heard_at = float("-inf")
        self._answering = False
        self._typist = threading.Thread(target=self._typing, name="desk", daemon=True)
        self._typist.start()

    # --- typed ---

    def submit(self, text: str) -> None:
        """Take a line as soon as those before it are done."""
        self._lines.put(text)

    def close(self) -> None:
        """End both threads, and wait a little for what they are at."""
        self.quiet()
        self._lines.put(None)
        for thread in (self._typist, self._ears):
            if thread is not None:
                thread.join(CLOSE_SECONDS)

    @property
    def still_at_work(self) -> bool:
        """Whether a thread has not ended, because a model is loaded or a device waited for."""
        return any(
            thread is not None and thread.is_alive() for thread in (self._typist, self._ears)
        )

    def _typing(self) -> None:
        while (text := self._lines.get()) is not None:
            self._answering = True
            turn = self._typed(text)
            self._answering = False
            self._tell(Exchanged(turn, True, text))

    def _typed(self, text: str) -> Turn:
        """One line, answered. Whatever goes wrong is the answer; the next line is taken."""
        try:
            turn = self.conversation.type(text, self.clock())
            self._say(turn)
            return turn
        except Refusal as trouble:  # the journal cannot be used
            said, spoken = str(trouble), trouble.spoken
        except Exception as trouble:
            said = spoken = f"Not answered: {fault(trouble)}"
        return Turn(Heard(None, free_text=text, typed=True), said, spoken)

    def _say(self, turn: Turn) -> None:
        if turn.act == "stop" or turn.spoken:
            self.on_cut()
        if turn.act == "stop":
            self.mouth.stop()
        elif turn.spoken:
            talk = self.conversation.talk
            self.mouth.say(turn.spoken, self.clock(), talk.pace, talk.loudness_db)
        for line in self.mouth.take_notices():
            self._tell(EarsTold(line))

    # --- spoken ---

    def listen(
        self,
        open_source: Callable[[], Source],
        key: Key | None = None,
        activity: Activity | None = None,
        key_name: str = "",
    ) -> None:
        """Begin to listen, on a thread of its own. What fails is told, never raised.
        key_name: what ``key`` is called, to show that it is waited for."""
        if self.listening:
            return
        self._stop_listening = threading.Event()
        self._word, self._trouble, self._key_name = "starting", "", key_name
        self._ears = threading.Thread(
            target=self._listening,
            args=(open_source, key or NoKey(), activity, self._stop_listening),
            name="ears",
            daemon=True,
        )
        self._ears.start()

    @property
    def listening(self) -> bool:
        return (
            self._ears is not None and self._ears.is_alive() and not self._stop_listening.is_set()
        )

    def quiet(self) -> None:
        """Stop listening."""
        self._stop_listening.set()
        self._word, self._level, self._trouble = "off", 0.0, ""

    def person_speaks(self) -> bool:
        """Whether a person speaks, or waits for an answer."""
        just_now = self.clock() - self._heard_at < LAST_HEARD_SECONDS
        thinking = self.listening and self._word == "thinking"
        return self._answering or not self._lines.empty() or just_now or thinking

    def ear(self) -> Ear:
        """How the listening stands at this moment."""
        if not self.listening and self._word != "trouble":
            return Ear()
        level = 20 * np.log10(self._level) if self._level > 0 else LEVEL_FLOOR_DB
        return Ear(self._word, max(LEVEL_FLOOR_DB, float(level)), self._trouble, self._key_name)

    def _listening(self, open_source, key, activity, stop: threading.Event) -> None:
        try:
            ends = Endpointer(self._ends)
            watched = self._watched(activity or SpeechActivity(), stop, ends, key)
            ears = Ears(watched, ends, cut_in=self._cut_in)
            source = _Metered(open_source(), self, stop)
            warming = self.conversation.warming()
            thinking = _Thinking(self)
            for happening in listen(source, ears, thinking, self.mouth, key, warming=warming):
                if stop.is_set():
                    return
                self._take(happening)
        except (SoundError, ModelMissing) as trouble:
            self._fail(str(trouble), stop)
        except Exception as trouble:  # the screen goes on without ears
            self._fail(f"listening ended: {fault(trouble)}", stop)
        else:
            if not stop.is_set():
                self.quiet()

    def _fail(self, line: str, stop: threading.Event) -> None:
        if stop.is_set():
            return
        stop.set()
        self._word, self._trouble, self._level = "trouble", line, 0.0
        self._tell(EarsTold(line))

    def _take(self, happening: Spoken | CutShort | Told) -> None:
        match happening:
            case Spoken(turn=turn):
                self._word = "listening"  # for a block: then it is judged anew
                self._tell(Exchanged(turn, False))
            case Told(notice, _):
                self._trouble = "" if notice.mended else notice.sentence
                if not notice.mended and notice.kind == "missing":
                    self._word = "trouble"
                self._tell(EarsTold(notice.sentence, notice.mended))
            case CutShort():
                self.on_cut()
        for line in self.mouth.take_notices():
            self._tell(EarsTold(line))

    def _watched(
        self, activity: Activity, stop: threading.Event, ends: Endpointer, key: Key
    ) -> Activity:
        def probability(samples: np.ndarray) -> float:
            found = activity(samples)
            speaking = self.mouth.speaking(self.clock())
            if found >= SPEECH and not speaking:  # it may be the mouth that is heard
                self._heard_at = self.clock()
            if not stop.is_set():
                deaf = self.conversation.way == KEY and (ends.spent or not key.held())
                if found >= SPEECH and not deaf:
                    self._word = "hearing"
                else:
                    self._word = "speaking" if speaking else "key" if deaf else "listening"
            return found

        return probability


class _Metered:
    """A source whose level the desk knows, and that ends when it is told to."""

    def __init__(self, source: Source, desk: Desk, stop: threading.Event):
        self._source, self._desk, self._stop = source, desk, stop

    def blocks(self) -> Iterator[Block | Lost]:
        for block in self._source.blocks():
            if self._stop.is_set():
                return
            if isinstance(block, Block):
                power = float(np.sqrt(np.square(block.samples, dtype=np.float64).mean()))
                self._desk._level = max(power, self._desk._level * LEVEL_FALL)
            else:
                self._desk._level = 0.0
            yield block


class _Thinking:
    """The conversation as the loop sees it; says so while it works something out."""

    def __init__(self, desk: Desk):
        self._desk = desk

    def __getattr__(self, name: str) -> Any:
        return getattr(self._desk.conversation, name)

    def hear(self, utterance: Utterance, now: float) -> Heard:
        self._desk._word = "thinking"
        return self._desk.conversation.hear(utterance, now)
