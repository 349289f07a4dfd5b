"""Numbers that are hardly ever so, or do not fit together: said back, asked once more, then believed."""

from pathlib import Path

import pytest
from talks import Infer, Talk, fact_asked, kinds

from coach.model import Rulebook
from coach.rulebook.doubts import read_doubts
from coach.rulebook.source import Source

CLEAR = {"safety.all_clear": True}
ABSURD = (  # a newcomer's findings
    ("my clips are 50 ft and it is 12 ft deep", "lamps.clip_left_ft"),
    ("it is 18 ft deep under the left lamp and 9 ft under the right lamp", "water.depth_left_ft"),
    ("stern count 900", "crew.stern_count"),
    ("wind 120 kn", "wind.speed_kn"),
    ("water is 30 F", "water.temp_f"),
    ("water is 110 F", "water.temp_f"),
    ("48 volts at the lamp", "lamps.volts_at_lamp"),
    ("the boat is 200 ft long", "boat.length_ft"),
)


@pytest.fixture
def night(shipped: Rulebook, plain: Infer) -> Talk:
    """A night whose safety check is behind it."""
    one = Talk(shipped, plain)
    one.tell(CLEAR)
    return one


@pytest.mark.parametrize(("text", "fact"), ABSURD)
def test_an_absurd_number_is_said_back_and_asked_once_more(night: Talk, text: str, fact: str) -> None:
    night.say(text)
    assert fact_asked(night.reply) == fact
    assert any(said.startswith("I heard ") for said in kinds(night.reply, "heard"))
    assert night.reply.verdict is None


def test_whoever_says_it_again_is_believed_at_once_and_the_verdict_says_so_softly(night: Talk) -> None:
    night.tell({"boat.length_ft": 70, "catch.course": "faded"})
    assert fact_asked(night.reply) == "boat.length_ft"
    night.pick(70)
    while night.reply.ask is not None:
        assert fact_asked(night.reply) != "boat.length_ft"
        night.pick("unknown")
    assert any("I took your word" in said and "70 ft" in said for said in kinds(night.reply, "say"))


def test_yes_stands_by_a_doubtful_number_and_no_takes_it_back(night: Talk) -> None:
    night.say("the boat is 70 ft long")
    night.say("yes")
    assert night.session.facts["boat.length_ft"].value == 70
    night.say("48 volts at the lamp")
    night.say("no")
    assert "lamps.volts_at_lamp" not in night.session.facts
    assert fact_asked(night.reply) == "lamps.volts_at_lamp"


def test_a_number_put_right_is_not_doubted_any_more(night: Talk) -> None:
    night.tell({"lamps.clip_left_ft": 50, "water.depth_ft": 12})
    night.pick(5)
    assert fact_asked(night.reply) != "lamps.clip_left_ft"
    assert night.session.doubted == () and night.session.believed == ()


def test_a_correction_of_nothing_just_answered_answers_the_question(shipped: Rulebook, plain: Infer) -> None:
    one = Talk(shipped, plain)
    one.say("12 ft of water, the left lamp is clipped at 50 ft")
    one.say("yes")
    assert fact_asked(one.reply) == "lamps.clip_left_ft"
    one.say("sorry, 5")
    assert one.reply.understood == {"lamps.clip_left_ft": 5}


def test_a_number_that_cannot_be_is_asked_once_more_and_then_gone_without(night: Talk) -> None:
    night.say("the boat is 200 ft long")
    night.say("200")
    assert "boat.length_ft" not in night.session.facts
    assert fact_asked(night.reply) != "boat.length_ft"


def test_a_doubtful_wind_is_a_hazard_all_the_same(night: Talk) -> None:
    night.say("wind 120 kn")
    assert [hazard for hazard, _ in night.reply.hazards] == ["too-windy"]


def test_the_safety_check_goes_before_a_doubt_and_the_doubt_follows(shipped: Rulebook, plain: Infer) -> None:
    one = Talk(shipped, plain)
    one.say("my clips are 50 ft and it is 12 ft deep")
    assert fact_asked(one.reply) == shipped.safety_check
    assert "moment" in kinds(one.reply, "heard")[0]
    one.pick(True)
    assert fact_asked(one.reply) == "lamps.clip_left_ft"


def test_a_pick_beyond_the_range_stays_an_error(night: Talk) -> None:
    night.say("the boat is 70 ft long")
    night.pick(200)
    assert night.reply.error is not None and night.reply.error[0] == "bad-value"


def test_every_fault_in_the_doubts_is_told(shipped: Rulebook) -> None:
    source = Source(Path("rules"))
    raw = {
        "usual": {"boat.lenght_ft": [10, 60], "wind.speed_kn": [45, 0], "boat.draft_ft": [0.1, 5]},
        "fit": [{"id": "odd", "doubt": "wind.speed_kn", "at_most": ["water.depth_ft"], "says": "{boat}"}],
    }
    read_doubts(source, raw, shipped.facts)
    said = "\n".join(map(str, source.faults))
    for part in ("Did you mean 'boat.length_ft'", "low to high", "range in facts.toml", "different units",
                 "nothing fills '{boat}'", "misfit: is missing"):  # fmt: skip
        assert part in said


@pytest.mark.parametrize(
    ("text", "is_there"),
    [
        ("the storm is over", False),
        ("storm has passed", False),
        ("the storm is over, catch faded", False),
        ("the storm is not over", True),
        ("the storm is over the bay", True),
        ("the storm is over us", True),
        ("lightning all over", True),
    ],
)
def test_a_storm_that_is_over_is_no_lightning_and_one_overhead_is(
    night: Talk, text: str, is_there: bool
) -> None:
    night.say(text)
    assert night.session.facts["sky.lightning"].value is is_there


def test_half_an_hour_of_waiting_is_told_to_whoever_says_that_the_storm_is_over(night: Talk) -> None:
    night.say("the storm is over")
    assert any("30 minutes" in said for said in kinds(night.reply, "say"))


def test_water_coming_in_may_be_the_tide_or_the_boat_and_is_asked_about(night: Talk) -> None:
    before = night.session.facts
    night.say("water is coming in")
    assert night.session.facts == before
    assert "taking water" in kinds(night.reply, "say")[0]


def test_a_summary_says_what_a_yes_or_no_answers(night: Talk) -> None:
    night.tell({"others.catching": "yes", "boat.dragging": False, "water.depth_ft": 11})
    (listed,) = [block for block in night.command("summary").blocks if block.kind == "list"]
    assert "Are the other boats catching? Yes" in listed.items
    assert "Is the anchor dragging? No" in listed.items
    assert "the depth under the dipping side: 11 ft" in listed.items
