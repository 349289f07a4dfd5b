"""Sends random messages to the dialogue core and prints what did not hold.

    python tests/bench_fuzz.py [--messages 100000] [--seed 0] [--jobs 2]

Chats of up to 40 messages, each chat drawn from its own seed: words of boaters spliced, cut and
misspelt, any characters at all, numbers with and without units, picks and facts legal and not, every
command and what is none, and pauses of minutes to a day between them; half of the chats are calm and
mostly answer what is asked. Promised after each message:

  no exception; a reply that says, asks or refuses something and can be written as a line of JSON;
  a refusal, and words that are not understood while a question is open, leave the state as it was
  (words not understood never change a fact), and the open question stays open;
  every fact that is kept is a legal value; the state survives being written down;
  what is undone was there before: undo brings back the facts of an earlier state.

Prints figures and every broken promise with the seed that brings it back; ends with 1 if there is any.
"""

import argparse
import random
import string
import sys
import time
import traceback
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import timedelta
from typing import Any

import legal_facts
from play_inside import Core, read_cases, spread
from talks import Talk

from coach import exchange
from coach.conversation import Message, Reply, Session
from coach.legal import legal_value
from coach.model import UNKNOWN, Rulebook

CHAT_MESSAGES = 40
COMMANDS = ("new", "why", "undo", "summary", "forget", "clear", "metric", "feet", "stop", "", "nonsense")
UNITS = ("ft", "feet", "foot", "'", "m", "metres", "inches", "kn", "knots", "F", "C", "degrees", "V", "volts",
         "min", "hours", "%", "lb", "")  # fmt: skip
NUMBERS = (
    "0", "1", "3", "11", "7 3/4", "three and a half", "-2", "1e9", "99999999999999999999", "3,5", "½", "nine",
    "half", "a couple", "1.1.1", "٣", "NaN", "inf", "--4", "11 11", "2 or 3", "dozen",
)  # fmt: skip
LITTLE = (
    "no", "yes", "not", "never", "dunno", "idk", "unknown", "skip", "why", "wait no I meant", "actually",
    "forget that", "sorry", "both", "left", "right", "bow", "stern", "and", "but", "?", "...", "!!",
)  # fmt: skip


class Words:
    """Draws texts as people and machines may send them."""

    def __init__(self, book: Rulebook) -> None:
        self.openings = [case.opening for case in read_cases()]
        self.labels = [option.label for fact in book.facts.values() for option in fact.options]
        self.words = sorted({word for text in (*self.openings, *self.labels) for word in text.split()})

    def text(self, dice: random.Random) -> str:
        kinds = {
            self._opening: 3, self._spliced: 4, self._label: 2, self._number: 3, self._soup: 3,
            self._noise: 2, self._little: 2,
        }  # fmt: skip
        return dice.choices(list(kinds), weights=list(kinds.values()))[0](dice)

    def _opening(self, dice: random.Random) -> str:
        return _misspelt(dice.choice(self.openings), dice)

    def _spliced(self, dice: random.Random) -> str:
        one, other = dice.choice(self.openings).split(), dice.choice(self.openings).split()
        return " ".join((*one[: dice.randint(0, len(one))], *other[dice.randint(0, len(other)) :]))

    def _label(self, dice: random.Random) -> str:
        return _misspelt(dice.choice(self.labels), dice)

    def _number(self, dice: random.Random) -> str:
        behind = self._little(dice) if dice.random() < 0.3 else ""
        return f"{dice.choice(NUMBERS)} {dice.choice(UNITS)} {behind}"

    def _soup(self, dice: random.Random) -> str:
        return " ".join(dice.choices((*self.words, *LITTLE, *NUMBERS), k=dice.randint(1, 30)))

    def _noise(self, dice: random.Random) -> str:
        letters = (
            string.printable,
            "".join(map(chr, range(0x20, 0x2FF))),
            "אבגد漢字🦐🏮\u200b\u202e\ufeff ½¾'°",
        )
        return "".join(dice.choices(dice.choice(letters), k=dice.randint(0, 80)))

    def _little(self, dice: random.Random) -> str:
        return " ".join(dice.choices(LITTLE, k=dice.randint(1, 3)))


def _misspelt(text: str, dice: random.Random) -> str:
    """The text with none or some letters lost, doubled or changed."""
    letters = list(text)
    for _ in range(dice.choice((0, 0, 1, 2, 6))):
        at = dice.randrange(len(letters))
        letters[at] = dice.choice(("", letters[at] * 2, dice.choice(string.ascii_lowercase)))
    return "".join(letters)


def value(book: Rulebook, name: str | None, dice: random.Random) -> Any:
    """An answer to a question: mostly a legal one."""
    wild = (True, False, None, "", "yes", "falling", -1e308, 1e308, float("nan"), float("inf"), 0, 3, 11.5,
            "2027-02-11T21:00:00-05:00", "x" * 300, [], {}, [1], "\x00", "unknown ")  # fmt: skip
    roll = dice.random()
    if name is None or roll < 0.2:
        return dice.choice(wild)
    return UNKNOWN if roll < 0.4 else legal_facts.drawn(book.facts[name], dice)


