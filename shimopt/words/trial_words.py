"""What the trial assembly says against a reading, in words: its state, what came out, a second reading closed up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from shimopt.errors import shown
from shimopt.planner import Decision
from shimopt.reasons import job_facts as stated
from shimopt.reasons.about_trial import RanOutside, little_to_spare
from shimopt.seats import Finding
from shimopt.seats.finding import Fact
from shimopt.words.digits import up_to
from shimopt.words.speaker import Speaker, listed, loose_or_tight

_TOO_THICK = (stated.PackWasTooThick, stated.PacksWereTooThick)
_STATE = {
    "clamped": "clamped: {}",
    "gasket": "gasket: {}",
    "crushed gasket": "gasket: {}, although the sum counts a crushed one",
    "tightened cover": "clamped: {}, where a cover is only nipped to be read",
    "uncrushed gasket": "gasket: {}, which a nipped cover does not crush",
    "hardware": "{} hardware",
    "surfaces": "surfaces: {}",
    "temperature": "temperature: {}, where a window is meant cold",
}


def state_clause(fact: stated.NotAsInService) -> str:
    """In which other state a gap was read, without what is to be done about it."""
    states = state_words(fact.state)
    if is_tightened(fact):
        return f"not read as a cover has to be ({states}): the pack comes out thinner by what that squeezes"
    return f"read in another state than in service ({states}), and nothing says how far it may move until then"


def trial_words(fact: Fact, say: Speaker) -> str:
    """One finding as a sentence; empty for other kinds."""
    match fact:
        case stated.TorqueOutside():
            harder = ("harder", "tight") if fact.tight else ("easier", "loose")
            thick, turns = "thicker" if fact.opens is fact.tight else "thinner", "easier" if fact.tight else "harder"
            at = f"; a {thick} pack at {listed(fact.places)} makes it turn {turns}"
            return (
                f"it turns {harder[0]} than it should: {shown(fact.measured)}, and {shown(fact.stated)} is stated, so "
                f"it is set too {harder[1]}{at if fact.places and fact.opens is not None else ''}"
            )
        case stated.ClosedUpBefore():
            return (
                f"before, closed up, it read {say.clearance(fact.read_low, fact.read_high)}, otherwise than open. "
                "See that it was read closed up now, as in service, before it runs"
            )
        case stated.TorqueRightNotLength():
            return (
                f"it turns as is stated ({shown(fact.measured)}), but by calculation it is not right, and nobody has "
                "read it: one of the two is wrong. Read it, or look what is in"
            )
        case stated.TorqueOtherwise():
            return (
                f"its running torque was taken otherwise than stated: {shown(fact.measured)}, and "
                f"{shown(fact.stated)} is stated. Turn it again so"
            )
        case RanOutside():
            out = listed([f"{say.row(pack)}{f' at {shown(at)}' if fact.packs[1:] else ''}" for at, pack in fact.packs])
            return (
                f"with {out} in, as it came apart, it had {say.clearance(fact.low, fact.high)}, {say(fact.off)} "
                f"{loose_or_tight(fact.side)}: look what that has done to it"
            )
        case stated.ShiftCountedOn():
            return f"counts on {shift_words(fact, say)}"
        case stated.PackWasTooThick():
            return (
                f"{say.row(fact.pack)} ({say(fact.thickness)}) came out of {shown(fact.place)}, and the gap reads "
                f"{say(fact.reading)} at most without: {_pressed(fact.under, say)}. Look there first"
            )
        case stated.PacksWereTooThick():
            (first, pack), *others = fact.packs
            packs = [f"{say.row(pack)} came out of {shown(first)}"]
            packs += [f"{say.row(pack)} out of {shown(place)}" for place, pack in others]
            return (
                f"{listed(packs)}: together they close the gap by {say(fact.closed)}, and it reads "
                f"{say(fact.reading)} at most without: {_pressed(fact.under, say)}. Look there first"
            )
        case stated.CameOutAtHand():
            return f"{say.row(fact.pack)} came out for the reading, and counts as in the drawer"
        case stated.NotAsInService():
            if is_tightened(fact):
                return f"{state_clause(fact)}. Read it again, only nipped"
            again = "" if fact.nipped else "read it as in service, or "
            again = "read it with one crushed before, or " if "uncrushed gasket" in dict(fact.state) else again
            return f"{state_clause(fact)}: {again}state that as its `shift`"
        case stated.PreloadWithoutLimit():
            then = say.clearance(fact.after_low, fact.after_high)
            return f"comes to {then}, and nothing states how much preload it may have: do not build it like that"
        case stated.ReadWithPlay():
            first = f"{shown(fact.other)} is set: read this again" if fact.set_since else ""
            first = first or f"set {shown(fact.other)} first, read this again then"
            again = f"{first}, and divide the packs by that reading"
            return f"{play_clause(fact, say)}: {again}"
        case stated.ClosedUpDiffers():
            return _closed_up(fact, say)
        case stated.ClosedUpPlanned():
            then = say.clearance(fact.after_low, fact.after_high)
            return (
                "the plan goes by the first reading; by the one closed up its stack comes to "
                f"{then}, {'inside too' if fact.inside else 'not inside'}"
            )
    return ""


def _pressed(under: Fraction | int, say: Speaker) -> str:
    """What a pack thicker than its gap is in a sound machine: no blade shows that it is pressed."""
    pressed = f"either it was pressed (a preload of {say(under)} at least, which no blade shows)"
    return f"{pressed}, or reading, pack or assembly is wrong"


def play_clause(fact: stated.ReadWithPlay, say: Speaker) -> str:
    """What is wrong about a reading taken with play, without what is to be done about it."""
    had = f"read while {shown(fact.other)} still had up to {up_to(say, fact.play)} of play"
    return f"{had}, so that it could stand anywhere in that"


def is_tightened(fact: stated.NotAsInService) -> bool:
    """Whether it is a cover that was tightened as for service, where it is only nipped to be read."""
    return "tightened cover" in dict(fact.state)


def state_words(state: Sequence[tuple[str, str]]) -> str:
    """In which state a gap was read that is not as in service: `clamped: finger tight; gasket: none`."""
    return "; ".join(_STATE[key].format(shown(told)) for key, told in state)


def shift_words(fact: stated.ShiftCountedOn, say: Speaker) -> str:
    """`±0.01 mm (shift) for clamped: finger tight; gasket: none`."""
    return f"±{say(fact.shift)} (`shift`) for {state_words(fact.state)}"


def shifts_counted_on(decision: Decision, say: Speaker) -> list[str]:
    """The same of every gap that was read in another state than in service; gaps that count on the same together."""
    by_words: dict[str, list[str]] = {}
    for one in decision.findings:
        if isinstance(one.fact, stated.ShiftCountedOn):
            by_words.setdefault(shift_words(one.fact, say), []).append(one.place)
    return [
        f"{listed(names, 4)} {'counts' if len(names) == 1 else 'count'} on {words}: is that enough?"
        for words, names in by_words.items()
    ]


def shift_covers(decision: Decision, say: Speaker) -> list[str]:
    """The same beside the state itself: `output: all of that counts on a shift of ±0.01 mm: is that enough?`."""
    by_shift: dict[Fraction, list[str]] = {}
    for one in decision.findings:
        if isinstance(one.fact, stated.ShiftCountedOn):
            by_shift.setdefault(Fraction(one.fact.shift), []).append(one.place)
    return [
        f"all of that counts on a `shift` of ±{say(shift)} at {listed(names, 4)}: is that enough?"
        for shift, names in by_shift.items()
    ]


def _closed_up(fact: stated.ClosedUpDiffers, say: Speaker) -> str:
    closes = fact.least > 0
    least, most = (fact.least, fact.most) if closes else (-fact.most, -fact.least)
    return (
        f"closed up it reads {say.clearance(fact.read_low, fact.read_high)}: the cover, its gasket or the tightening "
        f"{'closes' if closes else 'opens'} it by {say.bracket(least, most)}. Find out which holds in service, and "
        "give that one as the reading"
    )


def trial_doubt(decision: Decision, *, whole: bool = True) -> str:
    """One sentence for the first lines, where the trial assembly leaves the answer open; empty where it does not.

    Not `whole` where how it was read stands among the cautions.
    """
    return doubt_words(trial_doubted(decision), whole=whole)


def trial_doubted(decision: Decision) -> dict[str, Fact]:
    """The gaps, by name, whose answer the trial assembly leaves open, and by what."""
    return {one.place: one.fact for one in decision.findings if _weakens(decision, one)}


def not_as_in_service(decision: Decision, *, tightened: bool = False) -> list[str]:
    """The gaps that leave the answer open because they were not read as in service, or under a `tightened` cover."""
    weak = (
        one
        for one in decision.findings
        if isinstance(fact := one.fact, stated.NotAsInService)
        and is_tightened(fact) is tightened
        and _weakens(decision, one)
    )
    return list(dict.fromkeys(one.place for one in weak))


def read_with_play(decision: Decision) -> list[tuple[str, str]]:
    """The gaps read while another, the second of each pair, still had play where preload is wanted."""
    return [(one.place, one.fact.other) for one in decision.findings if isinstance(one.fact, stated.ReadWithPlay)]


def play_words(decision: Decision, say: Speaker) -> list[str]:
    """`backlash was read while preload still had up to 0.075 mm of play: ...`, a sentence for each of them."""
    return [
        f"{shown(one.place)} was read while {shown(fact.other)} still had up to {up_to(say, fact.play)} of play: "
        f"{_set_and_read(one.place, fact)} and plan again: how the packs are divided may change."
        for one in decision.findings
        if isinstance(fact := one.fact, stated.ReadWithPlay)
    ]


def _set_and_read(gap: str, fact: stated.ReadWithPlay) -> str:
    if fact.set_since:
        return f"{shown(fact.other)} is set now, so read {shown(gap)} again"
    return f"set {shown(fact.other)}, read {shown(gap)} again then"


def set_since(decision: Decision) -> set[str]:
    """The gaps with which others still had play when those were read, and which have been set and read since."""
    facts = (one.fact for one in decision.findings if isinstance(one.fact, stated.ReadWithPlay))
    return {fact.other for fact in facts if fact.set_since}


def doubt_words(doubted: Mapping[str, Fact], *, whole: bool = True) -> str:
    """That these gaps, by name, were not read as in service, or that what came out contradicts them; empty for none.

    Parameter: whole, whether it says how they were read.
    """
    packs = [name for name, fact in doubted.items() if isinstance(fact, _TOO_THICK)]
    closed = [name for name, fact in doubted.items() if isinstance(fact, stated.ClosedUpDiffers)]
    others = {name: fact for name, fact in doubted.items() if name not in (*packs, *closed)}
    said = []
    if others:
        states = {state_words(f.state) if isinstance(f, stated.NotAsInService) else "" for f in others.values()}
        how = f" ({', '.join(states)})" if whole and len(states) == 1 and "" not in states else ""
        were = "was" if len(others) == 1 else "were"
        covers = any(isinstance(fact, stated.NotAsInService) and is_tightened(fact) for fact in others.values())
        way = "as it has to be" if covers else "as in service"
        said.append(f"{listed(list(others), 3)} {were} not read {way}{how}: read again before you rely on it.")
    if closed:
        read = "reads" if len(closed) == 1 else "read"
        way = "find out which reading holds before you rely on it"
        said.append(f"{listed(closed, 3)} {read} otherwise closed up: {way}.")
    if packs:
        less = "reads less than what came out of it" if len(packs) == 1 else "read less than what came out of them"
        said.append(f"{listed(packs, 3)} {less} took up: read again before you rely on it.")
    return " ".join(said)


def _weakens(decision: Decision, finding: Finding) -> bool:
    fact, name = finding.fact, finding.place
    if isinstance(fact, stated.NotAsInService):
        # a missing gasket is no hundredth: it is all of its thickness
        if {"gasket", "tightened cover", "uncrushed gasket"} & dict(fact.state).keys():
            return True
        return little_to_spare(decision.outcome.gaps[name].after, decision.job.gap[name])
    return isinstance(fact, _TOO_THICK)
