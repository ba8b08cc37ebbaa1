"""The customer's letter, apart from its blocks about single gaps: in words that need no training."""

from __future__ import annotations

from fractions import Fraction

from shimopt.errors import shown
from shimopt.job import Gap, Window
from shimopt.planner import Decision
from shimopt.words.limits_words import both_units, limits_both
from shimopt.words.names import listed, plural
from shimopt.words.speaker import Speaker

__all__ = [
    "PICTURE_KEY",
    "all_measured",
    "allowed_words",
    "answer_words",
    "balance_words",
    "common_window",
    "explanation",
    "gap_status",
    "grounds",
    "rule_words",
    "watch_words",
]

PICTURE_KEY = "Grey: allowed. Hollow bar: as found. Solid bar: afterwards. Its length: how far it is uncertain."
_MOST_NAMED = 3
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def _count(number: int) -> str:
    return _NUMBERS[number] if number < len(_NUMBERS) else str(number)


def answer_words(decision: Decision) -> str:
    """The letter's first sentence: is it right, and what does it take."""
    verdicts = [found.verdict for found in decision.outcome.gaps.values()]
    total, unsure = len(verdicts), verdicts.count("unproven")
    wrong = [name for name, found in decision.outcome.gaps.items() if found.verdict == "outside"]
    if wrong:
        if total == 1:
            return f"The clearance cannot be put right with the parts at hand: {listed(wrong)}."
        many = f"{_count(len(wrong)).capitalize()} of {_count(total)} places"
        return f"{many} cannot be put right with the parts at hand: {listed(wrong, _MOST_NAMED)}."
    new = any(decision.stacks.values())
    certainly = f", though {_count(unsure)} of them not beyond doubt" if unsure else ""
    start = (
        f"The clearance {'will be' if new else 'is'}"
        if total == 1
        else (f"All {_count(total)} clearances {'will be' if new else 'are'}")
    )
    return f"{start} as {'it' if total == 1 else 'they'} should be{certainly}{_how_known(decision)}: {_what(decision)}."


def _how_known(decision: Decision) -> str:
    if not decision.job.records or any(decision.stacks.values()):
        return ""
    return (
        ", measured after fitting" if all_measured(decision) else ", partly measured after fitting and else calculated"
    )


def all_measured(decision: Decision) -> bool:
    """Whether every gap was measured after fitting and nothing more is to be fitted."""
    if not decision.job.records or any(decision.stacks.values()):
        return False
    gaps = decision.job.records[-1].gaps
    return all(gap.name in gaps and gaps[gap.name].read is not None for gap in decision.job.gaps)


def _what(decision: Decision) -> str:
    """What is fitted and what is left."""
    fitted = [name for name, stack in decision.stacks.items() if stack]
    inside = [place.name for place in decision.job.places if decision.job.kept(place.name)]
    total = len(decision.job.places)
    if not fitted and not inside:
        return "nothing is fitted"
    if total == 1:
        return "it gets a shim" if fitted else "it got a shim"
    said = []
    for names, one, many in ((fitted, "gets a shim", "get shims"), (inside, "got a shim", "got shims")):
        if names:
            named = f" ({listed(names)})" if len(names) <= _MOST_NAMED else ""
            said.append(f"{_count(len(names))} {one if len(names) == 1 else many}{named}")
    left = total - len(fitted) - len(inside)
    if left:
        alone = "is left as it is" if left == 1 else "are left as they are"
        said.append(f"{_count(left)} {alone}")
    return "; ".join(said)


def explanation(say: Speaker) -> str:
    """What the words mean."""
    paper = {
        "thou": "A thou is a thousandth of an inch; a sheet of paper is about 4 thou thick.",
        "in": "A sheet of paper is about 0.004 in thick.",
        "mm": "A sheet of paper is about 0.10 mm thick.",
        "um": "A sheet of paper is about 100 µm thick.",
    }
    return (
        "A clearance is the little room that a moving part needs: too little and it binds, too much and it knocks. "
        f"A shim is a thin piece of known thickness that takes up some of it. {paper[say.unit]}"
    )


def rule_words(decision: Decision) -> str:
    """The rule by which places were shimmed or left alone."""
    even = any(balance.within is not None for balance in decision.job.balances)
    return (
        "A place gets a shim only where its clearance is outside what is allowed"
        f"{', or where places that belong together came out too unlike' if even else ''}, and only a shim that "
        "truly fits its seat. A clearance that is already right is left alone."
    )


def common_window(decision: Decision) -> Window | None:
    """The window of every gap, where it is the same for all."""
    windows = {(gap.window.min, gap.window.max) for gap in decision.job.gaps}
    return decision.job.gaps[0].window if len(windows) == 1 else None


def allowed_words(decision: Decision, say: Speaker) -> str:
    """What is allowed, and who says so."""
    sources = list(dict.fromkeys(gap.window.source for gap in decision.job.gaps))
    window = common_window(decision)
    if window is None:
        return f"What is allowed is stated in: {listed(sources, 3)}."
    everywhere = " everywhere" if len(decision.job.gaps) > 1 else ""
    return f"Allowed is {limits_both(window, say)}{everywhere}, as stated in: {listed(sources, 3)}."


def gap_status(decision: Decision, gap: Gap) -> str:
    """Two or three words over a gap's block."""
    fitted = any(decision.stacks.get(place) for place, _ in gap.effects)
    been = any(decision.job.kept(place) for place, _ in gap.effects)
    what = "gets a shim" if fitted else "got a shim" if been else "left as it is"
    match decision.outcome.gaps[gap.name].verdict:
        case "outside":
            return "cannot be put right yet"
        case "unproven":
            return f"{what}, not beyond doubt"
    return what


def balance_words(decision: Decision, say: Speaker) -> list[str]:
    """How alike the places that belong together come out."""
    said = []
    for balance in decision.job.balances:
        found = decision.outcome.balances[balance.name]
        start = f"{shown(balance.name)} ({listed(balance.gaps, 4)})"
        if found.met is None:
            said.append(f"{start}: not compared while one of them is outside.")
            continue
        after = both_units(found.spread_after, found.spread_after, say)
        asked = ""
        if balance.within is not None:
            asked = f"; at most {both_units(balance.within, balance.within, say)} is asked"
            asked += "" if found.met else ", which cannot be had with the parts at hand"
        alike = "they come out alike" if not found.spread_after else f"they come out alike to within {after}"
        said.append(f"{start}: {alike}{asked}.")
    return said


def watch_words(decision: Decision, say: Speaker) -> list[str]:
    """What to watch, and when to measure again."""
    said = []
    room = _least_room(decision)
    if room is not None:
        gap, left, side = room
        limit = "upper" if side > 0 else "lower"
        room_left = f"{both_units(left, left, say)} is left" if left else "it may already stand"
        said.append(f"Watch {shown(gap.name)} first: {room_left} {'to' if left else 'at'} its {limit} limit.")
    if not all_measured(decision):
        what = "What was not measured after fitting is" if decision.job.records else "All figures after fitting are"
        said.append(f"{what} calculated: measure again in the final assembly.")
    said.append(
        "Have it measured again after running in and at every overhaul; at once if anything knocks, binds, "
        "runs hot or sheds metal. (Common practice; the maker's intervals go first.)"
    )
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
