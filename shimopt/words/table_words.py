"""The small table of a bench card for gaps whose places act together: their readings, and every place's pieces."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import product

from shimopt.arithmetic.changes import changes_of
from shimopt.arithmetic.clearance import thickness_of
from shimopt.errors import shown
from shimopt.lengths import Bracket
from shimopt.ordering.after_together import after_together, still_serving_together
from shimopt.ordering.demand import TOGETHER
from shimopt.ordering.order_result import Order
from shimopt.ordering.readings_together import Box, Range, Table
from shimopt.ordering.unevenness import unevenness
from shimopt.ordering.unserved_readings import read_in
from shimopt.ordering.unserved_together import OpenTogether
from shimopt.words.bore_words import bores_taken
from shimopt.words.card_words import MOVED, CardRow, fit_words, named, readings_text
from shimopt.words.digits import OF_A_GAUGE, as_shown
from shimopt.words.money_words import money
from shimopt.words.order_part_words import measured_words, nothing_serves, order_part
from shimopt.words.reading_words import limits_text, read_how
from shimopt.words.speaker import Speaker, chance_text, listed
from shimopt.words.stop_words import HOLE

# of so many readings it is told that they are left open
_MOST_BUT = 3


def table_name(order: Order, table: Table) -> str:
    """The gaps that are read together."""
    return listed([named(order, table.job, demand.gap.name) for demand in table.demands])


def with_rows(order: Order) -> bool:
    """Whether any row of a card says what to fit."""
    return bool(order.demands) or not all(table.rowless for table in order.tables)


def table_allowed(table: Table, say: Speaker) -> str:
    """The window of each gap."""
    return "; ".join(f"{shown(d.gap.name)}: {limits_text(d.gap.window, say.about(d.gap))}" for d in table.demands)


def table_how(table: Table) -> str:
    """By what the gaps are read."""
    return listed(list(dict.fromkeys(read_how(demand.gap.reading) for demand in table.demands)))


def table_rows(order: Order, table: Table, say: Speaker) -> list[CardRow]:
    """A row per box: every reading, and what each place gets; none where there are too many readings."""
    if table.rowless:
        return []
    uneven = _more_uneven(order, table, say)
    rows = [(box.ranges, _row(order, table, box, uneven.get(box.ranges, ""), say)) for box in table.boxes]
    rows += [
        (read, CardRow(readings_together_text(order, table, read, say), (HOLE,), hole=True, each=_ends(table, read)))
        for read in table.open
    ]
    return [row for _, row in sorted(rows, key=lambda row: row[0])]


def open_words(order: Order, table: Table, one: OpenTogether, say: Speaker) -> str:
    """Readings of several gaps that nothing serves: which, how likely they are, why, and what would serve them."""
    name, job = table_name(order, table), order.jobs[table.job]
    read = readings_together_text(order, table, one.readings, say)
    start = f"{name}: not covered where {read} (chance {chance_text(one.chance)})."
    if one.closed:
        return f"{start} No blade goes there at one of them, and it may be tight: no stack is known to be right."
    if one.hopeless:
        packs = "with equal packs " if any({*table.places} == {*names} for names in job.equal) else ""
        return (
            f"{start} Whatever goes in, {packs}not all of them are surely inside there: nothing that is bought helps, "
            "a finer gauge may."
        )
    if one.each is None:
        nothing = nothing_serves(order) if order.limited else "Nothing in drawer and catalogues serves there."
        return f"{start} {nothing}"
    thick = Bracket.between(*one.each).inward(say.unit, OF_A_GAUGE[say.unit])
    places = listed([shown(place) for place in table.places])
    size = say.bracket(thick.low, thick.high)
    return f"{start} {nothing_serves(order)} What would close it: {size} in each of {places}."


def without_limits_words(order: Order) -> list[str]:
    """What an order without the limits of this one covers of what acts together and is left open here, and its cost."""
    other = order.unlimited
    if other is None:
        return []
    here = [(table.job, d.gap.name) for table in order.tables if table.open for d in table.demands]
    here += [(one.job, one.gap.name) for one in order.unanswered if one.why in TOGETHER]
    there = {(table.job, d.gap.name) for table in other.tables if not table.open for d in table.demands}
    names = listed([named(order, *gap) for gap in here if gap in there], 6)
    if not names:
        return ["Without the limits of this order none was found either that covers all of it."]
    if other.cost_filled is None or order.cost_filled is None:
        return [f"Without the limits of this order {names} would be covered at every reading, at a cost not known."]
    dearer = money(order, other.cost_filled - order.cost_filled)
    found = "" if other.proven else ", the cheapest found"
    cost = f"{money(order, other.cost_filled)}, {dearer} more{found}"
    return [f"The limits of this order are why: without them {cost}, covers {names} at every reading."]


def table_notes(order: Order, table: Table, say: Speaker) -> Iterator[str]:
    """What to do with other readings, or where there are no rows."""
    fits = [box.stacks for box in table.boxes]
    if table.rowless:
        moves = any(demand.gap.reading.shift for demand in table.demands)
        known = f"these readings{' and shift = 0' if moves else ''}"
        open_ = [f"({readings_together_text(order, table, read, say)})" for read in table.open]
        but = f" but {listed(open_, _MOST_BUT)}" if open_ else ""
        yield (
            f"this order is enough for all final readings{but}: read them all and put the parcel into the drawer; then "
            f"`shimopt plan JOB` with {known} says what to fit (`--drawer FILE` where the drawer is another)"
        )
        return
    if table.open:
        yield "where a row says stop: nothing serves all of them surely; plan again from these readings"
    if all(demand.pairs for demand in table.demands):
        yield "any two blades within one row count for it, of different rows none: read with the blades between them"
    yield f"any other reading: {MOVED}"
    # what is turned is not read in a length again
    if loaded := _loaded(table):
        names = listed([shown(name) for name in loaded])
        yield f"{names}: a preload is turned, not read again; rows count while its torque is what the maker states"
    if any(len({order.stock[i].part.thickness.best for i in stack}) > 1 for fit in fits for stack in fit.values()):
        yield "several pieces: in the order named, the first against the fixed face"
    yield from apart_words(order, table, say)
    job = replace(order.jobs[table.job], stock=order.stock)
    yield from measured_words(order, table.job, still_serving_together(job, table), table.demands, say)
    taken = {place: [fit[place] for fit in fits] for place in table.places}
    bores = {place: " ".join(bores_taken(order, table.job, job.place[place].seat, taken[place])) for place in taken}
    for said in dict.fromkeys(filter(None, bores.values())):
        yield said if len({*bores.values()}) == 1 else f"{listed([p for p in bores if bores[p] == said])}: {said}"
    lines = {i for stacks in taken.values() for stack in stacks for i in stack}
    if wanted := sorted({i for some in order.contested.values() for i in some} & lines):
        names = listed([order_part(order, i) for i in wanted])
        yield f"{names}: set aside for these gaps though another could use it; a plan of all gaps may fit otherwise"
    lies = {i: order.stock[i].part.at for i in sorted(lines) if order.stock[i].on_hand and order.stock[i].part.at}
    if lies:
        yield f"in the drawer: {', '.join(f'{order_part(order, i)} in {shown(tin)}' for i, tin in lies.items())}"


def apart_words(order: Order, table: Table, say: Speaker) -> list[str]:
    """Packs that match by the names of their pieces, and by some row surely are not as thick as measured."""
    told = dict[str, Fraction]()
    for box, names in product(table.boxes, order.jobs[table.job].equal):
        thick = {name: thickness_of(box.stacks[name], order.stock) for name in names if name in box.stacks}
        if not thick:
            continue
        thinner, thicker = (ends(thick, key=lambda name: thick[name].best) for ends in (min, max))
        if thick[thinner].high < thick[thicker].low:
            read, apart = (
                f"{shown(thicker)} gets %s more than {shown(thinner)}",
                thick[thicker].best - thick[thinner].best,
            )
            told[read] = max(apart, told.get(read, apart))
    return [
        f"as measured {read % say(apart)}, with pieces of one name: is that too much?" for read, apart in told.items()
    ]


def turned(table: Table) -> list[str]:
    """The gaps whose preload is turned, not read in a length: no row asks for it where all rows take it alike."""
    loaded = _loaded(table)
    rows = [*(box.ranges for box in table.boxes), *table.open]
    alike = [
        demand.gap.name
        for at, demand in enumerate(table.demands)
        if demand.gap.name in loaded and len({read[at] for read in rows}) == 1
    ]
    return alike if len(alike) < len(table.demands) else []


def _loaded(table: Table) -> list[str]:
    """The gaps that are read as a preload, and are to have one."""
    return [d.gap.name for d in table.demands if d.gap.window.wants_preload and d.gap.reading.bracket.high <= 0]


def readings_together_text(order: Order, table: Table, readings: Sequence[Range], say: Speaker) -> str:
    """`bearing play: 0.70 goes, 0.75 does not; backlash: 0.15 goes, 0.20 does not`; not of what is turned."""
    left = turned(table)
    return "; ".join(
        f"{shown(demand.gap.name)}: {readings_text(order, demand, low, high, say)}"
        for demand, (low, high) in zip(table.demands, readings, strict=True)
        if demand.gap.name not in left
    )


def _more_uneven(order: Order, table: Table, say: Speaker) -> dict[tuple[Range, ...], str]:
    """By the readings of rows that may leave balances more uneven than is asked: that they may."""
    found: dict[tuple[Range, ...], str] = {}
    for one in unevenness(order):
        if one.table is not None and order.tables[one.table] is table:
            words = f"; {shown(one.balance.name)} may be uneven by more than {say(Fraction(one.balance.within or 0))}"
            found |= {row: found.get(row, "") + words for row in one.rows}
    return found


def _row(order: Order, table: Table, box: Box, uneven: str, say: Speaker) -> CardRow:
    read, then = readings_together_text(order, table, box.ranges, say), _then(order, table, box, say)
    return CardRow(read, _fits(order, table, box), then=then + uneven, each=_ends(table, box.ranges))


def _ends(table: Table, readings: Sequence[Range]) -> tuple[Range, ...]:
    """From .. to of every gap, as it is read; by blades from the first that goes to the last that does not."""
    found = []
    for demand, ends in zip(table.demands, readings, strict=True):
        low, high = read_in(demand, *ends)
        one, other = sorted((demand.gap.reading.sign * low, demand.gap.reading.sign * high))
        half = demand.step / 2 if demand.step is not None and demand.pairs else Fraction(0)
        found.append((one - half, other + half))
    return tuple(found)


def _then(order: Order, table: Table, box: Box, say: Speaker) -> str:
    """What every gap reads where it is right, from the row's first reading to its last."""
    job = replace(order.jobs[table.job], stock=order.stock)
    told = []
    ends = after_together(job, table, box.stacks, box.ranges)
    for demand, (low, high) in zip(table.demands, ends, strict=True):
        seen = as_shown(Bracket.between(low, high), demand.gap, say.unit)
        told.append(f"{shown(demand.gap.name)} {say.about(demand.gap).bare.clearance(seen.low, seen.high)}")
    return "; ".join(told)


def _fits(order: Order, table: Table, box: Box) -> tuple[str, ...]:
    job = replace(order.jobs[table.job], stock=tuple(order.stock))
    changes = changes_of(job, {place.name: place.installed for place in job.places} | dict(box.stacks))

    def told(name: str) -> str:
        fit = f"{shown(name)}: {fit_words(order, job.place[name], box.stacks[name])}"
        # it is as thick as what went out, which another like it need not be
        over = Counter((piece.other, piece.line) for piece in changes.at[name].into if piece.other in table.places)
        pieces = [
            f"{f'{n} x ' if n > 1 else ''}{order_part(order, i)} out of {shown(at)}" for (at, i), n in over.items()
        ]
        return f"{fit} ({listed(pieces)})" if pieces else fit

    return tuple(map(told, table.places))
