"""All sentences about a parcel: what came, what is wrong with it, whether it is enough, and what to do now."""

from __future__ import annotations

from fractions import Fraction

from shimopt.errors import shown
from shimopt.ordering.order_result import Line, Order
from shimopt.parts.drawer import Accepted
from shimopt.receiving import Held, Lost, Parcel
from shimopt.words.bill_words import cost_text, days_text, packs_text
from shimopt.words.card_words import gap_text, named
from shimopt.words.finding_words import finding_words
from shimopt.words.order_answer_words import as_exact, unserved
from shimopt.words.order_limits_words import unanswered_words
from shimopt.words.order_part_words import order_part, read_text
from shimopt.words.speaker import Speaker, chance_text, listed, plural, tagged
from shimopt.words.table_words import apart_words, readings_together_text, table_name

# what is not simply as ordered, in words
_KINDS = {"stands in": "of the same size instead", "wrong": "wrong", "missing": "missing"}


def parcel_headline(parcel: Parcel) -> str:
    """The answer in a sentence or two: is it all there, and is it enough."""
    return f"{_complete_words(parcel)} {_enough_words(parcel)}"


def _complete_words(parcel: Parcel) -> str:
    lines = [parcel.came_of(n) for n in range(len(parcel.asked.lines))]
    total = sum(line.pieces for line in parcel.asked.lines)
    if not total:
        return "Nothing was to be ordered."
    told = {kind: sum(found[kind] for found in lines) for kind in ("as ordered", "stands in", "wrong", "missing")}
    if told["as ordered"] == total:
        every = {1: "the piece", 2: "both pieces"}.get(total, f"all {total} pieces")
        return f"Complete: {every} came as ordered."
    come = f"{told['as ordered']} of {plural(total, 'piece')} came as ordered"
    rest = [f"{count} {words}" for kind, words in _KINDS.items() if (count := told[kind])]
    return f"{'Complete' if parcel.complete else 'Not complete'}: {', '.join([come, *rest])}."


def _enough_words(parcel: Parcel) -> str:
    if parcel.gone and not parcel.enough:
        gone = listed([f"{count} x {shown(name)}" for name, count in parcel.gone.items()], 4)
        said = f"The card of the order takes {gone} out of the drawer, which no longer holds that"
        return f"{said}: it is not enough for all that the order served. {_left_out(parcel)}".strip()
    if parcel.whole:
        return f"With the drawer as it is now it is enough: every gap at every final reading{as_exact(parcel.now)}."
    if parcel.enough:
        exact = as_exact(parcel.now)
        return f"With the drawer as it is now it is enough for all that the order serves{exact}. {_left_out(parcel)}"
    lost = [gap_text(parcel.now, gap) for gap in dict.fromkeys(lost.gap for lost in parcel.lost)]
    left = [named(parcel.now, left.job, left.gap.name) for left in parcel.left]
    for one in parcel.together:
        left += [named(parcel.now, one.table.job, demand.gap.name) for demand in one.table.demands]
    left = list(dict.fromkeys(left))
    said = f"It is not enough: not every final reading of {listed([*lost, *left])} is served any more"
    if _several(parcel):
        said += " by pieces of its own. A plan of all final readings, which shares them out, may serve more"
    said += "."
    return f"{said} {_left_out(parcel)}".strip()


def _left_out(parcel: Parcel) -> str:
    """The gaps that the order answers not at all, or not at every final reading; empty where there are none."""
    order = parcel.promised
    without = [named(order, left.job, left.gap.name) for left in order.unanswered]
    unsure = unserved(order)
    told = [f"The order does not answer {listed(without, len(without))}."] if without else []
    told += [f"The order does not serve {listed(unsure, len(unsure))} at every final reading."] if unsure else []
    return " ".join(told)


def against_words(parcel: Parcel) -> str:
    """What the parcel was held against."""
    if parcel.asked.file:
        return f"Held against {shown(parcel.asked.file)}."
    return "Held against the order as it is worked out today, without this parcel (--ordered FILE: against a list)."


