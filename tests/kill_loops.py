"""`kill -9` of the whole bot, again and again, at moments drawn by chance, while people go on writing.

Used by the tests with few kills and by bench_telegram.py with many. What people wrote and when bells
were due is known here; what came of it is read from the store and from the fake Bot API.
"""

from __future__ import annotations

import random
import re
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from bots import BotProcess
from fake_bot_api import FakeBotApi, Sent

from coach.post import due
from coach.reminders import Bell
from coach.store import Store

CHATS = range(101, 107)
DRAIN_S = 120.0


@dataclass
class Outcome:
    """What a loop came to."""

    kills: int
    said: int
    lost: int
    twice: int
    repeated: int
    out_of_order: int
    bells: int
    bells_lost: int
    bells_repeated: int
    unconfirmed_at_kills: int
    wrong: list[str]

    def __str__(self) -> str:
        return (
            f"{self.kills} kills ({self.unconfirmed_at_kills} while updates were unconfirmed),"
            f" {self.said} messages, {self.bells} bells: messages lost {self.lost},"
            f" effects twice {self.twice}, repeated {self.repeated}, chats out of order {self.out_of_order},"
            f" bells lost {self.bells_lost}, repeated {self.bells_repeated}; wrong calls {len(self.wrong)}"
        )


def kill_loop(folder: Path, mode: str, *, kills: int, seed: int) -> Outcome:
    """Run a loop; every message counts one at the bow of its own chat, so effects can be counted."""
    chance = random.Random(seed)
    with FakeBotApi() as api:
        bot = BotProcess(api, folder, mode=mode)
        said = dict.fromkeys(CHATS, 0)
        bells: dict[int, int] = {}
        _meet(api, bot, said)
        unconfirmed = 0
        for number in range(kills):
            bells[number] = chance.choice(list(CHATS))
            _ring_soon(bot, bells[number], number)
            for chat in CHATS:
                for _ in range(chance.choice([0, 1, 1, 2])):
                    api.say(chat, "b1")
                    said[chat] += 1
            _run_a_while(api, bot, chance)
            unconfirmed += api.unconfirmed > 0
            bot.kill()
        bot.start()
        texts = set(bells)
        api.wait_for(lambda: _is_done(api, said, texts), at_most_s=DRAIN_S)
        time.sleep(1.5)
        bot.end()
        return _outcome(api, bot, said, bells, kills=kills, unconfirmed=unconfirmed)


def _meet(api: FakeBotApi, bot: BotProcess, said: dict[int, int]) -> None:
    """One message from each chat, without a kill."""
    bot.start()
    for chat in CHATS:
        api.say(chat, "b1")
        said[chat] += 1
    api.wait_for(lambda: all(len(api.chats[chat]) == 2 for chat in CHATS))
    time.sleep(0.3)
    bot.end()


def _run_a_while(api: FakeBotApi, bot: BotProcess, chance: random.Random) -> None:
    """Start it and let it come to some moment: one in five within its start, the others at work."""
    before = len(api.calls)
    bot.start()
    if chance.random() < 0.2:
        time.sleep(chance.uniform(0.1, 1.5))
        return
    api.wait_for(lambda: len(api.calls) > before, at_most_s=60)
    time.sleep(chance.uniform(0.0, 1.5))


def _ring_soon(bot: BotProcess, chat: int, number: int) -> None:
    with Store(bot.store) as store, store.writing() as rows:
        boat = rows.execute("SELECT boat FROM phones WHERE chat = ?", (str(chat),)).fetchone()[0]
        at = datetime.fromtimestamp(time.time() + 1.0, UTC)
        due.ring(rows, boat, Bell("low", f"bell-{number}", at, f"bell number {number}."))


def _numbers(sent: list[Sent]) -> list[int]:
    found = (re.match(r"Bow (\d+)", each.text) for each in sent)
    return [int(match[1]) for match in found if match]


def _bells(api: FakeBotApi) -> list[int]:
    found = (re.search(r"bell number (\d+)\.", each.text) for chat in CHATS for each in api.chats[chat])
    return [int(match[1]) for match in found if match]


def _is_done(api: FakeBotApi, said: dict[int, int], bells: set[int]) -> bool:
    is_told = all(_numbers(api.chats[chat])[-1:] == [said[chat]] for chat in CHATS)
    return is_told and bells <= set(_bells(api)) and api.unconfirmed == 0


def _outcome(
    api: FakeBotApi,
    bot: BotProcess,
    said: dict[int, int],
    bells: dict[int, int],
    *,
    kills: int,
    unconfirmed: int,
) -> Outcome:
    with Store(bot.store) as store, store.reading() as rows:
        kept = {
            int(chat): (count, batches)
            for chat, count, batches in rows.execute(
                "SELECT p.chat, count(*), count(DISTINCT c.batch) FROM phones p"
                " JOIN counts c ON c.boat = p.boat GROUP BY p.chat"
            )
        }
    rung = _bells(api)
    told = {chat: _numbers(api.chats[chat]) for chat in CHATS}
    return Outcome(
        kills=kills,
        said=sum(said.values()),
        lost=sum(said[chat] - kept[chat][1] for chat in CHATS)
        + sum(len(set(range(1, said[chat] + 1)) - set(told[chat])) for chat in CHATS),
        twice=sum(count - batches for count, batches in kept.values()),
        repeated=sum(len(numbers) - len(set(numbers)) for numbers in told.values()),
        out_of_order=sum(numbers != sorted(numbers) for numbers in told.values()),
        bells=len(bells),
        bells_lost=len(set(bells) - set(rung)),
        bells_repeated=len(rung) - len(set(rung)),
        unconfirmed_at_kills=unconfirmed,
        wrong=api.wrong,
    )
