"""The content of the bench sheet and of the bench card as plain data; paper and page in a browser are made from it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

from shimopt import __version__
from shimopt.errors import shown
from shimopt.job import Gap, Job, Place
from shimopt.ordering.order_result import Order
from shimopt.planner import Decision
from shimopt.render.papers.left_to_card import on_card, served_by_card, stopped_by_card, wanted_by_card, why_left_open
from shimopt.words.assembly_words import state_words, tightening_words
from shimopt.words.bill_words import packs_text
from shimopt.words.card_first_words import OverRows, over_rows, said_once
from shimopt.words.card_words import CardRow, card_notes, card_rows, gap_text
from shimopt.words.digits import with_digits
from shimopt.words.doubt_words import doubted
from shimopt.words.exact_words import split_words, taken_words
from shimopt.words.findings_list import planned_cautions
from shimopt.words.first_words import blind_buts, in_and_wrong, looked_at_first, open_gaps, unanswered, with_buts
from shimopt.words.found_words import RIGHT_BY_TORQUE, as_read_now, find_out_first, found_first_words, left_as_set
from shimopt.words.headline import worked_on
from shimopt.words.letter_answer import warning_words
from shimopt.words.level_words import not_ruled_out
from shimopt.words.mail_words import sizes_text
from shimopt.words.next_steps import surer_steps
from shimopt.words.order_balance_words import balance_words
from shimopt.words.order_limits_words import (
    caution_lines,
    not_looked_at,
    unanswered_words,
)
from shimopt.words.order_words import again_at_computer, order_headline
from shimopt.words.read_steps import NOTED, blanks, read_after, read_cell, read_heading, read_steps
from shimopt.words.reading_words import limits_text, other_unit, read_how, source_text
from shimopt.words.sheet_words import (
    AFTERWARDS,
    BENCH_CAUTIONS,
    BY_CARD_ALONE,
    BY_ORDER,
    CARD_HEADING,
    LICENSED,
    OPEN_STILL,
    READ_AND_FIT,
    READ_THEN_PLAN,
    beside_out_words,
    by_card_words,
    card_stops_words,
    closed_up_text,
    contact_words,
    expected_text,
    may_be_out,
    not_fitted_words,
    not_yet_words,
    once_settled,
    out_blank,
    out_words,
    pieces_of,
    prepare_words,
    sheet_answer,
    taken_out_first,
    torque_words,
    turned_words,
    waiting,
    without_place_words,
)
from shimopt.words.shortfall_words import read_again_then, short_of
from shimopt.words.size_words import worn_places
from shimopt.words.speaker import Speaker, begun, probably, unit_name
from shimopt.words.table_words import table_allowed, table_how, table_name, table_notes, table_rows, with_rows
from shimopt.words.trial_words import read_with_play, shift_covers


def sheet_content(decision: Decision, unit: str, date: str, order: Order | None = None) -> dict[str, Any]:
    """Everything that stands on the bench sheet, in its order. `date` is ISO, with the offset where it has a time.

    With an order, its bench card is the last page.
    """
    say = with_digits(Speaker.of(decision.job, unit, buys=decision.buy), decision)
    job = decision.job
    still = open_gaps(decision) | looked_at_first(decision)
    order_of = {place.name: number for number, place in enumerate(job.places)}
    served = set() if order is None else served_by_card(order)
    by_card = set() if order is None else on_card(order, decision)
    wanted = set() if order is None else wanted_by_card(order, decision, by_card)
    stopped = set() if order is None else stopped_by_card(order, decision) - wanted
    without_row = stopped | wanted
    stops = card_stops_words(decision, without_row) if stopped and not by_card else ""
    waits = waiting(decision)
    ordered = any(decision.outcome.gaps[name].verdict == "outside" for name in served) and not find_out_first(decision)
    as_set = left_as_set(decision)
    noted = {gap.name: [] if gap.name in as_set else blanks(gap) for gap in job.gaps}
    by_blades = all(of == list(NOTED) for of in noted.values())
    return {
        "kind": "sheet",
        "title": shown(job.title),
        "machine": shown(job.about.get("machine", ""), 400),
        "shop": shown(job.about.get("shop", ""), 400),
        "date": date,
        "units": f"Sizes in {unit_name(unit)}; in brackets in {other_unit(say)}.",
        "warnings": warning_words(decision, say, served - {*find_out_first(decision)}),
        "answer": " ".join(filter(None, (_found(decision, say), BY_ORDER if order and order.asked else BY_CARD_ALONE)))
        if ordered
        else with_buts(stops, blind_buts(decision))
        if stops
        else " ".join(filter(None, (*_answer(decision, say), by_card_words(without_row) if by_card | stopped else ""))),
        "prepare": prepare_words(decision, by_card=bool(by_card)),
        "tightening": [tightening_words(entry) for entry in job.tightening],
        # what was read after a fitting was not read in the trial assembly
        "state": []
        if all(gap.reading.recorded for gap in job.gaps)
        else [*state_words(job), *shift_covers(decision, say)],
        "read": [*read_steps(job, as_set), *taken_out_first(decision, say), *read_after(read_with_play(decision))],
        "heading": read_heading(job),
        "noted": list(NOTED) if by_blades else [],
        "gaps": [_gap(job, gap, say) | ({} if by_blades else {"blanks": noted[gap.name]}) for gap in job.gaps],
        "out": [
            *beside_out_words(decision, say, by_card | without_row | waits.keys()),
            *(f"{worn} Put it aside." for worn in worn_places(job, say)),
            *planned_cautions(decision, say),
            *taken_words(decision),
            *split_words(decision),
        ],
        "not_yet": not_yet_words(decision),
        # one piece alone has no order
        "going_in": any(
            c.into and len(decision.stacks.get(c.place, ())) > 1
            for c in decision.changes
            if c.place not in by_card | without_row | waits.keys()
        ),
        "places": [
            *(
                _left_open(job, place, say, still, waits[place.name])
                if place.name in waits
                else _left_open(job, place, say, still, why_left_open(place.name, by_card, stopped))
                if place.name in by_card | without_row
                else _place(decision, place, say, order_of, still)
                for place in job.places
            ),
            *(_without_place(decision, gap, say, still) for gap in job.gaps if not gap.effects),
        ],
        "sources": list(dict.fromkeys(shown(source_text(gap)) for gap in job.gaps)),
        # the card does not say where a reading is expected, but what is allowed
        "afterwards": [*contact_words(decision), *turned_words(decision), *(AFTERWARDS[1:] if by_card else AFTERWARDS)],
        "cautions": [*BENCH_CAUTIONS, LICENSED],
        "sign": ["Read by, date", "Fitted by, date", "Instrument"],
        "made": f"shimopt {__version__}",
        "card": None if order is None else _card(order, decision, say),
    }


def _found(decision: Decision, say: Speaker) -> str:
    """What was done at the last visit, and what was found after it outside, or otherwise than predicted."""
    done = worked_on(decision.job)
    return " ".join(filter(None, (f"Done at the last visit: {done}" if done else "", found_first_words(decision, say))))


def _answer(decision: Decision, say: Speaker) -> tuple[str, ...]:
    """What was found outside comes before what is to be done about it."""
    found = _found(decision, say)
    answer = sheet_answer(decision, say)
    outside = {name for name, one in decision.outcome.gaps.items() if one.verdict == "outside"}
    if outside & unanswered(decision):
        return found, "Once that is settled, plan again: nothing is fitted before.", not_ruled_out(decision.levels, say)
    # what is set first sets what the other is read again with: the work is not put off for that
    put_off = open_gaps(decision) - {gap for gap, _ in read_with_play(decision)}
    if (now := as_read_now(decision, answer)) == answer and (put_off or in_and_wrong(decision)):
        now = once_settled(decision, answer)
    return (
        found,
        with_buts(now, [*blind_buts(decision), *short_of(decision, say), *read_again_then(decision)]),
        not_ruled_out(decision.levels, say),
    )


def _card(order: Order, decision: Decision, say: Speaker) -> dict[str, Any]:
    """The card, on a page of its own (`apart`) where it has rows; what would make sure what has no row is told too."""
    content = card_content(order, say.unit, "")
    holes = {order.demands[hole.gap].gap.name for hole in order.holes}
    if any(decision.outcome.gaps[name].verdict == "unproven" for name in holes):
        content["told"] += [f"What would make it sure: {' '.join(surer_steps(decision, say))}"]
    keys = ("answer", "units", "rules", "cards", "told")
    return {"heading": CARD_HEADING, "apart": with_rows(order)} | {key: content[key] for key in keys}


def _gap(job: Job, gap: Gap, say: Speaker) -> dict[str, Any]:
    return {
        "name": shown(gap.name),
        "allowed": limits_text(gap.window, say.about(gap)),
        "read": read_cell(job, gap, say),
    }


def _place(
    decision: Decision, place: Place, say: Speaker, order_of: Mapping[str, int], still: Collection[str]
) -> dict[str, Any]:
    """What goes into a place, and what every gap that no later place moves should read then."""
    pieces, moved = pieces_of(decision, place.name, say), decision.job.moved_by[place.name]
    changes = decision.changes.at
    # read where the last piece that moves it goes in or comes out
    last = {g.name: max((n for n, _ in g.effects), key=lambda n: (changes[n].changed, order_of[n])) for g in moved}
    done = [gap for gap in moved if last[gap.name] == place.name]
    return {
        "name": shown(place.name),
        "out": out_words(decision, place.name, say),
        "out_blank": out_blank(decision, place.name),
        "pieces": pieces,
        "nothing": "" if pieces else not_fitted_words(decision, place, moved, say),
        "then": [
            {
                "gap": "" if gap.name == place.name else shown(gap.name),
                "expected": expected_text(decision, gap, say),
                "allowed": limits_text(gap.window, say.about(gap)),
                "torque": torque_words(decision, gap),
                "doubt": _doubt(decision, gap, say, still),
            }
            for gap in done
        ],
    }


def _left_open(job: Job, place: Place, say: Speaker, still: Collection[str], why: str) -> dict[str, Any]:
    """The same where the card decides, so that no reading has two answers, or a plan that is still to be made."""
    then = [
        {
            "gap": "" if gap.name == place.name else shown(gap.name),
            "expected": "",
            "allowed": limits_text(gap.window, say.about(gap)),
            "torque": "",
            "doubt": OPEN_STILL if gap.name in still else "",
        }
        for gap in job.moved_by[place.name]
    ]
    return {
        "name": shown(place.name),
        "out": [],
        "out_blank": "",
        "pieces": [],
        "nothing": why,
        "then": then,
    }


def _without_place(decision: Decision, gap: Gap, say: Speaker, still: Collection[str]) -> dict[str, Any]:
    """A gap that no place moves: nothing goes in, and what it should read stands as it is."""
    then = {
        "gap": "",
        "expected": expected_text(decision, gap, say),
        "allowed": limits_text(gap.window, say.about(gap)),
        "torque": "",
        "doubt": _doubt(decision, gap, say, still),
    }
    return {
        "name": shown(gap.name),
        "out": [],
        "out_blank": "",
        "pieces": [],
        "nothing": without_place_words(gap),
        "then": [then],
    }


def _doubt(decision: Decision, gap: Gap, say: Speaker, still: Collection[str]) -> str:
    """What is said beside what a gap should read: that it is settled first, or how sure it is."""
    found = decision.outcome.gaps[gap.name]
    if closed_up := closed_up_text(decision, gap, say):
        return f"{OPEN_STILL}; {closed_up}" if gap.name in still else closed_up
    if gap.name in still:
        known = found.verdict == "outside" and not decision.job.untold(gap.name) and gap.name not in doubted(decision)
        return f"outside; {OPEN_STILL}" if known else OPEN_STILL
    if gap.name in left_as_set(decision):
        return RIGHT_BY_TORQUE
    if found.verdict == "unproven":
        return f"{probably(found.chance)} inside"
    return "outside" if found.verdict == "outside" else may_be_out(decision, gap, say)


def card_content(order: Order, unit: str, date: str) -> dict[str, Any]:
    """Everything that stands on the bench card. `date` is ISO, with the offset where it has a time."""
    say = Speaker(unit, order.stock)
    about, over = order.jobs[0].about, over_rows(order, say)
    return {
        "kind": "card",
        "title": " + ".join(dict.fromkeys(shown(job.title) for job in order.jobs)),
        "machine": shown(about.get("machine", ""), 400) if len(order.jobs) == 1 else "",
        "shop": shown(about.get("shop", ""), 400),
        "date": date,
        "units": f"All lengths in {unit_name(unit)}.{again_at_computer(order)}",
        "answer": order_headline(order, over, alone=True),
        "doing": READ_AND_FIT if with_rows(order) else READ_THEN_PLAN,
        **said_once(bench_cards(order, over, say)),
        "told": told_beside(order, say),
        "cautions": [*BENCH_CAUTIONS, LICENSED],
        "sign": ["Read by, date", "Fitted by, date", "Instrument"],
        "made": f"shimopt {__version__}",
    }


def _rows(rows: Sequence[CardRow]) -> list[dict[str, Any]]:
    return [{"read": row.read, "fit": row.fit, "then": row.then, "hole": row.hole} for row in rows]


def bench_cards(order: Order, over: OverRows, say: Speaker) -> list[dict[str, Any]]:
    """Per gap: what is allowed, how it is read, what stands over its rows, the rows rising, what counts beyond them."""
    return [
        {
            "name": gap_text(order, number),
            "allowed": limits_text(demand.gap.window, say),
            "how": read_how(demand.gap.reading),
            "over": [f"{begun(line)}." for line in over.cards[number]],
            "rows": _rows(card_rows(order, number, say)),
            "notes": _sentences(order, card_notes(order, number, say, at_bench=True)),
        }
        for number, demand in enumerate(order.demands)
    ] + [
        {
            "name": table_name(order, table),
            "allowed": table_allowed(table, say),
            "how": table_how(table),
            "over": [f"{begun(line)}." for line in first],
            "rows": _rows(table_rows(order, table, say)),
            "notes": _sentences(order, table_notes(order, table, say)),
        }
        for table, first in zip(order.tables, over.tables, strict=True)
    ]


def _sentences(order: Order, notes: Iterable[str]) -> list[str]:
    """Notes as sentences; a part's name stays as it is written."""
    names = tuple(line.part.name for line in order.stock)
    return [f"{note if note.startswith(names) else begun(note)}." for note in notes]


def told_beside(order: Order, say: Speaker) -> list[str]:
    """What the bench must know beside the rows; what is typed stands between no quotes on paper."""
    lines = [f"{packs_text(order, line)}: {sizes_text(order, line)}" for line in order.asked]
    sized = any(part.inner or part.outer for part in (order.stock[line.part].part for line in order.asked))
    measured = "Measure every piece first" + (": of another bore or outer diameter it is not fitted." if sized else ".")
    told = [
        *([f"The rows count on this order having come: {'; '.join(lines)}. {measured}"] if lines else []),
        *(unanswered_words(order, left, at_bench=True) for left in order.unanswered),
        *(f"{name}: {words}." for name, words, _ in caution_lines(order, say)),
        *(f"Balance {words}" for words in balance_words(order, say, at_bench=True)),
        *not_looked_at(order, at_bench=True),
    ]
    return [line.replace("`", "") for line in told]
