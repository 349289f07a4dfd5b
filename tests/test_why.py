"""Why: chains from what was told to the cause, and the sums with their numbers put in.

A link is a sum or a rule that stands on the one before it. The cases are the development cases, held in
this process.
"""

from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

import pytest
from calculators import cases
from talks import Infer, Talk

from coach.apparatus import Apparatus, apparatus
from coach.model import Firing, Rulebook
from coach.turn import Turn


@cache
def links(name: str, tools: Any) -> int:
    """How many sums a figure stands on, itself included; what was told is none."""
    made = {each.gives: each for each in tools.sums}
    if name not in made:
        return 0
    return 1 + max((links(need, tools) for need in made[name].needs), default=0)


def length(rule: str, fired: Mapping[str, Firing], tools: Apparatus) -> int:
    """The longest chain that ends in a rule that fired."""
    behind = 0
    for fact, _ in fired[rule].because:
        earlier = [each for each in fired if fact in tools.scales.rules[each].concludes]
        behind = max(behind, links(fact, tools.figures), *(length(each, fired, tools) for each in earlier), 0)
    return behind + 1


def longest(talk: Talk) -> int:
    """The longest chain behind the first cause of the standing verdict; 0 where none is named."""
    tools = apparatus(talk.book)
    found = Turn(talk.session, tools, talk.infer, talk.now).assess()
    if not found.named:
        return 0
    fired = {firing.rule: firing for firing in found.inference.firings}
    voices = [e.rule for e in found.weighed[found.named[0]].evidence if e.counted and e.db > 0]
    return max(length(rule, fired, tools) for rule in voices)


@pytest.fixture(scope="module")
def held(shipped: Rulebook, plain: Infer) -> list[Talk]:
    """Every development case, held to its verdict."""
    talks = []
    for case in cases():
        talk = Talk(shipped, plain)
        talk.play(case["opening"], case["facts"])
        talks.append(talk)
    return talks


def test_in_twenty_cases_and_more_why_has_three_links_or_more(held: list[Talk]) -> None:
    assert sum(longest(talk) >= 3 for talk in held) >= 20


def test_why_shows_the_sums_with_their_numbers_wherever_a_figure_speaks(held: list[Talk]) -> None:
    told = 0
    for talk in (talk for talk in held if longest(talk) >= 3):
        talk.command("why")
        sums = [line for block in talk.reply.blocks for line in block.items if " = " in line]
        told += bool(sums)
        assert all("{" not in line for line in sums)
    assert told >= 20


def test_the_sum_of_a_clip_height_is_told_with_its_numbers(talk: Callable[..., Talk]) -> None:
    # common practice: 11 ft less 8 ft is 3 ft of clip; a lamp clipped at 7 ft hangs 4 ft down, 4 too high
    one = talk()
    one.tell({"safety.all_clear": True, "catch.course": "never_started", "water.depth_ft": 11})
    one.tell({"lamps.clip_left_ft": 7, "lamps.clip_right_ft": 7, "tide.fall_since_set_ft": 0})
    while one.reply.ask is not None:
        one.pick("unknown")
    one.command("why")
    lines = [line for block in one.reply.blocks for line in block.items]
    assert "left clip height = 11 ft - 8 ft = 3 ft (at least 1 ft, at most half the depth)" in lines
    assert "left lamp too high by 7 ft - 3 ft = 4 ft" in lines


def test_the_sums_are_told_in_metres_to_who_speaks_metric(talk: Callable[..., Talk]) -> None:
    one = talk()
    one.command("metric")
    one.tell({"safety.all_clear": True, "catch.course": "never_started", "water.depth_ft": 11})
    one.tell({"lamps.clip_left_ft": 7, "lamps.clip_right_ft": 7, "tide.fall_since_set_ft": 0})
    while one.reply.ask is not None:
        one.pick("unknown")
    one.command("why")
    lines = [line for block in one.reply.blocks for line in block.items]
    # 11 ft are 3.3528 m, 8 ft 2.4384 m (a foot is 0.3048 m exactly)
    assert any(line.startswith("left clip height = 3.35 m - 2.44 m = 0.91 m") for line in lines)
