"""The order to a supplier as a shop would send it: who, when, what, what it comes to. What nobody stated is a blank."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from shimopt.errors import shown
from shimopt.job import UNTITLED, Job
from shimopt.lengths import UNITS, Bracket, decimal_text
from shimopt.ordering.order_result import Bill, Line, Order
from shimopt.parts import Part
from shimopt.words.card_first_words import over_rows
from shimopt.words.money_words import charged_in, charged_text, each_text, least_of_bundle
from shimopt.words.speaker import Speaker, listed, plural

BLANK = "____________________"
# as long as an address or a title may be told
_LONG = 400
# with so many digits after the point a size is written as its maker would
_DIGITS = 4
# nobody writes a bore in thou or micrometres
_OF_DIAMETERS = {"mm": "mm", "um": "mm", "in": "in", "thou": "in"}


@dataclass(frozen=True, slots=True)
class Item:
    """A line of the order: the supplier's name of the part with its size, how many at which price, and the sum."""

    part: str
    count: str
    sum: str


@dataclass(frozen=True, slots=True)
class Mail:
    """What is written to one supplier: the head as pairs, the items, the sums as pairs, the last sentences.

    `wait` comes before all of it, and says why it must not be sent yet.
    """

    head: tuple[tuple[str, str], ...]
    items: tuple[Item, ...]
    sums: tuple[tuple[str, str], ...]
    closing: tuple[str, ...]
    sender: str
    wait: tuple[str, ...] = ()


def mail_of(order: Order, bill: Bill, day: str, need_by: date | None) -> Mail:
    """The order to the supplier of a bill; `need_by` the day by which it is wanted, where somebody said so."""
    sender, contact, title = said_of(order.jobs, "shop"), said_of(order.jobs, "contact"), _reference(order.jobs)
    head = (
        ("To", shown(bill.supplier.name) or BLANK),
        ("From", sender or BLANK),
        ("Contact", contact or BLANK),
        ("Deliver to", said_of(order.jobs, "deliver_to") or BLANK),
        ("Date", day),
        ("Order no.", said_of(order.jobs, "order_number") or BLANK),
        ("Reference", title or BLANK),
    )
    lines = [line for line in order.asked if line.supplier == bill.supplier.name]
    items = tuple(_item(order, bill, line) for line in lines)
    closing = tuple(_closing(order, bill, lines, need_by))
    return Mail(head, items, tuple(_sums(order, bill)), closing, sender, tuple(not_yet(order)))


def not_yet(order: Order) -> list[str]:
    """That nothing is to be bought before something is settled, and what; empty where it can be sent."""
    first = over_rows(order, Speaker(order.jobs[0].unit, order.stock)).first
    settle = dict.fromkeys(words for of_gap in first.values() for words in of_gap)
    return ["NOT TO BE SENT YET. First:", *(f"{words.removesuffix('.')}." for words in settle)] if settle else []


def written_words(order: Order, ending: str) -> str:
    """After the name of a file that goes to suppliers: whether it can be sent, and what is blank in it."""
    if ending.casefold() == ".json" or not order.lines:
        return ""
    wait = " (not to be sent yet: see its first lines)" if not_yet(order) else ""
    blank = _left_blank(order) if ending.casefold() == ".txt" else []
    return f"{wait}{f'; blank in it, for the job does not say: {listed(blank)}' if blank else ''}"


def _left_blank(order: Order) -> list[str]:
    """What an order to a supplier leaves blank, each with the key of the job that says it."""
    told = (("From", "shop"), ("Contact", "contact"), ("Deliver to", "deliver_to"), ("Order no.", "order_number"))
    return [f"{name} (`{key}`)" for name, key in told if not said_of(order.jobs, key)]


def said_of(jobs: Sequence[Job], key: str) -> str:
    """What the jobs say of themselves, each once."""
    return "; ".join(dict.fromkeys(shown(job.about[key], _LONG) for job in jobs if key in job.about))


def _reference(jobs: Sequence[Job]) -> str:
    return "; ".join(dict.fromkeys(shown(job.title, _LONG) for job in jobs if job.title != UNTITLED))


def _item(order: Order, bill: Bill, line: Line) -> Item:
    pieces = plural(line.pieces, "piece")
    count = f"{plural(line.packs, 'pack')} of {line.offer.pack} ({pieces})" if line.offer.pack > 1 else pieces
    if line.cost is None:
        return Item(_part(order, line), f"{count}, at your price", "")
    each = "" if line.packs == 1 else " a pack" if line.offer.pack > 1 else " each"
    least = least_of_bundle(line)
    price = f"{count} at {each_text(order, line)}{each}{f' (your price from {least} on)' if least else ''}"
    return Item(_part(order, line), price, charged_text(order, bill.supplier, line.cost))


