"""Prints how good the choice of questions is, on small problems and on the cases, and how long it takes.

    python tests/bench_questions.py [PROBLEMS]       (default 400)

The cases of cases/dev_cases.json: the planner beside other orders that stop by the same rule, that is
once the planner finds nothing worth asking any more, or after as many questions (`most_questions`); and
once more with the cap at 15, to see how many each order needs. The orders: that of the file of questions;
by chance (seeds 0 to 4); the likeliest cause first (what would tell most about it alone). Every order
asks only what could still move some cause. Safety and what is asked once more are as they are.
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
from collections.abc import Callable, Sequence
from dataclasses import replace

import legal_facts
import play_inside
import small_problems
from play_inside import Core, Played
from small_problems import Problem
from talks import Talk

import coach.apparatus as tools
from coach import rulebook
from coach.diagnosis import Weighed, entropy_bits
from coach.model import UNKNOWN, Rulebook
from coach.plain import PlainEvaluator
from coach.questions import Case, Planner, Scored

MOST = 15
RANDOM_SEEDS = range(5)
Pick = Callable[["Ordered", Case, Sequence[Scored]], str]


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
        low, high = play_inside.resampled(ratios)
        print(f"  {name:18} {statistics.mean(ratios):.3f} of the best on average [{low:.3f}, {high:.3f}], "
              f"{max(ratios):.3f} at worst")  # fmt: skip


# --- on the cases ----------------------------------------------------------------------------------------


class Ordered(Planner):
    """The planner with another order: it stops when the planner would, but picks by `pick`."""

    def __init__(self, book: Rulebook, pick: Pick) -> None:
        made = tools.apparatus(book)
        super().__init__(book, made.figures, PlainEvaluator(rulebook.clauses(book)))
        self.pick = pick
        self.times_ms: list[float] = []

    def best(
        self, case: Case, *, factor: float = 1.0, likely_from: float = 0.0, found: tuple[str, ...] = ()
    ) -> str | None:
        began = time.process_time()
        chosen = super().best(case, factor=factor, likely_from=likely_from, found=found)
        self.times_ms.append(1000 * (time.process_time() - began))
        if chosen is None:
            return None
        return self.pick(self, case, [s for s in self.ranked(case) if s.bits > 0]) or chosen

    def bits_about(self, cause: str, scored: Scored, case: Case) -> float:
        """What the answer is expected to tell about this cause alone [bits], as often as answers come."""
        standing = self._evaluator.standing(case.known, case.inference)
        old, total, drop = case.weighed[cause].db, 0.0, 0.0
        for changes, weight in scored.candidate.outcomes:
            db = self._moved(changes, case, standing).get(cause, old)
            total, drop = total + weight, drop + weight * (entropy_bits(old) - entropy_bits(db))
        return drop / total if total else 0.0


def most_telling(_: Ordered, __: Case, scored: Sequence[Scored]) -> str:
    return ""


def as_written(planner: Ordered, _: Case, scored: Sequence[Scored]) -> str:
    order = list(planner._book.facts)
    return min((s.candidate.fact for s in scored), key=order.index, default="")


def by_chance(seed: int) -> Pick:
    dice = random.Random(seed)
    return lambda _, __, scored: dice.choice([s.candidate.fact for s in scored]) if scored else ""


def likeliest_first(planner: Ordered, case: Case, scored: Sequence[Scored]) -> str:
    """Of the likeliest cause about which anything can still be asked, what tells most."""
    for cause in sorted(case.weighed.values(), key=_by_odds):
        told = [(planner.bits_about(cause.cause, s, case), s.candidate.fact) for s in scored]
        if told and max(told)[0] > 1e-6:
            return max(told)[1]
    return ""


def _by_odds(weighed: Weighed) -> int:
    return -weighed.db


def in_order(book: Rulebook, pick: Pick, cases: Sequence[play_inside.Case]) -> tuple[list[Played], Ordered]:
    """The cases played with the questions in this order."""
    planner = Ordered(book, pick)
    tools._prepared[id(book)] = (book, replace(tools.apparatus(book), planner=planner))
    core = Core(book)
    return [core.play(case) for case in cases], planner


def on_the_cases() -> None:
    cases, shipped = play_inside.read_cases(), rulebook.load()
    times: list[float] = []
    for most in (int(shipped.asking["most_questions"]), MOST):
        print(f"dev_cases.json, {len(cases)} cases, at most {most} questions about the set and the water:")
        for name, picks in (
            ("most telling", [most_telling]),
            ("order of the file", [as_written]),
            ("random order", [by_chance(seed) for seed in RANDOM_SEEDS]),
            ("likeliest first", [likeliest_first]),
        ):
            of_pick = []
            for pick in picks:
                book = replace(shipped, asking={**shipped.asking, "most_questions": float(most)})
                played, planner = in_order(book, pick, cases)
                of_pick.append(played)
                times += planner.times_ms if pick is most_telling else []
            print_order(name, of_pick)
    middle, late = (play_inside.percentile(times, share) for share in (0.5, 0.95))
    print(f"choosing a question: p50 {middle:.2f} ms, p95 {late:.2f} ms of processor, {len(times)} times; "
          "bar 5 ms")  # fmt: skip


def print_order(name: str, played: Sequence[Sequence[Played]]) -> None:
    asked = [statistics.mean(len(p.asked) for p in of_case) for of_case in zip(*played, strict=True)]
    right = [statistics.mean(p.is_first_right for p in of_case) for of_case in zip(*played, strict=True)]
    (few, many), (low, high) = play_inside.resampled(asked), play_inside.resampled(right)
    every = [len(p.asked) for one in played for p in one]
    print(f"  {name:18} questions mean {statistics.mean(asked):5.2f} [{few:.2f}, {many:.2f}]  "
          f"median {statistics.median(every):g}  95 % within {play_inside.percentile(every, 0.95):g}  "
          f"right first {statistics.mean(right):.1%} [{low:.1%}, {high:.1%}]")  # fmt: skip


# --- on small problems -----------------------------------------------------------------------------------


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
    on_the_cases()
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
