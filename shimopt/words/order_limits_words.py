"""What an order does not cover, does not answer, does not look at, and takes for granted."""

from __future__ import annotations

from fractions import Fraction

from shimopt.arithmetic.agreement import with_play
from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.job.slips import slips_of
from shimopt.ordering.demand import Unanswered
from shimopt.ordering.order_result import Order
from shimopt.ordering.unevenness import unevenness
from shimopt.ordering.unserved_readings import Hole
from shimopt.reasons.about_places import about_places
from shimopt.seats import Finding, stack_findings, with_hard_between
from shimopt.words.card_words import gap_text, named, order_part, read_text, readings_text
from shimopt.words.customer_words import to_settle
from shimopt.words.exact_words import taken_as_exact
from shimopt.words.finding_words import finding_words
from shimopt.words.first_words import first_of_gap
from shimopt.words.fit_words import wanting
from shimopt.words.money_words import rate_words
from shimopt.words.speaker import Speaker, chance_text, listed, plural, stack_wanted
from shimopt.words.ways_out_words import made_thinner_words

__all__ = [
    "assumed_words",
    "balance_words",
    "caution_lines",
    "end_rows_words",
    "hole_words",
    "looks_wrong",
    "not_looked_at",
    "plan_again",
    "read_again_first",
    "unanswered_open",
    "unanswered_words",
]


# nobody makes a piece to so little, and no micrometer of a shop tells it [nm] (common practice, no source)
_LEAST_ROOM = 10_000


def plan_again(order: Order) -> str:
    """The command that chooses all stacks together, with what can be bought where anything is on offer."""
    offered = any(line.offers for job in order.jobs for line in job.stock)
    return "shimopt plan JOB --buy" if offered else "shimopt plan JOB"


def unanswered_open(order: Order) -> list[str]:
    """The gaps without a card of which the job leaves a question open."""
    found = []
    for left in order.unanswered:
        stated = about_places(order.jobs[left.job])
        if any(to_settle(one) for one in stated if one.place == left.gap.name):
            found.append(named(order, left.job, left.gap.name))
    return found


def unanswered_words(order: Order, left: Unanswered) -> str:
    """Why a gap has no card, and what to do instead; first of all the question that the job leaves open."""
    told = _no_card(order, left)
    stated = [one for one in about_places(order.jobs[left.job]) if one.place == left.gap.name]
    return " ".join([told, *(f"First find out {ask}." for one in stated if (ask := to_settle(one)))])


def _no_card(order: Order, left: Unanswered) -> str:
    job, name = order.jobs[left.job], named(order, left.job, left.gap.name)
    places = [place for place, _ in left.gap.effects]
    then = (
        "No order was found that is sure at every final reading of them all. Read them at the final build, then plan "
        f"again: `{plan_again(order)}` chooses all stacks together."
    )
    match left.why:
        case "tight":
            first = " ".join(first_of_gap(left.gap, job, (), Speaker(job.unit)))
            first = f"{name}{first.removeprefix(shown(left.gap.name))}"
            return f"{first} Until then no pack is known to be right. Then plan again: `shimopt plan JOB`."
        case "with play":
            return f"{name}: {_with_play(job, left.gap)}"
        case "no place":
            return f"{name}: no place moves it, so no order changes it. See [[place]] and `effects` in the job."
        case "equal":
            return (
                f"{name}: what goes into {shown(places[0])} must equal another pack (`equal`), so these "
                f"gaps share shims. {then}"
            )
        case "several gaps":
            moved = listed([gap.name for gap in job.moved_by[places[0]]])
            return f"{name}: {shown(places[0])} moves {moved}, so these gaps share shims. {then}"
    return f"{name}: {listed(places)} move it together, and what is right in one depends on the others. {then}"


def read_again_first(order: Order) -> tuple[str, str]:
    """Of the gaps that were read while a preload still had play: which are read again, and what is set before."""
    jobs = {left.job: order.jobs[left.job] for left in order.unanswered if left.why == "with play"}
    pairs = [(named(order, n, gap.name), other) for n, job in jobs.items() for gap, other in _read_with_play(job)]
    return listed(list(dict.fromkeys(again for again, _ in pairs))), listed(list(dict.fromkeys(o for _, o in pairs)))


def _read_with_play(job: Job) -> list[tuple[Gap, str]]:
    return [(gap, other.name) for gap in job.gaps for other in with_play(job, gap)]


