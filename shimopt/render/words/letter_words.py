"""The customer's letter: what was measured, allowed, found, done or left, in words that need no training."""

from __future__ import annotations

from fractions import Fraction

from shimopt.check import off_by
from shimopt.errors import shown
from shimopt.fit import Finding
from shimopt.job import Gap, Window
from shimopt.lengths import Bracket
from shimopt.planner import Decision
from shimopt.reasons import Reason
from shimopt.reasons.account import Account
from shimopt.render.words.finding_words import finding_words
from shimopt.render.words.limits_words import both_units, limits_both
from shimopt.render.words.names import listed, part_text, plural, stack_text

__all__ = [
    "PICTURE_KEY",
    "all_gap_words",
    "allowed_words",
    "answer_words",
    "balance_words",
    "explanation",
    "gap_status",
    "grounds",
    "rule_words",
    "watch_words",
]

PICTURE_KEY = "Grey: allowed. Hollow bar: as found. Solid bar: afterwards. Its length: how far it is uncertain."
_MOST_NAMED, _MOST_DESCRIBED, _LONGEST_NAMES = 3, 1, 60
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def _count(number: int) -> str:
    return _NUMBERS[number] if number < len(_NUMBERS) else str(number)


def answer_words(decision: Decision) -> str:
    """The letter's first sentence: is it right, and what does it take."""
    verdicts = [found.verdict for found in decision.outcome.gaps.values()]
    total, outside, unsure = len(verdicts), verdicts.count("outside"), verdicts.count("unproven")
    fitted = sum(1 for stack in decision.stacks.values() if stack)
    if outside:
        wrong = [name for name, found in decision.outcome.gaps.items() if found.verdict == "outside"]
        said = f"{_count(outside).capitalize()} of {_count(total)} places cannot be put right with the parts at hand: "
        said += f"{listed(wrong, 3)}." if total > 1 else f"{listed(wrong)}."
        return said if total > 1 else f"The clearance cannot be put right with the parts at hand: {listed(wrong)}."
    names = [name for name, stack in decision.stacks.items() if stack]
    named = f" ({listed(names)})" if len(names) <= _MOST_NAMED else ""
    shims = f"{_count(fitted)} {'gets a shim' if fitted == 1 else 'get shims'}{named}"
    left = total - fitted
    rest = (
        f"; {_count(left)} {'is' if left == 1 else 'are'} left as {'it is' if left == 1 else 'they are'}"
        if left
        else ""
    )
    certainly = f", though {_count(unsure)} of them not beyond doubt" if unsure else ""
    if total == 1:
        end = "it gets a shim" if fitted else "nothing is fitted"
        return f"The clearance {'will be' if fitted else 'is'} as it should be{certainly}: {end}."
    if not fitted:
        return f"All {_count(total)} clearances are as they should be{certainly}: nothing is fitted."
    return f"All {_count(total)} clearances will be as they should be{certainly}: {shims}{rest}."


def explanation(unit: str) -> str:
    """What the words mean."""
    paper = {"thou": "A thou is a thousandth of an inch; a sheet of paper is about 4 thou thick.",
             "in": "A sheet of paper is about 0.004 in thick.",
             "mm": "A sheet of paper is about 0.10 mm thick.",
             "um": "A sheet of paper is about 100 µm thick."}  # fmt: skip
    return ("A clearance is the little room that a moving part needs: too little and it binds, too much and it knocks. "
            f"A shim is a thin piece of known thickness that takes up some of it. {paper[unit]}")  # fmt: skip


def rule_words(decision: Decision) -> str:
    """The rule by which places were shimmed or left alone."""
    even = any(balance.within is not None for balance in decision.job.balances)
    return ("A place gets a shim only where its clearance is outside what is allowed"
            f"{', or where places that belong together came out too unlike' if even else ''}, and only a shim that truly "
            "fits its seat. A clearance that is already right is left alone.")  # fmt: skip


def common_window(decision: Decision) -> Window | None:
    """The window of every gap, where it is the same for all."""
    windows = {(gap.window.min, gap.window.max) for gap in decision.job.gaps}
    return decision.job.gaps[0].window if len(windows) == 1 else None


def allowed_words(decision: Decision, unit: str) -> str:
    """What is allowed, and who says so."""
    sources = list(dict.fromkeys(gap.window.source for gap in decision.job.gaps))
    window = common_window(decision)
    if window is None:
        return f"What is allowed is stated in: {listed(sources, 3)}."
    everywhere = " everywhere" if len(decision.job.gaps) > 1 else ""
    return f"Allowed is {limits_both(window, unit)}{everywhere}, as stated in: {listed(sources, 3)}."


