"""Valid jobs of every kind, changed by meaning until the solver meets what nobody thought of.

    python -m tests.faults.fuzzer --seconds 60 --seed 1           # in CI
    python -m tests.faults.fuzzer --seconds 600 --seed 7 --keep found
    python -m tests.faults.fuzzer --seed 7 --case 123             # one of them again

A case is a job of the tests or the demos with a few changes: an effect turned round, a reading or a window that is
another's, a drawer that runs short, a balance more, levels in another order. It may be refused, with a word for every
problem. If not, it is planned, ordered and told in every way, and nothing else may come of it: no fault of our own, no
error of another kind, nothing that goes on beyond its time.
"""

from __future__ import annotations

import argparse
import csv
import io
import shutil
import signal
import sys
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any

import tomlkit

from shimopt.errors import InputError
from shimopt.job import Job, load_job
from shimopt.job.levels import Level
from shimopt.ordering.order import make_order
from shimopt.planner import decide
from shimopt.render.json.order_json import order_object
from shimopt.render.json.plan_json import plan_object
from shimopt.render.json.results_json import json_text
from shimopt.render.papers.letter import letter_content
from shimopt.render.papers.sheet import card_content, sheet_content
from shimopt.render.papers.typeset import page_of
from shimopt.render.pictures.gap_picture import job_picture
from shimopt.render.screens.layout import UNICODE
from shimopt.render.screens.order_screen import order_lines
from shimopt.render.screens.plan_screen import screen_lines
from shimopt.render.screens.short_screen import short_lines
from shimopt.render.screens.why_screen import short_why_lines, why_lines
from shimopt.watch import Watch

ROOT = Path(__file__).parents[2]
JOBS = sorted([*(ROOT / "demo_data").glob("*/job.toml"), *(ROOT / "tests" / "data").glob("**/job.toml")])
_COUPLED = Path("coupled, drawn by lot", "job.toml")
# CPU seconds that planning is given, and after which whatever is still going on is a finding
_GIVEN, _LONGEST = 4.0, 25
Document = dict[str, Any]
Rows = list[dict[str, str]]


def _some(chance: Random, found: list[Any]) -> Any:
    return chance.choice(found) if found else None


def _listed(job: Document, key: str) -> list[Any]:
    found = job.get(key)
    return list(found) if isinstance(found, list) else []


def _numbers(value: Any, where: tuple[Any, ...] = ()) -> Iterator[tuple[Any, Any]]:
    """Every number in a table, with what holds it and under which key."""
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in list(pairs):
        if isinstance(inner, bool):
            continue
        if isinstance(inner, int | float):
            yield value, key
        else:
            yield from _numbers(inner, (*where, key))


def _scaled(chance: Random, job: Document) -> None:
    """A number of a gap or of the window, a little or far off."""
    tables = [*_listed(job, "gap"), *([job["window"]] if "window" in job else [])]
    if (found := _some(chance, list(_numbers(tables)))) is not None:
        holder, key = found
        factor = chance.choice([0, -1, 0.5, 0.9, 1.1, 2, 3, 10, 25.4])
        holder[key] = round(holder[key] * factor, 4) if isinstance(holder[key], float) else round(holder[key] * factor)


def _swapped(chance: Random, job: Document) -> None:
    """What one gap has is what another has."""
    gaps = _listed(job, "gap")
    if len(gaps) > 1:
        one, other = chance.sample(gaps, 2)
        keys = [key for key in one if key in other and key != "name"]
        if key := _some(chance, keys):
            one[key], other[key] = tomlkit.item(other[key].unwrap()), tomlkit.item(one[key].unwrap())


def _turned(chance: Random, job: Document) -> None:
    """An effect turned round, made another, or taken away."""
    with_effects = [gap["effects"] for gap in _listed(job, "gap") if gap.get("effects")]
    if (effects := _some(chance, with_effects)) is not None:
        place = chance.choice(list(effects))
        effects[place] = chance.choice([-1, 1, "1/3", "-1/3", -0.68, 0.5, 2, 0.000001])


def _balanced(chance: Random, job: Document) -> None:
    names = [gap["name"] for gap in _listed(job, "gap")]
    if len(names) > 1:
        some = chance.sample(names, chance.randint(2, len(names)))
        balance: Document = {"name": f"more {chance.random()}", "gaps": some}
        if chance.random() < 0.5:
            balance["within"] = chance.choice([0, 0.01, 1, 5])
        job.setdefault("balance", tomlkit.aot()).append(tomlkit.item(balance))


