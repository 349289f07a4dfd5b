"""Tonight's card: right heights at right times, one page, self-contained, harmless, honest about the law.

Clip heights by depth are common practice (depth less 8 ft, at least 1, at most half the depth), written out
here anew; the water's fall by the clock is the cosine of the official tables (READ). PDFs are read back with
pypdf, HTML with the standard library's parser, calendars with icalendar.
"""

from __future__ import annotations

import io
import math
import re
import shutil
import subprocess
from collections.abc import Mapping
from datetime import date, datetime, timedelta
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar
from picture_scenes import BOAT, CIRCLES, NOW, TIDE
from pypdf import PdfReader

from coach import rulebook
from coach.__main__ import main
from coach.card.content import Card, card_for
from coach.card.limits import DEFERS, EMPTY, TEMPLATE, Limit, Sheet, SheetError, read_sheet
from coach.card.page import html
from coach.card.paper import PAPERS, pdf
from coach.front.given import write
from coach.plain import PlainEvaluator

BOOK = rulebook.load()
INFER = PlainEvaluator(rulebook.clauses(BOOK)).evaluate
DEPTHS = {"water.depth_left_ft": 12.0, "water.depth_right_ft": 13.5}
SHEET = Sheet(
    place="Stillwater Lagoon",
    agency="The state's wildlife agency",
    limit=(
        Limit(what="Bag limit", says="so much a boat and day", source="leaflet", checked=date(2027, 1, 20)),
        Limit(what="Season", says="open in winter", source="leaflet", checked=date(2026, 8, 20)),
    ),
)
WORST = {
    **BOAT, **CIRCLES, **TIDE, **DEPTHS, "lamps.clip_left_ft": 7.0, "lamps.clip_right_ft": 1.0,
    "tide.fall_since_set_ft": 1.5, "net.in_water": True, "net.where": "pole", "deep_lamp.in_water": True,
    "lamps.total": 5.0, "sky.lightning": True, "sky.fog": True, "boat.traffic": True, "boat.in_channel": True,
    "boat.dragging": True, "crew.jackets": False, "boat.anchor_light": False, "power.mains": True,
    "wind.speed_kn": 30.0, "water.temp_f": 50.0, "boat.may_ground": True,
}  # fmt: skip


def card(facts: Mapping[str, Any], **more: Any) -> Card:
    return card_for(facts, book=BOOK, infer=INFER, now=NOW, **more)


def sum_ft(depth: float) -> float:
    """The clip height for a depth, as the trade reckons."""
    return max(1.0, min(depth - 8, depth / 2))


# --- what it says ------------------------------------------------------------------------------------


def test_each_row_gives_the_clip_height_for_the_water_at_that_time() -> None:
    made = card({**TIDE, **DEPTHS})
    assert made.clips[0].at == "21:50 now"
    assert (made.clips[0].left, made.clips[0].right) == ("4 ft", "5.5 ft")
    high, low = (datetime.fromisoformat(str(TIDE[f"tide.{turn}_at"])) for turn in ("high", "low"))

    def level(at: datetime) -> float:
        share = (at - high) / (low - high)
        return 4.2 + (-0.3 - 4.2) * (1 - math.cos(math.pi * share)) / 2

    assert len(made.clips) >= 3
    for row in made.clips[1:]:
        hour, minute = map(int, row.at.split(":"))
        at = NOW.replace(hour=hour, minute=minute) + timedelta(days=hour < 12)
        fall = level(NOW) - level(at)
        assert float(row.fall.split()[0]) == pytest.approx(fall, abs=0.1)
        for lamp, told in (("left", row.left), ("right", row.right)):
            # a lamp that is due hangs by the sum for the water then; the other within the foot of slack
            off = float(told.split()[0]) - sum_ft(DEPTHS[f"water.depth_{lamp}_ft"] - fall)
            assert off == pytest.approx(0, abs=0.06 if lamp in row.moves else 1.0)


def test_the_list_by_depth_is_the_trades_sum() -> None:
    told = {}
    for depths, height in card({}).ladder:
        first, _, last = depths.removesuffix(" ft").partition("-")
        for depth in range(int(first), int(last or first) + 1):
            told[depth] = float(height.removesuffix(" ft"))
    assert told == {depth: sum_ft(depth) for depth in range(6, 24)}


