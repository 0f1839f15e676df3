"""Invented sentences for training the encoder: nothing of the tests.

``sentences`` has nothing of the trade. A third are short orders with numbers and units in made-up
domains (kitchen, garden, travel, music, warehouse, sports, weather, money), a third are amounts
in all usual measures, with fractions, decimals and times of day (sewing, cooking, swimming), a
third plain prose put together from parts. Training needs sound that is like speech to a machine,
not sense.

``spoken`` mixes these with questions of the trade, drawn from its grammars: the quarter of them
that ``audio_fixtures.scale`` sets apart for training. No sentence that tunes or tests is among
them.
"""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from functools import lru_cache

from num2words import num2words

from assistant.bench import Bench
from assistant.hearing import jsgf, sampling
from audio_fixtures import scale

PLACES = """kitchen cellar attic balcony hallway garage library greenhouse harbor station market
bakery museum theater island village castle valley forest bridge lighthouse orchard meadow
airport hospital school office bedroom nursery studio playground river mountain""".split()

THINGS = """kettle teapot blanket lantern ladder suitcase bicycle piano violin drum candle basket
bottle barrel carpet curtain mirror pillow umbrella jacket notebook pencil scissors hammock
telescope wagon canoe kite puzzle saddle wheelbarrow rake shovel lamp radio television printer
keyboard camera guitar trumpet ribbon envelope parcel sofa cushion cupboard drawer""".split()

FOODS = """onions carrots potatoes tomatoes apples cherries lemons walnuts almonds raisins rice
flour sugar butter cheese yogurt cream milk honey cinnamon pepper parsley garlic mushrooms
noodles bread biscuits pancakes soup porridge pumpkin spinach lentils beans salmon chicken
chocolate vanilla oranges grapes bananas oats barley vinegar""".split()

ANIMALS = """horses ponies chickens geese rabbits turtles pigeons sparrows foxes badgers otters
hedgehogs sheep goats donkeys kittens puppies owls herons frogs beetles bees dolphins whales
penguins parrots camels zebras""".split()

ADJECTIVES = """quiet bright narrow ancient cheerful sleepy curious golden purple silver crooked
gentle enormous tiny frozen muddy dusty hollow wooden shallow distant familiar strange brave
lonely polite famous careful sudden wild warm heavy clever yellow orange green gray brown
magnificent invisible comfortable terrible fashionable unusual beautiful ordinary""".split()

DAYS = "Monday Tuesday Wednesday Thursday Friday Saturday Sunday".split()
MONTHS = """January February March April May June July August September October November
December""".split()
LETTERS = "A B C D E F G H J K L M N P Q R S T U V W X Y Z".split()

PERSON_PHRASES = (
    "my sister",
    "the captain",
    "our neighbor",
    "the doctor",
    "a sailor",
    "the teacher",
    "grandmother",
    "the gardener",
    "the pilot",
    "an old friend",
    "the librarian",
    "a stranger",
    "the conductor",
    "the shepherd",
    "the painter",
    "the children",
    "the tourists",
    "the farmer",
)
VERB_PHRASES = (
    "carried",
    "followed",
    "painted",
    "watched",
    "remembered",
    "borrowed",
    "whispered about",
    "argued about",
    "discovered",
    "climbed towards",
    "walked past",
    "looked behind",
    "sang about",
    "laughed at",
    "waited near",
    "forgot",
    "returned to",
    "searched for",
    "dreamed of",
    "photographed",
    "admired",
    "described",
    "chased",
    "collected",
    "decorated",
    "visited",
    "ignored",
    "questioned",
    "polished",
    "weighed",
)
ENDINGS = (
    "before breakfast",
    "after the storm",
    "in the middle of the night",
    "without a word",
    "because it was raining",
    "although nobody had asked",
    "while the music played",
    "on the way home",
    "during the long winter",
    "until the sun came up",
    "for the first time",
    "as if nothing had happened",
    "with great care",
    "under the old bridge",
    "just in time for dinner",
    "and then everything was silent",
    "which surprised everyone",
    "so we decided to stay",
    "but it was already too late",
    "to see what would happen",
)

