"""The bench card in words: what is read, what is fitted then, what counts beyond its ends; parts and gaps of orders."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby

from shimopt.arithmetic.clearance import Stack, turnover
from shimopt.errors import shown
from shimopt.job import Place, Seat
from shimopt.lengths import Bracket
from shimopt.ordering.after_fitting import after_fitting
from shimopt.ordering.cards import BladeRow
from shimopt.ordering.demand import Demand
from shimopt.ordering.order_result import Order, Planned
from shimopt.parts import StockLine
from shimopt.readings import Told
from shimopt.seats import fitting_order
from shimopt.words.bore_words import bores_taken
from shimopt.words.change_words import work_words
from shimopt.words.digits import as_shown
from shimopt.words.order_part_words import of_blades, order_part, read_text, to_be_measured
from shimopt.words.shortfall_words import rubbed_in
from shimopt.words.speaker import Speaker, listed
from shimopt.words.stop_words import not_covered, stop_text

# which figure a row means, by how blades tell it
MEANT: Mapping[Told, str] = {"": "", "pair": "middle ", "snug": "snug ", "spots": "mean "}
# what a gap then reads is told pair by pair for so many pairs of blades in a row, else for its first and its last
_MOST_THENS = 3
SOFT = "stop: only soft pieces would do, and the face turns"
_ROW_COUNTS = "at the bench the row counts"
WITHIN_THE_ROW = "any two blades within the row count for it"
WITHIN_ONE_ROW = "any two blades within one row count for it, of different rows none: read with the blades between them"
MOVED = "something moved, stop and measure again, then plan again"


@dataclass(frozen=True, slots=True)
class CardRow:
    """One row of a card: the reading, what to fit, place by place, and what the gap then reads.

    `hole` where no stack serves: then nothing is fitted. `ends` are the readings from .. to [nm], as they are read; by
    blades from the first that goes to the last that does not; None where several gaps are read: `each` has them.
    """

    read: str
    fits: tuple[str, ...]
    hole: bool = False
    then: str = ""
    ends: tuple[Fraction, Fraction] | None = None
    each: tuple[tuple[Fraction, Fraction], ...] = ()

    @property
    def fit(self) -> str:
        """What to fit, in one line."""
        return "; ".join(self.fits)

    @property
    def told(self) -> str:
        """The same, and what the gap then reads."""
        return f"{self.fit}, then {self.then}" if self.then else self.fit


def gap_text(order: Order, number: int) -> str:
    """A gap's name, with its job's where there are several."""
    demand = order.demands[number]
    return named(order, demand.job, demand.gap.name)


def named(order: Order, job: int, gap: str) -> str:
    """A gap's name, with its job's where there are several; with the job's number where two have one title."""
    if len(order.jobs) == 1:
        return shown(gap)
    titles = [shown(job.title) for job in order.jobs]
    title = titles[job] if titles.count(titles[job]) == 1 else f"{titles[job]} ({job + 1})"
    return f"{title}: {shown(gap)}"


def readings_text(order: Order, demand: Demand, low: Fraction, high: Fraction, say: Speaker) -> str:
    """A gap's readings as they are read: from which blade that goes to which does not, or from .. to."""
    sign = demand.gap.reading.sign
    pairs = [sign * at for at in demand.pairs if low <= at <= high]
    half = demand.gap.reading.no_blade if demand.blind else demand.step
    if not pairs or half is None:
        ends = sorted((sign * low, sign * high))
        return f"{MEANT[demand.told_by]}{say.about(demand.gap).clearance(*ends)}"
    own = of_blades(order, demand, say)
    go, no_go = min(pairs) - Fraction(half) / 2, max(pairs) + Fraction(half) / 2
    return f"{own(go)} goes, {own(no_go)} does not" if go > 0 else f"{own(no_go)} does not go"


def fit_text(order: Order, number: int, stack: Stack) -> str:
    """What a row says: `fit PS50-0.3 + PS50-0.1`, in the order in which they go in."""
    return fit_words(order, order.demands[number].place, stack)


def fit_words(order: Order, place: Place, stack: Stack) -> str:
    """The same of any place."""
    into, out = turnover(place.installed, stack)
    stays = tuple((Counter(stack) - Counter(into)).elements())
    return work_words(*(_row(order, pieces, place.seat) for pieces in (out, stays, into, stack)))