def asked_words(parcel: Parcel, number: int) -> str:
    """An ordered line and what came of it."""
    line, found = parcel.asked.lines[number], parcel.came_of(number)
    name, supplier = order_part(parcel.promised, line.part), shown(line.supplier)
    start = f"{line.pieces} x {name}" + (f" from {supplier}" if supplier else "")
    if found["as ordered"] == line.pieces:
        return f"{start}: there"
    words = {"as ordered": "as ordered", **_KINDS}
    return f"{start}: {', '.join(f'{found[kind]} {said}' for kind, said in words.items() if found[kind])}"


def held_words(parcel: Parcel, one: Held, say: Speaker) -> str:
    """A piece that is not simply as ordered: what it is, why, and what becomes of it."""
    piece = one.checked.piece
    name = f"{one.pieces} x {tagged(piece.part.name, piece.part.piece)}"
    found = [finding for finding in one.checked.findings if finding.grade != "note"]
    if not one.fits:
        found += [answer.deciding for answer in one.checked.seats.values() if answer.deciding is not None]
    said = list(dict.fromkeys(finding_words(finding, say) for finding in found))
    if one.kind == "stands in" and one.line is not None:
        said.insert(0, f"stands in for {order_part(parcel.promised, parcel.asked.lines[one.line].part)}")
    elif one.line is None:
        said.insert(0, "is more than was ordered" if _ordered(parcel, one) else "was not ordered")
    if one.kind == "wrong" and not found and piece.part.marked:
        said.append(f"is {say(piece.part.thickness.best)} thick, and its label says {say(Fraction(piece.part.marked))}")
    said.append(f"fits as {'measured' if piece.spots else 'marked'}" if one.fits else "not for this job")
    return f"{name} {'; '.join(said)}."


def _ordered(parcel: Parcel, one: Held) -> bool:
    names = {parcel.stock[line.part].part.name for line in parcel.asked.lines}
    return one.checked.piece.part.name in names


def lost_words(parcel: Parcel, lost: Lost, say: Speaker) -> str:
    """Readings that the order was to serve and what is there does not."""
    read = read_text(parcel.now, lost.gap, lost.start, lost.end, say)
    return f"{gap_text(parcel.now, lost.gap)} at {read}: {_chance(parcel, lost.chance)}"


def _chance(parcel: Parcel, chance: Fraction | float) -> str:
    """The chance of readings that are lost: where gaps lend each other pieces, a plan may serve some of them."""
    told = chance_text(chance)
    return f"a chance of {'at most ' if _several(parcel) and not told.startswith('>') else ''}{told}"


def _several(parcel: Parcel) -> bool:
    """Whether several cards share what is there."""
    return len(parcel.now.cards) + len(parcel.now.tables) > 1


def lost_together_words(parcel: Parcel, say: Speaker) -> list[str]:
    """The same of gaps whose places act together: at which readings of all of them, or that none of them is known."""
    told = []
    for one in parcel.together:
        read = readings_together_text(parcel.now, one.table, one.open.readings, say)
        told.append(f"{table_name(parcel.now, one.table)}, where {read}: {_chance(parcel, one.open.chance)}.")
    by_blades = {(one.table.job, demand.gap.name) for one in parcel.together for demand in one.table.demands}
    left = [one for one in parcel.left if (one.job, one.gap.name) not in by_blades]
    return [*told, *(unanswered_words(parcel.now, one) for one in left)]


def owed_words(parcel: Parcel) -> list[str]:
    """What suppliers still owe: it did not come, or not as ordered."""
    owed = []
    for number, line in enumerate(parcel.asked.lines):
        found = parcel.came_of(number)
        if short := line.pieces - found["as ordered"] - found["stands in"]:
            supplier = shown(line.supplier) or "The supplier"
            owed.append(f"{supplier}: {short} x {order_part(parcel.promised, line.part)}.")
    return owed


def again_words(parcel: Parcel) -> list[str]:
    """The order that closes what is lost, where there is one."""
    if parcel.again is None:
        return []
    order = parcel.again.order
    first = ["Have sent again what is owed."] if owed_words(parcel) else []
    if not order.lines:
        return [*first, "No purchase serves it: see what `shimopt order JOB` says once the parcel is in the drawer."]
    bought = listed([_bought_words(order, line) for line in order.lines])
    less = "" if parcel.again.whole else " That serves more, not all of it."
    return [*first, f"{'Or order' if first else 'Order'} {bought}: {cost_text(order, order.cost)} in all.{less}"]


