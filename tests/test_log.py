"""`coach log` and the files it writes: read back by other programs, harmless to them, complete.

Calendars are read back with icalendar, CSV with the standard library's reader; what a spreadsheet takes for a
formula is OWASP's list for CSV injection (MEMORY).
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar
from nights import START, at, good_night, row

from coach import rulebook
from coach.__main__ import main
from coach.consult import Desk
from coach.conversation import Message
from coach.dialogue import step
from coach.exchange import Envelope
from coach.plain import PlainEvaluator
from coach.store import MEMORY, Store
from coach.trips import kept
from coach.trips.bring import bring, read_log
from coach.trips.export import as_calendar, as_csv, as_json, reminders
from coach.trips.trip import Place, Trip, trips_of

BOOK = rulebook.load()
INFER = PlainEvaluator(rulebook.clauses(BOOK)).evaluate
MADE = datetime(2027, 2, 20, 12, tzinfo=UTC)
FORMULAS = ('=cmd|"/c calc"!A1', "+1+1", "-2+3", "@SUM(A1)", "\t=1", "\r=1", " =1+1", "＝1", "\n=1")


def night(**more: Any) -> tuple[Trip, ...]:
    return trips_of(good_night(), **more)


# --- CSV -----------------------------------------------------------------------------------------------


def rows_of(trips: tuple[Trip, ...]) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(as_csv(trips), newline="")))


def test_every_look_change_and_advice_is_a_row_in_order_of_time() -> None:
    rows = rows_of(night(places=[(at(0), Place("Gull Point"))]))
    assert [each["kind"] for each in rows] == ["set-up", "look", "advice", "set-up", "look", "look"]
    assert [each["at"] for each in rows] == sorted(each["at"] for each in rows)
    assert {each["place"] for each in rows} == {"Gull Point"}
    look = next(each for each in rows if each["kind"] == "look")
    assert (float(look["bow"]), float(look["stern"]), float(look["total"]), float(look["minutes"])) == (
        5,
        4,
        9,
        35,
    )
    # 9 lifted in 35 minutes by two lamps
    assert float(look["per_lamp_hour"]) == pytest.approx(9 / (2 * 35 / 60), abs=0.005)
    assert look["tide"] == "falling"


@pytest.mark.parametrize("hostile", FORMULAS)
def test_no_cell_is_a_formula_whatever_was_typed_for_a_place_or_an_advice(hostile: str) -> None:
    rows = [*good_night()[:3], row(25, {"run.seen": "edges"}, causes=["centre-gap"], action=hostile)]
    rows += [row(30, {"sky.fog": True}, hazards=[("fog", hostile)])]
    for line in rows_of(trips_of(rows, places=[(at(0), Place(hostile))])):
        for name, cell in line.items():
            if name not in ("bow", "stern", "total", "minutes", "per_lamp_hour"):
                assert not cell.lstrip(" \xa0").startswith(("=", "+", "-", "@", "\t", "\r", "\n", "＝")), (
                    name,
                    cell,
                )


@given(st.text(max_size=40))
def test_any_place_survives_the_way_through_a_spreadsheets_file(name: str) -> None:
    text = as_csv(night(places=[(at(0), Place(name))]))
    (place,) = {each["place"] for each in csv.DictReader(io.StringIO(text, newline=""))}
    assert place.removeprefix("'") == name.removeprefix("'")


# --- JSON ----------------------------------------------------------------------------------------------


def test_an_export_read_back_is_the_same_trips() -> None:
    trips = night(places=[(at(0), Place("Gull Point", 28.9, -80.8))])
    (back,) = read_log(as_json("me", trips).encode())
    (trip,) = trips
    for name in ("start_at", "end_at", "place", "set_ups", "looks", "advice", "hazards"):
        assert getattr(back, name) == getattr(trip, name), name


@pytest.mark.parametrize(
    ("change", "wrong"),
    [
        (lambda log: log | {"v": 2}, "version 2"),
        (lambda log: log | {"extra": 1}, "extra"),
        (lambda log: log | {"trips": [{**log["trips"][0], "start": "2027-02-11T19:00:00"}]}, "start"),
        (lambda log: log | {"trips": [{**log["trips"][0], "looks": [{}]}]}, "looks"),
        (lambda log: log | {"trips": "all"}, "trips"),
    ],
)
def test_a_log_of_another_form_is_refused_with_what_is_wrong(
    change: Callable[[dict[str, Any]], dict[str, Any]], wrong: str
) -> None:
    log = json.loads(as_json("me", night()))
    with pytest.raises(ValueError, match=wrong):
        read_log(json.dumps(change(log)).encode())


@given(st.binary(max_size=200))
def test_no_bytes_whatever_break_the_reading_of_a_log(content: bytes) -> None:
    with pytest.raises(ValueError, match="the log"):
        read_log(content)


# --- calendars -----------------------------------------------------------------------------------------


def test_a_calendar_read_back_has_an_event_a_trip_with_its_summary() -> None:
    trips = night(places=[(at(0), Place("Gull Point; north, of \\ the bar"))])
    calendar = Calendar.from_ical(as_calendar("me", trips, BOOK, made_at=MADE))
    (event,) = calendar.walk("VEVENT")
    assert event.decoded("DTSTART") == START
    assert event.decoded("DTEND") == at(80)
    assert event.decoded("DTSTAMP") == MADE
    assert str(event["LOCATION"]) == "Gull Point; north, of \\ the bar"
    told = str(event["DESCRIPTION"]).split("\n")
    assert told[-1].startswith("One thing to do differently:")
    assert "Lifted: 114 in 3 looks (19:20 9, 19:50 47, 20:20 58)." in told


def test_a_calendar_keeps_the_ids_of_its_trips_and_folds_its_lines() -> None:
    first, again = (
        as_calendar("me", night(), BOOK, made_at=made) for made in (MADE, MADE + timedelta(days=1))
    )
    ids = [
        [str(event["UID"]) for event in Calendar.from_ical(text).walk("VEVENT")] for text in (first, again)
    ]
    assert ids[0] == ids[1]
    assert ids[0] != [
        str(event["UID"])
        for event in Calendar.from_ical(as_calendar("b", night(), BOOK, made_at=MADE)).walk("VEVENT")
    ]
    assert all(len(line.encode()) <= 75 for line in first.split("\r\n"))  # RFC 5545, 3.1 (MEMORY)


@given(st.text(max_size=60))
def test_any_text_stays_within_its_field_of_a_calendar(name: str) -> None:
    text = reminders([(START, f"x{name}x")], made_at=MADE)
    calendar = Calendar.from_ical(text)
    (event,) = calendar.walk("VEVENT")
    (alarm,) = calendar.walk("VALARM")
    assert set(event) == {"UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY"}
    assert str(event["SUMMARY"]).startswith("x")
    assert str(event["SUMMARY"]).endswith("x")
    assert alarm.decoded("TRIGGER") == timedelta()


# --- the store -----------------------------------------------------------------------------------------


@pytest.fixture
def store() -> Iterator[Store]:
    with Store(MEMORY) as opened:
        yield opened


def talked(store: Store, chat: str = "me", *, day: int = 0) -> None:
    """A short night in the chat, through the desk."""
    desk = Desk(store, BOOK, infer=INFER, step=step)
    said = [
        (0, Message(command="new")),
        (1, Message(facts={"lamps.minutes_since_set": 10, "lamps.clip_left_ft": 3, "tide.state": "falling"})),
        (20, Message(facts={"crew.bow_count": 7, "crew.stern_count": 6})),
        (21, Message(facts={"crew.bow_count": 700})),
        (22, Message(command="undo")),
        (50, Message(facts={"crew.bow_count": 9, "crew.stern_count": 4})),
    ]
    for minute, message in said:
        taken = desk.answer(Envelope(chat, message=message), now=at(minute) + timedelta(days=day))
        assert taken.reply is not None
        assert taken.reply.error is None


def trips_in(store: Store, chat: str = "me") -> tuple[Trip, ...]:
    with store.reading() as rows:
        return kept.trips(rows, chat)


def forget(store: Store, chat: str = "me") -> None:
    Desk(store, BOOK, infer=INFER, step=step).answer(
        Envelope(chat, message=Message(command="forget")), now=at(5000)
    )


def brought(store: Store, content: str, chat: str = "me") -> tuple[int, int, int]:
    here, found = trips_in(store, chat), read_log(content.encode())
    with store.writing() as rows:
        return bring(rows, chat, found, here=here)


def test_a_talk_is_in_the_log_without_what_was_taken_back(store: Store) -> None:
    talked(store)
    (trip,) = trips_in(store)
    assert [(look.bow, look.stern, look.minutes) for look in trip.looks] == [(7, 6, 29), (9, 4, 30)]


def test_two_chats_have_two_logs(store: Store) -> None:
    talked(store)
    talked(store, "other", day=1)
    assert [trip.start_at for trip in trips_in(store)] == [at(0)]
    assert [trip.start_at for trip in trips_in(store, "other")] == [at(0) + timedelta(days=1)]
    assert trips_in(store, "nobody") == ()


def test_degrees_are_rounded_before_they_are_kept(store: Store) -> None:
    talked(store)
    with store.writing() as rows:
        kept.put_place(rows, "me", Place("Gull Point", 28.93217, -80.82611), at=at(0))
        (row_kept,) = rows.execute("SELECT lat_deg, lon_deg FROM places").fetchall()
    assert row_kept == (28.9, -80.8)
    assert trips_in(store)[0].place == Place("Gull Point", 28.9, -80.8)
    with pytest.raises(ValueError, match="allowed -90 to 90"):
        kept.rounded(Place("", 95.0, 0.0))


def test_export_forget_import_brings_back_nothing_that_was_forgotten(store: Store) -> None:
    talked(store)
    before = as_json("me", trips_in(store))
    forget(store)
    assert trips_in(store) == ()
    assert brought(store, before) == (0, 0, 1)
    assert trips_in(store) == ()
    talked(store, day=3)  # life goes on, and what comes after may be brought back
    later = as_json("me", trips_in(store))
    assert brought(store, before) == (0, 0, 1)
    assert brought(store, later) == (0, 1, 0)
    assert len(trips_in(store)) == 1


def test_a_log_brought_to_another_machine_is_there_once_and_goes_with_forget() -> None:
    with Store(MEMORY) as old, Store(MEMORY) as new:
        talked(old)
        exported = as_json("me", trips_in(old))
        talked(new, day=2)
        assert brought(new, exported) == (1, 0, 0)
        assert brought(new, exported) == (0, 1, 0)
        first, second = trips_in(new)
        assert (first.number, second.number) == (1, 2)
        assert first.looks == trips_in(old)[0].looks
        forget(new)
        assert trips_in(new) == ()
        assert brought(new, exported) == (0, 0, 1)


def test_forgetting_one_chat_keeps_the_log_of_another(store: Store) -> None:
    talked(store)
    talked(store, "other")
    exported = as_json("other", trips_in(store, "other"))
    forget(store)
    assert len(trips_in(store, "other")) == 1
    assert brought(store, exported, "other") == (0, 1, 0)


def test_forgetting_leaves_no_byte_of_a_place_or_a_log_brought_in(tmp_path: Path) -> None:
    secret = "Quillfeather Hole"
    with Store(tmp_path / "a.db") as store:
        talked(store)
        with store.writing() as rows:
            kept.put_place(rows, "me", Place(secret), at=at(0))
        log = as_json("me", trips_in(store))
        brought(store, log.replace("2027-02-11T19", "2027-02-09T19"))
        assert any(secret.encode() in file.read_bytes() for file in tmp_path.iterdir())
        forget(store)
        assert not any(secret.encode() in file.read_bytes() for file in tmp_path.iterdir())


# --- the commands --------------------------------------------------------------------------------------


@pytest.fixture
def kept_night(tmp_path: Path) -> str:
    path = tmp_path / "coach.db"
    with Store(path) as store:
        talked(store)
        talked(store, day=1)
    return str(path)


def run(*words: str) -> int:
    return main(["log", *words])


def test_the_log_says_which_advice_worked_for_one_chat_and_for_all(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = str(tmp_path / "coach.db")
    odd_lamp = {"safety.all_clear": True, "lamps.same_kind": False, "run.seen": "scattering"}
    with Store(path) as store:
        desk = Desk(store, BOOK, infer=INFER, step=step)
        for chat, helped in (("anna", "yes"), ("piet", "no")):
            told = Message(facts={**odd_lamp, "catch.course": "poor_all_night"})
            desk.answer(Envelope(chat, message=told), now=at(0))
            desk.answer(Envelope(chat, message=Message(facts={"advice.helped": helped})), now=at(30))
    assert run("advice", "--chat", "anna", "--store", path) == 0
    assert "helped in 1 of 1" in capsys.readouterr().out
    assert run("advice", "--every-chat", "--json", "--store", path) == 0
    (row,) = json.loads(capsys.readouterr().out)["advice"]
    assert (row["cause"], row["given"], row["helped"], row["did_not"]) == ("mixed-lamps", 2, 1, 1)


def test_the_log_lists_shows_and_compares(kept_night: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--store", kept_night) == 0
    assert capsys.readouterr().out.splitlines() == [
        "1  11 Feb 2027 19:00-19:50, 26 lifted",
        "2  12 Feb 2027 19:00-19:50, 26 lifted",
    ]
    assert run("show", "1", "--store", kept_night) == 0
    shown = capsys.readouterr().out.splitlines()
    assert shown[0].startswith("Trip 1, Thursday 11 February 2027, 19:00 to 19:50")
    assert shown[-1].startswith("One thing to do differently:")
    assert run("across", "--by", "tide", "--store", kept_night) == 0
    assert "falling:" in capsys.readouterr().out
    assert run("across", "--json", "--store", kept_night) == 0
    across = json.loads(capsys.readouterr().out)
    assert across["by"]["tide"][0]["count"] == 52


def test_the_log_plots_in_words_and_to_a_file(
    kept_night: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name, begin in (("a.png", b"\x89PNG"), ("a.svg", b"<svg")):
        file = tmp_path / name
        assert run("plot", "--picture", str(file), "--store", kept_night) == 0
        assert file.read_bytes().startswith(begin)
        assert "13 (bow 7, stern 6)" in capsys.readouterr().out
    assert run("plot", "--picture", str(tmp_path / "a.gif"), "--store", kept_night) == 2
    assert "allowed .svg, .png" in capsys.readouterr().err


def test_the_log_is_exported_in_three_forms_and_imported(
    kept_night: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("export", "--format", "csv", "--store", kept_night) == 0
    assert capsys.readouterr().out.startswith("trip,place,kind,at,")
    calendar, log = tmp_path / "a.ics", tmp_path / "a.json"
    assert run("export", "--format", "ics", "--out", str(calendar), "--store", kept_night) == 0
    assert len(Calendar.from_ical(calendar.read_bytes()).walk("VEVENT")) == 2
    assert run("export", "--format", "json", "--out", str(log), "--store", kept_night) == 0
    capsys.readouterr()
    other = str(tmp_path / "other.db")
    assert run("import", str(log), "--store", other) == 0
    assert capsys.readouterr().out == f"{log}: 2 trips brought in.\n"
    assert run("import", str(log), "--store", other) == 0
    assert "0 trips brought in, 2 here already" in capsys.readouterr().out


def test_a_place_is_named_for_now_or_for_a_trip(kept_night: str, capsys: pytest.CaptureFixture[str]) -> None:
    place = ("Gull", "Point", "--lat", "28.932", "--lon", "-80.826")
    assert run("place", *place, "--trip", "2", "--store", kept_night) == 0
    assert capsys.readouterr().out == "Kept: Gull Point 28.9, -80.8, from 12 Feb 2027 19:00 on.\n"
    assert run("--store", kept_night) == 0
    assert [("Gull Point" in line) for line in capsys.readouterr().out.splitlines()] == [False, True]
    assert run("place", "--lat", "99", "--lon", "0", "--store", kept_night) == 2
    assert "allowed -90 to 90" in capsys.readouterr().err
    for little in ([], ["--lat", "28"], ["x", "--lon", "28"]):
        assert run("place", *little, "--store", kept_night) == 2
        assert "got too little" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["show", "9"], 2, "trip: got 9; allowed 1 to 2"),
        (["import", "nowhere.json"], 1, "nowhere.json"),
        (["place", "x", "--at", "noon"], 2, "noon"),
        (["list", "--chat", "nobody"], 1, "No trip is in the log of 'nobody'"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_line_with_its_exit_code(
    kept_night: str, words: list[str], code: int, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(*words, "--store", kept_night) == code
    said = capsys.readouterr().err
    assert says in said
    assert "Traceback" not in said
