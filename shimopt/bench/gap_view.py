"""Why one gap gets what it gets, as plain data: the account of `shimopt why`, with its table and its pictures."""

from __future__ import annotations

from typing import Any

from shimopt.bench.gap_cards import Cards
from shimopt.errors import shown
from shimopt.job import Gap
from shimopt.planner import Decision
from shimopt.reasons.gap_account import Account
from shimopt.render.pictures.section_picture import pack_section_svg, small_section_svg
from shimopt.seats import fitting_order
from shimopt.words.bench_page_words import drawn_words
from shimopt.words.findings_list import planned_cautions
from shimopt.words.first_words import open_gaps
from shimopt.words.reading_words import basis_text
from shimopt.words.speaker import Speaker
from shimopt.words.why_short import first_answers, mind_answers
from shimopt.words.why_words import RIVAL_HEADS, rival_cells, rival_note, why_answers

_MOST_DRAWN = 3


def gap_data(decision: Decision, gap: str) -> dict[str, Any]:
    """One gap: its card, every question about it answered, what could be in, and the parts on its seat."""
    job, cards, account = decision.job, Cards.of(decision), decision.account(gap)
    say, asked = cards.say, job.gap[gap]
    movers = [place for place, _ in asked.effects]
    read, *others = why_answers(decision, account, say)
    mind = mind_answers(planned_cautions(decision, say, movers))
    answers = (read, *first_answers(asked, open_gaps(decision)), *mind, *others)
    return {
        "title": shown(job.title),
        "card": cards.gap(list(job.gap).index(gap) + 1, asked),
        "answers": [{"about": about, "lines": list(lines)} for about, lines in answers if lines],
        **_table(decision, account, say),
        "sections": list(_sections(decision, asked, say)),
    }


def _table(decision: Decision, account: Account, say: Speaker) -> dict[str, Any]:
    """What could be in, from thin to thick, the plan's own marked; nothing where there is no choice."""
    if len(account.rivals) < 2:
        return {"heads": [], "rows": [], "note": ""}
    was_in = decision.job.place[account.gap.effects[0][0]].installed
    suits, thick, leaves, becomes = RIVAL_HEADS
    heads = [suits, f"{thick}, {say.unit}", f"{leaves}, {say.unit}{basis_text(account.gap)}", becomes]
    cells = rival_cells(account, say, was_in)
    return {
        "heads": heads,
        "rows": [{"planned": stack[0] == ">", "cells": [stack.strip("> "), *rest]} for stack, *rest in cells],
        "note": rival_note(account, was_in),
    }


def _sections(decision: Decision, gap: Gap, say: Speaker) -> list[dict[str, str]]:
    """What goes into its own place, on the seat in section; then parts that must not."""
    if not gap.in_own_place or gap.seat is None:
        return []
    stock, stack, found = decision.job.stock, decision.stacks.get(gap.name, ()), []
    if stack:
        pack = [stock[line].part for line in fitting_order(stack, stock, gap.seat)]
        if svg := pack_section_svg(pack, gap.seat):
            found.append({"svg": svg, "words": drawn_words(say.stack(stack, gap.name), gap.seat, suits=True)})
    for refused in decision.refused(gap.name)[: _MOST_DRAWN - 1]:
        if svg := small_section_svg(stock[refused.line].part, gap.seat, refused.finding.grade):
            found.append({"svg": svg, "words": drawn_words(say.named(refused.line), gap.seat, suits=False)})
    # each picture cuts with names of its own
    return [one | {"svg": _renamed(one["svg"], f"cut{n}-")} for n, one in enumerate(found)]


def _renamed(svg: str, name: str) -> str:
    """A picture whose cuts have a name that no other of the page has."""
    return svg.replace('id="window', f'id="{name}').replace("url(#window", f"url(#{name}")