def _row(order: Order, stack: Stack, seat: Seat | None) -> str:
    """A stack's parts as they go in, those of one name told apart."""
    names = groupby(order_part(order, i) for i in fitting_order(stack, order.stock, seat))
    groups = [(name, len(list(group))) for name, group in names]
    return " + ".join(f"{n} x {name}" if n > 1 else name for name, n in groups)


def card_rows(order: Order, number: int, say: Speaker) -> list[CardRow]:
    """A gap's rows as they are read, rising: by pairs of blades where it is read by them, holes in their places."""
    card = order.cards[number]
    if card.rows:
        own = of_blades(order, order.demands[number], say)
        soft = rubbing(order, number)
        said = [
            (replace(row, stack=None), SOFT)
            if row.stack in soft
            else (row, stop_text(order, number, row, say) if row.stack is None else fit_text(order, number, row.stack))
            for row in card.rows
        ]
        return [
            CardRow(
                _blades(alike[0], alike[-1], own),
                (fit,),
                alike[0].stack is None,
                _then(order, number, alike[0].stack, [row.go + row.no_go for row in alike], say),
                (alike[0].go, alike[-1].no_go),
            )
            for fit, alike in (
                (fit, [row for row, _ in group]) for fit, group in groupby(said, key=lambda told: told[1])
            )
        ]
    soft, demand = rubbing(order, number), order.demands[number]
    stacks = [(one.start, one.end, one.stack) for one in card.bands]
    rows: list[tuple[Fraction, Fraction, Stack | None]] = sorted(
        [*stacks, *((hole.start, hole.end, None) for hole in order.holes if hole.gap == number)],
        key=lambda row: row[:2],
        reverse=demand.gap.reading.opens,
    )
    return [
        CardRow(
            f"{MEANT[demand.told_by]}{read_text(order, number, start, end, say.bare)}",
            (
                not_covered(order, number, start, end, say)
                if stack is None
                else SOFT
                if stack in soft
                else fit_text(order, number, stack),
            ),
            stack is None or stack in soft,
            "" if stack is None or stack in soft else _comes_to(order, number, stack, start, end, say),
            (-end, -start) if demand.gap.reading.opens else (start, end),
        )
        for start, end, stack in rows
    ]


def rubbing(order: Order, number: int) -> frozenset[Stack]:
    """The stacks of a card that lay soft pieces against a face that turns, with nothing hard between.

    Where all of its stacks do, none: then what is over its rows says so of all of them.
    """
    demand, card = order.demands[number], order.cards[number]
    job, found = order.jobs[demand.job], order.screenings[demand.job].findings
    here = [one for one in found if one.place == demand.place.name]
    soft = frozenset(stack for stack in card.stacks if here and rubbed_in(here, job, {demand.place.name: stack}))
    return soft if soft < {*card.stacks} else frozenset()


def _then(order: Order, number: int, stack: Stack | None, twice: Sequence[Fraction], say: Speaker) -> str:
    """What the gap reads after a row of blades, each given by the sum of its two; empty where nothing is fitted.

    Pair by pair, so that a reading that does not follow from the blades that were read shows itself.
    """
    if stack is None:
        return ""
    sign = order.demands[number].gap.reading.sign
    middles = [sign * Fraction(at) / 2 for at in twice]
    each = [_comes_to(order, number, stack, at, at, say) for at in middles]
    if len(each) <= _MOST_THENS:
        return " / ".join(dict.fromkeys(each))
    return f"{each[0]} by its first two blades, to {each[-1]} by its last two"


def _comes_to(order: Order, number: int, stack: Stack, start: Fraction, end: Fraction, say: Speaker) -> str:
    """`0.05 to 0.12`: what the gap reads where it is right, from the row's first reading to its last."""
    demand = order.demands[number]
    ends = [after_fitting(demand, stack, order.stock, at, at) for at in (start, end)]
    whole = Bracket.between(min(low for low, _ in ends), max(high for _, high in ends))
    seen = as_shown(whole, demand.gap, say.unit)
    return say.about(demand.gap).bare.clearance(seen.low, seen.high)


