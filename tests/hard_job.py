"""A job that is hard on paper: forty gaps, long names, several scripts, and markup in all that a user types."""

from __future__ import annotations

import json
from pathlib import Path

NAMES = (
    "#strong[boom] *bold* _it_ $x^2$ <b>html</b> [red]rich[/red]",
    "Вал привода, верхний подшипник со стороны крана № 4",
    "Άξονας ανύψωσης",
    "Donaudampfschifffahrtsgesellschaftskapitänsmützenhalterungsbolzenlager",
    '#eval("1") & <script>alert(1)</script>',
)
TITLE = (
    "The <i>very</i> long conveyor #pagebreak() of the gravel works, all forty stations, second rebuild after the flood"
)
READINGS = (0.55, 0.42, 0.22, 0.90, 0.35, 0.31, 0.18, 0.75)


def gap_names(count: int = 40) -> list[str]:
    return [*NAMES, *(f"station {n:02d} of the long conveyor, drive side" for n in range(len(NAMES) + 1, count + 1))]


def write_hard_job(folder: Path, count: int = 40, title: str = TITLE) -> Path:
    """The job in a folder; readings repeat, so that some gaps get shims and others none."""
    lines = [
        f"title = {json.dumps(title, ensure_ascii=False)}",
        'unit = "mm"',
        'drawer = "drawer.csv"',
        'machine = "Conveyor \\"#let x = 1\\" & sons"',
        'owner = "Гравийный завод"',
        'customer = "A. <script>alert(1)</script>"',
        'notes = "The belt was changed. #set page(fill: red)"',
        '[window]\nmin = 0.2\nmax = 0.5\nsource = "works drawing 44-B"',
        '[[seat]]\nname = "plain"\nshaft = "40 mm ± 0.01 mm"',
    ]
    for number, name in enumerate(gap_names(count)):
        go = READINGS[number % len(READINGS)]
        lines.append(
            f'[[gap]]\nname = {json.dumps(name, ensure_ascii=False)}\nseat = "plain"\n'
            f"feeler = {{ go = {go}, no_go = {go + 0.05:.2f} }}"
        )
    (folder / "job.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (folder / "drawer.csv").write_text(
        "part,thickness_mm,tolerance_mm,inner_mm,on_hand,at\n"
        "S-<b>0.1</b>,0.1,+0/-0.02,40.1,20,tray 1\n"
        'S-0.2 #x,0.2,+0/-0.02,40.1,20,"tray 2, behind the big blue box"\n'
        "S-0.3,0.3,+0/-0.02,40.1,30,*tray* 3\n"
        "W-0.3,0.3,,42.5,9,bin\n",
        encoding="utf-8",
    )
    return folder
