"""What a plan takes from the shop's stock, promised to its job: one try, or let go again."""

from __future__ import annotations

from collections import Counter
from dataclasses import KW_ONLY, dataclass

from shimopt.arithmetic.changes import DRAWER
from shimopt.errors import InputError
from shimopt.job import Job
from shimopt.parts import Part
from shimopt.planner import Decision
from shimopt.stock.holding import Lacking, PiecesGoneError, free, hold
from shimopt.stock.stock_drawer import StockDrawer


@dataclass(frozen=True, slots=True)
class Holding:
    """What came of one try; everything is held, or nothing.

    `held` counts the pieces; `changed` is false where all of it was held so already. Nothing is held where the plan is
    not `doable`, where pieces are not in the stock (`strange`), or some are `gone` (`lacking` says which): then it is
    planned again.
    """

    doable: bool
    held: tuple[tuple[Part, int], ...] = ()
    _: KW_ONLY
    changed: bool = False
    strange: tuple[Part, ...] = ()
    gone: bool = False
    lacking: tuple[Lacking, ...] = ()


def stock_of(job: Job) -> StockDrawer:
    """The stock's drawer that a job names. Raises InputError where it names a file, or none."""
    if isinstance(job.drawer_of, StockDrawer):
        return job.drawer_of
    rule = "nothing can be held here: the job's drawer is a list, and lists promise no piece to anybody"
    remedy = 'write drawer = "stock:main" into the job; how a list becomes a stock: shimopt help stock'
    raise InputError.at(job.inputs[0] if job.inputs else "", rule, remedy, where="drawer")


def hold_plan(plan: Decision, drawer: StockDrawer, until: str, *, person: str = "", request: str = "") -> Holding:
    """Hold what a plan takes from the stock, until the end of a day; the same request twice holds once.

    Raises StockError.
    """
    if not plan.doable:
        return Holding(False)
    lines = [plan.job.stock[piece.line] for piece in plan.changes.going_in(DRAWER)]
    pieces = Counter(line.row for line in lines if line.row is not None)
    if strange := tuple(line.part for line in lines if line.row is None):
        return Holding(True, strange=strange)
    try:
        changed = hold(drawer, pieces, until, drawer.asking.given(request, who=person))
    except PiecesGoneError as gone:
        return Holding(True, gone=True, lacking=gone.lacking)
    held = ((line.part, pieces[line.row]) for line in plan.job.stock if line.row is not None and pieces[line.row])
    return Holding(True, tuple(held), changed=changed)


def let_go(drawer: StockDrawer, *, person: str = "", request: str = "") -> list[tuple[Part, int]]:
    """Let go all that is held for the job that asks, and say what that was. Raises StockError."""
    lots = {lot.id: lot.part for lot in drawer.lots()}
    entries = free(drawer, drawer.asking.given(request, who=person))
    found = Counter({entry.lot: -entry.held for entry in entries if entry.lot is not None})
    return [(lots[lot], count) for lot, count in found.items()]