def _shared(order: Order, number: int) -> Iterator[str]:
    """Which pieces are short of what all gaps could use: those of others, and those that this card's rows take."""
    short, wanted = order.contested.get(number, ()), order.wanted_elsewhere(number)
    names = listed([order_part(order, i) for i in sorted({*short, *wanted})])
    if short:
        them = "it" if len({*short, *wanted}) == 1 else "them"
        yield f"not enough {names} for every gap that could use {them}: this card keeps to what is set aside for it"
    elif wanted:
        yield f"{names}: set aside for this card though another gap could use it; a plan of all gaps may fit otherwise"


def card_notes(order: Order, number: int, say: Speaker, *, at_bench: bool = False) -> Iterator[str]:
    """What counts beyond the ends of a card, the order of pieces of several kinds, where its pieces are.

    Parameter: at_bench, whether it stands on the paper for the bench: there only the rows say what to fit, also where
    the plan says something else.
    """
    # of several jobs, what is bought for one goes into no other
    planned = order.planned.get(number) if len(order.jobs) == 1 else None
    if planned and (said := _planned_otherwise(planned, shared=number in order.contested)):
        bought = "with what is bought " if order.lines else ""
        counts = f"; {_ROW_COUNTS}" if at_bench and _ROW_COUNTS not in said else ""
        yield f"at today's reading the plan {bought}says: {fit_text(order, number, planned.stack)}, {said}{counts}"
    if not order.cards[number].stacks and not order.demands[number].place.takes_shims:
        yield "its seat takes no shims, so a new plan changes nothing: what sets it has to be put right otherwise"
        return
    if not order.cards[number].stacks and any(h.gap == number and h.cause == "metal" for h in order.holes):
        yield "no shim helps there, so a new plan changes nothing: look at reading and seating first"
        return
    if not order.cards[number].stacks:
        limits = " within the limits of this order" if order.limited else ""
        served_by = f"drawer or catalogues{limits}" if order.market.buys else "the drawer"
        yield f"no row can be served by {served_by}: stop, and plan again from the reading"
        return
    if not order.cards[number].bands:
        yield "today's reading has no row: stop, and plan again from it; the rows beside it count"
    if order.cards[number].rows:
        yield f"further out: {MOVED}"
        yield from _which_blades(order.cards[number].rows)
    elif (beyond := _beyond(order, number, say)) and not order.demands[number].doubts:
        yield f"up to {beyond}: as the end row; further out: {MOVED}"
    else:
        yield f"any other reading: {MOVED}"
    if any(len({order.stock[i].part.thickness.best for i in stack}) > 1 for stack in order.cards[number].stacks):
        yield "several pieces: in the order named, the first against the fixed face"
    yield from to_be_measured(order, number, say)
    yield from bores_taken(order, (of := order.demands[number]).job, of.place.seat, order.cards[number].stacks)
    yield from _shared(order, number)
    fetched: Counter[int] = Counter()  # what stays in is fetched from nowhere
    for stack in order.cards[number].stacks:
        fetched |= Counter(turnover(of.place.installed, stack)[0])
    used = sorted(fetched)
    # what came out for the reading is counted as on hand, and lies on the bench
    bench = Counter(i for job in order.jobs for place in job.places for i in place.came_out)
    at = {i: shown(order.stock[i].part.at) for i in used if _here(order.stock[i]) > bench[i]}
    sent = {line.part for line in order.asked}
    more = {i: short for i in used if i not in sent and (short := fetched[i] - order.stock[i].on_hand) > 0}
    called = {i: order_part(order, i) for i in used}
    if lies := [
        f"{f'{_here(order.stock[i])} x ' if i in more else ''}{called[i]} in {tin}" for i, tin in at.items() if tin
    ]:
        yield f"in the drawer: {', '.join(lies)}"
    most, awaited = order.cards[number].most_of, order.awaited
    if late := [f"{min(awaited[i], most[i])} x {order_part(order, i)}" for i in used if i in awaited]:
        yield f"on order, and not in the drawer yet: {', '.join(late)}"
    if out := [order_part(order, i) for i in used if bench[i] and _here(order.stock[i]) <= bench[i]]:
        yield f"on the bench, out for the reading: {', '.join(out)}"
    for i in used:
        if 0 < bench[i] < _here(order.stock[i]):
            rest = _here(order.stock[i]) - bench[i]
            yield f"{order_part(order, i)}: {bench[i]} on the bench, out for the reading, {rest} in the drawer"
    yield from _topped_notes(order, number, at_bench=at_bench)
    for i, short in more.items():
        givers = [n for n in range(len(order.demands)) if n != number and gives(order, n, i)]
        # where enough of them give it up at every reading, nobody looks for it elsewhere
        surely = [n for n in givers if gives(order, n, i, always=True)]
        others = [order.demands[n].place.name for n in (surely if len(surely) >= short else givers)]
        if others and (order.stock[i].on_hand or not _holds(order, number, i)):
            many = f"{short} x " if order.stock[i].on_hand else ""
            yield f"{many}{called[i]} {'comes' if short == 1 else 'come'} out of {listed(others)}"


