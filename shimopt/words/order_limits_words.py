"""What an order does not cover, does not answer, does not look at, and takes for granted."""

from __future__ import annotations

import re
from collections.abc import Sequence

from shimopt.arithmetic.play_left import with_play
from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.lengths import Bracket
from shimopt.ordering.demand import TOGETHER, Unanswered
from shimopt.ordering.order_result import Order
from shimopt.ordering.unevenness import unevenness
from shimopt.ordering.unserved_together import nothing_served, open_together
from shimopt.reasons.about_places import about_places
from shimopt.reasons.together import windows_apart
from shimopt.seats import Finding, stack_findings, with_hard_between
from shimopt.words.card_words import gap_text, named
from shimopt.words.customer_words import to_settle
from shimopt.words.digits import OF_A_GAUGE
from shimopt.words.exact_words import taken_as_exact
from shimopt.words.finding_words import finding_words
from shimopt.words.first_words import first_of_gap
from shimopt.words.fit_words import wanting
from shimopt.words.money_words import rate_words
from shimopt.words.order_part_words import order_part, plan_again, turned_on_the_day
from shimopt.words.speaker import Speaker, chance_text, listed
from shimopt.words.table_words import readings_together_text

# `plan again: `shimopt plan JOB --buy` chooses ...`: the command and what it does
_WITH_A_COMMAND = re.compile(r"(plan again): `shimopt[^`]*`[^.]*")
# of so many rows it is told how they read
_MOST_ROWS = 3


def unanswered_open(order: Order) -> list[str]:
    """The gaps without a card of which the job leaves a question open."""
    return [
        named(order, left.job, left.gap.name)
        for left in order.unanswered
        if any(to_settle(one) for one in about_places(order.jobs[left.job]) if one.place == left.gap.name)
    ]


def unanswered_words(order: Order, left: Unanswered, *, at_bench: bool = False) -> str:
    """Why a gap has no card, and what to do instead; first of all the question that the job leaves open.

    Parameter: at_bench, whether it stands on the paper for the bench, where there is no computer.
    """
    told = _no_card(order, left)
    if at_bench:
        told = _WITH_A_COMMAND.sub(r"\1", told)
    stated = [one for one in about_places(order.jobs[left.job]) if one.place == left.gap.name]
    return " ".join([told, *(f"First find out {ask}." for one in stated if (ask := to_settle(one)))])


def _no_card(order: Order, left: Unanswered) -> str:
    job, name = order.jobs[left.job], named(order, left.job, left.gap.name)
    places = [place for place, _ in left.gap.effects]
    then = (
        f"{_not_found(order)}{_would_serve(order, left)} Read them at the final build, then plan again: "
        f"`{plan_again(order)}` chooses all stacks together."
    )
    if left.why in TOGETHER and left.gap.name in (fight := fighting(order, left)):
        return f"{name}: {_cannot_hold(fight)}, by today's readings, and nothing that is bought helps."
    match left.why:
        case "tight":
            first = " ".join(first_of_gap(left.gap, job, (), Speaker(job.unit)))
            first = f"{name}{first.removeprefix(shown(left.gap.name))}"
            return f"{first} Until then no pack is known to be right. Then plan again: `shimopt plan JOB`."
        case "as set" | "by torque":
            return f"{name}: {turned_on_the_day(left.gap, right=left.why == 'as set')}"
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


def _not_found(order: Order) -> str:
    within = " within these limits" if order.limited else ""
    found = f"In the time allowed no order{within}" if order.out_of_time else f"No order{within}"
    return f"{found} was found that is sure at every final reading of them all."


def _would_serve(order: Order, left: Unanswered) -> str:
    """How thick equal packs would have to be; told once, at the first of the gaps that share them."""
    job = order.jobs[left.job]
    cluster = next(one for one in job.clusters if left.gap.name in one.gaps)
    first = next(one for one in order.unanswered if one.job == left.job and one.gap.name in cluster.gaps)
    table = nothing_served(left.job, job, cluster.gaps) if left.why in TOGETHER and first is left else None
    say, told = Speaker(job.unit), list[str]()
    for one in open_together(job, table) if table else ():
        if table and one.each is not None:
            thick = Bracket.between(*one.each).inward(say.unit, OF_A_GAUGE[say.unit])
            read = readings_together_text(order, table, one.readings, say)
            told.append(f"{say.bracket(thick.low, thick.high)} in each of {listed([*table.places])} where {read}")
    return f" What would serve: {'; '.join(told[:_MOST_ROWS])}." if told else ""