def gap_status(decision: Decision, gap: Gap) -> str:
    """Two or three words over a gap's block."""
    stack = decision.stacks.get(gap.effects[0][0], ())
    match decision.outcome.gaps[gap.name].verdict:
        case "outside":
            return "cannot be put right yet"
        case "unproven":
            return f"{'shim' if stack else 'left as it is'}, not beyond doubt"
    return "gets a shim" if stack else "left as it is"


def all_gap_words(decision: Decision, unit: str) -> dict[str, list[str]]:
    """The sentences about every gap: read, allowed, and what follows. A refused part is described where it first comes
    up."""
    described: set[str] = set()
    return {gap.name: _gap_words(decision, decision.account(gap.name), unit, described) for gap in decision.job.gaps}


def _gap_words(decision: Decision, account: Account, unit: str, described: set[str]) -> list[str]:
    gap, found = account.gap, decision.outcome.gaps[account.gap.name]
    read = gap.reading.bracket
    said = [f"Measured {both_units(read.low, read.high, unit)}."]
    if common_window(decision) is None:
        said.append(f"Allowed {limits_both(gap.window, unit)}.")
    if account.stack:
        said.append(_fitted(decision, account, found.after, unit))
    for reason in decision.reasons:
        if reason.about == gap.name and (words := _because(reason, decision, unit)):
            said.append(words)
    if account.stack or found.verdict == "outside":
        said += _refused(decision, account, unit, described)
    if found.verdict == "outside" and account.aim is not None and account.aim.least > 0:
        said.append(_wanted(account, unit))
    for finding in decision.findings:
        if finding.place == gap.name and finding.grade == "caution" and not finding.part:
            words = finding_words(finding, unit)
            said.append(f"To be cleared up: {words if finding.code.startswith('spots') else f'it {words}'}.")
    return said


def _refused(decision: Decision, account: Account, unit: str, described: set[str]) -> list[str]:
    """The shims that are thick enough but don't suit the seat."""
    said: list[str] = []
    others: list[str] = []
    for unsuited in account.unsuited:
        name, finding = part_text(decision.job, unsuited.line), unsuited.finding
        mark = finding_words(finding, unit)
        if mark in described or len(said) == _MOST_DESCRIBED:
            others.append(name)
            continue
        described.add(mark)
        said.append(f"{name} would be thick enough, but {_unfit(finding, unit)}. It is not used here.")
    if others:
        verb = "do" if len(others) > 1 else "does"
        said.append(f"{listed(others, 3)} {verb} not suit this seat{' either' if said else ''}.")
    return said


def _unfit(finding: Finding, unit: str) -> str:
    """Why a part does not suit, as one would tell it over the counter."""
    lengths = {key: both_units(nm, nm, unit) for key, nm in finding.lengths.items()}
    match finding.code:
        case "bore_too_large":
            return (
                f"its hole, {lengths['bore']}, is too wide for the shaft, {lengths['shaft']}: it would hang off centre"
            )
        case "bore_too_small":
            return f"its hole, {lengths['least_bore']}, does not go over the shaft, {lengths['largest_shaft']}"
    return finding_words(finding, unit)


def _wanted(account: Account, unit: str) -> str:
    span = account.needed or account.aim
    assert span is not None
    if span.most is None:
        return f"What is needed is {both_units(span.least, span.least, unit)} of shim or more that suits."
    return f"What is needed is a shim of {both_units(span.least, span.most, unit)} that suits."


def _fitted(decision: Decision, account: Account, after: Bracket, unit: str) -> str:
    read, window = account.gap.reading.bracket, account.gap.window
    thickness = decision.outcome.thickness[account.gap.effects[0][0]]
    what = stack_text(decision.job, account.stack)
    shim = f"the shim {what}" if len(account.stack) == 1 else f"the shims {what}"
    verb = "brings" if len(account.stack) == 1 else "bring"
    start = ""
    if over := off_by(read.best, window):
        many = "much" if window.max is not None and read.best > window.max else "little"
        start = f"That is {both_units(over, over, unit)} too {many}. "
    return (f"{start}{shim[:1].upper()}{shim[1:]}, {both_units(thickness.low, thickness.high, unit)} thick, {verb} it to "
            f"{both_units(after.low, after.high, unit)}.")  # fmt: skip


