"""Prints what simulated learners keep for each minute, by the plan and by other ways; it promises nothing.

    python tests/bench_school.py [LEARNERS]       (default 60; seeds 1000 and on)

The protocol is that of Ye 2022: every evening what is due first, then new items while the day's minutes
last. 30 days, 5 minutes a day, 200 items, at most 10 new a day, evenings 1.5 hours early or late. "Kept" is
what would be recalled on day 30, in expectation; ranges are 95 % over learners (bootstrap, paired). The
memory models, costs and assumptions stand in sim_learners.py.
"""

import statistics
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from random import Random
from unittest import mock

import numpy as np
from sim_learners import MODELS, Learner, Model
from sim_school import (
    SEED,
    Outcome,
    Way,
    at_the_same_share,
    by_ladder,
    by_mind_reading,
    by_plan,
    class_of,
    studied,
    sure_class_of,
)

from coach.school import schedule
from coach.school.difficulty import FirstAnswer, chance_right, difficulties
from coach.school.schedule import CardState, Plan

DAYS, NEW = 30, 10
PLAN = Plan(cards_a_day=1000, new_a_day=NEW)
"""The plan as shipped, but held back by minutes as all other ways are, not by numbers of cards."""
INTERVALS = (1, 2, 3, 4, 5, 7, 10, 14)
LONGER = (*INTERVALS, 21, 30)
EXPANDING = (1, 3, 7, 14, 30)


def ranged(figure: Callable[[np.ndarray], float], learners: int) -> tuple[float, float, float]:
    """A figure over all learners with its 95 % bootstrap range."""
    dice = np.random.default_rng(SEED)
    drawn = [figure(dice.integers(0, learners, learners)) for _ in range(400)]
    low, high = np.quantile(drawn, (0.025, 0.975))
    return figure(np.arange(learners)), float(low), float(high)


def ways() -> Mapping[str, Way]:
    return {
        "plan": by_plan(PLAN),
        "plan, told the memory": by_plan(PLAN, steered=True),
        **{f"every {days} days": by_ladder((days,), new_a_day=NEW) for days in INTERVALS},
        "1-3-7-14-30 days": by_ladder(EXPANDING, new_a_day=NEW),
        "the same, back when wrong": by_ladder(EXPANDING, new_a_day=NEW, back=True),
        **{
            f"reread every {days} days": by_ladder((days,), new_a_day=NEW, reading=True) for days in INTERVALS
        },
        "reread 1-3-7-14-30 days": by_ladder(EXPANDING, new_a_day=NEW, reading=True),
        "a mind reader at 90 %": by_mind_reading(0.9, new_a_day=NEW),
    }


def compare(name: str, model: Model, learners: int) -> None:
    everyone = np.arange(learners)
    found = {way: studied(study, model, learners) for way, study in ways().items()}
    print(f"\n{name}")
    print(f"  {'':26} kept   of met  share  minutes  kept/min  in a week/min  right  right from 2 days")
    for way, one in found.items():
        print(
            f"  {way:26} {one.kept.mean():5.1f} {one.met.mean():7.1f}  {one.share(everyone):.3f}"
            f" {one.minutes.mean():8.1f}  {one.per_minute(everyone):.3f}"
            f" {one.later.sum() / one.minutes.sum():10.3f} {one.right.sum() / max(one.asked.sum(), 1):12.3f}"
            f" {one.retention(everyone):8.3f}"
        )
    against(found, learners)


