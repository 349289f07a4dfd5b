"""What several tests stand on: the shipped rules, small rule bases, a conversation in-process."""

from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
import rule_folders
from hypothesis import settings
from rule_folders import NOW, PRICKED
from talks import BENCH, Infer, Talk

from coach import rulebook
from coach.engine import Engine
from coach.model import Rulebook
from coach.plain import PlainEvaluator

settings.register_profile("no clock", deadline=None)
settings.load_profile("no clock")


@pytest.fixture(scope="session")
def shipped() -> Rulebook:
    """The rule base that comes with the program."""
    return rulebook.load()


@pytest.fixture(scope="session")
def plain(shipped: Rulebook) -> Infer:
    """Inference on the shipped rules without the engine."""
    return PlainEvaluator(rulebook.clauses(shipped)).evaluate


@pytest.fixture
def small_rules(tmp_path: Path) -> Callable[..., Rulebook]:
    """Write a small rule base (see rule_folders.write) and load it."""
    made = iter(range(1000))
    return lambda *args, **parts: rulebook.load(
        rule_folders.write(tmp_path / f"rules{next(made)}", *args, **parts)
    )


@pytest.fixture
def talk(shipped: Rulebook, plain: Infer) -> Callable[..., Talk]:
    """Start a conversation: on the shipped rules, or on a rulebook with its plain evaluator."""

    def start(book: Rulebook | None = None, *, infer: Infer | None = None, now: datetime = NOW) -> Talk:
        if book is None:
            return Talk(shipped, infer or plain, now=now)
        return Talk(book, infer or PlainEvaluator(rulebook.clauses(book)).evaluate, now=now)

    return start


@pytest.fixture(scope="session")
def engine(shipped: Rulebook) -> Iterator[Infer]:
    """Inference on the shipped rules by the real engine, in this process."""
    with Engine(rulebook.clauses(shipped), isolated=False) as running:
        yield running.evaluate


@pytest.fixture
def bench(talk: Callable[..., Talk], small_rules: Callable[..., Rulebook]) -> Talk:
    """A conversation on the small rule base."""
    return talk(small_rules(facts=PRICKED, rules=BENCH))


@pytest.fixture
def started(bench: Talk) -> Talk:
    """The same, with the safety check behind it and the first sign asked."""
    bench.tell({"safety.all_clear": True})
    assert bench.reply.ask is not None
    return bench


@pytest.fixture
def harbour(tmp_path: Path, shipped: Rulebook, plain: Infer) -> Iterator[Any]:
    """The bot's office in-process (see boats)."""
    from boats import Harbour  # what only some tests need is loaded for those

    made = Harbour(tmp_path / "a.db", shipped, plain)
    yield made
    made.store.close()


@pytest.fixture
def ship(tmp_path: Path, shipped: Rulebook, plain: Infer) -> Iterator[Any]:
    """The page's server in-process (see browsers)."""
    from browsers import Ship

    made = Ship(tmp_path / "a.db", shipped, plain)
    yield made
    made.store.close()


@pytest.fixture
def browser(ship: Any) -> Any:
    """A browser that has followed the link."""
    return ship.browser()


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """The page in a process of its own (see pages)."""
    from pages import PageProcess

    with PageProcess(tmp_path_factory.mktemp("page")) as found:
        yield found


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    """A real browser, without a window."""
    from chromium import running_browser

    with running_browser() as found:
        yield found
