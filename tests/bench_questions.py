"""Prints how good the choice of questions is on small problems, and how long it takes.

    python tests/bench_questions.py [PROBLEMS]       (default 400)

Single faults without noise (six causes, seven signs): mean questions beside the best tree, beside the
order of the file, random order and the likeliest suspect first. Random problems: how often the choice
stays the same when every weight is moved by up to 3 dB, and what the choice then loses; how often
something is asked that can no longer change the answer. The shipped rules: time to choose. A
benchmark prints; it promises nothing and pytest does not collect it.
"""

import random
import statistics
import sys
import time
from collections.abc import Callable

import legal_facts
import small_problems
from small_problems import Problem
from talks import Talk

from coach import rulebook
from coach.model import UNKNOWN
from coach.plain import PlainEvaluator


def against_the_best_tree(count: int) -> None:
    faults = [small_problems.single_fault(random.Random(seed)) for seed in range(count)]
    fewest = [small_problems.fewest_questions(one) for one in faults]
    dice = random.Random(0)
    orders = {
        "most telling": small_problems.most_telling,
        "order of the file": small_problems.as_written,
        "random order": lambda one: small_problems.by_chance(one, dice),
        "likeliest first": small_problems.likeliest_first,
    }
    print(f"single faults, {count} problems; the best tree takes {statistics.mean(fewest):.3f} questions")
    for name, order in orders.items():
        ratios = [
            small_problems.mean_questions(f, order(f)) / best for f, best in zip(faults, fewest, strict=True)
        ]
        print(f"  {name:18} {statistics.mean(ratios):.3f} of the best on average, {max(ratios):.3f} at worst")


def when_shaken(name: str, count: int, make: Callable[[random.Random], Problem]) -> None:
    same, losses = 0, []
    for seed in range(count):
        dice = random.Random(seed)
        one = make(dice)
        chosen = one.best({})
        for _ in range(3 if chosen else 0):
            other = small_problems.shaken(one, dice)
            worth = {
                s.candidate.fact: s.bits / s.candidate.trouble for s in other.planner.ranked(other.case({}))
            }
            same += other.best({}) == chosen
            best = max(worth.values())
            losses.append(1 - worth[chosen] / best if best > 0 else 0.0)
    share = sum(loss <= 0.1 for loss in losses) / len(losses)
    print(f"{name}, every weight moved by up to 3 dB, {len(losses)} times:")
    print(f"  same question {same / len(losses):.1%}; within a tenth of the best {share:.1%};")
    print(f"  mean loss {statistics.mean(losses):.1%}")


def asked_in_vain(count: int) -> None:
    for tangled in (False, True):
        settled = vain = still_open = silent = 0
        for seed in range(count):
            dice = random.Random(seed)
            one = small_problems.scattered(
                dice, causes=dice.randint(1, 3), signs=dice.randint(2, 4), tangled=tangled
            )
            given = {fact.name: dice.choice(fact.expect)[0] for fact in one.signs if dice.random() < 0.4}
            is_asked = one.best(given) is not None
            if one.is_settled(given):
                settled, vain = settled + 1, vain + is_asked
            else:
                still_open, silent = still_open + 1, silent + (not is_asked)
        print(f"groups {'across signs' if tangled else 'of one sign each'}:")
        print(f"  settled {settled}, asked in vain {vain}; open {still_open}, not asked {silent}")


def on_the_shipped_rules(count: int) -> None:
    book = rulebook.load()
    infer = PlainEvaluator(rulebook.clauses(book)).evaluate
    questions, times_ms = [], []
    for seed in range(count):
        dice, talk = random.Random(seed), Talk(book, infer)
        talk.tell({"catch.course": legal_facts.drawn(book.facts["catch.course"], dice)})
        asked = 0
        while talk.reply.ask is not None:
            fact = book.facts[talk.reply.ask.fact]
            answer = UNKNOWN if dice.random() < 0.3 else legal_facts.drawn(fact, dice)
            began = time.perf_counter()
            talk.pick(answer)
            times_ms.append(1000 * (time.perf_counter() - began))
            asked += 1
        questions.append(asked)
    times_ms.sort()
    late_ms = times_ms[int(0.99 * len(times_ms))]
    print(f"shipped rules, {count} random consultations:")
    print(f"  questions median {statistics.median(questions):g}, most {max(questions)}")
    print(f"  a turn in-process p50 {statistics.median(times_ms):.2f} ms, p99 {late_ms:.2f} ms")


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    against_the_best_tree(count // 4)
    when_shaken("weights 7 to 26 dB", count, lambda dice: small_problems.whole_strengths(
        dice, (7, 11, 18, 26), causes=dice.randint(2, 5), signs=dice.randint(3, 7)))  # fmt: skip
    when_shaken("weights 2 to 26 dB", count, lambda dice: small_problems.whole_strengths(
        dice, (2, 4, 7, 11, 18, 26), causes=dice.randint(2, 5), signs=dice.randint(3, 7)))  # fmt: skip
    when_shaken("weights of any size", count, lambda dice: small_problems.scattered(
        dice, causes=dice.randint(1, 4), signs=dice.randint(2, 6)))  # fmt: skip
    asked_in_vain(count)
    on_the_shipped_rules(count // 4)


if __name__ == "__main__":
    main()
