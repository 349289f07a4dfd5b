"""What is kept of a learner on the bot, exported and forgotten; and lessons through the whole bot."""

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from boats import Harbour
from bots import BotProcess
from fake_bot_api import FakeBotApi
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from leftovers import bytes_on_disk
from pupils import ANNA, BEN, CASE, SIDE, answers, learner, mastered, open_item, opens, with_bank
from test_telegram_bot import MODES, bot_on

from coach.front.telegram import limits
from coach.front.telegram.lessons import learner_of
from coach.model import Rulebook
from coach.school import kept
from coach.school.state import Learner, Open
from coach.store import Store


@pytest.fixture
def harbour(harbour: Harbour) -> Harbour:
    return with_bank(harbour)


# --- kept, exported, forgotten ---------------------------------------------------------------------------


def test_a_step_is_kept_together_with_the_message_that_brought_it_or_not_at_all(
    harbour: Harbour, monkeypatch: pytest.MonkeyPatch
) -> None:
    harbour.say(ANNA, "/lesson")
    before = learner(harbour, ANNA)

    def broken(*_: object) -> None:
        raise RuntimeError("the power went")

    monkeypatch.setattr("coach.front.telegram.office.outbox.put", broken)
    with pytest.raises(RuntimeError):
        harbour.say(ANNA, "6")
    assert learner(harbour, ANNA) == before


TYPED = st.sampled_from(["/lesson", "6", "1", "2", "?", "hint", "stop"])
STEPS = st.lists(st.tuples(st.sampled_from([ANNA, BEN, 44]), TYPED), min_size=4, max_size=24)


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(STEPS)
def test_the_cards_of_two_learners_never_mix(
    shipped: Rulebook, plain: Any, steps: list[tuple[int, str]]
) -> None:
    """Each of three learners stands as if the other two were not there."""
    together = with_bank(Harbour(":memory:", shipped, plain))
    try:
        at = {}
        for number, (chat, text) in enumerate(steps):
            together.say(chat, text)
            at[number] = together.at
        for chat in {chat for chat, _ in steps}:
            alone = with_bank(Harbour(":memory:", shipped, plain))
            for number, (who, text) in enumerate(steps):
                if who == chat:
                    alone.at = at[number] - 1
                    alone.say(chat, text)
            assert learner(alone, chat) == learner(together, chat)
            alone.store.close()
    finally:
        together.store.close()


def test_export_brings_what_was_learned_and_nobody_elses(harbour: Harbour) -> None:
    opens(harbour, ANNA, SIDE)
    answers(harbour, ANNA)
    opens(harbour, BEN, CASE)
    answers(harbour, BEN)
    assert [each.text for each in harbour.say(ANNA, "/export")] == [
        "(file) json", "(file) csv", "(file) lessons.json", "(file) lessons.csv"
    ]  # fmt: skip
    body = {"learner": learner_of(str(ANNA)), "part": "lessons.json", "at": "2027-02-11T20:00:00-05:00"}
    exported = json.loads(harbour.painter.export(body).content)
    assert [each["item"] for each in exported["answers"]] == [SIDE]
    table = harbour.painter.export({**body, "part": "lessons.csv"}).content.decode()
    assert SIDE in table
    assert CASE not in table


@pytest.mark.parametrize("joined", [False, True], ids=["alone", "on a boat with others"])
def test_forgetting_leaves_no_byte_of_what_was_learned(
    harbour: Harbour, tmp_path: Path, joined: bool
) -> None:
    harbour.say(ANNA, "/summary")
    opens(harbour, BEN, CASE)
    if joined:
        harbour.say(BEN, "/boat")
        harbour.say(ANNA, f"/boat {harbour.latest(BEN).text.split('/boat ')[1].split()[0]}")
    opens(harbour, ANNA, SIDE, "scene/side-fallen")
    answers(harbour, ANNA)
    mastered(harbour, ANNA, "heights")
    harbour.say(ANNA, "/progress sign Quillfeather")
    name = learner_of(str(ANNA)).encode()
    traces = (name, SIDE.encode(), b"Quillfeather")
    assert all(each in bytes_on_disk(tmp_path) for each in traces)
    harbour.say(ANNA, "/forget")
    harbour.tap(ANNA, "Erase it")
    assert not [each for each in traces if each in bytes_on_disk(tmp_path)]
    assert open_item(harbour, BEN).id == CASE
    assert "Welcome." in harbour.say(ANNA, "/lesson")[-2].text


# --- the whole bot ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("mode", MODES)
def test_a_lesson_goes_through_in_both_modes_with_a_picture_and_every_call_is_a_legal_one(
    tmp_path: Path, shipped: Rulebook, plain: Any, monkeypatch: pytest.MonkeyPatch, mode: str
) -> None:
    monkeypatch.setattr(limits, "GAP_S", 0.02)
    state = Learner(name=learner_of("7"), open=Open(item=SIDE), began=True)
    with Store(tmp_path / "a.db") as store, store.writing() as rows:
        kept.keep(rows, state, at=datetime.now(UTC))
    with FakeBotApi() as api, bot_on(api, tmp_path / "a.db", shipped, plain, mode=mode):
        api.say(7, "/lesson")
        api.wait_for(lambda: any("Which lamp" in each.text for each in api.chats[7]))
        photo = next(each for each in api.chats[7] if each.file)
        assert photo.file is not None
        assert photo.file.startswith(b"\x89PNG")
        assert "lamp" in photo.text
        label = api.latest(7).rows[0][0]
        api.tap_label(7, label)
        api.wait_for(lambda: "How sure" in api.latest(7).text)
        api.tap_label(7, "Certain")
        api.wait_for(lambda: any("That was it for today" in each.text for each in api.chats[7]))
    assert not api.wrong
    assert api.unconfirmed == 0


def test_a_lesson_goes_on_after_a_kill_where_it_stood(tmp_path: Path) -> None:
    with FakeBotApi() as api:
        bot = BotProcess(api, tmp_path)
        bot.start()
        api.say(7, "/lesson")
        asked = "Type the number"
        api.wait_for(lambda: any(asked in each.text for each in api.chats.get(7, [])), at_most_s=40)
        api.say(7, "3")
        api.wait_for(lambda: "How sure" in api.latest(7).text)
        bot.kill()
        with bot:
            api.tap_label(7, "Certain")
            api.wait_for(lambda: "(certain)" in "".join(each.text for each in api.chats[7]), at_most_s=40)
    with Store(bot.store) as store, store.reading() as rows:
        (answer,) = kept.answers(rows, learner_of("7"))
    assert (answer.picked, answer.sure) == ("3", "certain")