def _here(line: StockLine) -> int:
    """How many are on hand; an order counts what is on order too."""
    return line.on_hand - line.coming


def _which_blades(rows: Sequence[BladeRow]) -> Iterator[str]:
    """Which blades count for a row of several pairs, and that none counts for two rows."""
    alike = [len(list(group)) for _, group in groupby(rows, key=lambda row: row.stack)]
    if len(alike) > 1 and max(alike) > 1:
        yield WITHIN_ONE_ROW
    elif len(alike) > 1:
        yield "two blades of different rows count for none: read with the blades between them"
    elif max(alike) > 1:
        yield WITHIN_THE_ROW


def _topped_notes(order: Order, number: int, *, at_bench: bool) -> Iterator[str]:
    """Which of the pieces that fill a smallest order its rows count on: those that all cards need beside the others."""
    fitted, needed, there = order.cards[number].most_of, Counter[int](), Counter[int]()
    for card in order.cards:
        needed += card.most_of
    for line in order.lines:
        there[line.part] += line.pieces
    topped = dict.fromkeys(more.line.part for more in order.top_up)
    names = [order_part(order, i) for i in topped if i in fitted and needed[i] > order.stock[i].on_hand + there[i]]
    if names:
        come, without = ("comes", "it") if len(names) == 1 else ("come", "them")
        how = "" if at_bench else f" (`--no-top-up` makes a card without {without})"
        yield f"{listed(names, len(names))} {come} with what fills the smallest order{how}"


def _planned_otherwise(planned: Planned, *, shared: bool) -> str:
    """Why the plan says something else at today's reading; empty where only what may shift yet makes it so."""
    if planned.verdict == "unproven":
        return "and is not sure that this is inside; a row here fits only what is surely inside"
    if not planned.sure:
        return "inside by its chance; a row here fits only what is surely inside"
    return f"with the pieces shared out otherwise between the gaps; {_ROW_COUNTS}" if shared else ""


def _holds(order: Order, number: int, line: int) -> bool:
    return line in order.demands[number].place.installed


def gives(order: Order, number: int, line: int, *, always: bool = False) -> bool:
    """Whether a row of a card, or `always` every one, takes a piece of this line out."""
    installed = order.demands[number].place.installed
    out = [line in turnover(installed, stack)[1] for stack in order.cards[number].stacks]
    # at a reading that no row serves it stays in
    stops = any(hole.gap == number for hole in order.holes)
    return bool(out) and all(out) and not stops if always else any(out)


def _blades(first: BladeRow, last: BladeRow, say: Speaker) -> str:
    """From which blade that goes to which that does not; no blade is as thin as nothing."""
    return f"{say(first.go)} goes, {say(last.no_go)} does not" if first.go else f"{say(last.no_go)} does not go"


def _beyond(order: Order, number: int, say: Speaker) -> str:
    """How far below and above its ends a card still counts; empty where not at all."""
    demand = order.demands[number]
    # read so far below the range, the gap can lie in it only as far as it can be above the reading
    high, low = demand.read_room
    # two blades stand for more than their middle: beyond the range they may show what no row was worked out for
    if demand.told_by or (not low and not high):
        return ""
    below, above = say(low), say(high)
    return f"{below} below or {above} above" if below != above else f"{below} below or above"