def fighting(order: Order, left: Unanswered) -> tuple[str, ...]:
    """The gaps whose windows cannot all hold by today's readings, of those that hang on the same places as this one."""
    job = order.jobs[left.job]
    return windows_apart(job, next(cluster for cluster in job.clusters if left.gap.name in cluster.gaps))


def fights_words(order: Order) -> list[str]:
    """The same of all gaps without a card, a clause for each set that fights."""
    open_ = {*unanswered_open(order)}
    asked = [left for left in order.unanswered if named(order, left.job, left.gap.name) not in open_]
    return [_cannot_hold(fight) for fight in dict.fromkeys(fighting(order, left) for left in asked) if fight]


def _cannot_hold(fight: Sequence[str]) -> str:
    if len(fight) == 1:
        return f"the window of {shown(fight[0])} cannot be met, whatever goes in"
    return f"the windows of {listed(fight, 4)} cannot {'both' if len(fight) == 2 else 'all'} hold, whatever goes in"


def read_again_first(order: Order) -> tuple[str, str]:
    """Of the gaps that were read while a preload still had play: which are read again, and what is set before."""
    jobs = {left.job: order.jobs[left.job] for left in order.unanswered if left.why == "with play"}
    pairs = [(named(order, n, gap.name), other) for n, job in jobs.items() for gap, other in _read_with_play(job)]
    return listed(list(dict.fromkeys(again for again, _ in pairs))), listed(list(dict.fromkeys(o for _, o in pairs)))


def _read_with_play(job: Job) -> list[tuple[Gap, str]]:
    return [(gap, other.name) for gap in job.gaps for other in with_play(job, gap, preloads=True)]


def _with_play(job: Job, gap: Gap) -> str:
    """What is set first, and read again then: with today's reading no row of a card could ever be used."""
    cluster = next(one for one in job.clusters if gap.name in one.gaps)
    pairs = [(again.name, other) for again, other in _read_with_play(job) if again.name in cluster.gaps]
    again, first = (listed(list(dict.fromkeys(names))) for names in zip(*pairs, strict=True))
    if gap.name not in {name for name, _ in pairs}:
        return f"it shares shims with {again}, which is read again once {first} is set."
    return (
        f"read while {first} still had play, so that no row of a card could be used once {first} is set. Set {first} "
        f"by what `shimopt plan JOB` lists, read {again} again, record both, then plan again. What the drawer lacks "
        "for that: shimopt plan JOB --buy."
    )


def not_looked_at(order: Order, *, at_bench: bool = False) -> list[str]:
    """What the job asks for and the order passes over; `at_bench`: without what is of no use to whoever fits."""
    texts = []
    if any(left.why != "as set" for left in order.unanswered) and not at_bench:
        texts.append("The drawer's pieces that the gaps not answered may need are not kept back for them.")
    if order.tables and order.lines and not order.searched_together and not at_bench:
        texts.append(
            "Not all stacks of the places that act together were looked at: they come after the gaps that stand alone, "
            "by the fewest pieces and by what is cheap, from all suppliers, from each alone and from two of them."
        )
    balances = [one.balance.name for one in unevenness(order) if one.worst is None]
    if balances:
        texts.append(
            "Balances: each row takes the other gaps as the plan of today's readings leaves them. Whether the limits "
            f"of {listed(list(dict.fromkeys(balances)))} are met by the final readings of all gaps is not looked at"
            + (": plan again from them." if at_bench else "; `shimopt plan JOB` looks at them then.")
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
            used: dict[object, int] = {order.stock[i].part.known_by: i for i in stack}
            for finding in (*with_hard_between(there, job, stacks), *stack_findings(job, stacks)):
                about = finding.known_by
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
        "Where the final reading falls outside today's and its shift, a row of blades counts by itself; with any other "
        f"gauge an end row counts only as far as both readings can be true.{but}"
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
    by_blades += [named(order, table.job, d.gap.name) for table in order.tables for d in table.demands if d.pairs]
    if by_blades:
        texts.append(
            f"The final reading of {listed(by_blades)} is taken with blades that step as today's: what lies between "
            "two readings is not asked for."
        )
    for opens, words in (
        (False, "No preload: {} may be tighter than 0, which the reading cannot tell."),
        (True, "The cover not yet on its case: {} may have play that the reading cannot tell."),
    ):
        if blind := read_as_nothing(order, opens=opens):
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


def read_as_nothing(order: Order, *, opens: bool) -> list[str]:
    """The gaps that were read as nothing, under covers or elsewhere: they may hide preload, or play under the cover."""
    every = enumerate(order.demands)
    blind = [(n, one.gap.reading) for n, one in every if one.gap.reading.no_preload_assumed]
    return [gap_text(order, n) for n, reading in blind if reading.opens == opens]
