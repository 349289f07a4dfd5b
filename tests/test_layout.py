"""The shape of the code: who may import whom, who knows what, and where things stand.

Read from the source text; nothing is imported.
"""

import ast
import re
import sys
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any, TypeGuard

import pytest

ROOT = Path(__file__).resolve().parent.parent
CODE = ROOT / "coach"
SCHOOL = (
    *("asking", "afterwards", "bank", "blame", "chart", "choosing", "deeds", "duty", "entries", "gate"),
    *("introducing", "kept", "keys", "kitchen", "lesson", "marking", "moments", "nights", "notes"),
    *("numbers", "parts", "pictured", "progress", "rail", "reading", "roleplay", "signs", "slips"),
    *("state", "sums", "texts", "told"),
)
"""The parts of the school that lean on the core, on pictures and on trips."""
LAYERS = (
    ("model",),
    ("conversation",),
    ("clauses", "wording", "topics", "figures", "language", "undo", "tables", "forgotten", "answering"),
    ("folders",),
    tuple(f"school.{part}" for part in ("cards", "difficulty", "memory", "schedule", "spacing")),
    ("plain", "diagnosis", "legal", "clearing", "followup", "counting", "places", "typed"),
    ("sums",),
    ("worked_out",),
    ("rulebook", "explain", "advice", "engine", "reminders", "watching"),
    ("questions", "trips.changes"),
    ("apparatus",),
    ("consultation",),
    tuple(f"rulebook.{part}" for part in ("check", "coverage", "possible", "situations", "uses", "view")),
    ("doubts", "doubting"),
    ("verdict",),
    ("turn",),
    ("commands",),
    ("dialogue",),
    ("exchange", "store"),
    ("consult",),
    tuple(f"school.{part}" for part in SCHOOL),
    ("front",),
    ("__main__",),
)  # fmt: skip
"""From the bottom up. A module imports from layers below its own; of its own layer, only from its package.
What is not listed stands around the core, as high as `consult`: nothing of the core may know it."""
AROUND = next(at for at, names in enumerate(LAYERS) if "consult" in names)

NOT_PURE = {
    "time",
    "random",
    "socket",
    "ssl",
    "os",
    "subprocess",
    "sqlite3",
    "urllib",
    "http",
    "threading",
    "secrets",
    "uuid",
    "asyncio",
}
SHELL = (
    "exchange",
    "store",
    "consult",
    "folders",
    "typed",
    "front",
    "__main__",
    "engine",
    "figures.command",
    "figures.options",
    "rulebook",
)
"""What may look at clocks, files or processes, with the commands of the calculators (figures.show_...).
All else is the core."""


def name_of(file: Path) -> str:
    """The module's name without "coach."."""
    parts = file.relative_to(CODE).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {name_of(file): file for file in sorted(CODE.rglob("*.py"))}


@cache
def tree(module: str) -> ast.Module:
    return ast.parse(MODULES[module].read_text(encoding="utf-8"))


def imported(module: str) -> Iterator[str]:
    """Full names of everything the module imports, also within functions."""
    for node in ast.walk(tree(module)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}: relative imports hide where things come from"
            assert node.module is not None
            whole = [f"{node.module}.{alias.name}" for alias in node.names]
            yield from (name if is_module_or_dice(name) else str(node.module) for name in whole)


def is_module_or_dice(name: str) -> bool:
    return name.removeprefix("coach.") in MODULES or name == "random.Random"


def ours(module: str) -> set[str]:
    """The modules of ours that it imports, without "coach."."""
    return {name.removeprefix("coach.") for name in imported(module) if name.startswith("coach.")}


def entry(module: str) -> str | None:
    """The longest entry of LAYERS that the module belongs to."""
    fits = [each for layer in LAYERS for each in layer if module == each or module.startswith(f"{each}.")]
    return max(fits, key=len, default=None)


def layer(module: str) -> int:
    return next((at for at, names in enumerate(LAYERS) if entry(module) in names), AROUND)


def is_part_of(module: str, parts: tuple[str, ...]) -> bool:
    return any(module == part or module.startswith(f"{part}.") for part in parts)


def is_shell(module: str) -> bool:
    return is_part_of(module, SHELL) or module.startswith("figures.show_") or entry(module) is None