def against(found: Mapping[str, Outcome], learners: int) -> None:
    plan = found["plan"]
    for told in ("plan", "plan, told the memory"):
        middle, low, high = ranged(found[told].retention, learners)
        print(f"  right from 2 days on, {told}: {middle:.1%} ({low:.1%} to {high:.1%}) at an aim of 90 %")
    asked = [found[f"every {days} days"] for days in INTERVALS]
    read = [found[f"reread every {days} days"] for days in INTERVALS]
    others: dict[str, Callable[[np.ndarray], float]] = {
        "the fixed interval that keeps as large a share": lambda who: at_the_same_share(
            asked, plan.share(who), who
        ),
        "every 3 days": found["every 3 days"].per_minute,
        "every 7 days": found["every 7 days"].per_minute,
        "the best fixed interval, whatever share it keeps": lambda who: max(o.per_minute(who) for o in asked),
        "1-3-7-14-30 days": found["1-3-7-14-30 days"].per_minute,
        "1-3-7-14-30 days, back when wrong": found["the same, back when wrong"].per_minute,
        "rereading that keeps as large a share": lambda who: at_the_same_share(read, plan.share(who), who),
        "the best rereading, whatever share it keeps": lambda who: max(o.per_minute(who) for o in read),
        "a mind reader": found["a mind reader at 90 %"].per_minute,
    }
    print("  kept per minute by the plan, more than by ...")
    for other, figure in others.items():
        middle, low, high = ranged(lambda who, f=figure: plan.per_minute(who) / f(who) - 1, learners)  # type: ignore[misc]
        print(f"    {other:50} {middle:+7.1%} ({low:+.1%} to {high:+.1%})")


def sensitivity(learners: int) -> None:
    """What each choice of the plan, and each assumption about people, does to the plan."""
    plans: dict[str, Plan] = {
        "as it is": PLAN,
        **{f"target {target:.0%}": replace(PLAN, target=target) for target in (0.75, 0.8, 0.85, 0.93)},
        "again after 10 min when wrong": replace(PLAN, again_min=(10,), steps_min=(10,)),
        "the package's own steps": replace(PLAN, again_min=(10,), steps_min=(1, 10)),
        "stuck after 3": replace(PLAN, stuck_after=3),
        "stuck after 6": replace(PLAN, stuck_after=6),
        "never stuck": replace(PLAN, stuck_after=1000),
        **{f"{new} new a day": replace(PLAN, new_a_day=new) for new in (2, 3, 5, 20)},
        "10 cards, 3 new a day": Plan(),
        "strongest first": StrongestFirst(cards_a_day=1000, new_a_day=NEW),
        "new items first": NewFirst(cards_a_day=1000, new_a_day=NEW),
    }
    people: dict[str, dict[str, float]] = {
        "2 minutes a day": {"minutes_a_day": 2},
        "10 minutes a day": {"minutes_a_day": 10},
        "people all alike": {"spread": 0},
        "people very unlike": {"spread": 1},
        "always the same minute": {"off_h": 0},
        "evenings 4 hours off": {"off_h": 4},
    }
    print("\nthe plan, one thing changed: kept per minute, share kept, right from 2 days on, minutes")
    print(f"  {'':32}" + "".join(f"{name:>32}" for name in MODELS))
    for name, plan in plans.items():
        print_row(name, [studied(by_plan(plan), model, learners) for model in MODELS.values()])
    exact = to_the_minute(by_plan(PLAN))
    print_row("due to the minute only", [studied(exact, model, learners) for model in MODELS.values()])
    for name, person in people.items():
        print_row(name, [studied(by_plan(PLAN), model, learners, **person) for model in MODELS.values()])


def to_the_minute(way: Way) -> Way:
    """The same, but nothing is asked before it is due to the minute."""

    def study(learner: Learner, days: int) -> None:
        with mock.patch.object(schedule, "EARLY_H", 0):
            way(learner, days)

    return study


class StrongestFirst(Plan):
    """The same items in another order, to see what the order does."""

    def due(
        self, cards: Mapping[str, CardState], now: datetime, topics: Mapping[str, str], *, asked: bool = False
    ) -> tuple[str, ...]:
        found = Plan.due(self, cards, now, topics, asked=asked)
        return tuple(sorted(found, key=lambda i: -self.recall(cards[i], now) if i in cards else 1))


class NewFirst(Plan):
    """New items before those that are due."""

    def due(
        self, cards: Mapping[str, CardState], now: datetime, topics: Mapping[str, str], *, asked: bool = False
    ) -> tuple[str, ...]:
        found = Plan.due(self, cards, now, topics, asked=asked)
        return tuple(sorted(found, key=lambda i: i in cards))


def print_row(name: str, found: Sequence[Outcome]) -> None:
    everyone = np.arange(len(found[0].kept))
    cells = [
        f"{one.per_minute(everyone):11.3f} {one.share(everyone):6.3f} {one.retention(everyone):6.3f}"
        f" {one.minutes.mean():6.0f}"
        for one in found
    ]
    print(f"  {name:32}" + "".join(cells))


