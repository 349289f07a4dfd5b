"""The durable post: what came in, what goes out, what rings, who is aboard; and that nothing stays of what
was forgotten."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from leftovers import bytes_on_disk

from coach.counting import Entry
from coach.post import crew, deck, due, inbox, outbox, privacy
from coach.post.crew import Dipper, Phone
from coach.post.outbox import Letter
from coach.reminders import Bell
from coach.store import Rows, Standing, Store, Turn

NOW = datetime(2027, 2, 11, 21, 5, tzinfo=UTC)
LONG_AGO = NOW - timedelta(days=1)
SECRET = "Quillfeather-lost-her-oar"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "a.db") as kept:
        yield kept


@pytest.fixture
def rows(store: Store) -> Iterator[Rows]:
    with store.writing() as open_rows:
        yield open_rows


def bell(key: str, minutes: float = 10, kind: str = "low") -> Bell:
    return Bell(kind, key, NOW + timedelta(minutes=minutes), f"say {key}")


# --- inbox -----------------------------------------------------------------------------------------------


def test_an_update_is_received_once_and_waits_in_the_order_it_was_sent(rows: Rows) -> None:
    assert inbox.receive(rows, 8, chat="1", at=0.0, event="second")
    assert inbox.receive(rows, 7, chat="2", at=0.0, event="first")
    assert not inbox.receive(rows, 8, chat="1", at=0.0, event="repeat")
    assert [(row.update_id, row.event) for row in inbox.waiting(rows)] == [(7, "first"), (8, "second")]


def test_a_handled_update_keeps_its_number_and_nothing_of_what_it_said(rows: Rows) -> None:
    inbox.receive(rows, 7, chat="1", at=0.0, event=SECRET)
    inbox.handled(rows, 7)
    assert inbox.waiting(rows) == []
    assert rows.execute("SELECT * FROM inbox").fetchall() == [(7, None, 0.0, None)]
    assert not inbox.receive(rows, 7, chat="1", at=0.0, event="repeat")


def test_an_update_cannot_be_handled_twice_nor_one_that_never_came(rows: Rows) -> None:
    inbox.receive(rows, 7, chat="1", at=0.0, event="x")
    inbox.handled(rows, 7)
    for number in (7, 99):
        with pytest.raises(inbox.HandledBefore):
            inbox.handled(rows, number)


def test_old_numbers_go_and_waiting_updates_stay(rows: Rows) -> None:
    for number in (1, 2):
        inbox.receive(rows, number, chat="1", at=0.0, event="x")
    inbox.handled(rows, 1)
    inbox.prune(rows, now=inbox.KEPT_S + 1)
    assert [row.update_id for row in inbox.waiting(rows)] == [2]
    assert rows.execute("SELECT count(*) FROM inbox").fetchone() == (1,)


# --- outbox ----------------------------------------------------------------------------------------------


def test_letters_come_out_as_they_were_put_in_and_go_when_sent(rows: Rows) -> None:
    given = [
        Letter("1", "send", {"text": "½ é", "rows": [[["Yes", "a:1"]]]}),
        Letter("1", "edit", {"text": "b"}, 12),
        Letter("2", "send", {"text": "c"}, None, 5.5),
    ]
    kept = outbox.put(rows, given)
    assert outbox.waiting(rows) == kept
    assert [letter.id for letter in kept] == sorted({letter.id for letter in kept})
    outbox.sent(rows, [kept[0].id])
    assert outbox.waiting(rows) == kept[1:]
    outbox.drop(rows, "1")
    assert [letter.chat for letter in outbox.waiting(rows)] == ["2"]
    assert outbox.is_empty(rows, "1")
    assert not outbox.is_empty(rows, "2")


def test_a_number_of_a_letter_never_comes_again(rows: Rows) -> None:
    first = outbox.put(rows, [Letter("1", "send", {"text": "a"})])[0]
    outbox.sent(rows, [first.id])
    assert outbox.put(rows, [Letter("1", "send", {"text": "b"})])[0].id > first.id


# --- bells -----------------------------------------------------------------------------------------------


def waiting_keys(rows: Rows, boat: str = "boat") -> set[str]:
    return {each.say.removeprefix("say ") for each in due.of_boat(rows, boat)}


def test_bells_follow_the_set_and_other_kinds_and_boats_are_left_alone(rows: Rows) -> None:
    due.follow(
        rows, "boat", {"reclip": [bell("a", kind="reclip"), bell("b", kind="reclip")], "low": [bell("l")]},
        now=LONG_AGO,
    )  # fmt: skip
    due.follow(rows, "other", {"reclip": [bell("a", kind="reclip")]}, now=LONG_AGO)
    due.follow(rows, "boat", {"reclip": [bell("b", kind="reclip"), bell("c", kind="reclip")]}, now=LONG_AGO)
    assert waiting_keys(rows) == {"b", "c", "l"}
    assert waiting_keys(rows, "other") == {"a"}


def test_a_bell_rings_once_even_if_it_is_worked_out_again(rows: Rows) -> None:
    crew.put_phone(rows, Phone("1", "boat", 0, is_group=False))
    due.follow(rows, "boat", {"low": [bell("l", -1)]}, now=LONG_AGO)
    (rung,) = due.ringing(rows, NOW.timestamp())
    assert due.rung(rows, rung.id)
    assert not due.rung(rows, rung.id)
    due.follow(rows, "boat", {"low": [bell("l", -1)]}, now=LONG_AGO)
    assert due.ringing(rows, NOW.timestamp()) == []


def test_a_bell_that_was_put_off_rings_later_while_it_holds(rows: Rows) -> None:
    due.follow(rows, "boat", {"low": [bell("l", -1)]}, now=LONG_AGO)
    (rung,) = due.ringing_on(rows, "boat", NOW.timestamp())
    due.rung(rows, rung.id)
    due.put_off(rows, rung.id, NOW + timedelta(minutes=10))
    due.follow(rows, "boat", {"low": [bell("l", -1)], "high": []}, now=NOW)
    assert due.ringing_on(rows, "boat", NOW.timestamp()) == []
    assert [each.say for each in due.ringing_on(rows, "boat", NOW.timestamp() + 601)] == ["say l"]
    due.rung(rows, rung.id)
    due.done(rows, rung.id)
    due.prune(rows, before=NOW.timestamp() + 5000)
    assert rows.execute("SELECT count(*) FROM due").fetchone() == (0,)


def test_a_bell_that_was_put_off_goes_when_what_it_rings_for_is_over(rows: Rows) -> None:
    due.follow(rows, "boat", {"reclip": [bell("4 ft", kind="reclip")]}, now=LONG_AGO)
    (rung,) = due.ringing_on(rows, "boat", NOW.timestamp() + 601)
    due.rung(rows, rung.id)
    due.put_off(rows, rung.id, NOW + timedelta(minutes=10))
    due.follow(rows, "boat", {"reclip": [bell("3 ft", kind="reclip")]}, now=LONG_AGO)
    assert waiting_keys(rows) == {"3 ft"}


def test_a_bell_that_waits_to_ring_is_not_taken_away_by_a_turn_that_comes_first(rows: Rows) -> None:
    due.follow(rows, "boat", {"low": [bell("l", -1)]}, now=LONG_AGO)
    due.follow(rows, "boat", {"low": [bell("l", -1)]}, now=NOW)
    assert waiting_keys(rows) == {"l"}
    due.follow(rows, "boat", {"high": [bell("h", -1)]}, now=NOW)
    assert waiting_keys(rows) == {"l"}


def test_only_bells_on_boats_with_a_phone_are_for_the_bot(rows: Rows) -> None:
    due.ring(rows, "terminal", bell("t", -1))
    assert due.ringing(rows, NOW.timestamp()) == []
    assert len(due.ringing_on(rows, "terminal", NOW.timestamp())) == 1


def test_a_bell_is_found_on_its_own_boat_only(rows: Rows) -> None:
    due.ring(rows, "boat", bell("t"))
    (held,) = due.of_boat(rows, "boat")
    assert due.find(rows, "boat", held.id) == held
    assert due.find(rows, "other", held.id) is None


def test_the_only_bell_of_a_kind_is_set_and_taken_away(rows: Rows) -> None:
    due.set_at(rows, "boat", "silence", 100.0, "x")
    due.set_at(rows, "boat", "silence", 200.0, "x")
    assert [each.at for each in due.of_boat(rows, "boat")] == [200.0]
    due.set_at(rows, "boat", "silence", None)
    assert due.of_boat(rows, "boat") == []


# --- who is aboard ---------------------------------------------------------------------------------------


def test_a_code_joins_once_and_only_while_it_holds(rows: Rows) -> None:
    crew.put_code(rows, "ABCD", "boat", until=100.0)
    assert crew.boat_of_code(rows, "WRONG", now=50.0) is None
    assert crew.boat_of_code(rows, "ABCD", now=50.0) == "boat"
    assert crew.boat_of_code(rows, "ABCD", now=50.0) is None
    crew.put_code(rows, "LATE", "boat", until=100.0)
    assert crew.boat_of_code(rows, "LATE", now=100.0) is None


def test_a_new_code_ends_the_one_before(rows: Rows) -> None:
    crew.put_code(rows, "ONE", "boat", until=100.0)
    crew.put_code(rows, "TWO", "boat", until=100.0)
    assert crew.boat_of_code(rows, "ONE", now=1.0) is None


def test_the_highest_message_of_a_chat_counts(rows: Rows) -> None:
    crew.put_phone(rows, Phone("1", "boat", 5, is_group=True))
    crew.saw(rows, "1", 9)
    crew.saw(rows, "1", 7)
    assert crew.phone(rows, "1") == Phone("1", "boat", 9, is_group=True)
    assert crew.phone(rows, "2") is None


def test_what_a_boat_told_of_herself_is_kept_and_taken_back(rows: Rows) -> None:
    crew.put_aboard(rows, "boat", {"draft_ft": 1.5, "place": [30.0, -85.0]})
    crew.put_aboard(rows, "boat", {"draft_ft": 2.0, "place": None})
    assert crew.aboard(rows, "boat") == {"draft_ft": 2.0}
    assert crew.aboard(rows, "other") == {}


# --- counts ----------------------------------------------------------------------------------------------


def test_undo_takes_back_what_the_same_person_counted_last(rows: Rows) -> None:
    def add(person: str, batch: int, *amounts: float) -> None:
        entries = [Entry(float(batch), "bow", "", amount, "piece") for amount in amounts]
        deck.add(rows, "boat", entries, person=person, batch=batch)

    add("anna", 1, 3)
    add("anna", 2, 4, 5)
    add("ben", 3, 6)
    assert deck.undo(rows, "boat", "anna", since=0.0)
    assert [each.amount for each in deck.of_boat(rows, "boat")] == [3, 6]
    assert deck.undo(rows, "boat", "anna", since=0.0)
    assert not deck.undo(rows, "boat", "anna", since=0.0)
    assert not deck.undo(rows, "other", "ben", since=0.0)


def test_after_a_week_of_quiet_numbers_begin_anew_and_undo_still_takes_the_last_one(rows: Rows) -> None:
    # Bot API documentation (READ): after a quiet week the next update's number is drawn by chance
    deck.add(rows, "boat", [Entry(0.0, "bow", "", 3, "piece")], person="anna", batch=900)
    deck.add(rows, "boat", [Entry(9e5, "bow", "", 4, "piece")], person="anna", batch=5)
    assert deck.undo(rows, "boat", "anna", since=8e5)
    assert not deck.undo(rows, "boat", "anna", since=8e5)
    assert [each.amount for each in deck.of_boat(rows, "boat")] == [3]


# --- export and forget -----------------------------------------------------------------------------------


def say(store: Store, person: str, number: int, words: str) -> None:
    reply = f'{{"v": 1, "say": ["I did not understand: {words}"], "ask": null, "error": null}}'
    said = f'{{"text": "{words}"}}'
    turn = Turn("boat", f"u{number}", NOW.isoformat(), said, "{}", "[]", reply, "d")

    def beside(rows: Rows) -> None:
        privacy.author(rows, "boat", f"u{number}", person)

    assert store.keep(turn, '{"facts": {}}', after=store.look("boat"), beside=beside)


def test_an_export_holds_the_boat_and_ones_own_words_and_not_those_of_others(store: Store) -> None:
    say(store, "anna", 1, "mine")
    say(store, "ben", 2, SECRET)
    with store.writing() as rows:
        deck.add(rows, "boat", [Entry(0.0, "bow", "Anna", 3, "piece")], person="anna", batch=1)
        due.ring(rows, "boat", bell("b"))
        found = privacy.export(rows, "boat", "anna")
    assert [turn["said"] for turn in found["said"]] == [{"text": "mine"}]
    assert SECRET not in str(found)
    assert found["counted"] == [
        {"at": "1970-01-01T00:00:00+00:00", "dipper": "Anna", "side": "bow", "amount": 3.0, "unit": "piece"}
    ]
    assert [ring["say"] for ring in found["rings"]] == ["say b"]


def test_a_table_of_counts_cannot_be_taken_for_a_formula() -> None:
    row = {"at": "t", "dipper": '=cmd|"x"', "side": "bow", "amount": 1.0, "unit": "piece"}
    assert privacy.counts_csv({"counted": [row]}).splitlines()[1] == 't,"\'=cmd|""x""",bow,1.0,piece'