def _with_play(job: Job, gap: Gap) -> str:
    """What is set first, and read again then: with today's reading no row of a card could ever be used."""
    cluster = next(one for one in job.clusters if gap.name in one.gaps)
    pairs = [(again.name, other) for again, other in _read_with_play(job) if again.name in cluster.gaps]
    again, first = (listed(list(dict.fromkeys(names))) for names in zip(*pairs, strict=True))
    if gap.name not in {name for name, _ in pairs}:
        return f"it shares shims with {again}, which is read again once {first} is set."
    return (
        f"read while {first} still had play, so that no row of a card could be used once {first} is set. Set {first} "
        f"by what `shimopt plan JOB` lists, read {again} again, record both, then plan again."
    )


def not_looked_at(order: Order) -> list[str]:
    """What the job asks for and the order passes over."""
    texts = []
    if order.unanswered:
        texts.append("The drawer's pieces that the gaps not answered may need are not kept back for them.")
    if order.tables and order.lines:
        texts.append(
            "Places that act together come after the gaps that stand alone, with the fewest pieces more: that nothing "
            "is cheaper for all of them at once is not proven."
        )
    balances = [one.balance.name for one in unevenness(order) if one.worst is None]
    if balances:
        texts.append(
            "Balances: each row takes the other gaps as the plan of today's readings leaves them. Whether the limits "
            f"of {listed(list(dict.fromkeys(balances)))} are met by the final readings of all gaps is not looked at; "
            "`shimopt plan JOB` looks at them then."
        )
    by_chance = [
        (gap_text(order, n), d.gap.least_chance) for n, d in enumerate(order.demands) if d.gap.least_chance is not None
    ]
    if by_chance:
        chance = min(least for _, least in by_chance if least is not None)
        texts.append(
            f"Decisions by chance: {listed([name for name, _ in by_chance])} would do with a chance of "
            f"{chance_text(chance)}. The order covers every gap for sure, which can ask for "
            "more."
        )
    return texts


def balance_words(order: Order, say: Speaker) -> list[str]:
    """Whether balances keep within their limits wherever the final readings fall, and where they would not."""
    texts = []
    for one in unevenness(order):
        if one.worst is None:
            continue
        name, within = shown(one.balance.name), say(Fraction(one.balance.within or 0))
        if one.met:
            texts.append(f"{name}: uneven by {say(one.worst)} at most at any final readings; {within} may be.")
            continue
        ends = [_read_at(order, gap, at, say) for gap, at in (one.widest, one.narrowest)]
        texts.append(
            f"{name}: each row takes the other gaps as they are today. With {listed(ends)} it is uneven by "
            f"{say(one.worst)}, and {within} may be: where the final readings differ so, plan again from them."
        )
    return texts


def _read_at(order: Order, gap: int, at: Fraction, say: Speaker) -> str:
    """A gap as it is read at a best estimate, by a pair of blades or by what is half-way between them."""
    demand, name = order.demands[gap], gap_text(order, gap)
    if demand.pairs:
        return f"{name} read as {readings_text(order, demand, at, at, say)}"
    return f"{name} read at {'a middle of ' if demand.by_middle else ''}{read_text(order, gap, at, at, say)}"


def caution_lines(order: Order, say: Speaker) -> list[tuple[str, str, Finding]]:
    """Cautions about how the gaps were read and what the cards fit: of which gap, in words, and the finding."""
    found: dict[tuple[str, str], Finding] = {
        (gap_text(order, number), finding_words(finding, say)): finding
        for number, demand in enumerate(order.demands)
        for finding in demand.doubts
    }
    for number, (demand, card) in enumerate(zip(order.demands, order.cards, strict=True)):
        job, screening = order.jobs[demand.job], order.screenings[demand.job]
        there = [f for f in screening.findings if f.place == demand.place.name]
        name = gap_text(order, number)
        for stack in dict.fromkeys(card.stacks):
            stacks = {demand.place.name: stack}
            used = {(order.stock[i].part.name, order.stock[i].part.piece): i for i in stack}
            for finding in (*with_hard_between(there, job, stacks), *stack_findings(job, stacks)):
                about = finding.part, finding.piece
                if finding.grade == "caution" and (not finding.part or about in used):
                    part = f"{order_part(order, used[about])} " if finding.part else ""
                    found.setdefault((name, f"{part}{finding_words(finding, say)}"), finding)
    return [(name, words, finding) for (name, words), finding in found.items()]


