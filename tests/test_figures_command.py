"""`coach figure`: the answers promised, and one line for every bad input."""

import io
import json
from pathlib import Path
from typing import Any

import pytest

from coach.figures.command import FIGURES, run

TIDE = (
    "--high-at 2027-02-11T19:00:00-05:00 --high-ft 4 --low-at 2027-02-12T01:12:00-05:00 --low-ft 0"
    " --from 2027-02-11T19:00:00-05:00 --until 2027-02-12T01:00:00-05:00"
)


def figure(words: str, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    assert run([*words.split(), "--json"]) == 0
    out = capsys.readouterr().out
    assert out.count("\n") == 1
    answer: dict[str, Any] = json.loads(out)
    return answer


def test_clip_answers_the_four_figures_of_a_lamp(capsys: pytest.CaptureFixture[str]) -> None:
    # common practice: 11 ft gives 3, 8, 5.5, 0.5
    assert figure("clip --depth-ft 11", capsys) == {
        "clip_ft": 3,
        "lamp_depth_ft": 8,
        "dark_band_ft": 5.5,
        "under_path_ft": 0.5,
    }


def test_clip_says_why_there_is_none(capsys: pytest.CaptureFixture[str]) -> None:
    found = figure("clip --depth-ft 25", capsys)
    assert found["clip_ft"] is None
    assert "over 23 ft" in found["reason"]


def test_reclip_gives_times_heights_and_depths(capsys: pytest.CaptureFixture[str]) -> None:
    # trade arithmetic: 4 ft over 6.2 h falls 1 ft in 2.067 h = 2 h 4 min, 2 ft in 3 h 6 min
    steps = figure(f"reclip --depth-ft 11 --clip-ft 3 {TIDE} --slack-ft 1", capsys)["steps"]
    assert [(step["clip_ft"], step["depth_ft"]) for step in steps] == [(2, 10), (1, 9)]
    assert [step["at"][:16] for step in steps] == ["2027-02-11T21:04", "2027-02-11T22:06"]


def test_reclip_can_set_once_for_a_named_time(capsys: pytest.CaptureFixture[str]) -> None:
    # half of the duration: half of the range is gone, 11 − 2 = 9 ft, clip 1 ft
    words = f"reclip --depth-ft 11 --clip-ft 3 {TIDE} --once-for 2027-02-11T22:06:00-05:00"
    assert figure(words, capsys) == {"at": "2027-02-11T22:06:00-05:00", "clip_ft": 1, "depth_ft": 9}


def test_times_without_offset_are_read_off_the_named_zone(capsys: pytest.CaptureFixture[str]) -> None:
    words = (
        "reclip --depth-ft 11 --clip-ft 3 --slack-ft 1 --tz America/New_York --high-ft 4 --low-ft 0"
        " --high-at 2027-03-13T23:00 --low-at 2027-03-14T06:12"
        " --from 2027-03-13T23:00 --until 2027-03-14T06:00"
    )
    # clocks skip 02:00 to 03:00 that night (U.S. rule, MEMORY): 6 h 12 min of fall, not 7 h 12
    steps = figure(words, capsys)["steps"]
    assert [step["at"] for step in steps] == ["2027-03-14T01:04:00-05:00", "2027-03-14T03:06:00-04:00"]


def test_circle_and_gap_answer_their_figures(capsys: pytest.CaptureFixture[str]) -> None:
    assert 8 < figure("circle --secchi-ft 6", capsys)["circle_ft"] < 16.5
    # common practice: 8 ft radius, 20 ft apart, 4 ft dark
    assert figure("gap --apart-ft 20 --circle-ft 16", capsys)["gap_ft"] == 4
    assert figure("gap --apart-ft 14 --circle-ft 16 --out-ft 9", capsys)["hull_gap_ft"] == 1


def test_share_and_drop_answer_their_figures(capsys: pytest.CaptureFixture[str]) -> None:
    share = figure("share --bow 44 --stern 3", capsys)
    assert share["bow_share_low"] < share["bow_share"] < share["bow_share_high"]
    assert share["p_value"] < 1e-6
    drop = figure("drop --before 30 --before-min 10 --now 5 --now-min 10", capsys)
    assert drop["ratio"] == pytest.approx(1 / 6)
    assert drop["p_value"] < 0.001


def test_the_deep_lamp_answers_odds_and_a_decision(capsys: pytest.CaptureFixture[str]) -> None:
    # common practice: odds at any time, "lift it" from 90 min on
    early = figure("deep-lamp --minutes 60 --jumps 0", capsys)
    assert early["odds_db"] < 0
    assert early["decision"] == "wait"
    assert figure("deep-lamp --minutes 90 --jumps 0", capsys)["decision"] == "lift"


def test_a_later_look_asks_for_stronger_counts(capsys: pytest.CaptureFixture[str]) -> None:
    words = "drop --before 30 --before-min 10 --now 14 --now-min 10"
    assert figure(words, capsys)["is_real"]
    assert not figure(f"{words} --look 5", capsys)["is_real"]


def test_the_boats_figures_answer(capsys: pytest.CaptureFixture[str]) -> None:
    # common practice: 30 W on 100 Ah of lead-acid, 20 h
    assert figure("battery --capacity-ah 100 --lamps 1 --lamp-w 30", capsys)["hours"] == 20
    assert figure("battery --capacity-ah 100 --rested-v 12.1", capsys)["hours"] == 0
    assert figure("lead --length-ft 20 --awg 18", capsys)["is_dim"]
    assert figure("lean --flow-kn 0 --clip-ft 3", capsys)["lean_deg"] == 0
    assert figure("scope --depth-ft 6 --bow-height-ft 3 --rise-ft 2", capsys)["rode_ft"] == 77
    assert figure("clear --lamps 4 --nets 1 --anchors 2 --traffic-min 10", capsys)["spare_min"] < 0
    assert not figure("low-water --depth-ft 5 --fall-ft 3 --draft-ft 1.5", capsys)["is_enough"]
    assert figure("wind --wind-kn 20 --fetch-nmi 3 --depth-ft 5 --tide-range-ft 0.5", capsys)["wind_rules"]


NIGHT = "--from 2027-02-11T18:00:00-05:00 --until 2027-02-12T18:00:00-05:00"
PONCE = "--lat 29.08 --lon -80.93"


def test_tide_answers_for_a_station_by_number_name_and_place(capsys: pytest.CaptureFixture[str]) -> None:
    by_number = figure(f"tide --station 8721147 {NIGHT}", capsys)
    assert [row["kind"] for row in by_number["extremes"]] == ["high", "low", "high", "low"]
    assert by_number["extremes"][0]["at"].endswith("-05:00")
    assert by_number["datum"] == "MLLW"
    assert figure(f"tide --lat 29.064 --lon -80.915 {NIGHT}", capsys) == by_number
    assert run(["tide", "--station", "Ponce de Leon Inlet", *NIGHT.split(), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == by_number


def test_tide_answers_for_a_table_typed_or_from_a_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    table = "2027-02-11 19:00 4 H\n2027-02-12 01:12 0 L\n"
    (tmp_path / "table.csv").write_text(table)
    monkeypatch.setattr("sys.stdin", io.StringIO(table))
    rest = "--at 2027-02-11T22:06 --tz America/New_York"
    found = figure(f"tide --table {tmp_path / 'table.csv'} {rest}", capsys)
    assert figure(f"tide --table - {rest}", capsys) == found
    rows = [word for line in table.splitlines() for word in ("--row", line)]
    assert run(["tide", *rows, *rest.split(), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == found
    # cosine: half of the range at half of the duration
    assert (found["level_ft"], found["state"]) == (2, "falling")
    assert found["extremes"][0] == {"at": "2027-02-11T19:00:00-05:00", "ft": 4, "kind": "high"}


def test_current_flow_and_lag_answer_their_figures(capsys: pytest.CaptureFixture[str]) -> None:
    events = figure(f"current --station MIH0901 {NIGHT} --at 2027-02-11T23:00:00-05:00", capsys)
    assert [event["kind"] for event in events["events"]][:2] == ["slack before flood", "flood"]
    assert 0 < events["flow_kn"] < events["events"][1]["kn"]
    # Navy Quartermaster manual (READ): .528 kn by the table, tolerance .05
    times = "--slack-at 2027-01-01T09:31 --max-at 2027-01-01T11:59 --at 2027-01-01T11:00"
    assert figure(f"flow {times} --max-kn .66", capsys)["flow_kn"] == pytest.approx(0.528, abs=0.05)
    # before the slack that follows, the flow wanes by the same sine
    waning = "--slack-at 2027-01-01T15:00 --max-at 2027-01-01T12:00 --at 2027-01-01T14:00"
    assert figure(f"flow {waning} --max-kn 1", capsys)["flow_kn"] == pytest.approx(0.5)
    words = "lag --inlet-m2 .437 --inlet-lag-deg 21.4 --inside-m2 .063 --inside-lag-deg 115"
    assert figure(words, capsys)["hours"] == pytest.approx(3.229, abs=0.001)


def test_sky_moon_and_colour_answer_their_figures(capsys: pytest.CaptureFixture[str]) -> None:
    # U.S. Naval Observatory, Atlanta, 21 June 2007, EST (READ): 0527 and 1951
    sky = figure("sky --lat 33.7667 --lon -84.4167 --on 2007-06-21 --tz Etc/GMT+5", capsys)
    assert sky["sunrise"][:16] == "2007-06-21T05:27"
    assert sky["sunset"][:16] in ("2007-06-21T19:50", "2007-06-21T19:51")
    assert set(sky) == {"sunset", "sunrise", "dusk", "dawn", "moonrise", "moonset", "moon_lit"}
    moon = figure(f"moon {PONCE} --at 2027-02-18T22:00:00-05:00 --secchi-ft 8 --lamp-depth-ft 8", capsys)
    assert moon["moon"] == "bright"
    assert moon["lamp_depth_lux"] < moon["surface_lux"]
    colour = figure("colour --secchi-ft 4", capsys)
    assert colour["green_left"] < colour["white_left"]


def test_nights_answer_with_their_parts_and_write_a_calendar(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "nights.ics"
    words = (
        "nights --station 8721147 --first 2027-02-11 --nights 5 --depth-ft 7 --sounded-at 2027-02-10T15:00"
        f" --wind 2027-02-12=22 --ics {file} --made-at 2027-02-01T12:00:00+00:00"
    )
    found = figure(words, capsys)["nights"]
    hours = [night["ebb_h"] for night in found]
    assert hours == sorted(hours, reverse=True)
    assert [night["wind_kn"] for night in found if "wind_kn" in night] == [22]
    assert all(4 < night["depth_at_low_ft"] < 9 for night in found)
    assert file.read_bytes().count(b"BEGIN:VEVENT") == sum(len(night["windows"]) for night in found)
    by_current = figure("nights --station 8723214 --current MIH0901 --first 2027-02-11 --nights 2", capsys)
    assert by_current["nights"][0]["strongest_kn"] > 1.5


def test_a_doubtful_depth_or_water_says_what_it_changes(capsys: pytest.CaptureFixture[str]) -> None:
    clip = figure("clip --depth-ft 11 --off-by-ft 1", capsys)
    assert (clip["clip_low_ft"], clip["clip_high_ft"], clip["matters"]) == (2, 4, True)
    assert "white disc" in figure("gap --apart-ft 14 --clarity stained", capsys)["settle"]


@pytest.mark.parametrize(
    "words",
    [
        f"tide --station 8721147 {NIGHT} --at 2027-02-11T22:00:00-05:00",
        f"tide --lat 29.06 --lon -80.9 {NIGHT}",
        f"current --station MIH0901 {NIGHT}",
        "flow --slack-at 2027-01-01T09:00 --max-at 2027-01-01T12:00 --max-kn 1 --at 2027-01-01T10:00",
        "lag --inlet-m2 .437 --inlet-lag-deg 21.4 --inside-m2 .063 --inside-lag-deg 115",
        f"sky {PONCE} --on 2027-02-11 --tz America/New_York",
        f"moon {PONCE} --at 2027-02-18T22:00:00-05:00 --secchi-ft 8 --lamp-depth-ft 8",
        "colour --water-type 9C",
        "nights --station 8721147 --first 2027-02-11 --nights 3",
        "clip --depth-ft 6.2 --off-by-ft 0.5",
        "gap --apart-ft 14 --clarity stained --out-ft 6",
        "rate --count 30 --lamp-hours 4",
        "change --counts 12,9,11,3,2,1",
        "deep-lamp --minutes 60 --jumps 0",
        "watch --counts 12,9,11,3,2",
        "battery --capacity-ah 100 --kind lithium --rested-v 13.2",
        "lead --length-ft 20 --awg 18",
        "lean --flow-kn 1 --clip-ft 3",
        "scope --depth-ft 6 --bow-height-ft 3",
        "clear --traffic-min 5",
        "low-water --depth-ft 5 --fall-ft 3 --draft-ft 1.5",
        "wind --wind-kn 20 --fetch-nmi 3 --depth-ft 5 --tide-range-ft 0.5",
        "clip --depth-ft 11",
        "clip --depth-ft 3",
        f"reclip --depth-ft 11 --clip-ft 3 {TIDE}",
        "circle --clarity murky",
        "gap --apart-ft 20 --circle-ft 16",
        "share --bow 0 --stern 0",
        "drop --before 0 --before-min 10 --now 5 --now-min 10",
    ],
)
def test_without_json_a_person_gets_a_few_lines_with_units(
    words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(words.split()) == 0
    lines = capsys.readouterr().out.splitlines()
    assert 1 <= len(lines) <= 9
    assert all(line[-1] in ".:," for line in lines)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("clip --depth-ft -3", "--depth-ft: got -3; allowed 0.5 to 60 ft"),
        ("clip --depth-ft nan", "--depth-ft: got nan; allowed 0.5 to 60 ft"),
        ("clip --depth-ft -inf", "--depth-ft: got -inf; allowed 0.5 to 60 ft"),
        ("clip --depth-ft 11ft", "--depth-ft: got 11ft; allowed 0.5 to 60 ft"),
        ("clip --depth-ft", "--depth-ft: got nothing; needed is a value"),
        ("clip --depth-m 3", "--depth-m: got --depth-m; allowed --depth-ft"),
        ("clip", "--depth-ft: got nothing; needed"),
        ("clap", "KIND: got clap; allowed clip"),
        ("gap --apart-ft 20 --circle-ft -1", "--circle-ft: got -1; allowed 0 to 60 ft"),
        ("circle", "--secchi-ft, --clarity: got neither"),
        ("circle --secchi-ft 6 --clarity clear", "--secchi-ft, --clarity: got both"),
        ("circle --clarity milky", "--clarity: got milky; allowed clear, stained, murky"),
        ("share --bow 4.5 --stern 3", "--bow: got 4.5; allowed whole numbers 0 to 100000"),
        ("share --bow 4", "--stern: got nothing"),
        ("change --counts 3,x", "--counts: got x; allowed 0 to 100000"),
        ("change --counts 3", "counts: got 1 with 1 durations; allowed 2 and more"),
        ("battery --capacity-ah 100 --lamps 0", "--lamps: got 0; allowed 1 to 12"),
        ("battery --capacity-ah 100 --kind gel", "--kind: got gel; allowed lead, lithium"),
        ("lead --length-ft 20 --awg 15", "--awg: got 15; allowed 18, 16"),
        ("tide", "--station: got nothing; allowed a station, or --lat and --lon"),
        (f"tide --station atlantis {NIGHT}", "station: got 'atlantis', which fits 0"),
        (f"tide --station ponce {NIGHT}", "8721138 Ponce Inlet, FL; 8721147 Ponce de Leon Inlet, FL"),
        ("tide --station 8721147", "--from: got nothing; needed is a time"),
        ("tide --station 8721147 --from 2027-02-12T18:00 --until 2027-02-11T18:00", "until: got 2027-02-11"),
        ("tide --table /no/such/file", "--table: got /no/such/file; allowed a text file"),
        ("tide --row 2027-02-11", "table, line 1: got '2027-02-11'; allowed date, time, level"),
        (f"current --station MIH0901 {NIGHT} --lat 99", "--lat: got 99; allowed -90 to 90 degrees"),
        (
            "flow --slack-at 2027-01-01T09:00 --max-at 2027-01-01T12:00 --max-kn 1 --at 2027-01-01T13:00",
            "hours",
        ),
        (f"sky {PONCE} --on 2027-02-31 --tz America/New_York", "--on: got 2027-02-31; allowed a day"),
        (f"moon {PONCE} --at 2027-02-18T22:00", "--at: got a time without offset"),
        ("colour", "--secchi-ft, --water-type: got neither"),
        ("nights --station 8721147 --first 2027-02-11 --wind x", "--wind: got x; allowed a day and knots"),
        (
            "nights --station 8721147 --first 2027-02-11 --nights 99",
            "--nights: got 99; allowed 1 to 60",
        ),
        ("nights --station 8721147 --first 2027-02-11 --depth-ft 7", "--depth-ft, --sounded-at: got one"),
        ("nights --station 8721147 --first 2027-02-11 --ics /no/such/place.ics", "--ics: got /no/such"),
        ("lead --length-ft 50 --awg 18 --lamp-w 400", "awg: got 18; allowed a thicker one"),
        ("drop --before 3 --before-min 0 --now 5 --now-min 10", "--before-min: got 0; allowed 0.1 to 1440"),
        (f"reclip --depth-ft 11 --clip-ft 3 {TIDE} --high-ft -1", "low_ft: got 0; allowed below high_ft"),
        (
            f"reclip --depth-ft 11 --clip-ft 3 {TIDE} --until 2027-02-11T18:00:00-05:00",
            "until: got 2027-02-11",
        ),
        (f"reclip --depth-ft 11 --clip-ft 3 {TIDE} --from 2027-02-11T18:00:00-05:00", "time: got 2027-02-11"),
        (
            "reclip --depth-ft 11 --clip-ft 3 --from 2027-02-11T19:00 --until 2027-02-11T20:00",
            "--high-at, --high",
        ),
        (
            f"reclip --depth-ft 11 --clip-ft 3 {TIDE} --once-for 2027-02-13T00:00:00-05:00",
            "time: got 2027-02-13",
        ),
        (f"reclip --depth-ft 11 --clip-ft 3 {TIDE} --from nine", "--from: got 'nine'; allowed a time like"),
        (f"reclip --depth-ft 11 --clip-ft 3 {TIDE} --until 2027-02-12T01:00:00", "both with a zone or both"),
        (f"reclip --depth-ft 11 --clip-ft 3 {TIDE} --tz Atlantis", "--tz: got Atlantis; allowed the name"),
        (
            f"reclip --depth-ft 11 --clip-ft 3 {TIDE} --tz America/New_York --until 2027-03-14T02:30",
            "--until: got 2027-03-14 02:30, which the clock of America/New_York skips",
        ),
    ],
)
def test_bad_input_is_one_line_and_exit_2(words: str, says: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([*words.split(), "--json"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert says in told.err


def test_help_lists_every_kind_and_every_option(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--help"]) == 0
    kinds = capsys.readouterr().out
    for kind, figure_kind in FIGURES.items():
        assert f"  {kind} " in kinds
        assert run([kind, "--help"]) == 0
        told = capsys.readouterr().out
        assert all(option.flag in told for option in figure_kind.options)


def test_no_kind_at_all_is_told_the_kinds(capsys: pytest.CaptureFixture[str]) -> None:
    assert run([]) == 2
    assert "clip" in capsys.readouterr().err


def test_every_number_has_its_metric_twin_on_request(capsys: pytest.CaptureFixture[str]) -> None:
    # international foot and nautical mile (MEMORY): 11 ft is 3.3528 m, 1 kn is .5144 m/s
    clip = figure("clip --depth-ft 11 --metric", capsys)
    assert (clip["lamp_depth_ft"], clip["lamp_depth_m"]) == (8, pytest.approx(2.4384))
    wind = figure("wind --wind-kn 20 --fetch-nmi 3 --depth-ft 5 --metric", capsys)
    assert wind["drift_m_per_s"] == pytest.approx(wind["drift_kn"] * 0.5144, rel=1e-3)
    rows = figure(f"tide --station 8721147 {NIGHT} --metric", capsys)["extremes"]
    assert all(row["m"] == pytest.approx(row["ft"] * 0.3048) for row in rows)
    assert run(["circle", "--clarity", "clear", "--metric"]) == 0
    assert "16.5 ft (5.03 m) across" in capsys.readouterr().out


def test_reclip_follows_a_station_over_the_turn_of_the_tide(capsys: pytest.CaptureFixture[str]) -> None:
    stay = "--from 2027-02-12T00:00 --until 2027-02-12T11:00 --slack-ft 0.5"
    steps = figure(f"reclip --depth-ft 11 --clip-ft 3 --station 8721147 {stay}", capsys)["steps"]
    clips = [step["clip_ft"] for step in steps]
    lowest = clips.index(min(clips))
    assert clips == [*sorted(clips[: lowest + 1], reverse=True), *sorted(clips[lowest + 1 :])]
    # trade arithmetic: each clip is the depth less 8
    assert all(step["clip_ft"] == pytest.approx(step["depth_ft"] - 8) for step in steps)


def test_reclip_takes_a_table_of_several_tides(capsys: pytest.CaptureFixture[str]) -> None:
    rows = ("2027-02-11 19:00 4 H", "2027-02-12 01:00 0 L", "2027-02-12 07:00 4 H")
    words = [word for row in rows for word in ("--row", row)]
    stay = ["--from", "2027-02-11T19:00", "--until", "2027-02-12T07:00", "--once-for", "2027-02-12T04:00"]
    assert run(["reclip", "--depth-ft", "13", "--clip-ft", "5", *words, *stay, "--json"]) == 0
    # half of the rise is back at half of the time: 13 − 4 + 2 = 11 ft, clip 3
    assert json.loads(capsys.readouterr().out) == {"at": "2027-02-12T04:00:00", "clip_ft": 3, "depth_ft": 11}
