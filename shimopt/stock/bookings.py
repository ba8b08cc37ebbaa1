"""Bookings of pieces by name: scrapped, ordered, arrived."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shimopt.errors import InputError, Problem, nearest_name, writable
from shimopt.parts.drawer import Held
from shimopt.parts.part import Part, StockLine
from shimopt.stock.ledger import Entry, Given, append, is_known
from shimopt.stock.lots import Lot, add_lot, drawer_number, in_use, known_drawer, lots_of
from shimopt.stock.promises import held_for_others
from shimopt.stock.store import BrokenRuleError, StockError, Store, Transaction
from shimopt.stock.told_of import dues_of
from shimopt.tables.columns import MOST_PIECES

_PIECES = re.compile(r"(?P<part>.+?)(?:\s*\[(?P<piece>[^\[\]]+)\])?\s*=\s*(?P<count>-?\d{1,7})")
_LOOK = "look again: shimopt stock show"


@dataclass(frozen=True, slots=True)
class Booked:
    """What was booked for one part: on hand and on order before, and by how much each changed."""

    part: Part
    on_hand: int
    on_order: int
    moved: int
    due: int


def booked(
    store: Store, drawer: str, kind: str, texts: Sequence[str], given: Given, new: Mapping[str, Part]
) -> list[Booked]:
    """Book pieces, each as `S-10=3` or `S-30 [t7]=1`: "scrapped", "ordered" (`S-10=-3`: no longer) or "arrived".

    Parameter: new, parts by name that may be ordered though none was ever on hand. Raises InputError with all that is
    wrong; nothing is booked then.
    """
    try:
        with store.writing() as within:
            # what comes may come before anything was taken in, but a slip in a name makes no second drawer
            if kind == "scrapped" or within.rows("SELECT 1 FROM drawer LIMIT 1"):
                number = known_drawer(within, drawer, store.name)
            else:
                number = drawer_number(within, drawer, create=True) or 0
            if is_known(within, given.request):
                return []
            lots = in_use(lots_of(within, number))
            wanted = _wanted(within, number, texts, lots, None if kind == "scrapped" else new, less=kind == "ordered")
            held = tuple(held_for_others(within, number, ""))
            dues = dues_of(within, number) if given.job else {}
            done, entries, problems = [], [], []
            for lot, count in wanted:
                moved = {"scrapped": -count, "arrived": count}.get(kind, 0)
                due = {"ordered": count, "arrived": -min(count, lot.on_order)}.get(kind, 0)
                its = sum(one.pieces for one in dues.get(lot.id, ()) if one.job in ("", given.job))
                if given.job and its + due < 0 <= lot.on_order + due:
                    rule = f"only {its} on order may be called off for {given.title}: the others are for other jobs"
                    problems.append(Problem("", "PIECES", f"{lot.part.name}={count}", rule, _LOOK))
                if lot.on_order + due < 0:
                    rule = f"only {lot.on_order} {'is' if lot.on_order == 1 else 'are'} on order"
                    problems.append(Problem("", "PIECES", f"{lot.part.name}={count}", rule, "see: shimopt stock show"))
                if max(lot.on_hand + moved, lot.on_order + due) > MOST_PIECES:
                    rule = f"of a part a drawer holds {MOST_PIECES:,} at most, as a table does"
                    problems.append(Problem("", "PIECES", f"{lot.part.name}={count}", rule, _LOOK))
                if lot.on_hand + moved < lot.promised:
                    problems.append(too_few(lot, count, held))
                done.append(Booked(lot.part, lot.on_hand, lot.on_order, moved, due))
                entries.append(Entry(kind, number, lot.id, moved=moved, due=due, detail={"drawer": writable(drawer)}))
            if problems:
                raise InputError(problems)
            append(within, entries, given)
    except BrokenRuleError as error:
        raise not_allowed(store, error) from None
    return done


def _wanted(
    within: Transaction,
    drawer: int,
    texts: Sequence[str],
    lots: Sequence[Lot],
    new: Mapping[str, Part] | None,
    *,
    less: bool,
) -> list[tuple[Lot, int]]:
    """The lots that are meant, and how many pieces of each; below zero only where `less`.

    Parameter: new, None of pieces that are there; else of what comes, the parts that may be new. What comes is as it is
    marked: never one of those that were measured. Raises InputError.
    """
    found, problems = list[tuple[Lot, int]](), list[Problem]()
    named = {(lot.part.name, lot.part.piece): lot for lot in lots}
    for text in texts:
        said = _PIECES.fullmatch(text.strip())
        if said is None or not int(said["count"]) or (int(said["count"]) < 0 and not less):
            rule, remedy = "pieces are a part and how many of it", "write it like S-10=3, or S-30 [t7]=1"
            problems.append(Problem("", "PIECES", text, rule, remedy))
            continue
        name, piece, count = said["part"].strip(), said["piece"], int(said["count"])
        called = [lot for lot in lots if lot.part.name == name and lot.part.piece == piece]
        several = called if new is None else [lot for lot in called if not lot.part.measured]
        if len(several) > 1:
            rule = "several lots are called so, measured each by itself"
            remedy = "change it in the table: shimopt stock write-out FILE, then take-in FILE"
            problems.append(Problem("", "PIECES", text, rule, remedy))
        elif several:
            found.append((several[0], count))
        elif piece is None and new and name in new:
            lot = add_lot(within, drawer, StockLine(new[name], 0), single=False)
            found += [(each, count) for each in lots_of(within, drawer) if each.id == lot]
        elif called:
            rule = "what is here of it is measured, and what comes is not"
            remedy = "name the --catalogue that has it, or the job: --for JOB; measured pieces come in by fit --accept"
            problems.append(Problem("", "PIECES", text, rule, remedy))
        else:
            meant = nearest_name(name, [part for part, _ in named] + list(new or ()))
            new_one = "of one that never was here name the --catalogue that has it, or the job: --for JOB"
            remedy = f"did you mean {meant}? {new_one[0].upper()}{new_one[1:]}" if meant else new_one
            problems.append(Problem("", "PIECES", text, "the stock has no such part", remedy))
    twice = [lot.part.name for lot, times in Counter(lot for lot, _ in found).items() if times > 1]
    problems += [Problem("", "PIECES", name, "this part is given twice", "put the counts together") for name in twice]
    if problems:
        raise InputError(problems)
    return found


def too_few(lot: Lot, count: int, held: Sequence[Held]) -> Problem:
    """More leaves than is there, or is free."""
    name = f"{lot.part.name} [{lot.part.piece}]" if lot.part.piece else lot.part.name
    found = f"{name}={count}"
    if count > lot.on_hand:
        rule = f"{name}: only {lot.on_hand} {'is' if lot.on_hand == 1 else 'are'} on hand"
        return Problem("", "PIECES", found, rule if lot.on_hand else f"{name}: none is on hand", _LOOK)
    who, free = [one.whose for one in held if one.part == lot.part], lot.on_hand - lot.promised
    these = {1: "it is", 2: "both are"}.get(lot.promised, "all are") if not free else f"{lot.promised} of them"
    left = f"{free or 'none'} {'are' if free > 1 else 'is'} free"
    rule = f"{name}: {lot.on_hand} on hand, {these} held for {' and for '.join(who)}: {left}"
    return Problem("", "PIECES", found, rule, "have them let go first: shimopt hold JOB --free")


def not_allowed(store: Store, error: BrokenRuleError) -> StockError:
    """A rule that the database keeps stands against it."""
    rule = "the stock does not allow it, and nothing was booked: pieces are held, or not so many are there"
    return StockError(store.name, rule, "see who holds what: shimopt stock show", error.rule)
