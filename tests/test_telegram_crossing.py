"""Nobody else's chat: whatever many people write in many chats, crews and boats, nothing crosses over."""

import json
from typing import Any

import pytest
from boats import Harbour
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.model import Rulebook
from coach.post import privacy

PHONES = (11, 22, 33)
CREWS = (-44, -55)
PEOPLE = (11, 22, 33, 66)
PLACES = st.one_of(
    st.sampled_from(PHONES).map(lambda chat: (chat, chat)),
    st.tuples(st.sampled_from(CREWS), st.sampled_from(PEOPLE)),
)
DEEDS = st.sampled_from(["depth", "words", "count", "draft", "join", "leave", "forget", "fresh", "low"])
STEPS = st.lists(st.tuples(PLACES, DEEDS), max_size=25)


class Model:
    """What each boat should know, by hand, and who said which words on which."""

    def __init__(self) -> None:
        self.boats: dict[str, dict[str, Any]] = {}
        self.words: dict[tuple[str, int], set[str]] = {}
        self.berths: dict[int, dict[str, bool]] = {}

    def berthed(self, chat: int, boat: str) -> None:
        """A chat is on a boat now: its own if nobody was on her before."""
        is_own = not any(boat in boats for boats in self.berths.values())
        self.berths.setdefault(chat, {}).setdefault(boat, is_own)

    def forget_person(self, boat: str, person: int) -> None:
        self.words.pop((boat, person), None)
        self.of(boat)["count"].pop(person, None)

    def forget_boat(self, boat: str) -> None:
        self.boats.pop(boat, None)
        self.words = {key: words for key, words in self.words.items() if key[0] != boat}
        for boats in self.berths.values():
            boats.pop(boat, None)

    def of(self, boat: str) -> dict[str, Any]:
        return self.boats.setdefault(boat, {"count": {}})


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(STEPS)
def test_no_fact_count_bell_or_word_crosses_chats_people_or_crews(
    shipped: Rulebook, plain: Any, steps: list[tuple[tuple[int, int], str]]
) -> None:
    harbour, model = Harbour(":memory:", shipped, plain), Model()
    try:
        for chat in (*PHONES, *CREWS):
            harbour.say(chat, "/summary", person=abs(chat))
            model.berthed(chat, harbour.boat(chat))
        for number, (place, deed) in enumerate(steps):
            do(harbour, model, place, deed, number)
        for chat in (*PHONES, *CREWS):
            harbour.say(chat, "/summary", person=abs(chat))
            compare(harbour, model, chat)
    finally:
        harbour.store.close()


def do(harbour: Harbour, model: Model, place: tuple[int, int], deed: str, number: int) -> None:
    chat, person = place
    boat = harbour.boat(chat)
    known = model.of(boat)
    if deed == "depth":
        harbour.say(chat, f"/tell {7 + number % 9} ft deep", person=person)
        known["depth"] = 7 + number % 9
    elif deed == "words":
        word = f"qzx{number}w"
        harbour.say(chat, f"/tell {word}", person=person)
        model.words.setdefault((boat, person), set()).add(word)
    elif deed == "count":
        harbour.say(chat, f"b{number}", person=person)
        known["count"][person] = known["count"].get(person, 0) + number
    elif deed == "draft":
        harbour.say(chat, f"/draft {1 + number / 10:.1f}", person=person)
        known["draft"] = round(1 + number / 10, 1)
    elif deed == "low":
        harbour.say(chat, f"/tell low water at {21 + number % 3}:{number % 60:02d}", person=person)
        known["low"] = f"{21 + number % 3}:{number % 60:02d}"
    elif deed == "fresh":
        harbour.say(chat, "/fresh", person=person)
        known.pop("depth", None)
        known.pop("low", None)
    elif chat > 0:
        move(harbour, model, chat, deed)


def move(harbour: Harbour, model: Model, chat: int, deed: str) -> None:
    boat = harbour.boat(chat)
    if deed == "join":
        host = PHONES[(PHONES.index(chat) + 1) % 3]
        harbour.say(host, "/boat")
        harbour.say(chat, f"/boat {harbour.latest(host).text.split('/boat ')[1].split()[0]}")
    elif deed == "leave":
        harbour.say(chat, "/boat leave")
    elif deed == "forget":
        aboard = {phone: harbour.boat(phone) for phone in PHONES}
        harbour.say(chat, "/forget")
        harbour.tap(chat, "Erase it")
        harbour.say(chat, "/summary")
        for other, is_own in list(model.berths[chat].items()):
            others = {phone for phone, on in aboard.items() if on == other} - {chat}
            if not others and (is_own or other == boat):
                model.forget_boat(other)
            else:
                model.forget_person(other, chat)
        model.berths[chat] = {}
    model.berthed(chat, harbour.boat(chat))


def compare(harbour: Harbour, model: Model, chat: int) -> None:
    boat = harbour.boat(chat)
    known, facts = model.of(boat), harbour.facts(chat)
    assert facts.get("water.depth_ft") == known.get("depth")
    assert (facts.get("tide.low_at") or "")[11:16] == known.get("low", "")
    lows = [each.say for each in harbour.bells(chat) if each.kind == "low"]
    assert all(known.get("low", "no bell") in said for said in lows)
    for person in PEOPLE:
        with harbour.store.reading() as rows:
            exported = privacy.export(rows, boat, str(person))
        told = json.dumps(exported)
        theirs = {word for word in told.replace('"', " ").replace(".", " ").split() if word.startswith("qzx")}
        own = model.words.get((boat, person), set())
        assert {word.strip("\\n,:'") for word in theirs} <= own
        assert all(word in told for word in own)
        assert sum(each["amount"] for each in exported["counted"]) == pytest.approx(
            sum(known["count"].values())
        )
        assert exported["aboard"].get("draft_ft") == known.get("draft")