def longer(learners: int) -> None:
    print("\n90 days instead of 30: kept per minute by the plan, more than by ...")
    everyone = np.arange(learners)
    for name, model in MODELS.items():
        plan = studied(by_plan(PLAN), model, learners, days=90)
        fixed = [
            studied(by_ladder((interval,), new_a_day=NEW), model, learners, days=90) for interval in LONGER
        ]
        back = studied(by_ladder((*EXPANDING, 60), new_a_day=NEW, back=True), model, learners, days=90)
        figures = {
            "the fixed interval that keeps as large a share": at_the_same_share(
                fixed, plan.share(everyone), everyone
            ),
            "the best fixed interval": max(one.per_minute(everyone) for one in fixed),
            "1-3-7-14-30-60 days, back when wrong": back.per_minute(everyone),
        }
        print(f"  {name}: kept {plan.kept.mean():.0f} of {plan.met.mean():.0f}; " + "; ".join(
            f"{other} {plan.per_minute(everyone) / figure - 1:+.1%}" for other, figure in figures.items()
        ))  # fmt: skip


def costs(learners: int) -> None:
    print(
        "\nby how long a wrong answer takes with its explanation: kept per minute by the plan, more than by"
    )
    print(
        "  the fixed interval with as large a share / the best fixed interval / the ladder, back when wrong"
    )
    everyone = np.arange(learners)
    for name, model in MODELS.items():
        cells = []
        for wrong_s in (20.0, 30.0, 50.0, 90.0):
            plan = studied(by_plan(PLAN), model, learners, wrong_s=wrong_s)
            fixed = [
                studied(by_ladder((d,), new_a_day=NEW), model, learners, wrong_s=wrong_s) for d in INTERVALS
            ]
            back = studied(by_ladder(EXPANDING, new_a_day=NEW, back=True), model, learners, wrong_s=wrong_s)
            figures = (
                at_the_same_share(fixed, plan.share(everyone), everyone),
                max(one.per_minute(everyone) for one in fixed),
                back.per_minute(everyone),
            )
            told = " / ".join(f"{plan.per_minute(everyone) / figure - 1:+.0%}" for figure in figures)
            cells.append(f"{wrong_s:g} s: {told}")
        print(f"  {name:26} " + "   ".join(cells))


def rereading(learners: int) -> None:
    print("\nrereading, by how much it lengthens a memory (share of what recalling does):")
    print("  kept per minute by the plan, more than by rereading with as large a share / the best rereading")
    everyone = np.arange(learners)
    for name, model in MODELS.items():
        plan = studied(by_plan(PLAN), model, learners)
        cells = []
        for gain in (0.0, 0.25, 0.5, 0.75, 1.0):
            read = [
                studied(by_ladder((d,), new_a_day=NEW, reading=True), model, learners, reread_gain=gain)
                for d in INTERVALS
            ]
            same = plan.per_minute(everyone) / at_the_same_share(read, plan.share(everyone), everyone) - 1
            best = plan.per_minute(everyone) / max(one.per_minute(everyone) for one in read) - 1
            cells.append(f"{gain:g}: {same:+.0%} / {best:+.0%}")
        print(f"  {name:26} " + "   ".join(cells))


def elo(answers: Sequence[FirstAnswer], seed: int) -> dict[str, float]:
    """Elo with K = 1/(1 + 0.05 n) (Pelánek 2016, MEMORY), answers in random order: to compare with."""
    able: dict[str, float] = {}
    hard: dict[str, float] = {}
    times: dict[str, int] = {}
    for who, item, right in Random(seed).sample(list(answers), len(answers)):
        off = right - chance_right(able.get(who, 0), hard.get(item, 0))
        for table, name, sign in ((able, who, 1), (hard, item, -1)):
            table[name] = table.get(name, 0) + sign * off / (1 + 0.05 * times.get(name, 0))
            times[name] = times.get(name, 0) + 1
    return hard