def end_rows_words(order: Order) -> str:
    """Why a row beyond the readings that the card covers can be believed, and where it cannot."""
    doubted = [gap_text(order, number) for number, demand in enumerate(order.demands) if demand.doubts]
    but = (
        f" Not so for {listed(doubted)}: there a final reading that today's does not bear out says stop."
        if doubted
        else ""
    )
    return (
        "Beyond today's bracket, shift included: trust a pair of blades; any other gauge only as far as both readings "
        f"agree.{but}"
    )


def assumed_words(order: Order) -> list[str]:
    """What the order rests on."""
    texts = [
        "The final best estimate falls in today's bracket, shift included; the final reading is as uncertain as "
        "today's unless `final_reading` says otherwise.",
        end_rows_words(order),
        "Chances: the final best estimate is spread as today's errors are; gaps are independent of each other.",
    ]
    texts += rate_words(order.jobs, {terms.charged_in for terms in order.market.suppliers})
    exactly = [gap_text(order, n) for n, demand in enumerate(order.demands) if not demand.below and not demand.above]
    if exactly:
        words = (
            f"The final reading is taken as exact for {listed(exactly)}: no ± is stated. `final_reading` states one."
        )
        texts.append(words)
    by_blades = [gap_text(order, n) for n, demand in enumerate(order.demands) if demand.by_blades]
    if by_blades:
        texts.append(
            f"The final reading of {listed(by_blades)} is taken with blades that step as today's: what lies between "
            "two readings is not asked for."
        )
    for opens, words in (
        (False, "No preload: {} may be tighter than 0, which the reading cannot tell."),
        (True, "The cover not yet on its case: {} may have play that the reading cannot tell."),
    ):
        blind = [
            gap_text(order, n)
            for n, demand in enumerate(order.demands)
            if demand.gap.reading.no_preload_assumed and demand.gap.reading.opens == opens
        ]
        if blind:
            texts.append(words.format(listed(blind)))
    if any(demand.place.installed for demand in order.demands):
        texts.append(
            "Pieces that are in were in during the final reading too, and what comes out of one place may go "
            "into another."
        )
    there = {i for job in order.jobs for i, count in enumerate(job.there) if count}
    offered = {buy.line for buy in order.market.buys}
    if exact := taken_as_exact(order.jobs, [line for i, line in enumerate(order.stock) if i in there | offered]):
        texts.append(exact)
    if any(not line.supplier for line in order.lines):
        texts.append("Offers that name no supplier are taken as free of postage.")
    if any(screening.unchecked for screening in order.screenings):
        texts.append(wanting(finding.fact for screening in order.screenings for finding in screening.findings))
    return texts


def looks_wrong(order: Order, gap: int) -> bool:
    """Whether a gap's reading looks like a slip, by its number."""
    demand = order.demands[gap]
    return any(slip.gap == demand.gap.name for slip in slips_of(order.jobs[demand.job]))


def _one_more(order: Order, hole: Hole, say: Speaker) -> str:
    """Where nothing is on offer: what is there and would serve, if there were one more of it; else its size."""
    if hole.between is None:
        return "one more of a piece that is used elsewhere"
    low, high = hole.between
    usable = order.demands[hole.gap].usable
    fitting = [
        i for i in usable if low <= order.stock[i].part.thickness.low and order.stock[i].part.thickness.high <= high
    ]
    stopped = {one.gap for one in order.holes}
    for i in fitting:
        for n, other in enumerate(order.demands):
            if n != hole.gap and i in other.place.installed:
                how = "" if n in stopped else " (keep = false there)"
                return f"{order_part(order, i)} out of {shown(other.place.name)}, where that can do without it{how}"
    if fitting:
        part, line = order_part(order, fitting[0]), order.stock[fitting[0]]
        some = line.on_hand or any(fitting[0] in demand.place.installed for demand in order.demands)
        none = " (none is on offer)" if order.market.buys and not line.offers else ""
        return f"{'another' if some else 'a'} {part}{none}"
    return f"another stack of {say.bracket(low, high)}"


def _left_out(order: Order, line: int) -> str:
    """That a part is on offer which may serve, and by which limit of the order it is left out."""
    name, offers = order_part(order, line), order.stock[line].offers
    within = order.within_days
    in_time = [x for x in offers if within is None or (x.lead_days is not None and x.lead_days <= within)]
    if not in_time:
        days = min((one.lead_days for one in offers if one.lead_days is not None), default=None)
        when = (
            "nobody says when it comes" if days is None else f"it comes in {plural(days, 'day')}, later than asked for"
        )
        return f"{name} may serve there, but is left out: {when}."
    senders = listed(sorted({shown(one.supplier) or "(no supplier named)" for one in in_time}), 3)
    return f"{name} may serve there, but is left out: it takes one supplier more, {senders}."