def test_without_a_tide_table_or_a_depth_it_says_so_and_gives_no_times() -> None:
    depth_only = card(DEPTHS)
    assert [row.at for row in depth_only.clips] == ["21:50 now"]
    assert "No tide table holds for now" in depth_only.clip_notes[0]
    nothing = card({})
    assert nothing.clips == ()
    assert "No depth is known" in nothing.clip_notes[0]
    borrowed = card({**TIDE, "water.depth_ft": 12.0})
    assert "The depth at the boat was taken for: left, right." in borrowed.clip_notes[0]


def test_no_clip_height_stands_on_a_card_where_the_sum_does_not_hold() -> None:
    shallow = card({"water.depth_ft": 4.0})
    assert shallow.clips == ()
    assert shallow.ladder != ()  # it says where there would be one
    white = card({**DEPTHS, "run.species": "white"})  # they come to light: the dark band is not for them
    assert (white.clips, white.ladder) == ((), ())
    assert "No clip height holds" in white.clip_notes[0]
    assert "forget the dark band" in white.advice[0]
    for told in (white.words(), [html(white)]):
        assert "forget the dark band" in " ".join(told)


def test_hazards_in_force_stand_first_and_the_check_is_there_always() -> None:
    made = card({"crew.jackets": False})
    assert made.hazards == tuple(rule.say for rule in BOOK.rules if rule.hazard == "no-jackets")
    assert made.words()[1].startswith("! Life jackets on")
    assert card({}).hazards == ()
    assert BOOK.facts["crew.jackets"].ask in card({}).safety
    assert not [line for line in card({}, metric=True).safety if "{" in line or "°F" in line]


def test_the_clearing_list_counts_what_is_out() -> None:
    made = card({"net.in_water": True, "lamps.total": 4.0, "boat.anchors": 2.0})
    assert made.clearing[0].startswith("Frame net in:")
    assert any("6 minutes" in step for step in made.clearing)
    assert "Frame net in" not in " ".join(card({"net.in_water": False}).clearing)


def test_metres_are_said_where_wanted() -> None:
    made = card({**TIDE, **DEPTHS}, metric=True)
    assert made.clips[0].left == "1.2 m"  # 4 ft
    assert not [line for line in made.words() if re.search(r"\d ft\b", line)]


# --- limits ------------------------------------------------------------------------------------------


def test_the_sheet_is_shown_with_source_and_date_and_old_entries_are_marked() -> None:
    fresh, old, defers = SHEET.lines(date(2027, 2, 11))
    assert fresh == "Bag limit: so much a boat and day (leaflet, read 20 Jan 2027)"
    assert old.endswith("OLD: read 175 days ago. Ask the agency again.")
    assert defers == f"{DEFERS} The state's wildlife agency"
    assert "WRONG DATE" in next(SHEET.lines(date(2027, 1, 1)))
    assert [line.count("OLD") for line in SHEET.lines(date(2027, 3, 21))] == [0, 1, 0]  # 60 days: not yet
    assert [line.count("OLD") for line in SHEET.lines(date(2027, 3, 22))] == [1, 1, 0]


def test_without_a_sheet_the_card_sends_to_the_agency() -> None:
    assert card({}).limits == (EMPTY,)
    assert EMPTY in list(Sheet().lines(date(2027, 2, 11)))


def test_the_template_is_a_sheet_and_says_nothing_of_the_law(tmp_path: Path) -> None:
    file = tmp_path / "limits.toml"
    file.write_text(TEMPLATE, encoding="utf-8")
    assert read_sheet(file).limit == ()
    file.write_text(re.sub(r"(?m)^# (?=\[\[|what|says|source|checked)", "", TEMPLATE), encoding="utf-8")
    assert [entry.what for entry in read_sheet(file).limit][:2] == ["Season", "Bag limit"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[[limit]]\nwhat = "Bag"\n', "limit.1.says"),
        ("old_after_days = 0\n", "old_after_days"),
        ("colour = 1\n", "colour"),
        ("place = [\n", "not TOML"),
        ('[[limit]]\nwhat = "a"\nsays = "b"\nsource = "c"\nchecked = 2027-13-40\n', "not TOML"),
        ('[[limit]]\nwhat = "a"\nsays = "b"\nsource = "c"\nchecked = "soon"\n', "limit.1.checked"),
    ],
)
def test_a_faulty_sheet_is_refused_with_file_and_place(tmp_path: Path, text: str, says: str) -> None:
    file = tmp_path / "limits.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(SheetError, match=re.escape(says)) as refused:
        read_sheet(file)
    assert str(file) in str(refused.value)


