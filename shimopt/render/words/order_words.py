"""All sentences that users read about an order: short, active, every number with its unit."""

from __future__ import annotations

from fractions import Fraction

from shimopt.errors import shown
from shimopt.lengths import spelled
from shimopt.ordering.holes import Hole
from shimopt.ordering.order import LevelProof, Line, Order
from shimopt.render.words.names import chance_text, clearance_text, listed, part_text, plural

__all__ = ["OPTION_NAMES", "assumed_words", "cost_text", "days_text", "end_words", "gap_text", "hole_words",
           "level_text", "line_text", "money", "next_words", "order_headline", "order_reasons",
           "read_text"]  # fmt: skip

OPTION_NAMES = {
    "exact": "for today's best estimates only",
    "sure": "the order above",
    "neighbours": "that and a neighbour each side",
}
_LEVELS = {"open": "gaps not covered", "missing": "readings not covered", "unpriced": "pieces without a price",
           "cost": "cost", "arrival": "latest arrival", "bought": "pieces bought"}  # fmt: skip


def money(order: Order, amount: Fraction) -> str:
    """An amount with its currency, where one is named."""
    digits = max(2, len(str(order.market.price_unit)) - 1)
    text = f"{float(amount):,.{digits}f}"
    return f"{text} {shown(order.market.currency)}" if order.market.currency else text


def cost_text(order: Order, cost: Fraction | None) -> str:
    """A cost, or that it is not known."""
    return "not known" if cost is None else money(order, cost)


def days_text(days: int | None) -> str:
    """When something arrives."""
    return "nobody says" if days is None else plural(days, "day")


def gap_text(order: Order, number: int) -> str:
    """A gap's name, with its job's where there are several."""
    demand = order.demands[number]
    name = shown(demand.gap.name)
    return name if len(order.jobs) == 1 else f"{shown(order.jobs[demand.job].title)}: {name}"


def read_text(order: Order, number: int, start: Fraction, end: Fraction, unit: str, *, with_unit: bool = True) -> str:
    """Readings from .. to, as they are read: under a cover that is the cover's gap."""
    if order.demands[number].gap.reading.kind == "cover_gap":
        start, end = -end, -start
    return clearance_text(start, end, unit, with_unit=with_unit)


def line_text(order: Order, line: Line) -> str:
    """`2 packs of 10 PS-0.2 (20 pieces), 9.20 EUR, 3 days`."""
    pack = f" of {line.offer.pack}" if line.offer.pack > 1 else ""
    what = f"{plural(line.packs, 'pack')}{pack} {part_text(order.jobs[0], line.part)}" if pack else (
        f"{line.packs} x {part_text(order.jobs[0], line.part)}")  # fmt: skip
    cost = "no price" if line.cost is None else money(order, line.cost)
    return f"{what}: {cost}, {days_text(line.offer.lead_days)}"


def order_headline(order: Order) -> str:
    """The answer in one sentence."""
    open_ = {hole.gap for hole in order.holes}
    unsure = listed([gap_text(order, gap) for gap in sorted(open_)])
    if not order.lines:
        if not open_:
            return "Nothing to order: the drawer serves every gap, whatever the final readings in their brackets are."
        verb = "is" if len(open_) == 1 else "are"
        return f"Nothing to order: no purchase helps further, and {unsure} {verb} not served at every reading."
    pieces = plural(sum(line.pieces for line in order.lines), "piece")
    suppliers = len({line.supplier for line in order.lines})
    start = f"Order {pieces} from {plural(suppliers, 'supplier')}"
    start += f" for {money(order, order.cost)}" if order.cost is not None else "; the cost is not known"
    start += f", here in {days_text(order.arrives_in_days)}" if order.arrives_in_days is not None else ""
    if open_:
        return f"{start}; {unsure} {'is' if len(open_) == 1 else 'are'} still not served at every reading."
    kind = "surely" if order.sure else "as surely as the readings are known"
    return f"{start}: one order is {kind} enough for all {plural(len(order.demands), 'gap')}."