def _ordered(chance: Random, job: Document) -> None:
    job["priority"] = [level.value for level in chance.sample(list(Level), chance.randint(1, 4))]


def _allowed(chance: Random, job: Document) -> None:
    """More or fewer pieces, in all stacks or at a place."""
    place = _some(chance, _listed(job, "place"))
    if place is not None and chance.random() < 0.7:
        least = chance.choice([0, 0, 1, 2])
        place["pieces"] = {"min": least, "max": least + chance.randint(0, 3)}
        place["keep"] = chance.random() < 0.5
    else:
        job["stacks"] = {"most_pieces": chance.randint(1, 5)}


def _dropped(chance: Random, job: Document) -> None:
    gaps = job.get("gap")
    if isinstance(gaps, list) and len(gaps) > 1:
        del gaps[chance.randrange(len(gaps))]


def _doubled(chance: Random, job: Document) -> None:
    gaps = job.get("gap")
    if isinstance(gaps, list) and gaps:
        twin = chance.choice(gaps).unwrap()
        twin["name"] = f"twin {chance.random()}"
        gaps.append(tomlkit.item(twin))


def _final(chance: Random, job: Document) -> None:
    key = chance.choice(["shift", "final_reading", "micrometer"])
    job[key] = chance.choice(["0.001 mm", "0.01 mm", "0.2 mm", "5 mm"])


def _decided(chance: Random, job: Document) -> None:
    job["decision"] = chance.choice(["worst case", "95 %", "best"])


def _one_sided(chance: Random, job: Document) -> None:
    windows = [gap["window"] for gap in _listed(job, "gap") if gap.get("window")]
    windows += [job["window"]] if "window" in job else []
    if (window := _some(chance, windows)) is not None:
        window[chance.choice(["min", "max"])] = "none"


_OF_JOBS: tuple[Callable[[Random, Document], None], ...] = (
    *(_scaled, _scaled, _swapped, _turned, _turned, _balanced, _ordered, _allowed, _dropped, _doubled),
    *(_final, _decided, _one_sided),
)


def _changed_rows(chance: Random, rows: Rows) -> None:
    """A drawer or catalogue that holds less, more, or other sizes."""
    row = chance.choice(rows)
    sizes = [name for name in row if name and name.startswith(("thickness", "measured", "tolerance"))]
    match chance.randrange(5):
        case 0 if "on_hand" in row:
            row["on_hand"] = chance.choice(["0", "1", "2", "40"])
        case 1 if sizes:
            column = chance.choice(sizes)
            row[column] = _times(row[column], chance.choice([0.5, 0.97, 1.03, 2]))
        case 2 if "price" in row:
            row["price"] = chance.choice(["", "0", "0.01", "999"])
        case 3:
            rows.append({**row, "part": f"{row.get('part', '')} x"})
        case _:
            rows.remove(row)


def _times(cell: str, factor: float) -> str:
    try:
        return f"{float(cell) * factor:.4f}"
    except ValueError:
        return cell


def write_coupled(folder: Path, chance: Random) -> None:
    """A few gaps that a few places move together, each by its own effect, from a drawer of a few sizes."""
    folder.mkdir()
    places = [f"p{number}" for number in range(chance.randint(2, 4))]
    text = 'unit = "mm"\ndrawer = "drawer.csv"\nwindow = { min = 0.1, max = 0.2, source = "drawn by lot" }\n'
    text += "".join(f'[[place]]\nname = "{place}"\n' for place in places)
    for number in range(chance.randint(2, 4)):
        moved = chance.sample(places, chance.randint(2, len(places)))
        effects = ", ".join(f"{place} = {chance.choice(('-1', '1', '-0.68', '0.5'))}" for place in moved)
        reading = f"{chance.randrange(-20, 90) / 100} mm ± 0.0{chance.randint(0, 3)} mm"
        text += f'[[gap]]\nname = "g{number}"\nvalue = "{reading}"\neffects = {{ {effects} }}\n'
    sizes = chance.sample([0.02, 0.03, 0.05, 0.07, 0.1, 0.15, 0.2, 0.3, 0.5], chance.randint(2, 7))
    rows = "".join(f"S-{size},{size},0.00{chance.randint(0, 5)},{chance.choice((1, 2, 4, 9))}\n" for size in sizes)
    (folder / "job.toml").write_text(text, encoding="utf-8")
    (folder / "drawer.csv").write_text(f"part,thickness_mm,tolerance_mm,on_hand\n{rows}", encoding="utf-8")


