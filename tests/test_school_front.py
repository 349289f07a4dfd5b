"""`coach drill`: what is kept, the sheet, the captain's view, files harmless to spreadsheets, JSON lines."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path
from xml.etree import ElementTree

import pypdf
import pytest
from school_bank import NOON, bank, school

from coach import rulebook
from coach.__main__ import main
from coach.consult import Desk
from coach.conversation import Message
from coach.dialogue import step
from coach.exchange import Envelope
from coach.front.drill_talk import answered
from coach.front.school import Classroom
from coach.pictures.themes import THEMES
from coach.plain import PlainEvaluator
from coach.rulebook import default_folder
from coach.school import kept, progress
from coach.school.chart import progress_chart
from coach.school.rail import html, pdf, rail
from coach.school.state import Answer, Learner
from coach.store import MEMORY, Store

HOSTILE = '=cmd|"/c calc"!A1'


@pytest.fixture
def room() -> Iterator[Classroom]:
    with closing(Store(MEMORY)) as store:
        made = Classroom(store, bank().kitchen.book, default_folder())
        made.__dict__["bank"] = bank()  # made once for all tests
        yield made


def answer(item: str, topic: str, *, right: bool, sure: str | None = "certain", picked: str = "x") -> Answer:
    return Answer(item=item, topic=topic, picked=picked, right=right, first=True, sure=sure, at=NOON)


def pupil(room: Classroom, name: str, *, tries: dict[str, str]) -> None:
    with room._store.writing() as rows:
        kept.keep(rows, Learner(name=name, tries=tries), at=NOON)


# --- what is kept ------------------------------------------------------------------------------------------


def test_a_lesson_goes_on_where_it_stood_after_the_program_ended(tmp_path: Path) -> None:
    file = tmp_path / "coach.db"
    said = []
    for text in ("", "3", "2"):
        with closing(Store(file)) as store:
            room = Classroom(store, bank().kitchen.book, default_folder())
            room.__dict__["bank"] = bank()
            said.append(room.lesson_step("Ada", text, now=NOON))
    assert said[1].lines == (school().texts["how_sure"],)
    assert any(line.startswith(school().texts["wrong"][:2]) for line in said[2].lines)
    with closing(Store(file)) as store, store.reading() as rows:
        assert [each.item for each in kept.answers(rows, "Ada")] == ["number/clip-height"]
        assert kept.first_answers(rows, {})[0].right == 0


def test_a_right_answer_tells_of_its_item_as_much_as_was_sure(tmp_path: Path) -> None:
    given = (
        ("a", True, "guess", 0, False),
        ("b", True, "certain", 0, False),
        ("c", False, "certain", 0, False),
        ("d", True, None, 1, False),
        ("e", False, None, 0, True),
    )
    with closing(Store(tmp_path / "coach.db")) as store, store.writing() as rows:
        for item, right, sure, hints, shown in given:
            how = {"right": right, "sure": sure, "hints": hints, "shown": shown, "first": True}
            made = Answer(item=item, topic="t", picked="x", at=NOON, **how)
            kept.keep(rows, Learner(name="Ada", fresh=(made,)), at=NOON)
        found = {each.item: each.right for each in kept.first_answers(rows, {"guess": 0.4, "certain": 1.0})}
    assert found == {"a": 0.4, "b": 1.0, "c": 0.0, "d": 0.0, "e": 0.0}


def test_forgetting_a_chat_forgets_the_learner_of_that_name_and_so_does_drill_forget(room: Classroom) -> None:
    store = room._store
    for erase in (lambda: store.forget("Ada"), lambda: room.forget("Ada")):
        room.lesson_step("Ada", "", now=NOON)
        room.play_step("Ada", "", now=NOON)
        erase()
        with store.reading() as rows:
            assert kept.learners(rows) == []
            assert rows.execute("SELECT count(*) FROM lessons").fetchone()[0] == 0


def test_a_state_of_another_version_is_said_in_one_line(room: Classroom) -> None:
    with room._store.writing() as rows:
        rows.execute("INSERT INTO learners (boat, at, state) VALUES ('Ada', '2027-01-01', '{\"x\": 1}')")
    with pytest.raises(kept.OtherVersionError, match="another version"):
        room.lesson_step("Ada", "", now=NOON)
    line = answered(room, b'{"learner": "Ada"}', lambda: NOON)
    assert line["error"]["code"] == "old-state"


def test_learners_do_not_see_each_other(room: Classroom) -> None:
    room.lesson_step("Ada", "", now=NOON)
    room.lesson_step("Ada", "3", now=NOON)
    other = room.lesson_step("Bo", "", now=NOON)
    assert "Welcome, Bo" in other.lines[0]
    assert room.known("Bo")[0].open != room.known("Ada")[0].open


# --- progress, the sheet, the captain ----------------------------------------------------------------------


def test_progress_says_what_is_mastered_shaky_and_not_begun(room: Classroom) -> None:
    state = Learner(name="Ada", tries={"heights": "1" * 12, "bands": "0101"}, sure={"certain": (4, 2)})
    lines = progress.words(state, (), school())
    assert any(line.endswith("mastered.") for line in lines)
    assert any("2 of the last 4" in line and line.endswith("shaky.") for line in lines)
    assert any("not begun" in line for line in lines)
    assert any("right 2 of 4, 50 in 100" in line for line in lines)


def test_somebody_who_is_certain_and_wrong_is_told_to_count_to_three() -> None:
    answers = [answer(f"points/{n}", "heights", right=n % 3 == 0) for n in range(20)]
    assert progress.confidence(answers, school()) == "overconfident"
    lines = progress.sure_lines(Learner(name="Ada", sure={"certain": (20, 7)}), answers, school())
    assert any("Count to three" in line for line in lines)
    assert progress.confidence(answers[:3], school()) == "too few"


def test_a_captain_signs_what_is_ready_and_nothing_else_and_may_take_it_back(room: Classroom) -> None:
    pupil(room, "Ada", tries={"heights": "1" * 12, "circles": "1" * 4})
    with pytest.raises(ValueError, match="not ready"):
        room.sign("Ada", ["circles"], by="Maren", now=NOON, back=False)
    with pytest.raises(ValueError, match="topic: got 'knots'"):
        room.sign("Ada", ["knots"], by="Maren", now=NOON, back=False)
    with pytest.raises(ValueError, match="by"):
        room.sign("Ada", ["heights"], by=" ", now=NOON, back=False)
    lines = room.sign("Ada", ["heights"], by="Maren", now=NOON, back=False)
    assert sum(line.startswith("[x]") and "signed by Maren on 2027-02-11" in line for line in lines) == 1
    assert not [
        line for line in room.sign("Ada", ["heights"], by="", now=NOON, back=True) if line.startswith("[x]")
    ]


def test_the_sheet_names_every_ability_of_the_trade(room: Classroom) -> None:
    # trade: what a beginner must be able to do without help
    told = " ".join(progress.sheet_lines(Learner(name="Ada"), school(), {})).casefold()
    for ability in (
        "clip height and a re-clip time",
        "dark band from the under-path",
        "closes the circles",
        "one-sided catch",
        "two lamps are not enough",
        "never mixes lamps",
        "a run that has ended from a set that is failing",
        "sounds each side",
        "without being fooled",
        "clears the water before a barge",
    ):
        assert ability in told


def test_the_captain_sees_all_learners_a_line_each(room: Classroom) -> None:
    pupil(room, "Ada", tries={"heights": "1" * 12, "bands": "0011"})
    pupil(room, "Bo", tries={})
    lines = progress.group_lines(room.group(), school())
    assert len(lines) == 2
    assert "Ada: 1 of" in lines[0] and "Dark band" in lines[0]


def test_no_cell_is_a_formula_whatever_a_learner_is_called() -> None:
    made = progress.as_csv({HOSTILE: [answer("case/x/wrong", "heights", right=True, picked="+1")]})
    (row,) = csv.DictReader(io.StringIO(made, newline=""))
    assert row["learner"] == f"'{HOSTILE}"
    assert row["picked"] == "'+1"
    assert row["right"] == "True"


def test_the_json_holds_topics_answers_and_signatures(room: Classroom) -> None:
    pupil(room, "Ada", tries={"heights": "1" * 12})
    room.sign("Ada", ["heights"], by="Maren", now=NOON, back=False)
    made = json.loads(progress.as_json(*_of(room, "Ada")))
    heights = next(topic for topic in made["topics"] if topic["id"] == "heights")
    assert heights["mastered"] and heights["signed"]["by"] == "Maren"


def _of(room: Classroom, name: str):  # type: ignore[no-untyped-def]
    state, answers, signed = room.known(name)
    return state, answers, school(), signed


def test_the_picture_of_progress_shows_each_topic_its_share_and_its_goal() -> None:
    state = Learner(name="Ada <b>", tries={"heights": "1" * 9 + "0" * 3})
    rows = progress.sheet(state, school(), {})
    for theme in THEMES.values():
        root = ElementTree.fromstring(progress_chart(rows, school(), name="Ada <b>").svg(theme))
        parts = {node.get("data-part"): node for node in root.iter() if node.get("data-part")}
        xs = [float(point.split(",")[0]) for point in (parts["right-heights"].get("points") or "").split()]
        frame = [float(point.split(",")[0]) for point in (parts["frame-heights"].get("points") or "").split()]
        assert (max(xs) - min(xs)) / (max(frame) - min(frame)) == pytest.approx(9 / 12, abs=0.01)
        assert all(f"title-{topic}" in parts for topic in school().topics)


def test_the_sheet_for_the_rail_is_one_page_and_holds_the_ladder_the_clearing_and_the_abilities() -> None:
    state = Learner(name="Ada", tries={"heights": "0101"})
    missed = [answer("number/clip-height", "heights", right=False)]
    page = rail(state, bank(), {}, missed, day="11 Feb 2027")
    for paper in ("a4", "letter"):
        made = pypdf.PdfReader(io.BytesIO(pdf(page, paper=paper)))
        assert len(made.pages) == 1
        text = " ".join(made.pages[0].extract_text().split())
        # common practice: 11 ft of water gives 3 ft, 15 ft gives 7 ft
        assert "11: 3 ft" in text and "15: 7 ft" in text
        assert "Frame net in" in text and "Engine on" in text
        assert all(topic.ability[:30] in text for topic in school().topics.values())
    assert "<script" not in html(page) and "http" not in html(page).replace("</html>", "")


def test_a_hostile_name_is_text_on_the_sheet() -> None:
    page = rail(Learner(name="<script>alert(1)</script>"), bank(), {}, [], day="today")
    assert "<script>" not in html(page)


# --- trips -------------------------------------------------------------------------------------------------


def test_a_night_on_the_water_becomes_a_question_once(room: Classroom) -> None:
    book = bank().kitchen.book
    desk = Desk(room._store, book, infer=PlainEvaluator(rulebook.clauses(book)).evaluate, step=step)
    case = next(case for case in school().cases if case.id == "grass-on-the-line")
    told = desk.answer(Envelope("Ada", message=Message(facts=dict(case.hidden))), now=NOON)
    assert told.reply is not None and told.reply.verdict is not None
    later = NOON + timedelta(minutes=45)
    desk.answer(Envelope("Ada", message=Message(facts={book.follow_up.ask: book.follow_up.yes})), now=later)
    asked = room.trip_step("Ada", "", now=later)
    assert "What was it?" in asked.lines[-1]
    done = room.trip_step("Ada", "A lamp or its line is fouled", now=later)
    assert done.is_over and done.lines[0] == school().texts["right"]
    assert "Seeing to it helped" in done.lines[1]
    assert room.trip_step("Ada", "", now=later).lines == (school().texts["trip_none"],)
    state, answers, _ = room.known("Ada")
    assert (
        progress.words(state, answers, school())[-1]
        == "Your own trips: it was what you thought 1 of 1 times."
    )


# --- for programs, and the command line --------------------------------------------------------------------


def test_every_line_is_answered_and_a_bad_one_changes_nothing(room: Classroom) -> None:
    for bad in (
        b"",
        b"{",
        b"[]",
        b'{"text": "x"}',
        b'{"learner": "A", "x": 1}',
        b'{"learner": 3}',
        b'{"learner": ""}',
    ):
        line = answered(room, bad, lambda: NOON)
        assert line["error"]["code"] == "bad-message"
        assert line["say"] == []
    assert room.all_learners() == []
    good = answered(room, json.dumps({"learner": "Ada", "at": NOON.isoformat()}).encode(), lambda: NOON)
    assert good["error"] is None and good["say"]
    assert set(good) == {"v", "learner", "say", "choices", "picture", "over", "error"}


def test_the_clock_of_a_line_is_used(room: Classroom) -> None:
    night = "2027-02-12T23:30:00-05:00"
    answered(room, json.dumps({"learner": "Ada", "at": NOON.isoformat()}).encode(), lambda: NOON)
    answered(room, json.dumps({"learner": "Ada", "text": "stop"}).encode(), lambda: NOON)
    line = answered(room, json.dumps({"learner": "Ada", "text": "", "at": night}).encode(), lambda: NOON)
    assert school().texts["quiet"] in line["say"]
    assert datetime.fromisoformat(night) > NOON


def test_the_command_line_takes_a_lesson_and_shows_progress(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    store = ["--store", str(tmp_path / "coach.db"), "--learner", "Ada"]
    monkeypatch.setattr("sys.stdin", io.StringIO("3\n2\nstop\n"))
    assert main(["drill", *store, "--at", NOON.isoformat()]) == 0
    assert "Welcome, Ada" in capsys.readouterr().out
    picture = tmp_path / "progress.svg"
    assert main(["drill", "progress", *store, "--picture", str(picture)]) == 0
    assert "0 of the last 1" in capsys.readouterr().out
    assert picture.read_text(encoding="utf-8").startswith("<svg")
    assert main(["drill", "sheet", *store, "--out", str(tmp_path / "sheet.doc")]) == 2
    assert main(["drill", "sign", "heights", "--by", "Maren", *store]) == 2
    assert "not ready" in capsys.readouterr().err