def order_reasons(order: Order) -> list[tuple[str, str, str]]:
    """What is to be told beside the numbers: about which gap, a code, and the words."""
    found = []
    open_ = {hole.gap: hole for hole in order.holes}
    for number, (demand, card) in enumerate(zip(order.demands, order.cards, strict=True)):
        name = gap_text(order, number)
        bought = {line.part for line in order.lines}
        used = set(card.most_of)
        if number in open_:
            continue
        if not used:
            found.append((name, "nothing_needed", f"{name}: inside at every reading with nothing fitted."))
        elif not used & bought:
            parts = listed([part_text(order.jobs[0], i) for i in sorted(used)])
            found.append((name, "drawer_serves", f"{name}: the drawer serves it ({parts})."))
        if demand.gap.reading.basis != "worst case":
            found.append(
                (name, "likely_basis", f"{name}: its bracket holds with 95 %, so the order is as sure as that.")
            )
    if any(line.cost is None for line in order.lines):
        names = listed([part_text(order.jobs[0], line.part) for line in order.lines if line.cost is None])
        found.append(("", "no_price", f"The cost is not known: {names} has no price, and nothing with a price serves."))
    if order.lines and order.arrives_in_days is None:
        names = listed([part_text(order.jobs[0], x.part) for x in order.lines if x.offer.lead_days is None])
        found.append(("", "no_lead_days", f"When it arrives is not known: nobody says for {names}."))
    if order.market.late:
        found.append(("", "too_late", f"{plural(order.market.late, 'offer')} left out: later than asked for, or nobody "
                      "says when."))  # fmt: skip
    for bill in order.bills:
        if bill.top_up:
            found.append(("", "top_up", f"{shown(bill.supplier.name)}: {money(order, bill.top_up)} more to reach the "
                          f"smallest order of {money(order, Fraction(bill.supplier.smallest_order))}."))  # fmt: skip
    if order.spend is not None:
        found.append(
            ("", "spend", f"At most {money(order, Fraction(order.spend))} is spent; what has no price is left out.")
        )
    return found


def hole_words(order: Order, hole: Hole, unit: str) -> str:
    """Which readings are not covered, how likely they are, why, and what would close the hole."""
    name, demand = gap_text(order, hole.gap), order.demands[hole.gap]
    read = read_text(order, hole.gap, hole.start, hole.end, unit)
    start = f"{name}: not covered at a final reading of {read} (chance {chance_text(hole.chance)})."
    if hole.cause == "metal":
        size = "too large" if demand.effect > 0 else "too small"
        words = f"There the gap may be {size} with no shim at all. This gap needs metal removed"
        words += f", or a final reading known to ± {spelled(hole.finer, unit)} or better" if hole.finer else ""
        return f"{start} {words}."
    if hole.cause == "kept back":
        limits = ((order.spend is not None, "more money"), (order.within_days is not None, "more time"))
        limit = [words for asked, words in limits if asked]
        return f"{start} {' or '.join(limit).capitalize() or 'More of what is on offer'} would close it."
    ways = []
    if hole.finer:
        ways.append(f"a final reading known to ± {spelled(hole.finer, unit)} or better (a finer gauge)")
    if hole.between is not None:
        low, high = hole.between
        size = spelled(low, unit) if low == high else f"{spelled(low, unit, with_unit=False)} to {spelled(high, unit)}"
        ways.append(f"a piece of {size}")
        if hole.grind is not None:
            ways.append(f"grinding {part_text(order.jobs[0], hole.grind)} to {size}")
    ways.append("ordering after the final reading")
    return f"{start} What would close it: {'; '.join(ways)}."


def end_words(order: Order, number: int, unit: str) -> str:
    """What counts beyond the ends of a card."""
    demand = order.demands[number]
    # read so far below the range, the gap can lie in it only as far as it can be above the reading
    low = demand.above if demand.gap.reading.kind != "cover_gap" else demand.below
    high = demand.below if demand.gap.reading.kind != "cover_gap" else demand.above
    slack = f"{spelled(low, unit)} below or {spelled(high, unit)} above" if low != high else spelled(low, unit)
    return f"up to {slack} beyond an end"


def level_text(order: Order, level: LevelProof, unit: str) -> str:
    """A level's name with value, and its bound where it is not proven."""

    def value(number: Fraction) -> str:
        if level.name == "missing":
            return spelled(number, unit)
        if level.name == "cost":
            return money(order, number)
        return days_text(int(number)) if level.name == "arrival" else f"{float(number):g}"

    text = f"{_LEVELS[level.name]} {value(level.value)}"
    if not level.proven:
        text += " (not proven" + (f", at least {value(level.bound)}" if level.bound is not None else "") + ")"
    return text


def assumed_words(order: Order) -> list[str]:
    """What the order rests on."""
    texts = [
        "The final best estimate falls in today's bracket, shift included; the final reading is as uncertain as "
        "today's unless `final_reading` says otherwise.",
        "Chances: the final best estimate is spread as today's errors are; gaps are independent of each other.",
    ]
    if any(line.part.thickness.exact for line in order.stock):
        exact = sum(line.part.thickness.exact for line in order.stock)
        texts.append(f"Taken as exact, for no tolerance is stated: {exact} of {len(order.stock)} part sizes.")
    if any(not line.supplier for line in order.lines):
        texts.append("Offers that name no supplier are taken as free of postage.")
    unchecked = sum(screening.unchecked for screening in order.screenings)
    if unchecked:
        texts.append(f"Not checked whether the bore suits, on {plural(unchecked, 'pair')} of part and place.")
    return texts


def next_words(order: Order) -> list[str]:
    """What to do next."""
    steps = []
    if order.lines:
        steps.append("Check every piece when it arrives, with a caliper and a micrometer, against its seat.")
    steps.append(
        "Take the card to the bench: read the final gap, fit what its row says. The machine maker's data come first."
    )
    return steps