def _bought_words(order: Order, line: Line) -> str:
    """`2 x PS-0.2 from Harbour Bearings (3 days)`."""
    supplier = f" from {shown(line.supplier)}" if line.supplier else ""
    days = "" if line.offer.lead_days is None else f" ({days_text(line.offer.lead_days)})"
    return f"{packs_text(order, line)}{supplier}{days}"


def accepted_words(done: Accepted | None, drawer: str) -> list[str]:
    """What was put into a drawer of this name, what lay there already, and what a workbook still wants."""
    if done is None:
        return ["Nothing accepted: there is no piece that fits."]
    said = []
    if done.there_already:
        said.append(f"In the drawer already, left as they are: {listed(done.there_already)}.")
    if done.fewer:
        words = "fitted since? If they are of another parcel, name its table by its date, or give its pieces tags"
        said.append(f"Fewer in the drawer than came: {listed(done.fewer)}: {words}.")
    if done.written:
        pieces = sum(int(row.get("on_hand") or 1) for row in done.rows)
        said.append(f"{plural(pieces, 'piece')} added to {drawer}.")
    elif done.rows:
        said.append(f"{drawer} is a workbook and is only read; add these rows to it yourself:")
        said += ["  " + ", ".join(f"{column} {cell}" for column, cell in row.items()) for row in done.rows]
    return said


def next_steps(parcel: Parcel, *, written: bool, with_card: bool) -> list[str]:
    """What to do next; `written` where the pieces are in the drawer, `with_card` where the card is made anew."""
    steps = []
    new = [p for p in parcel.accepted if (p.part.name, p.part.piece) not in parcel.there_already]
    if new and not written:
        pieces = sum(piece.count for piece in new)
        steps.append(
            f"Put the {plural(pieces, 'piece')} that {'fits' if pieces == 1 else 'fit'} into the drawer: --yes."
        )
    for piece, line in parcel.perhaps_there:
        name = f"{line.on_hand} x {tagged(line.part.name, line.part.piece)}"
        steps.append(
            f"{name} {'lies' if line.on_hand == 1 else 'lie'} in the drawer, as thick as those of "
            f"{shown(piece.part.piece or '')}: the same come again? Then keep that row out of the table."
        )
    if any(one.kind == "wrong" and one.fits for one in parcel.held):
        steps.append("Take out of the table what is sent back before that: what fits goes in as what it is.")
    say = Speaker(parcel.jobs[0].unit, parcel.now.stock)
    for said in (one for table in parcel.now.tables for one in apart_words(parcel.now, table, say)):
        steps.append(f"{said[0].upper()}{said[1:]}")
    if parcel.not_read:
        many = "column" if len(parcel.not_read) == 1 else "columns"
        steps.append(f"Not read of what came: {many} {listed(parcel.not_read)}.")
    measured = all(one.checked.piece.spots for one in parcel.held)
    if not measured:
        steps.append("What was not measured is taken as marked, bore and all: measure it, at best before it is fitted.")
    if not any(job.seats for job in parcel.jobs):
        steps.append("No bore was held against a shaft: the job describes no seat ([[seat]]).")
    elif bare := [place.name for job in parcel.jobs for place in job.places if place.seat is None]:
        steps.append(f"No bore was held against the shaft of {listed(bare, 3)}: no seat is described there.")
    if parcel.card_holds:
        known = ": every piece is what its label promises" if measured else " as far as the labels are right"
        listed_only = parcel.asked.file and not parcel.asked.file.casefold().endswith(".json")
        drawer = ", while the drawer still holds what it names" if listed_only else ""
        steps.append(f"The card of the order holds{known}{drawer}.")
    elif parcel.now.answered and not with_card:
        if names := list(dict.fromkeys(shown(piece.part.name) for piece in parcel.beyond_labels)):
            can = "it was measured, it" if len(names) == 1 else "they were measured, they"
            steps.append(f"{listed(names, 3)}: as {can} can be thicker or thinner than the label promises.")
        steps.append("Make the card anew from the drawer as it is now: shimopt order JOB --came FILE --card card.pdf.")
    return steps
