"""The captain's situations: each comes out as it says, every rule is tried, good nights stay quiet.

The situations are common practice, written down beside the rules in situations/. They are played on the
plain evaluator and on the inference engine.
"""

from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest
import rule_folders
from rule_folders import RULES, rule

from coach import rulebook
from coach.apparatus import apparatus
from coach.engine import Engine
from coach.model import Rulebook, RuleFaults
from coach.plain import PlainEvaluator
from coach.rulebook import default_folder
from coach.rulebook.check import check
from coach.rulebook.coverage import coverage
from coach.rulebook.situations import Situation, called, complaints, play, read_situations

GOOD_NIGHTS = "situations/good_nights.toml"


@pytest.fixture(scope="module")
def situations(shipped: Rulebook) -> tuple[Situation, ...]:
    return read_situations(default_folder(), shipped)


@pytest.fixture(scope="module", params=["plain", "engine"])
def infer(request: pytest.FixtureRequest, shipped: Rulebook) -> Iterator[object]:
    if request.param == "plain":
        yield PlainEvaluator(rulebook.clauses(shipped)).evaluate
        return
    with Engine(rulebook.clauses(shipped), isolated=False) as engine:
        yield engine.evaluate


def test_every_situation_comes_out_as_it_says(shipped, situations, infer) -> None:
    rules, tools, folder = called(shipped), apparatus(shipped), default_folder()
    played = [play(situation, tools, infer=infer) for situation in situations]
    assert [str(fault) for each in played for fault in complaints(each, rules, folder=folder)] == []


def test_every_rule_has_a_situation_in_which_it_must_fire_and_a_near_miss(shipped, situations, plain) -> None:
    """The list that this prints says which rule lacks what."""
    played = [play(situation, apparatus(shipped), infer=plain) for situation in situations]
    assert [str(fault) for fault in coverage(played, shipped, folder=default_folder())] == []


def test_nothing_is_named_on_a_good_night_of_any_set_up(shipped, situations) -> None:
    good = [situation for situation in situations if situation.file == GOOD_NIGHTS]
    assert len(good) >= 12
    assert all(situation.names == () for situation in good)
    assert {situation.facts.get("set.intended") for situation in good} >= set(shipped.sets)


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        (
            {
                "lamps.clip_left_ft": 7.5,
                "lamps.clip_right_ft": 7.5,
                "catch.course": "never_started",
                "run.seen": "under_boat",
            },
            "lamp-too-shallow",
        ),
        ({"lamps.centre": "gap", "lamps.apart_ft": 24.0, "run.seen": "lost_in_centre"}, "centre-gap"),
        ({"boat.across_flow": False, "catch.course": "stopped", "run.seen": "under_boat"}, "boat-swung"),
        (
            {"lamps.same_kind": False, "catch.course": "poor_all_night", "run.seen": "scattering"},
            "mixed-lamps",
        ),
    ],
)
def test_a_good_night_spoiled_is_no_good_night(changed, named, shipped, situations, plain) -> None:
    """The quiet of good nights comes from their facts; each cause is common practice."""
    good = next(situation for situation in situations if situation.file == GOOD_NIGHTS)
    spoiled = Situation(
        title="spoiled",
        facts={**good.facts, **changed},
        fires=(),
        silent=(),
        names=None,
        named=(),
        tried=(),
        said="",
        file="",
        line=1,
    )
    assert play(spoiled, apparatus(shipped), infer=plain).names[:1] == (named,)


# --- what a situation may say, on an invented trade ---------------------------------------------------


def played_in(folder: Path) -> list[str]:
    """What comes out otherwise than the folder's situations say."""
    book = rulebook.load(folder)
    faults = check(book, read_situations(folder, book), folder=folder)
    return [str(fault) for fault in faults if fault.where.startswith("situation ")]


def with_situations(folder: Path, text: str, *, rules: str = RULES, worked_out: str = "") -> Path:
    written = rule_folders.write(folder, rules=rules, worked_out=worked_out)
    (written / "situations").mkdir()
    (written / "situations" / "all.toml").write_text(text)
    return written


def situation(*lines: str, title: str = "A night") -> str:
    return f'[[situation]]\ntitle = "{title}"\n' + "\n".join(lines) + "\n"