ORDERS = (
    "set the {thing} to {n} degrees",
    "boil the {food} for {n} minutes",
    "add {n} grams of {food}",
    "add {frac} of a cup of {food}",
    "weigh out {n} point {d} kilos of {food}",
    "put {n} {food} and {m} {food2} on the shopping list",
    "book a table for {d} on {day} at {clock}",
    "wake me at {clock} on {day}",
    "play track {n}",
    "skip ahead {n} seconds",
    "turn the volume up to {n}",
    "move {n} boxes from row {d} to row {m}",
    "there are {n} {animal} in the {place}",
    "the train to the {place} leaves from platform {d} at {clock}",
    "my seat is {n} {letter}",
    "the flight is delayed by {n} minutes",
    "drive {n} kilometers and turn left at the {place}",
    "walk {n} steps towards the {place}",
    "what is {n} plus {m}",
    "what is {n} percent of {m}",
    "pay {n} dollars and {m} cents",
    "send {n} coins to {person}",
    "the parcel weighs {n} pounds",
    "run {d} laps in {n} minutes",
    "the score is {n} to {m}",
    "water the {food} every {d} days",
    "plant {n} seeds, {d} centimeters apart",
    "it will be {n} degrees in the {place} on {day}",
    "the wind is {n} miles an hour",
    "read page {n} of the {adj} book",
    "call extension {digits}",
    "the code is {digits}",
    "room {n}, floor {d}",
    "remind {person} on {month} {day_number}",
    "dim the lamp in the {place} to {n} percent",
    "open the window for {n} minutes",
    "close the curtains at {clock}",
    "how far is it to the {place}",
    "how many {animal} can you see",
    "how long does the {food} keep in the cold",
    "what time does the {place} open on {day}",
    "when does the {adj} {thing} arrive",
    "how old is the {place}",
    "is it {n} or {m}",
    "no, I said {n}, not {m}",
    "{n}",
    "{n} and a half",
    "{n} {m} {d}",
    "a {frac} of an hour",
    "take {d} and {frac} spoons of {food}",
    "the answer is {n} point {d} {d2}",
    "between {n} and {m}",
    "at least {n} {thing}s",
    "yes",
    "no",
    "stop",
    "repeat that",
    "again please",
    "cancel the {thing}",
    "next chapter",
)

MEASURED = (
    "how much {food} do we need for {n} {length}",
    "how much ribbon for {n} and {fine} {length}",
    "how many {thing}s fit into {n} {length} by {m} {length}",
    "how many cushions for {d} {length} {n} {length2}",
    "cut {n} and {fine} {length} of lace",
    "the ribbon is {fine} of an inch wide",
    "a {fine} inch ribbon",
    "{d} {fine} inch buttons",
    "take a {d} and {fine} inch needle",
    "what is {fine} plus {fine2}",
    "what is {fine} minus {fine2}",
    "what is {d} point {d2} {d3} {length} in {length2}",
    "what is {n} {volume} in {volume2}",
    "convert {n} {heat} to {heat2}",
    "point {d2} {d} {d3} {length}",
    "{n} point {d2} {volume} of {food}",
    "half of {n} {volume}",
    "when can I wash the {thing} at {n} {heat}",
    "when can we swim at {n} {heat}",
    "when does the dough rise at {n} {heat}",
    "how long does the {food} last at {n} {heat}",
    "how long can the {animal} stay out at {n} {heat}",
    "how warm is the {place} at {clock}",
    "is {n} {heat} warm enough for the {animal}",
    "the oven is at {n} {heat}",
    "the {place} has {n} {heat} and {m} percent humidity",
    "{n} {heat} at {clock} and {m} at {clock2}",
    "after {n} minutes at {m} {heat}",
    "after {hours} at {m} {heat}",
    "{hours} and {n} minutes",
    "the bread goes in at {clock}",
    "be ready by {clock}",
    "by {clock} on {day}",
    "the race begins at {clock} in the {place}",
    "start a clock for {n} minutes",
    "start {hours} for the soup",
    "how much time is left for the {food}",
    "how much longer at {n} {heat}",
    "stop the clock for the {food}",
    "every {n} {length}",
    "one {animal} every {d} and {fine} {length}",
    "mix {d} to one with {n} {volume}",
    "{d} to {d2} to {d3} for {n} {volume}",
    "{n} by {m}",
    "{n} {length} by {fine}",
    "{fine}",
    "{d} and {fine}",
    "{n} {length}",
    "{n} {volume}",
    "{n} {heat}",
    "{hours}",
    "at {n}",
    "and at {n}",
    "for {d} and {fine} {length}",
    "{n} percent",
    "number {d}, {n} minutes",
    "table {d}, how long has the soup",
    "{n}, not {m}",
    "{month} {day_number}, twenty {n}",
    "the coin is {d} point {d2} millimeters thick",
    "{n} thousandths of an inch",
)
"""Amounts as people say them; their measures are everybody's, their things are of no trade."""

