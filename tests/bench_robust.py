"""Prints how well the cases are judged by people who do not know, or who are wrong once.

    python tests/bench_robust.py [--cases FILE] [--seeds 20] [--unknown 0.3] [--jobs 2] [--list]

Two ways, each over the seeds 0 to 19 and every case; the opening words stay as they are.
"Not known": each question, the safety check too, is answered "unknown" at these odds.
"Wrong once": one of the questions that the true answers bring about, drawn by the seed, is answered
wrongly: yes for no, another of the options, another of the numbers that the rule base expects. It is
drawn among all questions, and a second time only among those about the set and the water: the harder
way, for a wrong answer to the safety check only brings more questions about safety. Chats without such
a question are counted as they are; many have one or two, and then it is the decisive one that is wrong.
Intervals are of the mean over cases (bootstrap, seed 0), since a case's seeds hang together. Bars (the
order's): not known 75 % first and 92 % in the first three; wrong once 70 % first. It is no test.
"""

import argparse
import random
import statistics
from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from pathlib import Path
from typing import Any

from play_inside import CASES, Answers, Case, Core, Played, percentile, read_cases, resampled, spread

from coach.model import UNKNOWN, Fact, Rulebook

UNLIKE = 0.15
"""Numbers nearer than this part of each other are the same answer."""
Way = Callable[[Case, int], Played]


def not_known(core: Core, share: float) -> Way:
    """Each answer withheld at odds of `share`."""

    def way(case: Case, seed: int) -> Played:
        dice = random.Random(f"unknown {seed} {case.id}")
        return core.play(case, lambda fact, _: UNKNOWN if dice.random() < share else case.answer(fact))

    return way


def wrong_once(core: Core, *, safety_too: bool) -> Way:
    """One answer wrong, drawn among those that the true answers bring about."""

    def way(case: Case, seed: int) -> Played:
        dice = random.Random(f"wrong {seed} {case.id}")
        aside = set() if safety_too else {core.book.safety_check, *core.book.safety_singles}
        return core.play(case, wrong_answers(core.book, core.play(case), dice, aside))

    return way


def wrong_answers(book: Rulebook, truly: Played, dice: random.Random, aside: Collection[str]) -> Answers:
    """The case's answers but for one that is not set aside."""
    places = [
        (place, wrong)
        for place, fact in enumerate(truly.asked)
        if fact not in aside
        and (wrong := wrong_for(book.facts[fact], truly.case.answer(fact), dice)) is not None
    ]
    at, wrong = dice.choice(places) if places else (-1, None)
    return lambda fact, place: wrong if place == at else truly.case.answer(fact)


def wrong_for(fact: Fact, true: Any, dice: random.Random) -> Any:
    """Another answer that people give to this question; None if there is none, or the truth is not known."""
    if true == UNKNOWN:
        return None
    if fact.type == "bool":
        return not true
    if fact.type == "choice":
        return dice.choice([option.id for option in fact.options if option.id != true])
    others = [value for value, _ in fact.expect if _unlike(value, true)]
    return dice.choice(others) if others else None


def _unlike(value: Any, true: Any) -> bool:
    return isinstance(value, int | float) and abs(value - true) > UNLIKE * max(abs(value), abs(true), 1.0)


# --- figures ---------------------------------------------------------------------------------------------


def played_all(way: Way, cases: Sequence[Case], seeds: Sequence[int], jobs: int) -> list[list[Played]]:
    """For each case what came of it with each seed."""
    return list(spread(lambda case: [way(case, seed) for seed in seeds], cases, jobs=jobs))


def report(name: str, played: Sequence[Sequence[Played]], bars: Mapping[str, float]) -> None:
    chats = [each for of_case in played for each in of_case]
    print(f"{name}: {len(chats)} chats")
    for what, is_so in (
        ("right first", lambda p: p.is_first_right),
        ("right in the first three", lambda p: p.is_among_three),
        ("first, also and not", lambda p: p.is_right),
    ):
        shares = [statistics.mean(map(is_so, of_case)) for of_case in played]
        low, high = resampled(shares)
        bar = f"  bar {bars[what]:.0%}" if what in bars else ""
        print(f"  {what:34} {statistics.mean(shares):6.1%}  [{low:.1%}, {high:.1%}]{bar}")
    print_worst_seed(played)
    alarms = [bool(p.names) for p in chats if p.case.is_healthy]
    sure = [p for p in chats if p.named and p.named[0][1] >= 0.9]
    wrong = sum(not p.is_first_right for p in sure)
    asked = [len(p.asked) for p in chats]
    print(f"  false alarms on healthy sets {statistics.mean(alarms):.1%}; said as almost certain "
          f"{len(sure)}, wrong of these {wrong}; nothing named where something is wrong "
          f"{sum(not p.names and not p.case.is_healthy for p in chats)}")  # fmt: skip
    print(f"  questions: median {statistics.median(asked):g}, 95 % within {percentile(asked, 0.95):g}, "
          f"most {max(asked)}")  # fmt: skip


def print_worst_seed(played: Sequence[Sequence[Played]]) -> None:
    by_seed = [statistics.mean(p.is_first_right for p in of_seed) for of_seed in zip(*played, strict=True)]
    print(f"  right first by seed: {min(by_seed):.1%} to {max(by_seed):.1%}")


def report_failures(played: Sequence[Sequence[Played]], most: int = 40) -> None:
    """By wanted cause how often it is missed and what came instead; then the cases that miss most."""
    by_cause: dict[str, Counter[str]] = {}
    total: Counter[str] = Counter()
    for p in (each for of_case in played for each in of_case):
        wanted = p.case.causes[0] if p.case.causes else "(healthy)"
        total[wanted] += 1
        if not p.is_first_right:
            by_cause.setdefault(wanted, Counter())[p.names[0] if p.names else "(nothing named)"] += 1
    for wanted, came in sorted(by_cause.items(), key=lambda pair: -sum(pair[1].values())):
        instead = ", ".join(f"{name} {count}" for name, count in came.most_common(5))
        print(f"  {wanted:24} missed {sum(came.values())}/{total[wanted]}: {instead}")
    worst = sorted(played, key=lambda of_case: sum(p.is_first_right for p in of_case))[:most]
    for of_case in worst:
        right = sum(p.is_first_right for p in of_case)
        print(f"    {of_case[0].case.id}: right {right}/{len(of_case)}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--cases", type=Path, default=CASES)
    parser.add_argument("--seeds", type=int, default=20)
    parser.add_argument("--unknown", type=float, default=0.3, help="odds of an answer not known")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--list", action="store_true", help="what is missed, by cause and by case")
    options = parser.parse_args()
    core, cases, seeds = Core(), read_cases(options.cases), range(options.seeds)
    for name, way, bars in (
        (f"not known at {options.unknown:g}", not_known(core, options.unknown),
         {"right first": 0.75, "right in the first three": 0.92}),
        ("wrong once", wrong_once(core, safety_too=True), {"right first": 0.70}),
        ("wrong once about set or water", wrong_once(core, safety_too=False), {"right first": 0.70}),
    ):  # fmt: skip
        played = played_all(way, cases, seeds, options.jobs)
        report(f"{options.cases.name}, {name}, seeds 0 to {options.seeds - 1}", played, bars)
        if options.list:
            report_failures(played)


if __name__ == "__main__":
    main()