def _because(reason: Reason, decision: Decision, unit: str) -> str:
    """A reason without jargon; empty where another sentence says it."""
    stack = stack_text(decision.job, reason.stack)

    def say(key: str) -> str:
        length = Fraction(reason.lengths.get(key, 0))
        return both_units(length, length, unit)

    match reason.code:
        case "already_inside" if reason.stack:
            return (f"That is right, so nothing is fitted. Even the thinnest shim that suits, {stack}, would only take it "
                    f"to {say('after')}, and there is no need.")  # fmt: skip
        case "already_inside":
            return "That is right, so nothing is fitted."
        case "already_inside_and_no_thinner":
            return (f"That is right, so nothing is fitted. Even the thinnest shim that suits, {stack}, would leave only "
                    f"{say('after')}: too tight.")  # fmt: skip
        case "fitted_to_be_surer":
            return "It was probably right before, but not surely."
        case "fitted_to_match":
            return f"It was right by itself; the shim makes it match the others ({listed(reason.names)})."
        case "unproven_after" | "unproven_as_read":
            return (f"It is right by the best estimate. As finely as it could be measured, it may still be {say('out')} "
                    "outside.")  # fmt: skip
        case "shims_not_allowed":
            return f"That is {say('off')} outside, but this place must not be shimmed: {shown(reason.texts['why'])}."
        case "below_window":
            return (f"That is {say('off')} too little. A shim would only make it tighter: its seating has to be looked at, "
                    "or metal has to come off.")  # fmt: skip
        case "nothing_suits" | "nothing_on_hand":
            return f"That is {say('off')} too much, and there is no shim at hand that suits."
        case "not_thick_enough":
            return (f"It needs {say('least')} of shim at least; the thickest that can be made is {say('thickest')}. "
                    "Nothing is fitted.")  # fmt: skip
        case "too_tight_with_thinnest":
            return (f"The thinnest shim that suits, {stack}, would leave only {say('tight')}: too tight. "
                    "Nothing is fitted.")  # fmt: skip
        case "no_size_between":
            return (f"No shim at hand brings it inside; the nearest, {stack}, would leave {say('after')}, "
                    f"{say('off')} outside. Nothing is fitted.")  # fmt: skip
        case "drawer_ran_out":
            got = reason.texts["got"]
            where = f" and is used at {shown(got)}" if 0 < len(got) <= _LONGEST_NAMES else ""
            return f"{stack} would do it, but there are not enough of it{where}. Nothing is fitted until it is bought."
        case "beyond_parts":
            return "No shim made is that thick: the measurement is probably wrong and has to be repeated."
    return ""


def balance_words(decision: Decision, unit: str) -> list[str]:
    """How alike the places that belong together come out."""
    said = []
    for balance in decision.job.balances:
        found = decision.outcome.balances[balance.name]
        start = f"{shown(balance.name)} ({listed(balance.gaps, 4)})"
        if found.met is None:
            said.append(f"{start}: not compared while one of them is outside.")
            continue
        after = both_units(found.spread_after, found.spread_after, unit)
        asked = ""
        if balance.within is not None:
            asked = f"; at most {both_units(balance.within, balance.within, unit)} is asked"
            asked += "" if found.met else ", which cannot be had with the parts at hand"
        alike = "they come out alike" if not found.spread_after else f"they come out alike to within {after}"
        said.append(f"{start}: {alike}{asked}.")
    return said


def watch_words(decision: Decision, unit: str, *, measured: bool = False) -> list[str]:
    """What to watch, and when to measure again."""
    said = []
    room = _least_room(decision)
    if room is not None:
        gap, left, side = room
        limit = "upper" if side > 0 else "lower"
        room_left = f"{both_units(left, left, unit)} is left" if left else "it may already stand"
        said.append(f"Watch {shown(gap.name)} first: {room_left} {'to' if left else 'at'} its {limit} limit.")
    if not measured:
        said.append("All figures after fitting are calculated: they are measured again in the final assembly.")
    said.append("Have it measured again after running in and at every overhaul; at once if anything knocks, binds, runs "
                "hot or sheds metal. (Common practice; the maker's intervals go first.)")  # fmt: skip
    return said


def _least_room(decision: Decision) -> tuple[Gap, Fraction, int] | None:
    """The gap that is inside with the least room to a limit, that room, and on which side."""
    rooms: list[tuple[Fraction, int, int]] = []
    for number, gap in enumerate(decision.job.gaps):
        found, window = decision.outcome.gaps[gap.name], gap.window
        if found.verdict == "inside":
            # wear opens a clearance, so where both sides are as near the upper one is named
            if window.max is not None:
                rooms.append((window.max - found.after.high, number, 1))
            if window.min is not None:
                rooms.append((found.after.low - window.min, number, -1))
    if len(decision.job.gaps) < 2 or not rooms:
        return None
    left, number, side = min(rooms, key=lambda room: (room[0], room[1], -room[2]))
    return decision.job.gaps[number], left, side


def grounds(decision: Decision, counts: dict[str, tuple[int, int]]) -> list[str]:
    """What the letter rests on, where it rests on something taken for granted."""
    said = []
    (readings, all_readings), (sizes, all_sizes) = counts["readings"], counts["part_sizes"]
    if readings:
        said.append(f"{readings} of {plural(all_readings, 'measurement')} state no uncertainty and are taken as exact.")
    if sizes:
        said.append(f"The thickness of {sizes} of {all_sizes} kinds of shim is taken as marked, without tolerance.")
    if decision.screening.unchecked:
        said.append("Not every shim could be checked against its seat, for some dimensions are not known.")
    return said