LENGTHS = "inches feet yards millimeters centimeters meters inches feet".split()
VOLUMES = """ounces fluid-ounces milliliters liters pints quarts gallons cups spoons grams kilos
pounds""".split()
HEATS = ("degrees", "degrees", "degrees fahrenheit", "degrees celsius", "fahrenheit", "celsius")
HOURS = (
    "half an hour",
    "an hour",
    "an hour and a half",
    "two hours",
    "three and a half hours",
    "a quarter of an hour",
    "forty five minutes",
    "a day",
    "two and a half hours",
)

PROSE = (
    "{person} {verb} the {adj} {thing} {ending}.",
    "the {adj} {thing} in the {place} was {adj2} and {adj3}.",
    "{person} said that the {animal} had gone to the {place} {ending}.",
    "have you ever seen {adj} {animal} near a {place}?",
    "nobody knew why {person} {verb} the {thing}.",
    "we found a {thing}, a {thing2} and {n} {adj} {animal} {ending}.",
    "in {month} the {place} is full of {adj} {animal}.",
    "if the {thing} is {adj}, ask {person} about it {ending}.",
    "{person} likes {food} with {food2}, but not {food3}.",
    "somewhere behind the {place}, {person} {verb} a {adj} {thing}.",
    "the {place} and the {place2} are both older than {person} thought.",
    "please bring the {adj} {thing} to the {place} {ending}.",
    "every {day}, {person} {verb} the {animal} {ending}.",
)

FRACTIONS = (
    "half",
    "third",
    "quarter",
    "fifth",
    "eighth",
    "two thirds",
    "three quarters",
    "tenth",
    "sixth",
    "three fifths",
    "seven eighths",
)

FINE_FRACTIONS = (
    "a half",
    "one half",
    "a quarter",
    "one quarter",
    "three quarters",
    "an eighth",
    "one eighth",
    "three eighths",
    "five eighths",
    "seven eighths",
    "a sixteenth",
    "one sixteenth",
    "three sixteenths",
    "five sixteenths",
    "seven sixteenths",
    "nine sixteenths",
    "eleven sixteenths",
    "thirteen sixteenths",
    "fifteen sixteenths",
    "a thirty second",
    "five thirty seconds",
    "a third",
    "two thirds",
)
"""Fractions of an inch or a cup, as they are said."""


SHORT = (
    "{thing}.",
    "{animal}.",
    "{n}.",
    "{n} {thing}.",
    "{adj} {thing}.",
    "the {thing}",
    "{d} point {d2}",
    "{verb}.",
    "{clock}",
    "{letter} {n}",
)
SHORT_SHARE = 0.5
"""Of the pairs of sentences, so many are followed by a short one: a network that has only heard
whole sentences loses single words."""


def number(rng: random.Random) -> int:
    """A whole number; small ones, tens and teens come often, since they are heard amiss."""
    return rng.choice(
        (
            rng.randint(0, 12),
            rng.randint(13, 19),
            10 * rng.randint(1, 9),
            rng.randint(20, 99),
            rng.randint(20, 99),
            rng.randint(100, 999),
            5 * rng.randint(1, 40),
        )
    )


def clock(rng: random.Random) -> str:
    """A time of day in words."""
    hour, minute = rng.randint(1, 12), rng.choice((0, 5, 10, 15, 20, 25, 30, 40, 45, 50, 55, 17))
    if minute == 0:
        return f"{num2words(hour)} o'clock"
    if rng.random() < 0.3:
        if minute == 30:
            return f"half past {num2words(hour)}"
        if minute == 15:
            return f"quarter past {num2words(hour)}"
    words = f"oh {num2words(minute)}" if minute < 10 else num2words(minute)
    return f"{num2words(hour)} {words}{rng.choice(('', ' a m', ' p m'))}"


