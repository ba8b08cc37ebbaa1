"""A gap's account in words: the numbers worked through line by line, a unit on every one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from shimopt.arithmetic.changes import BENCH, DRAWER
from shimopt.arithmetic.clearance import Stack
from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.job.levels import Level
from shimopt.planner import Decision
from shimopt.reasons.gap_account import Account, Rival
from shimopt.reasons.gap_reasons import Length, PartsDoNotSuit, Reason, Unproven, UnprovenAsRead
from shimopt.seats.stack_facts import NotChecked, StackOrder
from shimopt.words.assembly_words import heat_words
from shimopt.words.change_words import place_words
from shimopt.words.digits import as_shown, few_digits
from shimopt.words.finding_words import finding_words
from shimopt.words.first_words import read_again
from shimopt.words.gauge_words import gauge_words, guard_words
from shimopt.words.level_words import LEVEL_WORDS, level_amount, worse_by
from shimopt.words.outside_words import for_no_other
from shimopt.words.reading_words import (
    basis_text,
    reading_text,
    reading_words,
    source_text,
    stands,
    window_and_aim,
)
from shimopt.words.reading_worth_words import settled_words
from shimopt.words.reason_words import reason_told, reason_words
from shimopt.words.shortfall_words import fuller_steps
from shimopt.words.speaker import Speaker, begun, ended, listed, loose_or_tight, plural, probably, sized
from shimopt.words.would_change_words import what_would_change


class Answer(NamedTuple):
    """What is asked, and the answer in sentences."""

    about: str
    lines: list[str]


def why_answers(decision: Decision, account: Account, say: Speaker, again: Sequence[str] | None = None) -> list[Answer]:
    """The questions about one gap, answered; the table of what the drawer could make is `rival_cells`.

    Parameter: again, what one more reading is worth, where that was worked out in money too.
    """
    told = settled_words(decision, account.gap.name, say) if again is None else again
    return [*_answers(decision, account, say), *([Answer("Read again", list(told))] if told else [])]


def _answers(decision: Decision, account: Account, say: Speaker) -> list[Answer]:
    gap, job, say = account.gap, decision.job, say.about(account.gap)
    # a part of the right thickness that does not suit is told once
    twice: tuple[type[Reason], ...] = (PartsDoNotSuit,) if account.unsuited else ()
    # where the reading itself is in doubt, no chance says how likely it is inside
    twice += (Unproven, UnprovenAsRead) if gap.name in read_again(decision) else ()
    about = [reason for reason in decision.reasons if reason.about == gap.name and not isinstance(reason, twice)]
    own = [f for f in decision.findings if f.place == gap.name and not f.part]
    # what the seat asks is no reading
    of_seat = [f for f in own if isinstance(f.fact, (NotChecked, StackOrder))]
    answers = [
        Answer(
            "Read",
            [
                f"{reading_text(gap, say)}.",
                *(f"{line.strip()}." for line in reading_words(gap, say)[1:]),
                *(f"{begun(finding_words(f, say))}." for f in own if f not in of_seat),
            ],
        ),
        Answer("Allowed", [f"{window_and_aim(gap.window, say)}. Says: {ended(source_text(gap))}"]),
    ]
    if of_seat:
        answers.append(Answer("Seat", [f"{begun(finding_words(f, say))}." for f in of_seat]))
    if account.place is None:
        movers = [place for place, _ in gap.effects]
        about += [
            reason
            for reason in decision.reasons
            if reason.about != gap.name and (gap.name in reason.names or reason.about in movers)
        ]
        moved = [mover_words(decision, place, effect, say) for place, effect in gap.effects]
        return [
            *answers,
            Answer("Moved by", moved or ["no place."]),
            *unsuited_answers(account, job, say),
            Answer("So", [*(reason_words(reason, say) for reason in about), *for_no_other(decision, gap.name)]),
            *_compared(account, decision, say),
        ]
    if account.place.takes_shims:
        answers.append(Answer("Shim", _shim(account, say)))
    if gap.name in decision.gauges:
        told = gauge_words(decision.gauges[gap.name], say, decision.remedies)
        answers.append(Answer("Gauge", [begun(told)]))
    if gap.heat is not None:
        told = heat_words(gap, gap.heat, decision.outcome.gaps[gap.name].after, say)
        answers.append(Answer("Hot", [begun(told)]))
    answers += unsuited_answers(account, job, say)
    so = [begun(reason_told(reason, say)) for reason in about]
    if any(isinstance(reason, (Unproven, UnprovenAsRead)) for reason in about):
        so = [line.replace("brings it inside.", "brings it inside by its best estimate.") for line in so]
    answers.append(Answer("So", so))
    answers += [Answer("Gain, cost", [words]) for words in (gain_and_cost(account, decision, say),) if words]
    answers += _compared(account, decision, say)
    if changes := [*what_would_change(account, decision, say), *fuller_steps(decision, say, gap.name)]:
        answers.append(Answer("Changes if", changes))
    return answers


def unsuited_answers(account: Account, job: Job, say: Speaker) -> list[Answer]:
    """Parts that alone would serve by their thickness, and what keeps each out."""
    lines = [
        f"{say.named(u.line)} ({say(job.stock[u.line].part.thickness.best)}) would serve by "
        f"its thickness but {finding_words(u.finding, say)}."
        for u in account.unsuited
    ]
    return [Answer("Stop", lines)] if lines else []


def _shim(account: Account, say: Speaker) -> list[str]:
    """Which thickness the window leaves, worked out."""
    gap, read, window = account.gap, account.gap.reading.bracket, account.gap.window
    effect = gap.effects[0][1]

    lines: list[str] = []
    divided = "" if effect == -1 else f", divided by its effect {float(-effect):g}"
    if effect < 0 and window.max is not None:
        over = read.high - window.max
        if over <= 0:
            largest, limit = say.clearance(read.high, read.high), say.clearance(window.max, window.max)
            lines.append(f"Even at its largest, {largest}, it is not over {limit}: none is needed.")
        elif say.loaded:
            lines.append(
                f"At its largest: {say.from_to(read.high, window.max)} is {say(over)}{divided}, so much at least."
            )
        else:
            lines.append(
                f"At its largest: {say(read.high)} - {say(window.max)} = {say(over)}{divided}, so much at least."
            )
    if effect < 0 and window.min is not None:
        room = read.low - window.min
        if room >= 0 and window.ended:
            lines.append(
                f"At its smallest: {say(read.low)}{divided}, so much at most: nothing states how much preload it may "
                "have."
            )
        elif room >= 0 and say.loaded:
            lines.append(
                f"At its smallest: {say.from_to(read.low, window.min)} is {say(room)}{divided}, so much at most."
            )
        elif room >= 0:
            lines.append(
                f"At its smallest: {say(read.low)} - {say(window.min)} = {say(room)}{divided}, so much at most."
            )
        else:
            smallest, limit = say.clearance(read.low, read.low), say.clearance(window.min, window.min)
            lines.append(f"At its smallest, {smallest}, it is already {say(-room)} under {limit}.")
    if gap.least_chance is not None:
        lines = [begun(guard_words(gap, say))]
    if account.needed is not None:
        how = "To be sure" if gap.least_chance is None and gap.reading.basis == "worst case" else "So"
        lines.append(f"{how}: {say.span(account.needed, ' of shim')}{basis_text(gap, plain=True)}.")
    elif account.aim is not None:
        lines.append(
            "No thickness is sure to do, for the reading is too wide for the window. By its best estimate, "
            f"{say.clearance(read.best, read.best)}: {say.span(account.aim, ' of shim')}."
        )
    else:
        lines.append("No thickness can do it.")
    return lines


RIVAL_HEADS = ("what suits", "thickness", "leaves", "which is")


def rival_cells(account: Account, say: Speaker, was_in: Stack, *, cut: bool = False) -> list[tuple[str, str, str, str]]:
    """What could be in: stack, thickness, clearance after, and what becomes of the gap.

    `cut` to what is planned and was in, and what is next to that; where nothing is planned, to what misses least.
    """
    return [
        (
            f"{_mark(rival, account, was_in)} {say.stack(rival.stack, account.gap.name)}",
            say.bare.bracket(rival.thickness.low, rival.thickness.high),
            _leaves(rival, account.gap, say.bare),
            f"{_becomes(rival, account.gap, say)}{' *' if rival.used_by else ''}",
        )
        for rival in (_next_to_it(account, was_in) if cut else _tabled(account, was_in))
    ]


def _next_to_it(account: Account, was_in: Stack) -> list[Rival]:
    """What is planned, with what is next to it where it does; else what misses least; and what was in."""
    rows = _tabled(account, was_in)
    does = [at for at, rival in enumerate(rows) if rival.stack == account.stack and rival.verdict != "outside"]
    least = min(range(len(rows)), key=lambda at: rows[at].off, default=0)
    at = does[0] if does else least
    marked = (account.stack, was_in or account.stack)
    return [rival for n, rival in enumerate(rows) if abs(n - at) < 2 or rival.stack in marked]


def _tabled(account: Account, was_in: Stack) -> list[Rival]:
    """A row for each thickness, that of fewest pieces; and the plan's own, and what was in."""
    rows, seen = list[Rival](), set[Fraction]()
    planned = {rival.thickness.best for rival in account.rivals if rival.stack == account.stack}
    for rival in account.rivals:
        own = rival.stack in (account.stack, was_in)
        if own or rival.thickness.best not in planned | seen:
            rows.append(rival)
            seen.add(rival.thickness.best)
    return rows