@pytest.mark.parametrize(
    "text",
    [
        situation(
            'facts = { tool.wobbles = "yes" }', 'fires = ["wobbly"]', 'silent = ["steady", "round-edge"]'
        ),
        situation('facts = { "tool.wobbles" = true, tool.length_ft = 3 }', 'fires = ["wobbly"]'),
        situation('facts = { tool.edge = "round", tool.wobbles = "yes" }', 'names = ["loose", "blunt"]'),
        situation("names = []"),
        '[defaults]\nfacts = { tool.wobbles = "yes" }\n' + situation('fires = ["wobbly"]'),
        '[defaults]\nfacts = { tool.wobbles = "yes" }\n'
        + situation('facts = { tool.wobbles = "unknown" }', 'silent = ["wobbly", "steady"]'),
        situation("facts = { tide.low_at = 2027-02-11T23:00:00-05:00 }", "names = []"),
    ],
)
def test_a_situation_that_comes_out_is_not_complained_of(text: str, tmp_path: Path) -> None:
    assert played_in(with_situations(tmp_path / "mine", text)) == []


@pytest.mark.parametrize(
    ("lines", "wrong"),
    [
        (
            ['facts = { tool.wobbles = "no" }', 'fires = ["wobbly"]'],
            "rule 'wobbly' must fire and does not: it waits for tool.wobbles is yes (is no)",
        ),
        (
            ['fires = ["wobbly"]'],
            "rule 'wobbly' must fire and does not: it waits for tool.wobbles is yes (is not known)",
        ),
        (
            ['facts = { tool.edge = "round" }', 'silent = ["round-edge"]'],
            "rule 'round-edge' must be silent and fires: tool.edge is round (is round)",
        ),
        (['facts = { tool.edge = "round" }', "names = []"], "it must name nothing and names blunt"),
        (["names = ['loose']"], "it must name loose and names nothing"),
    ],
)
def test_a_situation_that_comes_out_otherwise_is_told_with_the_reason(
    lines: Sequence[str], wrong: str, tmp_path: Path
) -> None:
    (said,) = played_in(with_situations(tmp_path / "mine", situation(*lines)))
    assert said.startswith(f"mine/situations/all.toml:1: situation 'A night': {wrong}. Mend the rule")


@pytest.mark.parametrize(
    ("text", "line", "wrong", "do"),
    [
        (
            situation("facts = { tool.wobles = 1 }", 'fires = ["wobbly"]'),
            3,
            "there is no question 'tool.wobles'",
            "Did you mean 'tool.wobbles'?",
        ),
        (
            situation("facts = { left.depth_ft = 9 }", "names = []"),
            3,
            "there is no question 'left.depth_ft'",
            "",
        ),
        (
            situation('facts = { tool.edge = "rund" }', "names = []"),
            3,
            "tool.edge: got 'rund'; allowed keen, round or unknown",
            "",
        ),
        (
            situation("facts = { tool.length_ft = 11 }", "names = []"),
            3,
            "tool.length_ft: got 11; allowed 1 to 10 ft or unknown",
            "",
        ),
        (
            situation('facts = { tool.wobbles = "maybe" }', "names = []"),
            3,
            "tool.wobbles: got 'maybe'; allowed true, false or unknown",
            "",
        ),
        (situation("fires = ['woobly']"), 3, "there is no rule 'woobly'", "Did you mean 'wobbly'?"),
        (situation("silent = ['woobly']"), 3, "there is no rule 'woobly'", "Did you mean 'wobbly'?"),
        (situation("names = ['lose']"), 3, "there is no cause 'lose'", "Did you mean 'loose'?"),
        (situation("names = []", "named = ['lose']"), 4, "there is no cause 'lose'", "Did you mean 'loose'?"),
        (situation("names = []", "tried = ['lose']"), 4, "there is no cause 'lose'", "Did you mean 'loose'?"),
        (
            situation("fires = ['wobbly']", "silent = ['wobbly']"),
            4,
            "rule 'wobbly' cannot both fire and be silent",
            "Keep one of the two.",
        ),
        (
            situation("facts = { tool.edge = 'keen' }"),
            2,
            "the situation says nothing",
            "Give it fires, silent or names.",
        ),
        (situation("fire = ['wobbly']"), 3, "fire: this key is not known", "Did you mean 'fires'?"),
        ("[[situation]]\nnames = []\n", 1, "title: is missing", "Add it."),
        (
            situation("names = []") + situation("names = []"),
            4,
            "this title is used twice",
            "Give each situation a title of its own.",
        ),
        ("[situation]\ntitle = 'x'\n", 1, "there is only one [situation]", "Write [[situation]]."),
        ("[[situatoin]]\ntitle = 'x'\n", 1, "'situatoin' is not known here", "A file of situations holds"),
        ("[defaults]\nfacts = { tool.edge = 'rund' }\n", 2, "tool.edge: got 'rund'", ""),
        ("[[situation]\n", 1, "it cannot be read", "Mend it"),
    ],
)
def test_what_is_wrong_in_a_situation_is_told_at_its_line(
    text: str, line: int, wrong: str, do: str, tmp_path: Path
) -> None:
    folder = with_situations(tmp_path / "mine", text)
    with pytest.raises(RuleFaults) as raised:
        read_situations(folder, rulebook.load(folder))
    (fault,) = raised.value.faults
    assert (fault.file, fault.line) == ("mine/situations/all.toml", line)
    assert fault.wrong.startswith(wrong)
    assert fault.do.startswith(do)


