"""Holding what a plan takes from the drawer: all of it or nothing, in place of what was held for the job before."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

from shimopt.errors import InputError
from shimopt.parts.part import Part
from shimopt.stock.job_id import is_gone
from shimopt.stock.ledger import Before, Entry, Given, append, is_known, today, whether_known
from shimopt.stock.lots import Lot, lots_of
from shimopt.stock.promises import Promise, ended, made, whose_promises
from shimopt.stock.stock_drawer import StockDrawer
from shimopt.stock.store import BrokenRuleError

# a hold lasts so many days where nobody says until when
_DAYS, _MOST_DAYS = 14, 366


@dataclass(frozen=True, slots=True)
class Lacking:
    """So many pieces of a part are wanted, and only so many are free."""

    part: Part
    wanted: int
    free: int


class PiecesGoneError(Exception):
    """Pieces that were free when they were looked at are no longer; nothing was held."""

    def __init__(self, lacking: tuple[Lacking, ...]) -> None:
        self.lacking = lacking
        super().__init__(", ".join(one.part.name for one in lacking))


def last_day(drawer: StockDrawer, said: str | None) -> str:
    """The last day of a hold: the one that was said, or in 14 days.

    Raises InputError where it is over already, or so far off that the pieces are as good as gone.
    """
    with drawer.store.reading() as within:
        first = today(within)
    if said is None:
        return (date.fromisoformat(first) + timedelta(days=_DAYS)).isoformat()
    if said > (most := (date.fromisoformat(first) + timedelta(days=_MOST_DAYS)).isoformat()):
        rule, remedy = "a hold lasts a year at most", f"name a day up to {most}, and hold again then"
        raise InputError.at("", rule, remedy, where="--until", value=said)
    if said < first:
        raise InputError.at("", "this day is over already", "name a later one", where="--until", value=said)
    return said


def hold(drawer: StockDrawer, pieces: Mapping[int, int], until: str, given: Given) -> bool:
    """Hold so many pieces of each lot for the job that asks, and let go what else was held for it.

    Whether anything changed: not where this was held until that day already, or was done under this request before.
    Raises PiecesGoneError where one is not free, StockError.
    """
    job, wanted = drawer.asking.job, {lot: count for lot, count in pieces.items() if count}
    try:
        with drawer.store.writing() as within:
            known, promises, *stands = within.answers(
                whether_known(given.request),
                whose_promises(drawer.number, job),
                *Before.asked(within, [sorted(wanted)], job),
            )
            if known:
                return False
            own, mine = [Promise(*row) for row in promises], Counter[int]()
            for promise in own:
                mine[promise.lot] += promise.pieces
            before = Before.of(stands)
            there = before.lots
            if any(count > there[lot].on_hand - there[lot].promised + mine[lot] for lot, count in wanted.items()):
                lots = {lot.id: lot for lot in lots_of(within, drawer.number, job)}
                raise PiecesGoneError(_lacking(lots, wanted))
            if mine == wanted and {promise.until for promise in own} <= {until}:
                return False
            first = ended(within, drawer.number, "freed", given, held=own) if own else []
            made(within, drawer.number, wanted, until, given, first=first, before=before)
    except BrokenRuleError:
        # nobody can be faster while this writes; the database has the last word
        raise PiecesGoneError(_lacking(_lots(drawer), pieces)) from None
    return True


def free(drawer: StockDrawer, given: Given) -> tuple[Entry, ...]:
    """Let go all that is held for the job that asks; what that was. Raises StockError.

    Also what is held for a job of the same title at this very place, or at one of this machine where it lies no
    longer: it was moved or brought back, and is this one.
    """
    with drawer.store.writing() as within:
        if is_known(within, given.request):
            return ()
        entries = ended(within, drawer.number, "freed", given)
        sql = "SELECT DISTINCT job, place FROM promise WHERE state = 'held' AND title = ? AND job <> ? ORDER BY job"
        for job, place in within.rows(sql, given.title, given.job):
            # of a job in no file nobody can tell
            if place and (place == given.place or is_gone(place)):
                entries += ended(within, drawer.number, "freed", replace(given, job=job))
        append(within, entries, given)
    return tuple(entries)


def _lots(drawer: StockDrawer) -> dict[int, Lot]:
    with drawer.store.reading() as within:
        return {lot.id: lot for lot in lots_of(within, drawer.number, drawer.asking.job)}


def _lacking(lots: Mapping[int, Lot], pieces: Mapping[int, int]) -> tuple[Lacking, ...]:
    wanted = ((lots[number], count) for number, count in sorted(pieces.items()))
    return tuple(Lacking(lot.part, count, lot.free) for lot, count in wanted if count > lot.free)
