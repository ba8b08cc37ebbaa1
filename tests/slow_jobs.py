"""Jobs that take far longer than a second: what holds their limits to account. All invented, all by a fixed seed."""

from __future__ import annotations

import random
from pathlib import Path

__all__ = ["write_order_of_sixty_sizes", "write_ring", "write_rows_that_come_out_alike", "write_singly_measured"]

_WINDOW = '[window]\nmin = 0.10\nmax = 0.14\nsource = "sheet 1"\n'


def write_singly_measured(folder: Path, pieces: int = 100, gaps: int = 12) -> Path:
    """A drawer of pieces of which no two are alike, and gaps that want two or three of them each."""
    draw = random.Random(1)
    rows = "part,piece,measured_mm,measuring_error_mm,on_hand,thickness_mm\n"
    rows += "".join(f"P,{n:03d},{draw.randrange(300, 500) / 1000:.3f},0.002,1,0.5\n" for n in range(pieces))
    (folder / "drawer.csv").write_text(rows, encoding="utf-8")
    window = '[window]\nmin = 0.10\nmax = 0.118\nsource = "sheet 1"\n'
    text = f'title = "Singly measured"\nunit = "mm"\ndrawer = "drawer.csv"\n{window}'
    for number in range(gaps):
        low = draw.randrange(1100, 1600) / 1000
        text += f'[[gap]]\nname = "g{number}"\nfeeler = {{ go = {low}, no_go = {low + 0.01:.3f} }}\n'
    text += '[[balance]]\nname = "all"\ngaps = [' + ", ".join(f'"g{n}"' for n in range(gaps)) + "]\n"
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return folder


def write_rows_that_come_out_alike(folder: Path, pieces: int = 100, gaps: int = 12) -> Path:
    """Singly measured pieces for rows of three gaps, each to come out alike within 0.004 mm: many ways, all alike."""
    draw = random.Random(7)
    rows = "part,piece,thickness_mm,measured_mm,measuring_error_mm,on_hand\n"
    for number in range(pieces):
        size = draw.choice((0.1, 0.15, 0.2, 0.3, 0.5, 1.0))
        rows += f"S-{size},p{number},{size},{size + draw.randrange(-20, 21) / 1000:.3f},0.002,1\n"
    (folder / "drawer.csv").write_text(rows, encoding="utf-8")
    text = 'title = "Rows"\nunit = "mm"\ndrawer = "drawer.csv"\n[window]\nmin = 0.10\nmax = 0.13\nsource = "own"\n'
    for number in range(gaps):
        text += f'[[gap]]\nname = "g{number}"\nvalue = "{draw.randrange(600, 1600) / 1000} mm ± 0.005 mm"\n'
    for first in range(0, gaps, 3):
        names = ", ".join(f'"g{n}"' for n in range(first, first + 3))
        text += f'[[balance]]\nname = "b{first}"\ngaps = [{names}]\nwithin = 0.004\n'
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return folder


def write_ring(folder: Path, places: int = 300) -> Path:
    """Every place moves its own gap and the next one's, so that all of them act together."""
    draw = random.Random(2)
    sizes = (0.05, 0.08, 0.1, 0.15, 0.2, 0.3, 0.5)
    (folder / "drawer.csv").write_text(
        "part,thickness_mm,on_hand\n" + "".join(f"S-{size},{size},{places}\n" for size in sizes), encoding="utf-8"
    )
    text = f'title = "A ring"\nunit = "mm"\ndrawer = "drawer.csv"\n{_WINDOW}'
    text += '[[seat]]\nname = "face"\nshaft = "16 mm"\n'
    for number in range(places):
        text += f'[[place]]\nname = "p{number}"\nseat = "face"\n'
    for number in range(places):
        low = draw.randrange(300, 900) / 1000
        text += (
            f'[[gap]]\nname = "g{number}"\nvalue = "{low} mm ± 0.01 mm"\n'
            f'effects = {{ "p{number}" = -1, "p{(number + 1) % places}" = 0.37 }}\n'
        )
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return folder


def write_order_of_sixty_sizes(folder: Path, gaps: int = 12, sizes: int = 60) -> Path:
    """An order of many sizes from four suppliers, each with postage and a smallest order."""
    draw = random.Random(3)
    suppliers = ("Harbour", "Mill", "Quarry", "Weir")
    (folder / "drawer.csv").write_text("part,thickness_mm,on_hand\nD-0.1,0.1,3\nD-0.2,0.2,2\n", encoding="utf-8")
    rows = "part,thickness_mm,tolerance_mm,price,pack,currency,supplier,lead_days\n"
    for number in range(sizes):
        for supplier in draw.sample(suppliers, 2):
            size, price = f"{0.05 + 0.01 * number:.2f}", draw.randrange(40, 400) / 100
            rows += f"C-{size},{size},0.003,{price},{draw.choice((1, 5, 10))},EUR,{supplier},{draw.randrange(2, 9)}\n"
    (folder / "catalogue.csv").write_text(rows, encoding="utf-8")
    text = 'title = "Sixty sizes"\nunit = "mm"\ndrawer = "drawer.csv"\ncatalogues = ["catalogue.csv"]\n'
    text += f'final_reading = "0.004 mm"\n{_WINDOW}'
    text += "".join(
        f'[[supplier]]\nname = "{name}"\npostage = {5 + n}.50\nsmallest_order = {10 * (n + 1)}\n'
        for n, name in enumerate(suppliers)
    )
    for number in range(gaps):
        low = draw.randrange(300, 1100) / 1000
        text += f'[[gap]]\nname = "g{number}"\nvalue = "{low} mm ± 0.04 mm"\n'
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return folder
