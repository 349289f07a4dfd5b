"""Pictures, tonight's card and the trip on the bot: made when they are sent, and the same in words."""

import asyncio
import io
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pypdf
import pytest
from boats import Harbour
from telegram import InputFile, Message, PhotoSize

from coach.front.apart import ApartLost, apart
from coach.front.telegram import courier, words
from coach.front.telegram.courier import Courier
from coach.front.telegram.pages import caption_of
from coach.pictures import parts
from coach.pictures.parts import MissingPartError
from coach.post.outbox import Letter

ANNA, BEN = 11, 22
SET = "12 ft deep, both clipped at 7 ft, tide is falling"
UNITS = 1024
"""Most UTF-16 units of a caption (Bot API documentation, READ)."""


def verdict(harbour: Harbour, chat: int = ANNA) -> None:
    """Talk until there is one: the lamps hang too high."""
    harbour.say(chat, "few from the start, others are catching")
    harbour.say(chat, SET)
    for _ in range(12):
        latest = harbour.latest(chat)
        if "Don't know" not in latest.buttons:
            break
        harbour.tap(chat, "Yes" if latest.text.startswith("Safety") else "Don't know")


def test_what_draws_pictures_and_paper_never_comes_into_the_bot(harbour: Harbour) -> None:
    script = """
import sys
from coach.front.apart import apart
from coach.pictures.png import png
svg = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><rect width="5" height="5"/></svg>'
made = apart(png, svg)
assert made.startswith(b"\\x89PNG"), made[:9]
print([name for name in ("resvg_py", "PIL", "reportlab") if name in sys.modules])
"""
    ended = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert ended.stdout == "[]\n"


@pytest.mark.parametrize("fault", [ValueError("no such picture"), MissingPartError("not installed")])
def test_what_cannot_be_drawn_apart_says_why_where_it_was_asked_for(fault: Exception) -> None:
    with pytest.raises(type(fault), match=str(fault)):
        apart(_raising, fault)


def test_a_process_that_is_killed_while_it_draws_is_no_picture_and_is_said() -> None:
    with pytest.raises(ApartLost):
        apart(os._exit, 9)


def _raising(fault: Exception) -> None:
    raise fault


def test_a_verdict_comes_in_words_and_then_as_a_picture(harbour: Harbour) -> None:
    verdict(harbour)
    said, shown = harbour.chats[ANNA][-2:]
    assert "4 ft" in said.text.splitlines()[0]  # 12 ft of water less 8, common practice
    assert said.buttons
    assert shown.text.startswith("(picture) The set from the side.")
    assert "8 ft" in shown.text  # how deep they hang then


def test_the_same_advice_again_brings_no_second_picture(harbour: Harbour) -> None:
    verdict(harbour)
    pictures = [each for each in harbour.chats[ANNA] if each.text.startswith("(picture)")]
    harbour.say(ANNA, "the water is clear")
    again = [each for each in harbour.chats[ANNA] if each.text.startswith("(picture)")]
    assert len(pictures) == len(again) == 1


def test_every_phone_of_the_boat_gets_the_picture(harbour: Harbour) -> None:
    harbour.say(ANNA, "/boat")
    harbour.say(BEN, f"/boat {harbour.latest(ANNA).text.split('/boat ')[1].split()[0]}")
    verdict(harbour)
    assert harbour.latest(BEN).text == harbour.latest(ANNA).text
    assert harbour.latest(BEN).text.startswith("(picture)")


def test_a_picture_can_be_asked_for_and_offers_the_others_that_have_something_to_show(
    harbour: Harbour,
) -> None:
    assert harbour.say(ANNA, "/picture")[-1].text == words.PICTURE_NONE
    harbour.say(ANNA, SET)
    harbour.say(ANNA, "high water 19:00, high 3 ft")
    harbour.say(ANNA, "low water 01:00, low 0 ft")
    side = harbour.say(ANNA, "/picture")[-1]
    assert side.text.startswith("(picture) The set from the side.")
    assert list(side.buttons) == [words.PICTURE_MORE["tide"]]
    harbour.tap(ANNA, words.PICTURE_MORE["tide"])
    assert harbour.latest(ANNA).text.startswith("(picture) High water")
    assert harbour.say(ANNA, "/picture of my aunt")[-1].text == words.PICTURE_HOW
    assert harbour.say(ANNA, "/picture counts")[-1].text == words.PICTURE_NONE


def test_what_a_caption_cannot_hold_is_sent_in_words_before_it(harbour: Harbour) -> None:
    lines = [f"{number} 🔔 {'x' * 90}" for number in range(30)]
    caption = caption_of(lines)
    assert lines[0] in caption
    assert len(caption.encode("utf-16-le")) // 2 <= UNITS
    assert len((caption + "\n" + lines[caption.count("\n") + 1]).encode("utf-16-le")) // 2 > UNITS