def test_forgetting_one_person_leaves_no_byte_of_theirs_and_all_of_the_others(tmp_path: Path) -> None:
    with Store(tmp_path / "a.db") as store:
        for number in range(40):
            say(store, "anna", 2 * number, f"{SECRET} {'x' * (number * 30)}")
            say(store, "ben", 2 * number + 1, "other words")
        with store.writing() as rows:
            crew.name_dipper(rows, "boat", Dipper("anna", "Quill", "bow"))
            crew.name_dipper(rows, "boat", Dipper("ben", "Ben", "stern"))
            deck.add(rows, "boat", [Entry(0.0, "bow", "Quill", 3, "piece")], person="anna", batch=1)
            deck.add(rows, "boat", [Entry(0.0, "bow", "Quill", 4, "piece")], person="ben", batch=2)
        assert SECRET.encode() in bytes_on_disk(tmp_path)
        with store.writing() as rows:
            privacy.forget_person(rows, "boat", "anna")
        store.sweep()
        assert SECRET.encode() not in bytes_on_disk(tmp_path)
        assert b"Quill" not in bytes_on_disk(tmp_path)
        with store.reading() as rows:
            assert len(privacy.export(rows, "boat", "ben")["said"]) == 40
            assert [each.name for each in crew.dippers(rows, "boat")] == ["Ben"]
            assert [each.amount for each in deck.of_boat(rows, "boat")] == [4]
        assert store.look("boat").seq == 80


def test_forgetting_a_boat_leaves_no_byte_of_hers_in_any_table(tmp_path: Path) -> None:
    with Store(tmp_path / "a.db") as store:
        say(store, "anna", 1, SECRET)
        with store.writing() as rows:
            crew.put_phone(rows, Phone("1", "boat", 0, is_group=False))
            crew.put_aboard(rows, "boat", {"note": SECRET})
            crew.name_dipper(rows, "boat", Dipper("anna", SECRET, ""))
            crew.put_code(rows, SECRET, "boat", until=1e12)
            due.ring(rows, "boat", bell(SECRET))
            outbox.put(rows, [Letter("1", "send", {"text": SECRET})])
            deck.add(rows, "boat", [Entry(0.0, "bow", SECRET, 3, "piece")], person="anna", batch=1)
        store.forget("boat", beside=lambda rows: privacy.forget_boat(rows, "boat"))
        assert SECRET.encode() not in bytes_on_disk(tmp_path)
        assert store.look("boat") == Standing()