def test_a_missing_or_huge_sheet_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SheetError, match="--limits"):
        read_sheet(tmp_path / "nowhere.toml")
    (tmp_path / "huge.toml").write_text("# " + "x" * 200_000, encoding="utf-8")
    with pytest.raises(SheetError, match="larger than"):
        read_sheet(tmp_path / "huge.toml")


# --- one page ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("facts", [{}, {**TIDE, **DEPTHS}, WORST], ids=["nothing", "usual", "worst"])
def test_the_pdf_is_one_page_of_its_paper_and_all_of_the_card_is_on_it(
    facts: Mapping[str, Any], paper: str
) -> None:
    made = card(facts, place="Gull Point", sheet=SHEET)
    reader = PdfReader(io.BytesIO(pdf(made, paper=paper)))
    (page,) = reader.pages
    assert tuple(map(float, page.mediabox[2:])) == pytest.approx(PAPERS[paper], abs=0.1)
    told = "".join((page.extract_text() or "").split())
    for line in (
        *made.hazards,
        *made.advice,
        *made.clearing,
        made.clearing_total,
        *made.limits,
        *made.safety,
        *made.clip_notes,
    ):
        assert "".join(line.split()) in told, line
    for row in made.clips:
        assert row.at.replace(" ", "") in told


def printed(made: Card, folder: Path) -> PdfReader:
    """The page as a browser prints it; where no browser is installed, our own page for paper."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    if browser is None:
        return PdfReader(io.BytesIO(pdf(made)))
    page, out = folder / "card.html", folder / "card.pdf"
    page.write_text(html(made), encoding="utf-8")
    settings = ("--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder / 'browser'}")
    subprocess.run([browser, *settings, f"--print-to-pdf={out}", page.as_uri()], check=True, timeout=120,
                   capture_output=True)  # fmt: skip
    return PdfReader(out)


def test_even_the_worst_card_is_printed_on_one_page(tmp_path: Path) -> None:
    (page,) = printed(card(WORST, place="Gull Point", sheet=SHEET), tmp_path).pages
    told = "".join((page.extract_text() or "").split())
    assert "".join(["Clear", "the", "water"]) in told
    assert "Whatisthewatertemperature" in told


def extent(page: Any) -> tuple[float, float]:
    """Lowest and rightmost text of a page [points]."""
    spots: list[tuple[float, float]] = []

    def note(text: str, _: Any, matrix: list[float], *__: Any) -> None:
        if text.strip():
            spots.append((matrix[5], matrix[4]))

    page.extract_text(visitor_text=note)
    return min(y for y, _ in spots), max(x for _, x in spots)


def test_nothing_of_the_worst_card_runs_off_the_paper() -> None:
    many = Sheet(
        limit=tuple(
            Limit(what="W" * 60, says="long words " * 20, source="s" * 100, checked=date(2020, 1, 1))
            for _ in range(12)
        )
    )
    for facts in (WORST, {}):
        (page,) = PdfReader(io.BytesIO(pdf(card(facts, place="P" * 60, sheet=many), paper="letter"))).pages
        lowest, rightmost = extent(page)
        assert lowest >= 20
        assert rightmost <= PAPERS["letter"][0] - 20


def test_the_same_card_gives_the_same_bytes() -> None:
    one, other = (card({**TIDE, **DEPTHS}, sheet=SHEET) for _ in range(2))
    assert pdf(one) == pdf(other)
    assert html(one) == html(other)
    with pytest.raises(ValueError, match="allowed a4, letter"):
        pdf(one, paper="a5")


class Page(HTMLParser):
    """What a page consists of and what it would fetch or run."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.links: list[str] = []
        self.handlers: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.links += [
            str(value) for name, value in attrs if name in ("src", "href", "srcset", "action", "data")
        ]
        self.handlers += [name for name, _ in attrs if name.startswith("on") or name == "style"]

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def parsed(text: str) -> Page:
    page = Page()
    page.feed(text)
    return page


def test_the_html_fetches_nothing_runs_nothing_and_is_light() -> None:
    made = html(card(WORST, place="Gull Point", sheet=SHEET))
    page = parsed(made)
    assert not page.links
    assert not page.handlers
    assert not {"script", "iframe", "link", "img", "object", "form"} & set(page.tags)
    assert "url(" not in made
    assert "@import" not in made
    assert len(made.encode()) < 120_000
    assert page.tags.count("svg") == 6  # three pictures, each for the screen and for paper