def write_case(folder: Path, seed: int, case: int) -> Path:
    """The job of a case, in a folder: the same for the same seed and number."""
    chance = Random(f"{seed}/{case}")
    source = chance.choice([*JOBS, *[_COUPLED] * (len(JOBS) // 3)])
    if source == _COUPLED:
        write_coupled(folder, chance)
    else:
        shutil.copytree(source.parent, folder)
    job = tomlkit.parse((folder / "job.toml").read_text(encoding="utf-8"))
    for _ in range(chance.randint(1, 4)):
        chance.choice(_OF_JOBS)(chance, job)
    (folder / "job.toml").write_text(tomlkit.dumps(job), encoding="utf-8")
    for table in sorted(folder.glob("*.csv")):
        if chance.random() < 0.5:
            rows = list(csv.DictReader(io.StringIO(table.read_text(encoding="utf-8"))))
            columns = list(rows[0]) if rows else []
            for _ in range(chance.randint(1, 3)):
                if rows:
                    _changed_rows(chance, rows)
            with open(table, "w", encoding="utf-8", newline="") as file:
                writer = csv.DictWriter(file, columns, extrasaction="ignore")
                writer.writeheader()
                writer.writerows(rows)
    return source


def tell_all(job: Job, buy: bool) -> None:
    """Plan a job and order for it, and tell it in every way."""
    plan = decide(job, buy=buy, watch=Watch(seconds=_GIVEN, steps=2_000))
    json_text(plan_object(plan))
    for width in (60, 100):
        screen_lines(plan, job.unit, width, UNICODE)
        short_lines(plan, job.unit, width, UNICODE)
        short_why_lines(plan, job.unit, width)
        why_lines(plan, list(job.gap), "mm", width)
    for content in (letter_content(plan, job.unit, "2026-05-03"), sheet_content(plan, job.unit, "2026-05-03")):
        page_of(content)
    job_picture(plan, job.unit)
    order = make_order([job], watch=Watch(seconds=_GIVEN, steps=2_000))
    json_text(order_object(order))
    order_lines(order, job.unit, 80)
    page_of(card_content(order, job.unit, "2026-05-03"))


class _TooLongError(Exception):
    """What is still going on long after its time."""


@contextmanager
def _within(seconds: int) -> Iterator[None]:
    def ended(*_: object) -> None:
        raise _TooLongError(f"still going on after {seconds} CPU seconds")

    before = signal.signal(signal.SIGVTALRM, ended)
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


def wrong_with(folder: Path, buy: bool) -> tuple[str, bool]:
    """What is wrong with how a job is answered, empty for nothing; and whether it was planned, not refused."""
    try:
        with _within(_LONGEST):
            tell_all(load_job(folder), buy)
    except InputError as error:
        dumb = [p for p in error.problems if not (p.rule and p.remedy) or "\n" in str(p)]
        return (f"a problem without its words: {dumb[0]!r}" if dumb or not error.problems else ""), False
    except Exception:
        return traceback.format_exc(limit=-3), True
    return "", True


def main() -> int:
    """Try cases until the time is over; 1 where something is wrong with any."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--seconds", type=float, default=60)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--cases", type=int, default=10**9, help="so many cases at most: the same on every machine")
    asked.add_argument("--case", type=int)
    asked.add_argument("--keep", type=Path, help="keep the jobs that something is wrong with below this folder")
    call = asked.parse_args()
    ends, planned, found, slowest = time.monotonic() + call.seconds, 0, 0, (0.0, 0)
    case = call.case or 0
    while time.monotonic() < ends and (call.case is not None or case < call.cases):
        with TemporaryDirectory() as work:
            folder = Path(work) / "job"
            source = write_case(folder, call.seed, case)
            begun = time.process_time()
            wrong, was_planned = wrong_with(folder, buy=case % 2 == 1)
            slowest = max(slowest, (time.process_time() - begun, case))
            planned += was_planned
            if wrong:
                found += 1
                print(f"seed {call.seed}, case {case} (from {source.parent.name}): {wrong}", flush=True)
                if call.keep is not None:
                    shutil.copytree(folder, call.keep / f"{call.seed}-{case}", dirs_exist_ok=True)
        if call.case is not None:
            break
        case += 1
    took = f"the slowest, {slowest[1]}, took {slowest[0]:.1f} CPU s"
    print(f"{case} cases, {planned} of them planned, {found} wrong; {took}")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