def strings(module: str) -> Iterator[tuple[int, str]]:
    """Texts in the code with their lines, docstrings left out."""
    docs = {
        id(node.value)
        for node in ast.walk(tree(module))
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    for node in ast.walk(tree(module)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs:
            yield node.lineno, node.value


# --- who may import whom -------------------------------------------------------------------------------


@pytest.mark.parametrize("module", [name for name in MODULES if name])
def test_imports_point_downwards_only(module: str) -> None:
    package = module.partition(".")[0]
    upwards = {
        other
        for other in ours(module)
        if layer(other) > layer(module)
        or (layer(other) == layer(module) and not is_part_of(other, (package,)) and entry(module) is not None)
    }
    assert not upwards


def test_no_modules_import_each_other_in_a_ring() -> None:
    left = {
        module: {other for other in ours(module) if other in MODULES and other != module}
        for module in MODULES
    }
    while free := [module for module, needs in left.items() if not needs & left.keys()]:
        for module in free:
            del left[module]
    assert not left


def test_only_one_module_knows_the_inference_engine() -> None:
    assert [module for module in MODULES if any("durable" in name for name in imported(module))] == [
        "engine.matcher"
    ]


def test_only_the_store_knows_the_database() -> None:
    assert {module for module in MODULES for name in imported(module) if name.startswith("sqlite_utils")} == {
        "store"
    }


def test_nobody_imports_a_front_end() -> None:
    assert not [
        module
        for module in MODULES
        if not is_part_of(module, ("front", "__main__"))
        and any(is_part_of(other, ("front",)) for other in ours(module))
    ]


IMPORTED_AS = {"durable_rules": "durable_rules_engine", "python_telegram_bot": "telegram"}
"""Libraries whose import has another name."""


def test_only_declared_libraries_are_imported() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = [
        each for name, needs in project["optional-dependencies"].items() if name != "dev" for each in needs
    ]
    names = [
        re.split(r"[^\w-]", each)[0].replace("-", "_").lower() for each in (*project["dependencies"], *extras)
    ]
    used = {name.split(".")[0] for module in MODULES for name in imported(module)}
    assert used <= {*sys.stdlib_module_names, "coach", *(IMPORTED_AS.get(name, name) for name in names)}


@pytest.mark.parametrize("module", [name for name in MODULES if name and not is_shell(name)])
def test_the_core_has_no_clock_no_dice_no_files_and_no_network(module: str) -> None:
    dice_with_a_seed = {"random.Random"}
    assert not {name.split(".")[0] for name in set(imported(module)) - dice_with_a_seed} & NOT_PURE
    calls = [node.func for node in ast.walk(tree(module)) if isinstance(node, ast.Call)]
    called = {f"{func.value.id}.{func.attr}" for func in calls if is_dotted(func)}
    clocks = {f"{kind}.{name}" for kind in ("datetime", "date") for name in ("now", "today", "utcnow")}
    assert not called & clocks
    assert "open" not in {func.id for func in calls if isinstance(func, ast.Name)}


def is_dotted(func: ast.expr) -> TypeGuard[Any]:
    return isinstance(func, ast.Attribute) and isinstance(func.value, ast.Name)


# --- knowledge of the trade stands in rules/ ---------------------------------------------------------------

CALCULATORS = (
    "figures",
    "sums",
    "worked_out",
    "advice",
    "counting",
    "watching",
    "reminders",
    "pictures",
    "places",
    "trips",
    "card",
    "school.sums",
)
"""What makes figures, times and pictures of facts, or facts of tallies, has to know them by name."""
MEASURES = ("language.units", "pictures", "card")
"""What a mile is, or a foot on paper, is no number of the trade."""
MEETING_POINTS = {"chat.open", "something.is_wrong", "all.seems_well", "all.looks_right"}
"""The facts through which the core and the rules meet: a consultation goes on; how things stand."""


def rules(file: str) -> dict[str, dict[str, object]]:
    return tomllib.loads((ROOT / "rules" / file).read_text(encoding="utf-8"))


@cache
def names_of_the_trade() -> frozenset[str]:
    """Every fact, cause, hazard and set-up by name."""
    worked = rules("worked_out.toml")
    worked.pop("outlook", None)
    facts = {*rules("facts.toml"), *worked} - MEETING_POINTS
    each = {
        name.replace("lamp.", f"{lamp}.", 1)
        for name in facts
        for lamp in ("left", "right")
        if name.startswith("lamp.")
    }
    head = rules("causes.toml")
    return frozenset(
        facts
        | each
        | {*head["cause"], *head["hazard"], *head["set"]}
        - {"fog", "traffic", "dragging", "grounding", "ring"}
    )


@pytest.mark.parametrize("module", [name for name in MODULES if not is_part_of(name, CALCULATORS)])
def test_no_fact_cause_hazard_or_set_up_is_named_in_code_outside_the_calculators(module: str) -> None:
    found = {
        (line, name)
        for line, text in strings(module)
        for name in re.findall(r"[a-z][a-z_]*(?:[.-][a-z0-9_]+)+", text)
        if name in names_of_the_trade()
    }
    assert not found


@pytest.mark.parametrize("module", [name for name in MODULES if not is_part_of(name, CALCULATORS + MEASURES)])
def test_no_number_of_the_trade_stands_in_code_outside_the_calculators(module: str) -> None:
    # a number of the trade has a unit: no constant that is named after one is given a number
    unit = re.compile(r"_(ft|kn|lb|lbs|volts|fathoms|jumps|gallons)$", re.IGNORECASE)
    held = []
    for node in ast.walk(tree(module)):
        targets = (
            node.targets
            if isinstance(node, ast.Assign)
            else [node.target]
            if isinstance(node, ast.AnnAssign)
            else []
        )
        value = getattr(node, "value", None)
        if isinstance(value, ast.Constant) and isinstance(value.value, int | float):
            held += [
                target.id for target in targets if isinstance(target, ast.Name) and unit.search(target.id)
            ]
    assert not held


# --- layout ----------------------------------------------------------------------------------------------


def test_the_checkout_holds_what_the_map_says() -> None:
    for name in ("coach", "rules", "rules/words", "tests", "tests/cases", "transcripts_demo"):
        assert (ROOT / name).is_dir()
    for name in ("README.md", "DEVELOPERS.md", "pyproject.toml", "coach/py.typed"):
        assert (ROOT / name).is_file()
    assert not list(ROOT.glob("*.py"))
    assert not [file for file in (ROOT / "rules").rglob("*") if file.is_file() and file.suffix != ".toml"]


def test_the_map_for_developers_names_every_part() -> None:
    told = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    parts = {f"{file.name}/" if file.is_dir() else file.name for file in CODE.iterdir()}
    parts -= {"__pycache__/", "__init__.py", "__main__.py", "py.typed"}
    assert not {part for part in parts if part not in told}
    assert not {file.stem for file in (ROOT / "rules").glob("*.toml") if file.stem not in told}


def test_the_core_stands_in_one_place() -> None:
    (step,) = [
        node for node in tree("dialogue").body if isinstance(node, ast.FunctionDef) and node.name == "step"
    ]
    assert [argument.arg for argument in step.args.args] == ["session", "message"]
    assert {argument.arg for argument in step.args.kwonlyargs} == {"now", "book", "infer"}
    assert not step.args.defaults
    assert step.args.kw_defaults == [None, None, None]


def public(
    body: list[ast.stmt], inside: str = ""
) -> Iterator[tuple[str, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef]]:
    for node in body:
        if isinstance(
            node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef
        ) and not node.name.startswith("_"):
            yield f"{inside}{node.name}", node
            if isinstance(node, ast.ClassDef):
                yield from public(node.body, f"{node.name}.")


@pytest.mark.parametrize("module", list(MODULES))
def test_every_public_function_and_class_says_what_it_is(module: str) -> None:
    found = list(public(tree(module).body))
    told_by_base = {name.partition(".")[2] for name, node in found if "." in name and ast.get_docstring(node)}
    silent = [
        name
        for name, node in found
        if not ast.get_docstring(node) and name.partition(".")[2] not in told_by_base
    ]
    assert not silent


@pytest.mark.parametrize("module", [name for name in MODULES if MODULES[name].stat().st_size])
def test_every_module_says_what_it_is_for(module: str) -> None:
    assert ast.get_docstring(tree(module))


def test_no_default_reads_the_clock() -> None:
    for module in MODULES:
        for node in ast.walk(tree(module)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
                defaults = [
                    each for each in (*node.args.defaults, *node.args.kw_defaults) if each is not None
                ]
                called = {n.attr for each in defaults for n in ast.walk(each) if isinstance(n, ast.Attribute)}
                assert not called & {"now", "today", "utcnow", "time", "monotonic"}, module
