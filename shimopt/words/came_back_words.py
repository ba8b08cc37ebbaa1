"""What became of what was fitted, and how gaps wear, in sentences."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from shimopt.errors import shown
from shimopt.learning.history import History
from shimopt.learning.visits import Needs, Outcomes, Visit
from shimopt.learning.wear import FEWEST_DAYS, Estimate, LeftOut, Wear
from shimopt.words.history_words import speaker_of
from shimopt.words.speaker import Speaker, begun, listed, plural

_MOST_NAMED = 6
PLOT_HEAD = ("What gaps are without shims, by date,", "and the next time (○, 19 times in 20)")
PLOT_TITLE = " ".join(PLOT_HEAD)
NOTHING_DRAWN = ("No gap was read on two days or more:", "there is no line to draw.")
MOST_DRAWN = 12
STRAIGHT = (
    "Wear is taken as a straight line through what each gap was without shims, by the dates of records; at least "
    f"{FEWEST_DAYS} days of reading. It is an estimate: read the gap before you order."
)


def outcome_title(outcomes: Outcomes) -> str:
    """Whose fittings, how many, and from when to when."""
    days = [visit.date for visit in outcomes.fitted if visit.date] or ["no day named"]
    when = days[0] if days[0] == days[-1] else f"{days[0]} to {days[-1]}"
    return f"{shown(outcomes.name)}: {plural(len(outcomes.fitted), 'gap')} fitted, {shown(when)}"


def outcome_lines(outcomes: Outcomes, unit: str) -> Iterator[str]:
    """What was predicted, what was found, and what came back."""
    read, say = outcomes.read, speaker_of(unit)
    if not read:
        yield "None was read after it was fitted."
    else:
        agreeing = sum(bool(visit.as_predicted) for visit in read)
        yield f"{len(read)} read afterwards, {agreeing} of them as predicted{_off(outcomes, say)}."
    slips = [f"{shown(visit.gap)}, {shown(visit.job)}, {visit.date}" for visit in read if visit.slipped]
    if slips:
        yield f"Probably slips, and left out of what is found on average: {listed(slips, _MOST_NAMED)}."
    if far := [f"{shown(visit.gap)}, {shown(visit.job)}, {visit.date}" for visit in outcomes.far]:
        yield f"Far from all others, and left out of what is found on average: {listed(far, _MOST_NAMED)}."
    back = outcomes.came_back
    if back:
        told = [_back(visit, outcomes.name, say) for visit in back]
        yield f"Came back: {listed(told, _MOST_NAMED)}."
    elif read:
        yield "None came back."


def _off(outcomes: Outcomes, say: Speaker) -> str:
    off = outcomes.off
    if off is None:
        return ""
    way = "larger" if off.best > 0 else "smaller"
    sure = off.low > 0 or off.high < 0
    held = _range(off, say, size_only=sure)
    if not sure:
        return f"; on average found neither larger nor smaller ({held}, 19 times in 20)"
    return f"; on average found {say(abs(round(off.best)))} {way} ({held}, 19 times in 20)"


def _back(visit: Visit, told_of: str, say: Speaker) -> str:
    machine = "" if visit.machine == told_of else f" of {shown(visit.machine)}"
    what = [f"{say(visit.outside)} outside"] if visit.outside else []
    if visit.later and not visit.outside:
        day, off = visit.later
        what += [f"{say(off)} outside on {day or 'a later visit'}"]
    what += [f"opened again {visit.again}"] if visit.again else []
    return f"{shown(visit.gap)}{machine} ({visit.date}, {' and '.join(what)})"


def wear_title(needs: Needs, wear: Wear) -> str:
    """Which gap of which machine, and how often it was read."""
    dates = [reading.date for reading in wear.readings]
    days = f"{plural(len(dates), 'reading')}, {min(dates)} to {max(dates)}"
    return f"{shown(needs.gap)}, {shown(needs.machine)}: {days}"


def wear_lines(needs: Needs, wear: Wear, unit: str) -> Iterator[str]:
    """How much it wears in a year, and what the next visit will need."""
    say = speaker_of(unit)
    if not wear.shows:
        yield f"Nothing says that it wears: {_range(wear.a_year, say)} in a year, 19 times in 20."
    else:
        way = "larger" if wear.a_year.best > 0 else "smaller"
        held = _range(wear.a_year, say, size_only=True)
        yield f"It gets {say(abs(round(wear.a_year.best)))} {way} in a year ({held}, 19 times in 20)."
    if len({reading.date for reading in wear.readings}) == FEWEST_DAYS:
        yield "It was read on two days only: whether it goes on so, they cannot say."
    if wear.scatters:
        yield "Readings lie further from a straight line than they may be off: that is counted in."
    yield f"{begun(_next(needs, wear, say))}."
    for why in LeftOut:
        if days := [shown(day or "no day") for day, of in needs.left_out if of == why]:
            named = listed(list(dict.fromkeys(days)), _MOST_NAMED)
            yield f"Left out: {plural(len(days), 'reading')} {why} ({named})."


def _next(needs: Needs, wear: Wear, say: Speaker) -> str:
    """What goes in next time, where one place sets it; else what the gap will be without shims."""
    when = f"after as long again, {wear.next_date}"
    target = needs.window.target
    if needs.place is None or not needs.effect or target is None:
        return f"{when}, without shims it will be {_range(wear.next, say)}, 19 times in 20"
    ends = sorted(float(target - Fraction(end)) / float(needs.effect) for end in (wear.next.low, wear.next.high))
    if ends[1] <= 0:
        return f"{when}, it will need no shim"
    known = Estimate(sum(ends) / 2, max(0.0, ends[0]), ends[1])
    return (
        f"{when}, {shown(needs.place)} will need {_range(known, say)} of shim to come to {say(target)}, 19 times in "
        f"20; {say(needs.held)} is in now"
    )


def _range(known: Estimate, say: Speaker, *, size_only: bool = False) -> str:
    ends = sorted(map(abs, (known.low, known.high))) if size_only else [known.low, known.high]
    return say.bracket(round(ends[0]), round(ends[1]))


def visits_notes(history: History) -> Iterator[str]:
    """What is not told of here."""
    if (more := len(history.wear) - MOST_DRAWN) > 0:
        yield f"{more} more were read on {FEWEST_DAYS} days: all stand in --json."
    for why in (LeftOut.NO_DAY, LeftOut.TO_COME):
        odd = [
            f"{visit.job}{f', {visit.date}' if visit.date else ''}" for visit in history.visits if visit.no_day == why
        ]
        if odd:
            named = listed([shown(one) for one in dict.fromkeys(odd)], _MOST_NAMED)
            yield f"Records {why} say nothing of wear: {named}. Mend their date in job.toml."
    if history.visits and not history.wear:
        yield f"No gap of a machine was read on {FEWEST_DAYS} days yet: nothing is said of wear."