def test_the_html_holds_all_that_the_words_hold() -> None:
    made = card({**TIDE, **DEPTHS}, sheet=SHEET)
    told = " ".join(parsed(html(made)).text)
    for line in (*made.clearing, *made.limits, *made.safety, *made.picture("side", "dim").words):
        assert line in told


@settings(max_examples=30)
@given(place=st.text(max_size=60))
def test_a_place_of_any_text_stays_text_on_the_page(place: str) -> None:
    plain_tags = parsed(html(card({}))).tags
    hostile = parsed(html(card({}, place=f"<script>{place}</script><img src=x onerror=y>\"'&")))
    assert hostile.tags == plain_tags
    assert not hostile.links
    pdf(card({}, place=place))  # whatever the text, there is a page


# --- the command -------------------------------------------------------------------------------------


def run(tmp_path: Path, *words: str) -> int:
    return main(["card", "--store", str(tmp_path / "a.db"), "--at", NOW.isoformat(), *words])


FACTS = ("--facts", *(f"{name}={value}" for name, value in {**TIDE, **DEPTHS}.items()))


def test_the_command_writes_every_form(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = [tmp_path / f"card.{ending}" for ending in ("html", "pdf", "txt", "ics")]
    outs = [word for file in files for word in ("--out", str(file))]
    assert run(tmp_path, *outs, "--place", "Gull Point", "--paper", "letter", *FACTS) == 0
    assert capsys.readouterr().out.splitlines() == [f"Card: {file}" for file in files]
    page, paper, text, calendar = (file.read_bytes() for file in files)
    assert b"Gull Point" in page
    assert len(PdfReader(io.BytesIO(paper)).pages) == 1
    assert text.startswith(b"Tonight's card, Gull Point")
    events = Calendar.from_ical(calendar).walk("VEVENT")
    assert str(events[0]["SUMMARY"]).startswith("Clip left 3 ft")
    assert all(event.decoded("DTSTART") > NOW for event in events)


def test_without_files_the_command_prints_the_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(tmp_path, *FACTS) == 0
    said = capsys.readouterr().out
    assert said.startswith("Tonight's card, Thu 11 Feb 2027 21:50")
    assert "  21:50 now  left 4 ft, right 5.5 ft" in said


def test_a_sheet_is_made_once_and_never_written_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "limits.toml"
    assert run(tmp_path, "--new-limits", str(file)) == 0
    file.write_text('place = "mine"\n', encoding="utf-8")
    assert run(tmp_path, "--new-limits", str(file)) == 2
    assert "is there already" in capsys.readouterr().err
    assert file.read_text(encoding="utf-8") == 'place = "mine"\n'


def test_the_captains_own_sheet_is_found_in_the_config_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    own = tmp_path / "lampcoach" / "limits.toml"
    own.parent.mkdir()
    own.write_text('[[limit]]\nwhat = "Bag"\nsays = "five"\nsource = "leaflet"\nchecked = 2027-02-01\n')
    assert run(tmp_path) == 0
    assert "Limits: Bag: five (leaflet, read 01 Feb 2027)" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["--facts", "water.depth_ft=deep"], 2, "water.depth_ft: got 'deep'"),
        (["--facts", "left.depth_ft=3"], 2, "no fact 'left.depth_ft'"),
        (["--out", "card.doc"], 2, "allowed .html, .pdf, .txt, .ics"),
        (["--limits", "nowhere.toml"], 1, "nowhere.toml"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_line(
    tmp_path: Path, words: list[str], code: int, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(tmp_path, *words) == code
    assert says in capsys.readouterr().err


def test_the_picture_command_says_the_words_and_writes_the_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "set.png"
    store = ("--store", str(tmp_path / "a.db"), "--at", NOW.isoformat())
    assert main(["picture", "side", *store, "--picture", str(file), "--metric", *FACTS]) == 0
    assert file.read_bytes().startswith(b"\x89PNG")
    said = capsys.readouterr().out
    assert "Left lamp, in 3.7 m of water:" in said  # 12 ft
    assert said.endswith(f"Picture: {file}\n")


def test_a_file_in_a_folder_that_is_not_there_is_told_in_a_line(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError, match="there is no folder") as told:
        write(tmp_path / "nowhere" / "card.txt", "a page")
    assert "\n" not in str(told.value) and "correct the path" in str(told.value)