# --- which rules are tried ----------------------------------------------------------------------------


def lacking(folder: Path) -> list[str]:
    """What is said about rules that no situation tries, with the captain's id of each."""
    book = rulebook.load(folder)
    faults = check(book, read_situations(folder, book), folder=folder)
    told = [f for f in faults if "must fire" in f.wrong or "near miss" in f.wrong]
    return [f"{fault.where}: {fault.wrong.partition(',')[0]}" for fault in told]


TRIED = situation(
    'facts = { tool.wobbles = "yes", tool.edge = "round" }',
    'fires = ["wobbly", "round-edge"]',
    'silent = ["steady"]',
    title="Loose and blunt",
)
STEADY = situation(
    'facts = { tool.wobbles = "no", tool.edge = "keen" }',
    'fires = ["steady"]',
    'silent = ["wobbly", "round-edge"]',
    title="A good tool",
)


def test_a_rule_that_is_tried_both_ways_lacks_nothing(tmp_path: Path) -> None:
    assert lacking(with_situations(tmp_path / "mine", TRIED + STEADY)) == []


def test_what_each_rule_lacks_is_told(tmp_path: Path) -> None:
    assert lacking(with_situations(tmp_path / "mine", TRIED)) == [
        "rule 'wobbly': no near miss",
        "rule 'steady': no situation in which it must fire",
        "rule 'round-edge': no near miss",
    ]


def test_a_rule_that_is_silent_for_two_reasons_or_for_want_of_an_answer_has_no_near_miss(
    tmp_path: Path,
) -> None:
    rules = RULES + rule(
        "both", "tool.wobbles is yes; tool.edge is round", {"blunt": 7}, unless="tool.length_ft at least 5"
    )
    far = STEADY.replace('silent = ["', 'silent = ["both", "')
    assert "rule 'both': no near miss" in lacking(with_situations(tmp_path / "far", TRIED + far, rules=rules))
    silent = ('facts = { tool.wobbles = "yes" }', 'silent = ["both"]')
    unsaid = situation(*silent, title="The edge not looked at")
    assert "rule 'both': no near miss" in lacking(
        with_situations(tmp_path / "unsaid", TRIED + unsaid, rules=rules)
    )
    for facts in ('tool.edge = "keen"', 'tool.edge = "round", tool.length_ft = 5'):
        near = situation(f'facts = {{ tool.wobbles = "yes", {facts} }}', silent[1], title="Only just not")
        told = lacking(
            with_situations(tmp_path / facts[12:15].strip() / str(len(facts)), TRIED + near, rules=rules)
        )
        assert "rule 'both': no near miss" not in told


def test_a_rule_for_each_lamp_is_tried_by_either(tmp_path: Path) -> None:
    high = rule("high", "lamp.too_high_ft at least 1", {"blunt": 7}, lamps="each")
    left = "facts = { water.depth_ft = 11, lamps.clip_left_ft = 7, lamps.clip_right_ft = 3 }"
    text = situation(left, 'fires = ["high"]', 'silent = ["high-right"]')
    assert not any(
        "'high'" in line for line in lacking(with_situations(tmp_path / "mine", text, rules=RULES + high))
    )
    both = situation(left, 'silent = ["high"]')
    (said,) = played_in(with_situations(tmp_path / "other", both, rules=RULES + high))
    assert "rule 'high-left' must be silent and fires" in said


def test_what_follows_advice_is_tried_by_naming_the_cause(tmp_path: Path) -> None:
    fix = rule("whet", "named.blunt is yes", fix_for="blunt", action=["Whet it."], look_again_min=5)
    fires = situation('named = ["blunt"]', 'fires = ["whet"]', title="Blunt")
    near = situation('named = ["loose"]', 'silent = ["whet"]', title="Loose")
    far = situation("names = []", 'silent = ["whet"]', title="Nothing")
    assert not any(
        "'whet'" in line for line in lacking(with_situations(tmp_path / "a", fires + near, rules=RULES + fix))
    )
    told = lacking(with_situations(tmp_path / "b", fires + far, rules=RULES + fix))
    assert "rule 'whet': no near miss" in told