def difficulty(classes: int) -> None:
    print(f"\nitem difficulty: correlation with the truth, 60 items, {classes} classes, mean (5-95 %)")
    print("  author: a rating off by one deviation. spread: deviation of the true difficulties in logits.")
    for spread, guess in ((1.0, 0.0), (1.5, 0.0), (1.0, 0.25), (1.5, 0.25)):
        for each in (5, 10, 15, 30):
            found: dict[str, list[float]] = {"answers": [], "answers, author": [], "author": [], "Elo": []}
            for seed in range(classes):
                answers, hard = class_of(each, SEED + seed, spread=spread, guess=guess)
                dice = Random(f"author {seed}")
                rated = {item: value + dice.gauss(0, 1) for item, value in hard.items()}
                chances = dict.fromkeys(hard, guess)
                alone = difficulties(answers, rated={}, guess=chances)
                both = difficulties(answers, rated=rated, guess=chances)
                truth = list(hard.values())
                found["answers"].append(alike([alone[i].logits for i in hard], truth))
                found["answers, author"].append(alike([both[i].logits for i in hard], truth))
                found["author"].append(alike(list(rated.values()), truth))
                at = elo(answers, seed)
                found["Elo"].append(alike([at[i] for i in hard], truth))
            cells = []
            for way, values in found.items():
                low, high = np.quantile(values, (0.05, 0.95))
                cells.append(f"{way} {statistics.mean(values):.3f} ({low:.2f}-{high:.2f})")
            print(f"  spread {spread} guess {guess:<4} {each:3} answers: " + "  ".join(cells))


def sureness(classes: int) -> None:
    """Difficulty from 15 first answers each: bare, weighed by how sure was said, and with abilities known."""
    print(f"\nitem difficulty by 15 answers each and how sure was said, {classes} classes: mean (std. error)")
    for guess in (0.0, 0.25):
        for name, blur, bias in (("tells well", 1.5, 0.7), ("tells badly", 3.0, 1.0)):
            found: dict[str, list[float]] = {}
            for seed in range(classes):
                bare, weighed, hard, able = sure_class_of(
                    15, SEED + seed, spread=1.0, guess=guess, blur=blur, bias=bias
                )
                truth, chances = list(hard.values()), dict.fromkeys(hard, guess)
                at = difficulties(bare, rated={}, guess=chances)
                found.setdefault("bare", []).append(alike([at[i].logits for i in hard], truth))
                at = difficulties(weighed, rated={})
                found.setdefault("weighed", []).append(alike([at[i].logits for i in hard], truth))
                dice = Random(f"author {seed}")
                rated = {item: value + dice.gauss(0, 1) for item, value in hard.items()}
                at = difficulties(weighed, rated=rated)
                found.setdefault("weighed, with the maker's rating", []).append(
                    alike([at[i].logits for i in hard], truth)
                )
                ceiling = known_abilities(bare, hard, able, guess)
                found.setdefault("bare, abilities known", []).append(alike(ceiling, truth))
            cells = [
                f"{way} {statistics.mean(all_):.3f} ({statistics.stdev(all_) / len(all_) ** 0.5:.3f})"
                for way, all_ in found.items()
            ]
            print(f"  guess {guess:<4} {name:11} " + "  ".join(cells))


def known_abilities(
    answers: Sequence[FirstAnswer], hard: Mapping[str, float], able: Mapping[str, float], guess: float
) -> list[float]:
    """What could be had at best: each item's difficulty of highest posterior where abilities are known."""
    grid = np.linspace(-4, 4, 401)
    score = dict.fromkeys(hard, -0.5 * grid**2)
    for who, item, right in answers:
        chance = guess + (1 - guess) / (1 + np.exp(grid - able[who]))
        score[item] = score[item] + np.log(chance if right else 1 - chance)
    return [float(grid[np.argmax(score[item])]) for item in hard]


def alike(one: Sequence[float], other: Sequence[float]) -> float:
    return float(np.corrcoef(one, other)[0, 1])


def main() -> None:
    learners = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    print(f"{learners} learners, seeds {SEED} to {SEED + learners - 1}; {DAYS} days")
    for name, model in MODELS.items():
        compare(name, model, learners)
    sensitivity(max(2, learners // 2))
    longer(max(2, learners // 2))
    costs(max(2, learners // 2))
    rereading(max(2, learners // 2))
    difficulty(max(2, learners // 2))
    sureness(max(2, learners // 2))


if __name__ == "__main__":
    main()