def _leaves(rival: Rival, gap: Gap, say: Speaker) -> str:
    """What the gap comes to; a cover without shims stands off, which is no preload."""
    if gap.reading.opens and not rival.stack and rival.after.high <= 0:
        return stands(rival.after, say)
    after = as_shown(rival.after, gap, say.unit)
    return say.about(gap).clearance(after.low, after.high)


def _mark(rival: Rival, account: Account, was_in: Stack) -> str:
    return ">" if rival.stack == account.stack else "<" if was_in and rival.stack == was_in else " "


def rival_note(account: Account, was_in: Stack) -> str:
    """What the signs beside a row of the table mean; empty where there is none."""
    held = list(dict.fromkeys(place for rival in _tabled(account, was_in) for place in rival.used_by))
    came_out = was_in and was_in != account.stack
    said = [
        *(["< was in"] if came_out else []),
        *([f"* with pieces that the plan fits on {listed(held, 4)}"] if held else []),
    ]
    return "; ".join(said)


def _becomes(rival: Rival, gap: Gap, say: Speaker) -> str:
    if gap.may_be_tight:
        return "unknown"
    if gap.reading.opens and not rival.stack and rival.after.high <= 0:
        return "needs shims"
    if rival.verdict != "outside":
        how = "inside" if rival.verdict == "inside" else f"{probably(rival.chance)} inside"
        return f"{how}, too few pieces" if rival.too_few else how
    return f"{few_digits(say, rival.off)[0]} {loose_or_tight(gap.window.side(rival.after.best))}"