def message(talk: Talk, words: Words, dice: random.Random, *, is_calm: bool) -> Message:
    """Any message at all; in a calm chat mostly an answer to the open question."""
    if is_calm and talk.reply.ask is not None and dice.random() < 0.8:
        return Message(pick=legal_facts.drawn(talk.book.facts[talk.reply.ask.fact], dice), has_pick=True)
    roll, names = dice.random(), list(talk.book.facts)
    if roll < 0.4:
        return Message(text=words.text(dice))
    if roll < 0.72:
        asked = talk.reply.ask.fact if talk.reply.ask is not None else None
        return Message(pick=value(talk.book, asked, dice), has_pick=True)
    if roll < 0.86:
        return Message(command=dice.choice(COMMANDS))
    told = dice.sample(names, k=dice.randint(0, 5))
    given = {name: value(talk.book, name, dice) for name in told}
    return Message(facts=given | ({"no.such_fact": 1} if dice.random() < 0.1 else {}))


# --- what must hold --------------------------------------------------------------------------------------


def is_not_understood(reply: Reply, book: Rulebook) -> bool:
    """Whether nothing in the words was understood and the question is put once more."""
    return any(block.text == book.texts["not_understood_help"] for block in reply.blocks)


def broken(talk: Talk, past: Sequence[Session], sent: Message) -> Iterator[str]:
    """The promises that the latest reply does not keep; `past` are the chat's states before it."""
    reply, after, before = talk.reply, talk.session, past[-1]
    if not (reply.blocks or reply.ask or reply.error or reply.hazards or reply.verdict):
        yield "a reply that says nothing"
    exchange.write("boat", reply)
    written = after.model_dump_json()
    if Session.model_validate_json(written).model_dump_json() != written:
        yield "the state does not survive being written down"
    for name, heard in after.facts.items():
        if legal_value(talk.book.facts[name], heard.value) != heard.value:
            yield f"{name} is kept as {heard.value!r}"
    if (reply.error is not None or is_not_understood(reply, talk.book)) and after != before:
        yield "refused or not understood, and the state changed"
    if sent.text is not None and not reply.understood and is_not_understood(reply, talk.book):
        asked = reply.ask.fact if reply.ask is not None else None
        if before.asking != asked:
            yield "not understood, and the open question is gone"
    if sent.command == "undo" and not any(after.facts == state.facts for state in past):
        yield "undo brought facts that were never there"


class Fuzz:
    """Holds random chats and counts what comes of them."""

    def __init__(self, core: Core) -> None:
        self.core, self.words = core, Words(core.book)

    def chat(self, seed: int) -> tuple[Counter[str], list[str]]:
        """One chat: what was counted, and the broken promises."""
        dice, talk = random.Random(f"chat {seed}"), Talk(self.core.book, self.core.infer)
        count: Counter[str] = Counter(chats=1)
        found: list[str] = []
        past, is_calm = [talk.session], dice.random() < 0.5
        for place in range(dice.randint(1, CHAT_MESSAGES)):
            talk.now += timedelta(minutes=dice.choice((0, 0, 0, 1, 5, 12, 45, 60 * 20)))
            sent = message(talk, self.words, dice, is_calm=is_calm)
            at = f"chat {seed}, message {place}: {sent.model_dump(exclude_defaults=True)!r}: "
            try:
                talk.send(sent)
                found += [at + each for each in broken(talk, past, sent)]
            except Exception:
                found.append(at + traceback.format_exc(limit=-2))
                break
            past.append(talk.session)
            count.update(kinds(sent, talk.reply, self.core.book))
        return count, found


def kinds(sent: Message, reply: Reply, book: Rulebook) -> Iterator[str]:
    yield "messages"
    yield next((kind for kind in ("text", "facts", "command") if getattr(sent, kind) is not None), "pick")
    if reply.error is not None:
        yield f"refused: {reply.error[0]}"
    if is_not_understood(reply, book):
        yield "words not understood"
    if reply.verdict is not None:
        yield "verdicts"
    if reply.hazards:
        yield "with a hazard"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--messages", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=0, help="the first chat's seed; the next has the next")
    parser.add_argument("--jobs", type=int, default=2)
    options = parser.parse_args()
    began, fuzz = time.perf_counter(), Fuzz(Core())
    total: Counter[str] = Counter()
    found: list[str] = []
    seed = options.seed
    while total["messages"] < options.messages:
        left = options.messages - total["messages"]
        batch = range(seed, seed + max(8, min(2000, left // (CHAT_MESSAGES // 2))))
        for count, broke in spread(fuzz.chat, batch, jobs=options.jobs):
            total += count
            found += broke
        seed = batch.stop
    print(f"chats of seeds {options.seed} to {seed - 1}, {time.perf_counter() - began:.0f} s")
    print(*(f"  {name:24} {count}" for name, count in sorted(total.items())), sep="\n")
    print(f"broken promises: {len(found)} in {total['messages']} messages")
    print(*found[:20], sep="\n")
    sys.exit(1 if found else 0)


if __name__ == "__main__":
    main()