def _part(order: Order, line: Line) -> str:
    """`F-20: 0.20 mm thick, bore 60.2 mm`."""
    return f"{shown(order.stock[line.part].part.name)}: {sizes_text(order, line)}"


def sizes_text(order: Order, line: Line) -> str:
    """`0.20 mm thick, bore 60.2 mm`: what a part is by its label."""
    part, unit = order.stock[line.part].part, order.jobs[0].unit
    sizes = [f"{_thickness(part, unit)} thick", *_diameters(part, _OF_DIAMETERS[unit])]
    return ", ".join([*sizes, *([shown(part.material)] if part.material else [])])


def _thickness(part: Part, unit: str) -> str:
    """How thick it is by its name in the catalogue, with the tolerance stated there."""
    size = part.thickness
    marked = size.best if part.marked is None else Fraction(part.marked)
    own = _unit_for([size.low, size.high, marked], unit)
    least = 2 if own == "mm" else 0
    low, named, high, beside = (_number(nm, own, least) for nm in (size.low, marked, size.high, size.high - marked))
    if size.exact:
        return f"{named} {own}"
    if size.high - marked == marked - size.low:
        return f"{named} ± {beside} {own}"
    return f"{named} {own} ({low} to {high} {own})"


def _diameters(part: Part, unit: str) -> list[str]:
    if part.inner and part.outer:
        own = _unit_for([*_ends(part.inner), *_ends(part.outer)], unit)
        return [f"{_span(part.inner, own)} x {_span(part.outer, own)} {own} (bore x outer)"]
    named = ((what, size) for what, size in (("bore", part.inner), ("outer diameter", part.outer)) if size)
    return [f"{what} {_span(size, own)} {own}" for what, size in named for own in [_unit_for(_ends(size), unit)]]


def _span(size: Bracket, unit: str) -> str:
    low, high = (_number(end, unit) for end in _ends(size))
    return high if size.exact else f"{low} to {high}"


def _ends(size: Bracket) -> list[Fraction]:
    return [size.low, size.high]


def _unit_for(lengths: Sequence[Fraction], unit: str) -> str:
    """The job's unit, or another in which these are short numbers."""
    for one in (unit, "mm", "in"):
        if all(Fraction(_number(nm, one)) * UNITS[one] == nm for nm in lengths):
            return one
    return unit


def _number(nm: Fraction, unit: str, least: int = 0) -> str:
    """A length as its maker would write it, with at least so many digits after the point."""
    whole, _, places = decimal_text(nm, unit, _DIGITS).partition(".")
    places = places.ljust(least, "0")
    return f"{whole}.{places}" if places else whole


def _sums(order: Order, bill: Bill) -> list[tuple[str, str]]:
    """Goods, postage and total, as this supplier charges them."""
    terms = bill.supplier
    postage = [("Postage", charged_text(order, terms, Fraction(terms.postage)))] if terms.postage else []
    if bill.goods is None or bill.total is None:
        return postage
    goods = bill.goods + bill.filled
    total = charged_text(order, terms, goods + Fraction(terms.postage))
    return [("Goods", charged_text(order, terms, goods)), *postage, ("Total", total)]


def asks_words(order: Order, bill: Bill) -> str:
    """Of goods that stay below a smallest order: whether they are sent, and what is added where they are not."""
    if not bill.lost or bill.goods is None:
        return ""
    terms, goods = bill.supplier, bill.goods + bill.filled
    least, come_to = (charged_text(order, terms, money) for money in (Fraction(terms.smallest_order), goods))
    asked = f"Your smallest order is {least}, and these goods come to {come_to}: do you send them so?"
    if bill.reach is None or bill.reach.cost is None:
        return f"{asked} If not, please say what you charge for them."
    packs = plural(bill.reach.packs, "more pack" if bill.reach.offer.pack > 1 else "more piece")
    goods += bill.reach.cost
    then, total = (charged_text(order, terms, money) for money in (goods, goods + Fraction(terms.postage)))
    part = shown(order.stock[bill.reach.part].part.name)
    return f"{asked} If not, please add {packs} of {part}: goods {then}, {total} in all."


def _closing(order: Order, bill: Bill, lines: Sequence[Line], need_by: date | None) -> list[str]:
    days = [line.offer.lead_days for line in lines if line.offer.lead_days is not None]
    said = [f"Wanted by {need_by.isoformat()}."] if need_by else []
    if not need_by and len(days) == len(lines):
        how = "Delivery in" if len({*days}) == 1 else "Delivery of all of it within"
        said = [f"{how} {plural(max(days), 'day')}, as you state it."]
    if bill.goods is not None and not charged_in(order, bill.supplier):
        said.append(f"All sums in {BLANK}.")
    if asks := asks_words(order, bill):
        said.append(asks)
    total = "the price" if bill.total is None else "the order"
    return [*said, f"Please confirm {total} and the day of delivery."]