def _compared(account: Account, decision: Decision, say: Speaker) -> list[Answer]:
    """Why not the stacks next to the plan's own."""
    if decision.outcome.gaps[account.gap.name].verdict == "outside" or account.gap.may_be_tight:
        return []
    return [
        Answer(about, [_why_not(rival, account, decision, say)])
        for about, rival in (("Not thinner", account.thinner), ("Not thicker", account.thicker))
        if rival is not None
    ]


def _why_not(rival: Rival, account: Account, decision: Decision, say: Speaker) -> str:
    gap = account.gap
    named = sized(say.stack(rival.stack, account.gap.name), say(rival.thickness.best)) if rival.stack else "Nothing"
    after = f"{named} would leave {say.clearance(rival.after.best, rival.after.best)}"
    if rival.verdict == "outside":
        return f"{after}, {_becomes(rival, gap, say)}."
    if rival.too_few:
        fewest = decision.job.place[gap.effects[0][0]].fewest_pieces
        return f"{after}, inside too, but its seat takes at least {fewest} pieces."
    if rival.used_by:
        return f"{after}, inside too, but its pieces are needed on {listed(rival.used_by, 3)}."
    if rival.level is None:
        return f"{after}, as good at every level; among equals the part whose name comes first is taken."
    level = Level(rival.level)
    if rival.value < rival.planned:
        better = LEVEL_WORDS[level].better.format(level_amount(level, rival.planned - rival.value, say))
        return f"{after}, inside too and {better}: the plan is not proven best."
    among = [
        balance.name
        for balance in decision.job.balances
        if gap.name in decision.job.gaps_behind(balance) and (level != Level.EXCESS or balance.within is not None)
    ]
    unsure = "" if decision.proven else ", and the plan is not proven best"
    return f"{after}, inside too, but {worse_by(level, rival.value, rival.planned, among, say)}{unsure}."


