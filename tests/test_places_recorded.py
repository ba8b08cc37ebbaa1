"""A recorded job whose places held pieces, or act together, starts with what was recorded in them."""

from __future__ import annotations

import shutil
from collections import Counter
from pathlib import Path

import pytest
from click.testing import CliRunner

from shimopt.cli.main import cli
from shimopt.job import Job, load_job
from shimopt.planner import decide

DEMOS = Path(__file__).parents[1] / "demo_data"
READ = {
    "slipway-winch": ["preload=-0.03 mm ± 0.005 mm", "backlash=0.14 mm"],
    "twelve-valve": ["1 inlet=0.21 mm", "1 exhaust=0.31 mm", "3 inlet=0.19 mm", "4 exhaust=0.29 mm", "6 inlet=0.18 mm"],
}


@pytest.mark.parametrize("name", READ)
@pytest.mark.parametrize("drawer", [[], ["--update-drawer"]])
def test_after_recording_everything_stays_as_it_was_fitted(tmp_path: Path, name: str, drawer: list[str]) -> None:
    folder = Path(shutil.copytree(DEMOS / name, tmp_path / name))
    fitted = decide(load_job(folder))
    after = [text for reading in READ[name] for text in ("--after", reading)]
    told = ["--person", "M. Hale", "--instrument", "feeler gauge", "--date", "2026-05-04", *drawer]
    result = CliRunner().invoke(cli, ["record", str(folder), *after, *told])
    assert result.exit_code == 0, result.output
    again = decide(load_job(folder))
    assert again.outcome.doable
    assert again.moves == ()
    for place in fitted.job.places:
        held = [fitted.job.stock[i].part for i in fitted.stacks[place.name]]
        now = [again.job.stock[i].part for i in again.job.place[place.name].installed]
        assert [(p.name, p.piece, p.thickness) for p in now] == [(p.name, p.piece, p.thickness) for p in held]
    # what went from the drawer into the machine is no longer on hand, what was left over is; pieces without a tag are
    # counted with their like
    counts = Counter({i: line.on_hand for i, line in enumerate(fitted.job.stock)})
    for move in fitted.moves:
        counts[move.line] += (move.target == "drawer") - (move.source == "drawer")
    assert by_name(again.job, [line.on_hand for line in again.job.stock]) == by_name(
        fitted.job, [counts[i] for i in range(len(fitted.job.stock))]
    )


def by_name(job: Job, counts: list[int]) -> Counter[tuple[str, str | None]]:
    found: Counter[tuple[str, str | None]] = Counter()
    for line, count in zip(job.stock, counts, strict=True):
        found[line.part.name, line.part.piece] += count
    return +found