def fill(template: str, rng: random.Random) -> str:
    """A template with its gaps filled at random."""

    def words(value: int) -> str:
        return num2words(value).replace(",", "").replace(" and ", rng.choice((" ", " and ")))

    return template.format(
        n=words(number(rng)),
        m=words(number(rng)),
        d=words(rng.randint(1, 9)),
        d2=words(rng.randint(0, 9)),
        d3=words(rng.randint(0, 9)),
        frac=rng.choice(FRACTIONS),
        fine=rng.choice(FINE_FRACTIONS),
        fine2=rng.choice(FINE_FRACTIONS),
        length=rng.choice(LENGTHS),
        length2=rng.choice(LENGTHS),
        volume=rng.choice(VOLUMES).replace("-", " "),
        volume2=rng.choice(VOLUMES).replace("-", " "),
        heat=rng.choice(HEATS),
        heat2=rng.choice(HEATS),
        hours=rng.choice(HOURS),
        clock=clock(rng),
        clock2=clock(rng),
        digits=" ".join(num2words(rng.randint(0, 9)) for _ in range(rng.randint(3, 6))),
        day_number=num2words(rng.randint(1, 31), to="ordinal"),
        thing=rng.choice(THINGS),
        thing2=rng.choice(THINGS),
        food=rng.choice(FOODS),
        food2=rng.choice(FOODS),
        food3=rng.choice(FOODS),
        animal=rng.choice(ANIMALS),
        place=rng.choice(PLACES),
        place2=rng.choice(PLACES),
        person=rng.choice(PERSON_PHRASES),
        verb=rng.choice(VERB_PHRASES),
        adj=rng.choice(ADJECTIVES),
        adj2=rng.choice(ADJECTIVES),
        adj3=rng.choice(ADJECTIVES),
        day=rng.choice(DAYS),
        month=rng.choice(MONTHS),
        letter=rng.choice(LETTERS),
        ending=rng.choice(ENDINGS),
    )


def sentences(seed: int) -> Iterator[str]:
    """Orders, amounts, prose and a few single words, in turn without end; the same for the same
    seed."""
    rng = random.Random(seed)
    while True:
        yield fill(rng.choice(ORDERS), rng)
        yield fill(rng.choice(MEASURED), rng)
        yield fill(rng.choice(PROSE), rng)
        if rng.random() < SHORT_SHARE:
            yield fill(rng.choice(SHORT), rng)


TRADE_SHARE = 0.3
"""Of the spoken sentences, so many are the trade's. With twice that and little else (0.6), other
domains and a real person's numbers were heard worse at a ratio of 0 dB."""
OPTIONAL = (0.15, 0.35, 0.6)
"""Chances of an optional part, one drawn for each sentence: short and long questions."""


@lru_cache(maxsize=1)
def _trade() -> tuple[jsgf.RuleSet, frozenset[str]]:
    """The trade's grammars with usual numbers, and the words of the committed recordings."""
    manifest = json.loads((scale.HERE / "manifest.json").read_text(encoding="utf-8"))
    return scale.usual_rules(Bench()), frozenset(row["words"] for row in manifest)


def trade_sentences(seed: int) -> Iterator[str]:
    """Questions of the trade that serve training (``scale.purpose_of``), every kind as often as
    any other, without end; the same for the same seed. They need not make sense."""
    rng, (rules, committed) = random.Random(f"trade{seed}"), _trade()
    while True:
        words = sampling.sample(rules, rng, rng.choice(rules.roots), rng.choice(OPTIONAL)).text
        if (
            0 < len(words.split()) <= scale.MOST_WORDS
            and scale.purpose_of(words) == "train"
            and words not in committed
        ):
            yield words


def spoken(seed: int, trade_share: float = TRADE_SHARE) -> Iterator[str]:
    """What the voices that are trained on say: questions of the trade, and ``sentences``."""
    rng, trade, other = random.Random(f"spoken{seed}"), trade_sentences(seed), sentences(seed)
    while True:
        yield next(trade if rng.random() < trade_share else other)
