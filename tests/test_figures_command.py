"""`coach figure`: the answers promised, and one line for every bad input."""

import json
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


@pytest.mark.parametrize(
    "words",
    [
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
    assert 1 <= len(lines) <= 8
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
        ("lead --length-ft 50 --awg 18 --lamp-w 400", "awg: got 18; allowed a thicker one"),
        ("drop --before 3 --before-min 0 --now 5 --now-min 10", "--before-min: got 0; allowed 0.1 to 1440"),
        (f"reclip --depth-ft 11 --clip-ft 3 {TIDE} --high-ft -1", "low_ft: got 0; allowed below high_ft"),
        (
            f"reclip --depth-ft 11 --clip-ft 3 {TIDE} --until 2027-02-11T18:00:00-05:00",
            "until: got 2027-02-11",
        ),
        (f"reclip --depth-ft 11 --clip-ft 3 {TIDE} --from 2027-02-11T18:00:00-05:00", "time: got 2027-02-11"),
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
