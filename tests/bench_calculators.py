"""What each calculator is to the consultation. Run by hand: `python tests/bench_calculators.py`.

Takes one after the other away and prints how many situations then come out otherwise than they say, in
how many development cases a question, a cause or a number changes, and which scenes do. No test.
"""

import time

from calculators import KINDS, SCENES, broken, cases, forget, held, scene, situations, without

from coach import rulebook


def main() -> None:
    """Print the table."""
    book = rulebook.load()
    told, played = situations(book), cases()
    forget()
    as_is = [held(case, book) for case in played]
    scenes = {name: scene(facts, book) for name, facts in SCENES.items()}
    print(f"{len(told)} situations, {len(played)} cases, {len(scenes)} scenes")
    print(f"{'without':<12}{'situations':>11}{'cases':>7}  first thing that changes")
    for kind in KINDS:
        started = time.perf_counter()
        with without(kind):
            lost = list(broken(book, told))
            otherwise = [
                case["id"] for case, was in zip(played, as_is, strict=True) if held(case, book) != was
            ]
            changed = [name for name, facts in SCENES.items() if scene(facts, book) != scenes[name]]
        first = next(iter([*lost, *otherwise, *changed]), "NOTHING")
        took = time.perf_counter() - started
        print(f"{kind:<12}{len(lost):>11}{len(otherwise):>7}  {first}  [{took:.1f} s]")


if __name__ == "__main__":
    main()