def test_the_card_is_a_page_for_paper_with_its_words_in_the_caption(harbour: Harbour) -> None:
    harbour.say(ANNA, SET)
    letters = _letters(harbour, "/card")
    file = harbour.painter.card(letters[-1].body)
    assert (file.name, file.content[:5]) == ("card.pdf", b"%PDF-")
    assert len(pypdf.PdfReader(io.BytesIO(file.content)).pages) == 1
    assert file.caption.startswith("Tonight's card")
    assert "Clip heights by the clock:" in file.caption


def test_without_the_libraries_for_pictures_words_and_a_page_for_the_screen_come(
    harbour: Harbour, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing(module: str, *, needed_for: str) -> Any:
        raise parts.MissingPartError(f"{needed_for}: {module}")

    monkeypatch.setattr("coach.front.telegram.pages.apart", lambda do, *given: do(*given))
    monkeypatch.setattr("coach.pictures.png.part", missing)
    monkeypatch.setattr("coach.card.paper.part", missing)
    harbour.say(ANNA, SET)
    file = harbour.painter.card(_letters(harbour, "/card")[-1].body)
    assert (file.name, file.content[:15]) == ("card.html", b"<!doctype html>")
    bot = Bot()
    asked = _letters(harbour, "/picture")[-1]
    assert _post(harbour, bot, asked)
    assert [name for name, _ in bot.calls] == ["send_message"]
    assert bot.calls[0][1]["text"].startswith("The set from the side.")


def test_a_photo_goes_up_once_and_is_sent_again_by_its_name(harbour: Harbour) -> None:
    harbour.say(ANNA, SET)
    asked = _letters(harbour, "/picture")[-1]
    bot = Bot()
    with ThreadPoolExecutor(1) as studio:
        post = Courier(bot, harbour.painter, studio)  # type: ignore[arg-type]
        asyncio.run(_twice(post, asked))
    (_, first), (_, second) = bot.calls
    assert isinstance(first["photo"], bytes)
    assert first["photo"].startswith(b"\x89PNG")
    assert second["photo"] == "name-of-photo"
    assert first["caption"] == second["caption"] != ""


def test_the_trip_ends_in_one_thing_to_do_differently(harbour: Harbour) -> None:
    assert harbour.say(ANNA, "/trip")[-1].text == words.TRIP_NONE
    harbour.say(ANNA, SET)
    harbour.show_place(ANNA, 30.15, -85.67)
    lines = harbour.say(ANNA, "/trip")[-1].text.splitlines()
    assert lines[0].startswith("Trip 1, Thursday 11 February 2027")
    assert "Courtney Point" in lines[0]
    assert lines[-1].startswith("One thing to do differently:")


def test_all_trips_are_a_line_each_with_the_catch_per_lamp_hour(harbour: Harbour) -> None:
    for _ in range(2):
        harbour.say(ANNA, SET)
        for _ in range(3):
            harbour.later(15)
            harbour.say(ANNA, "b6 s6")
        harbour.later(60 * 20)
    harbour.say(ANNA, "/trip")
    harbour.tap(ANNA, words.TRIPS_ALL)
    first, second, _, rate, *_ = harbour.latest(ANNA).text.splitlines()
    assert first.startswith("1  11 Feb 2027")
    assert second.startswith("2  12 Feb 2027")
    assert rate.startswith("Catch per lamp-hour: 24 ")  # 24 in 30 minutes under two lamps, both nights


class Bot:
    """Takes calls as the library's bot does."""

    def __init__(self) -> None:
        self.calls: list[tuple[str, dict[str, Any]]] = []

    async def send_photo(self, _: int, photo: bytes | str | InputFile, **given: Any) -> Message:
        self.calls.append(("send_photo", {"photo": photo, **given}))
        return _message(photo=[PhotoSize("name-of-photo", "x", 1, 1)])

    async def send_message(self, _: int, text: str, **given: Any) -> Message:
        self.calls.append(("send_message", {"text": text, **given}))
        return _message()


def _message(**more: Any) -> Message:
    from datetime import UTC, datetime

    from telegram import Chat

    return Message(1, datetime.now(UTC), Chat(ANNA, "private"), **more)


async def _twice(post: Courier, letter: Letter) -> None:
    await post(letter)
    await post(letter)


def _post(harbour: Harbour, bot: Bot, letter: Letter) -> int | None:
    with ThreadPoolExecutor(1) as studio:
        return asyncio.run(courier.Courier(bot, harbour.painter, studio)(letter))  # type: ignore[arg-type]


def _letters(harbour: Harbour, text: str) -> list[Letter]:
    """The letters that a message brings, as they stand in the outbox."""
    found: list[Letter] = []
    deliver = harbour._deliver
    harbour._deliver = lambda letters: found.extend(letters) or deliver(letters)  # type: ignore[func-returns-value,method-assign]
    harbour.say(ANNA, text)
    harbour._deliver = deliver  # type: ignore[method-assign]
    return found