def hole_words(order: Order, hole: Hole, say: Speaker) -> str:
    """Which readings are not covered, how likely they are, why, and what would close the hole."""
    name, demand = gap_text(order, hole.gap), order.demands[hole.gap]
    read = read_text(order, hole.gap, hole.start, hole.end, say)
    start = f"{name}: not covered at a final reading of {read} (chance {chance_text(hole.chance)})."
    if looks_wrong(order, hole.gap):
        return f"{start} The reading looks like a slip: read it again before anything is done."
    finer = [f"a final reading known to ± {say(hole.finer)} or better (a finer gauge)"] if hole.finer else []
    if hole.cause == "metal":
        size = "too large" if demand.effect > 0 else "too small"
        surely = "is" if hole.surely else "may be"
        words = f"There the gap {surely} {size} with no shim at all. "
        if demand.gap.reading.no_preload_assumed:
            return f"{start} {words}It reads as nothing: look at reading and seating first; no metal comes off on that."
        if not demand.place.takes_shims:
            how = "grow" if demand.effect < 0 else "shrink"
            return f"{start} {words}No shim goes in there: restore the dimension that sets it, it has to {how} by " + (
                f"{say(hole.metal)} for all of these readings."
            )
        words += "Where reading and seating are right, this gap "
        words += f"needs metal removed, {say(hole.metal)} for all of these readings"
        return f"{start} {words}{''.join(f', or {way}' for way in finer)}."
    if hole.cause == "seat":
        why = f" ({shown(demand.place.seat.why)})" if demand.place.seat and demand.place.seat.why else ""
        ways = f" What would close it: {finer[0]}." if finer else ""
        return f"{start} The seat takes no shims{why}, so nothing that is bought helps.{ways}"
    if hole.cause == "kept back":
        limits = ((order.spend is not None, "more money"), (order.within_days is not None, "more time"))
        more = [_one_more(order, hole, say)]
        limit = [words for asked, words in limits if asked] or more
        return f"{start} What would close it: {' or '.join(limit)}, or ordering after the final reading."
    if hole.cause == "gauge":
        window = demand.gap.window
        wide = say(Fraction((window.max or 0) - (window.min or 0)))
        least = f" To ± {say(hole.finer)} or better, what is on offer would do." if hole.finer else ""
        return (
            f"{start} No stack can be sure: the window is {wide} wide, and the final reading leaves "
            f"{say(demand.below + demand.above)} open. It takes a finer gauge.{least}"
        )
    ways_out = list(finer)
    if demand.moves[0] != demand.moves[1]:
        ways_out.append("trial readings further apart: how far a shim moves it is not well known")
    narrow = hole.between is not None and hole.between[1] - hole.between[0] < _LEAST_ROOM
    if narrow:
        ways_out = finer or ["a finer final reading: as it is read, next to no thickness is sure"]
    elif hole.between is not None:
        size = say.bracket(*hole.between)
        middles = [i for i in demand.usable if hole.between[0] <= order.stock[i].part.thickness.best <= hole.between[1]]
        alone = demand.place.fewest_pieces < 2
        sold = {buy.line for buy in order.market.buys}
        left_out = [i for i in middles if order.stock[i].offers and not order.stock[i].on_hand and i not in sold]
        if alone and left_out:
            return f"{start} {_left_out(order, left_out[0])}{''.join(f' Or {way}.' for way in finer)}"
        if alone and (there := [i for i in middles if order.stock[i].on_hand or i in sold]):
            ways_out.append(f"{order_part(order, there[0])}, where a micrometer finds it to be {size}")
        ways_out.append("a piece of " + size if alone else stack_wanted(demand.place.fewest_pieces, size))
        if hole.grind is not None:
            ways_out.append(made_thinner_words(order_part(order, hole.grind), size))
    if not narrow and (hole.between is not None or demand.moves[0] == demand.moves[1]):
        ways_out.append("ordering after the final reading, made to measure, if it falls there")
    preload = " What would preload it is not fitted: nothing states how much." if demand.gap.window.ended else ""
    return f"{start} Nothing on offer serves there.{preload} What would close it: {'; '.join(ways_out)}."
