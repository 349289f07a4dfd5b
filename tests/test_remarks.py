"""What goes with a verdict: remarks, doubts and what settles them, inputs asked for, places named."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from talks import Infer, Talk, fact_asked, kinds

from coach.language.read import read
from coach.model import Rulebook
from coach.places import ground_in


def ended(talk: Talk) -> list[str]:
    """Everything else is not known; what the verdict then says."""
    while talk.reply.ask is not None:
        talk.pick("unknown")
    return kinds(talk.reply, "say")


HIGH_LAMPS = "safety all good, it never started, clips at 3.4 ft left and 3.4 ft right"


# --- doubts ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "is_about"),
    [
        ("about 11 ft", True),
        ("roughly eleven", True),
        ("10-12 ft", True),
        ("11 ft or so", True),
        ("the water is about 11 ft", True),
        ("11 ft", False),
        ("exactly 11 ft", False),
        ("only 11 ft", False),
    ],
)
def test_a_number_that_is_only_about_right_is_heard_as_such(
    text: str, is_about: bool, shipped: Rulebook, talk: Callable[..., Talk]
) -> None:
    asked = shipped.facts["water.depth_ft"]
    reading = read(text, asked=asked, lexicon=shipped.lexicon, now=talk().now)
    assert reading.facts == {"water.depth_ft": 11.0}
    assert reading.about == (("water.depth_ft",) if is_about else ())


def test_a_depth_that_is_about_so_much_is_said_to_change_the_cause_and_what_settles_it(
    talk: Callable[..., Talk],
) -> None:
    # trade arithmetic: 3.4 ft of clip is 1.4 too high in 10 ft, and right within half a foot in 11 ft
    one = talk()
    one.say(HIGH_LAMPS + ", water is about 10 ft")
    (doubt,) = [line for line in ended(one) if line.startswith("If the depth")]
    assert "11 ft" in doubt
    assert doubt.endswith("Sound it again with the lamp's own marked rope.")


def test_a_depth_that_was_sounded_raises_no_doubt(talk: Callable[..., Talk]) -> None:
    one = talk()
    one.say(HIGH_LAMPS + ", water is 10 ft")
    assert not [line for line in ended(one) if line.startswith(("If the depth", "In 9"))]


def test_where_the_cause_stays_the_clip_heights_of_both_ends_are_told(talk: Callable[..., Talk]) -> None:
    # depth less 8: 1 to 3 ft in 9 to 11 ft (common practice; "about" is a tenth, an assumption)
    one = talk()
    one.say("safety all good, it never started, clips at 7 ft left and 7 ft right, it has not fallen")
    one.say("water is about 10 ft")
    assert any("In 9 ft to 11 ft the clip height is 1 ft to 3 ft." in line for line in ended(one))


def test_a_doubt_that_changes_nothing_is_not_told(talk: Callable[..., Talk]) -> None:
    # from 6 to 9 ft the clip height is 1 ft throughout (assumption of the trade)
    one = talk()
    one.say("safety all good, it never started, clips at 6 ft left and 6 ft right")
    one.say("water is about 7 ft")
    assert not [line for line in ended(one) if line.startswith(("If the depth", "In 6"))]


@pytest.mark.parametrize(("apart_ft", "is_open"), [(14, True), (17, False)])
def test_murk_by_word_is_said_to_leave_a_gap_open_or_not(
    apart_ft: float, is_open: bool, talk: Callable[..., Talk]
) -> None:
    # stained water may have circles of 10 to 15 ft (an assumption): lamps 14 ft apart may close or not
    one = talk()
    told = {"safety.all_clear": True, "water.clarity": "stained", "catch.course": "poor_all_night"}
    one.tell({**told, "others.catching": "yes", "lamps.apart_ft": apart_ft})
    lines = [line for line in ended(one) if "white disc is lost is 8 ft" in line]
    assert bool(lines) is is_open
    assert all(line.endswith("or look for the edge of the light.") for line in lines)


# --- questions that a figure hangs on --------------------------------------------------------------


def test_at_slack_it_is_asked_when_low_is_since_the_wait_hangs_on_it(talk: Callable[..., Talk]) -> None:
    one = talk()
    one.tell({"safety.all_clear": True, "water.flow": "none", "catch.course": "stopped"})
    asked = []
    while one.reply.ask is not None:
        asked.append(fact_asked(one.reply))
        one.pick("2027-02-11T22:05:00-05:00" if asked[-1] == "tide.low_at" else "unknown")
    assert "tide.low_at" in asked
    # an hour to low water, and half an hour for the flow to follow (an assumption)
    assert kinds(one.reply, "action") == [
        "Wait: the water has stopped. Leave the lamps; look again in 90 minutes."
    ]


def test_the_draft_is_asked_only_where_little_water_is_left(talk: Callable[..., Talk]) -> None:
    table = {
        "tide.high_at": "2027-02-11T19:05:00-05:00",
        "tide.high_ft": 4,
        "tide.low_at": "2027-02-12T01:05:00-05:00",
        "tide.low_ft": 0,
    }
    for depth, is_asked in ((6, True), (12, False)):
        one = talk()
        one.tell({"safety.all_clear": True, "catch.course": "good", "water.depth_ft": depth, **table})
        asked = []
        while one.reply.ask is not None:
            asked.append(fact_asked(one.reply))
            one.pick(2.5 if asked[-1] == "boat.draft_ft" else "unknown")
        assert ("boat.draft_ft" in asked) is is_asked
        assert ("grounding" in {hazard for reply in one.replies for hazard, _ in reply.hazards}) is is_asked


# --- remarks ---------------------------------------------------------------------------------------


def test_no_more_remarks_go_with_a_verdict_than_are_read(shipped: Rulebook, plain: Infer) -> None:
    facts = {
        "safety.all_clear": True, "catch.course": "good", "catch.now_per_10min": 30, "lamps.count": 2,
        "power.battery_ah": 80, "power.battery_kind": "lead", "lamps.total": 2, "stay.minutes_more": 900,
        "water.snags": True, "deep_lamp.in_water": True, "deep_lamp.minutes": 60, "deep_lamp.jumps": 0,
    }  # fmt: skip
    few = replace(shipped, numbers={**shipped.numbers, "most_notes": 1.0})
    said = []
    for book in (shipped, few):
        one = Talk(book, plain)
        one.tell(facts)
        said.append(ended(one)[1:])
    assert len(said[0]) == shipped.numbers["most_notes"]
    assert said[1] == said[0][:1]


# --- places that are named -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "station"),
    [
        ("faded since nine, we lie off Ponce Inlet", "Ponce Inlet"),
        ("at crescent beach, nothing comes", "Crescent Beach"),
        ("they are lost at the hull", None),
        ("in the channel by the bridge", None),
        ("near Nowhereville", None),
        ("Ponce Inlet", None),
    ],
)
def test_a_station_that_a_sentence_names_is_the_place(
    text: str, station: str | None, shipped: Rulebook
) -> None:
    found = ground_in(text, shipped.lexicon.known, before=shipped.lexicon.before_a_place)
    assert (found and found.station.spot.name) == station


def test_a_place_that_was_taken_is_said_back_and_its_table_used(talk: Callable[..., Talk]) -> None:
    one = talk()
    one.say("it stopped all at once, we lie off Ponce Inlet")
    assert "I go by the tables of Ponce Inlet." in kinds(one.reply, "heard")
    assert one.session.facts["place.lat_deg"].value == pytest.approx(29.08, abs=0.01)
    asked = []
    while one.reply.ask is not None:
        asked.append(fact_asked(one.reply))
        one.pick("unknown")
    assert "tide.state" not in asked  # the table tells it
