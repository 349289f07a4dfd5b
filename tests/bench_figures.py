"""How fast the calculators are. Run by hand: `python tests/bench_figures.py`. Prints, asserts nothing."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from coach.figures.command import numbers_file, read_rig  # noqa: E402
from coach.figures.counts import e_test_p, rate_drop  # noqa: E402
from coach.figures.harmonics import extremes  # noqa: E402
from coach.figures.looks import drop_watch  # noqa: E402
from coach.figures.nights import Where, ebb_of_legs, nights  # noqa: E402
from coach.figures.rates import change_point  # noqa: E402
from coach.figures.reclip import reclip_plan, stay_on  # noqa: E402
from coach.figures.sky import sky_day  # noqa: E402
from coach.figures.stations import tide_extremes, tide_stations  # noqa: E402
from coach.figures.tide import leg_between, legs_between  # noqa: E402

CALCULATORS = sorted(
    f"coach.figures.{file.stem}"
    for file in (ROOT / "coach/figures").glob("*.py")
    if not file.stem.startswith(("__", "show_", "command", "options"))
)


def fresh_ms(code: str) -> float:
    """Median time of a statement in seven new processes, in milliseconds."""
    timed = f"import time; t = time.perf_counter()\n{code}\nprint((time.perf_counter() - t) * 1000)"
    runs = [
        subprocess.run([sys.executable, "-c", timed], check=True, capture_output=True, text=True, cwd=ROOT)
        for _ in range(7)
    ]
    return statistics.median(float(run.stdout) for run in runs)


def each_ms(work: Callable[[], object], times: int = 20) -> float:
    """Median time of a call, in milliseconds."""
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        spent.append((time.perf_counter() - start) * 1000)
    return statistics.median(spent)


def main() -> None:
    """Print every figure of speed with what was promised for it."""
    rig, zone = read_rig(numbers_file()), ZoneInfo("America/New_York")
    start = datetime(2027, 2, 11, 18, tzinfo=UTC)
    tides = tide_stations()
    inlet = tides["8721147"]
    leg = leg_between(start, 4, low_at=start + timedelta(hours=6.2), low_ft=0)
    stay = stay_on(leg, 11, from_at=start, until_at=leg.end_at)
    rows = tide_extremes(inlet, start, until=start + timedelta(days=9), stations=tides)
    windows = list(ebb_of_legs(legs_between(rows), rig))
    here = Where(29.08, -80.93, zone)
    night = [12] * 30 + [3] * 6
    week = start + timedelta(days=7)
    lines = [
        ("import of all calculators", fresh_ms("import " + ", ".join(CALCULATORS)), "< 60 ms"),
        ("import of the command line", fresh_ms("import coach.figures.command"), ""),
        ("numpy or ephem loaded by that", fresh_modules(), "0"),
        (
            "first look at the stations",
            fresh_ms("from coach.figures import stations as s\ns.tide_stations()"),
            "",
        ),
        (
            "7 days of tide extremes",
            each_ms(lambda: extremes(inlet.constants, start, until=week, mean=inlet.mean_m)),
            "< 10 ms",
        ),
        (
            "plan of clipping again",
            each_ms(lambda: reclip_plan(stay, 3, rig, slack_ft=0.5, asked_until=leg.end_at)),
            "< 5 ms",
        ),
        (
            "one day of sun and moon",
            each_ms(lambda: sky_day(*here[:2], on=date(2027, 2, 11), zone=zone, dark_sun_deg=-12)),
            "",
        ),
        (
            "seven nights",
            each_ms(lambda: nights(here, date(2027, 2, 12), rig, count=7, windows=windows, extremes=rows)),
            "",
        ),
        ("drop, both tests", each_ms(lambda: rate_drop(30, 10, now_count=5, now_min=10)), ""),
        ("E-test alone", each_ms(lambda: e_test_p(5, 10, before_count=30, before_min=10)), ""),
        (
            "one more look at a night",
            each_ms(lambda: drop_watch(night, [10] * 36, false_alarm_share=0.05)),
            "",
        ),
        ("change point, 999 shuffles", each_ms(lambda: change_point(night, [10] * 36), 3), ""),
    ]
    for what, value, promised in lines:
        print(f"{what:<32}{value:9.3f}  {promised}")


def fresh_modules() -> float:
    """How many of the heavy libraries a plain figure brings in."""
    code = (
        "import sys; from coach.figures.command import run; run(['clip', '--depth-ft', '11', '--json']);"
        "print(sum(name in sys.modules for name in ('numpy', 'scipy', 'ephem')))"
    )
    run = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True, cwd=ROOT)
    return float(run.stdout.splitlines()[-1])


if __name__ == "__main__":
    main()
