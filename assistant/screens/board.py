"""What the screen is put together from: bench, journal, desk, voice, microphone.

One board serves one screen. ``open`` starts the threads, ``close`` ends them; between them the
screen hands in lines and is told what happens.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from assistant.bench import Bench
from assistant.exchange import Refusal
from assistant.listening.conversation import KEY, OPEN
from assistant.listening.ends import EndSettings
from assistant.listening.loop import Key
from assistant.listening.mouth import Mouth
from assistant.listening.sources import Source
from assistant.screens.desk import Desk, Ear, EarsTold, Exchanged, SharedConversation
from assistant.screens.live import Live, News
from assistant.screens.offers import Offers
from assistant.screens.speaker_up import SpeakerUp
from assistant.shop.journal import Journal
from assistant.shop.shop import Shop
from assistant.shop.state import State
from assistant.shop.timekeeping import Clock
from assistant.shop.wording import Said

OnScreen = Callable[[str, str | None, State], Said]
"""What is said to the screen, the bay it names, and the bays as they are now: what it shows."""


@dataclass(frozen=True)
class Ears:
    """How the board listens. open_source: called on the listening thread; raises SoundError.
    key: what marks an utterance, where it is not the screen's own key; key_name: what it is
    called."""

    open_source: Callable[[], Source]
    begin: bool = True
    cut_in: bool = True
    ends: EndSettings = field(default_factory=EndSettings)
    key: Key | None = None
    key_name: str = ""


class TalkKey:
    """The key to talk, on a screen: pressed before and after, because a terminal does not tell
    when a key is let go."""

    NAME = "F8"

    def __init__(self) -> None:
        self._held = self._pressed = False

    def press(self) -> None:
        self._held, self._pressed = not self._held, True

    def held(self) -> bool:
        return self._held

    def pressed(self) -> bool:
        was, self._pressed = self._pressed, False
        return was


class Board:
    """bench: its shop is opened here, on ``journal``. journal: the screen follows it.
    mouth: None says nothing. announces: whether the board speaks up for the bays.
    note: stands at the head of the screen."""

    def __init__(
        self,
        bench: Bench,
        journal: Journal,
        way: str = OPEN,
        bay: str | None = None,
        context_seconds: float = 60.0,
        mouth: Mouth | None = None,
        announces: bool = False,
        ears: Ears | None = None,
        clock: Callable[[], float] = time.monotonic,
        pace: float = 1.0,
        loudness_db: float = 0.0,
        note: str = "",
    ):
        self.bench, self.journal, self.note = bench, journal, note
        bench.shop = Shop(journal, bench.units, "screen")
        self._mouth, self._announces, self._ears, self._clock = mouth, announces, ears, clock
        self._on_screen: OnScreen | None = None
        self.conversation = SharedConversation(
            bench, way, bay, context_seconds, screen=self._screen
        )
        self.conversation.set_voice(pace, loudness_db)
        self._talk_key = TalkKey() if way == KEY and (ears is None or ears.key is None) else None
        self.desk: Desk | None = None
        self._live: Live | None = None
        self._speaker_up: SpeakerUp | None = None

    @property
    def units(self) -> str:
        return self.bench.units

    @property
    def clock(self) -> Clock:
        """The clocks of the shop."""
        return self.journal.clock

    def open(
        self,
        on_news: Callable[[News], None],
        on_told: Callable[[Exchanged | EarsTold], None],
        on_screen: OnScreen,
    ) -> None:
        """Start. The callbacks come on other threads."""
        self._on_screen = on_screen
        ends = self._ears.ends if self._ears else None
        self.desk = Desk(
            self.conversation,
            on_told,
            self._mouth,
            self._clock,
            ends,
            self._ears.cut_in if self._ears else True,
        )
        self._live = Live(self.journal, on_news)
        self._live.start()
        if self._announces and self._mouth is not None:
            self._speaker_up = SpeakerUp(
                Shop(self.journal, self.units, "screen"),
                self._mouth,
                self._clock,
                self.desk.person_speaks,
                lambda line: on_told(EarsTold(line)),
            )
            self.desk.on_cut = self._speaker_up.speaker.cut.set
            self._speaker_up.start()
        if self._ears is not None and self._ears.begin:
            self._listen()

    def close(self) -> None:
        """End what was started. Safe to call twice."""
        for part in (self._speaker_up, self._live):
            if part is not None:
                part.stop()
        self._speaker_up = self._live = None
        if self.desk is not None:
            self.desk.close()
        if self._mouth is not None:
            self._mouth.stop()

    @property
    def still_at_work(self) -> bool:
        """Whether something goes on behind a board that was closed."""
        return self.desk is not None and self.desk.still_at_work

    # --- for the screen ---

    def submit(self, text: str) -> None:
        assert self.desk is not None
        self.desk.submit(text)

    def offers(self, text: str) -> Offers:
        return self.conversation.offers(text, self._clock())

    def ear(self) -> Ear:
        return Ear() if self.desk is None else self.desk.ear()

    @property
    def talks_by_key(self) -> bool:
        """Whether the screen's own key is the key to talk, and not the microphone's switch."""
        return self.has_microphone and self._talk_key is not None

    @property
    def has_microphone(self) -> bool:
        """Whether there is one to be switched on."""
        return self._ears is not None

    def microphone_key(self) -> None:
        """The microphone on or off; with a key to talk, that key."""
        if self.desk is None or self._ears is None:
            return
        if self.desk.listening and self._talk_key is not None:
            self._talk_key.press()
        elif self.desk.listening:
            self.desk.quiet()
        else:
            self._listen()

    def hush(self) -> None:
        """Be silent, without holding the screen up."""
        if self._mouth is not None:
            threading.Thread(target=self._mouth.stop, daemon=True).start()

    def _listen(self) -> None:
        assert self.desk is not None and self._ears is not None
        self.desk.listen(
            self._ears.open_source,
            self._ears.key or self._talk_key,
            key_name=self._ears.key_name if self._ears.key else TalkKey.NAME,
        )

    def _screen(self, what: str, bay: str | None) -> Said:
        """Asked on a thread that may read the disk. The bays are told as they are now: the
        screen's last news may be older than an order that was acknowledged a moment ago."""
        assert self._on_screen is not None
        try:
            state = self.bench.shop.state
        except Refusal as trouble:  # better no answer than one of before
            return Said(str(trouble), trouble.spoken)
        return self._on_screen(what, bay, state)