def gain_and_cost(account: Account, decision: Decision, say: Speaker) -> str:
    """What the stack gains and takes from the drawer; for a gap left alone, what the thinnest shim would."""
    job, gap = decision.job, account.gap
    rival = account.planned if account.stack else account.thicker
    if rival is None or not rival.stack or rival.too_few or decision.outcome.gaps[gap.name].verdict == "outside":
        return ""
    read, target, after = gap.reading.bracket.best, gap.window.target, rival.after.best
    takes = "takes" if account.stack else "would take"
    said = f"{say.stack(rival.stack, gap.name)} {takes} it {_from_to(gap, read, after, say.about(gap))}"
    if target is not None:
        nearer = abs(read - target) - abs(after - target)
        way = "nearer to" if nearer > 0 else "further from"
        said += f", {say(abs(nearer))} {way} its target" if nearer else ", no nearer to its target"
    # what stays in the machine was never in the drawer
    used = Counter(piece.line for piece in (*decision.changes.going_in(DRAWER), *decision.changes.going_in(BENCH)))
    cost = f"; {'costs' if account.stack else 'cost'} {plural(len(rival.stack), 'piece')}"
    if account.stack:
        left = [
            f"{max(0, job.stock[i].on_hand - used[i])} of {job.stock[i].on_hand} {'x ' * say.part(i)[:1].isdigit()}"
            f"{say.part(i)}"
            for i in sorted(set(rival.stack))
        ]
        cost += f", and {listed(left)} {'stays' if len(left) == 1 and left[0].startswith('1 ') else 'stay'} on hand"
    return f"{said}{cost}."


def _from_to(gap: Gap, read: Length, after: Length, say: Speaker) -> str:
    """From what was read to what comes of it; of a cover that stood off only what comes of it."""
    stood_off = gap.reading.opens and read <= 0
    return f"to {say.clearance(after, after)}" if stood_off else say.from_to(read, after)


def mover_words(decision: Decision, place: str, effect: Fraction, say: Speaker) -> str:
    """One place: its effect, what was in, what the plan puts there, and what that does to the gap."""
    times = f"{float(effect):g}" if round(effect, 6) == effect else str(effect)
    taken = decision.job.place[place].parts
    only = f"takes only {shown(', '.join(taken))}" if taken else ""
    # that a shim takes up as much as it is thick needs no saying
    known = ", ".join(filter(None, ("" if effect == -1 else f"effect {times}", only)))
    start = f"{shown(place)}{f' ({known})' if known else ''}: {place_words(decision, place, say)}"
    moved = effect * decision.changes.at[place].thicker
    if not moved:
        return f"{start}; no change."
    return f"{start}; that {'loosens' if moved > 0 else 'tightens'} it by {say(abs(moved))}."
