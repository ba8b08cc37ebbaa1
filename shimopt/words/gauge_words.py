"""Is the gauge good enough, in one plain sentence about a gap; and the guard bands of what decides."""

from __future__ import annotations

from fractions import Fraction

from shimopt.arithmetic.needed import guarded
from shimopt.job import Gap
from shimopt.reasons import Gauge
from shimopt.reasons.remedies import Remedies
from shimopt.words.speaker import Speaker, listed


def gauge_words(gauge: Gauge, say: Speaker, tried: Remedies) -> str:
    """Whether reading and sizes are good enough, and if not, what would be. Parameter: tried, what helps the plan."""
    off, window = f"±{say(gauge.uncertainty)}", say(gauge.window)
    known = f"{_what_is_known(gauge)} known to {off}{' (95 %)' if gauge.likely else ''}"
    if gauge.chance is not None and gauge.code != "reading":
        known = f"a chance of {_per_cent(gauge.chance)} takes guard bands of {say(gauge.uncertainty)}"
    match gauge.code:
        case "one_sided":
            return "good enough: its window has one limit only."
        case "as_read":
            return f"good enough: {known}, the window is {window} wide, and it is inside as read."
        case "good" if gauge.moves is not None:
            both = say(gauge.moves + 2 * gauge.uncertainty)
            return (
                f"good enough: {known}, the sizes step by {_step(gauge, say)}, together "
                f"{both} of a window {window} wide."
            )
        case "end":
            return f"good enough: {known}, the window is {window} wide, and a stack on hand serves."
        case "no_sizes":
            return f"good enough, {known}; but no stack that may go in is near enough."
        case "steps" if gauge.moves is not None:
            ways = [] if gauge.would_do is None else [f"read it {_to(gauge, say)} (if its middle is the same then)"]
            # exactly known, would they be near enough to one another?
            exact = gauge.moves + 2 * (gauge.uncertainty - (gauge.pieces or 0)) <= gauge.window
            if gauge.would_do is None and gauge.pieces and exact:
                ways = ["shims as marked are too uncertain for this window: measure them"]
            if (fuller := tried.fuller.get(gauge.gap)) is not None:
                ways.append(f"take {len(fuller)} pieces, one more than are allowed there")
            ways += [] if gauge.stack is None else [f"have a stack of {say.span(gauge.stack)}"]
            room = say(max(Fraction(0), gauge.window - 2 * gauge.uncertainty))
            step = _step(gauge, say)
            sure = "sure" if gauge.chance is None else "as likely as asked"
            if gauge.hit:
                return (
                    f"good enough for this reading, not for every one: the sizes step by {step}, and "
                    f"{known}, which leaves {room} of a window {window} wide{_for_every(gauge, say)}."
                )
            to_be_sure = f" To be {sure}, {'; or '.join(ways)}." if ways else ""
            return (
                f"the sizes are too far apart: they step by {step}, and {known}, which leaves {room} of "
                f"a window {window} wide.{to_be_sure}"
            )
        case "reading":
            return _too_coarse(gauge, say, known, tried)
    raise KeyError(gauge.code)


def _what_is_known(gauge: Gauge) -> str:
    """What a gap's uncertainty is made up of, as the beginning of a clause."""
    shares = {
        "reading": gauge.uncertainty - gauge.shift > gauge.pieces,
        "what it may move yet": gauge.shift > 0,
        "pieces": gauge.pieces > gauge.effect,
        "how far a shim moves it": gauge.effect > 0,
    }
    made_of = [what for what, counts in shares.items() if counts] or ["reading"]
    if len(made_of) == 1 and made_of[0] != "pieces":
        return f"{'the ' if made_of[0] == 'reading' else ''}{made_of[0]} is"
    return f"{'the pieces' if made_of == ['pieces'] else listed(made_of)} are"


def _too_coarse(gauge: Gauge, say: Speaker, known: str, tried: Remedies) -> str:
    window = say(gauge.window)
    if gauge.hit:
        return (
            f"good enough for this reading, not for every one: {known}, and the window is {window} wide"
            f"{_for_every(gauge, say)}."
        )
    how = "surely inside" if gauge.chance is None else f"inside with a chance of {_per_cent(gauge.chance)}"
    start = f"no stack can be {how}: {known} only, and the window is {window} wide."
    if gauge.step is None:
        return f"{start} It takes a reading known {_to(gauge, say, 'well within ')}."
    ways = [] if gauge.would_do is None else [f"a reading known {_to(gauge, say)}, if its middle is the same then"]
    for names, way in (
        (tried.measured, "pieces that are measured"),
        (tried.effects, "trial readings further apart, for how far a shim moves it"),
        (tried.both, "a finer reading and pieces that are measured"),
    ):
        ways += [way] if gauge.gap in names else []
    if ways:
        sizes = "It" if gauge.would_do is None else "With these sizes it"
        return f"{start} {sizes} takes {', or '.join(ways)}."
    # the reading, and the pieces as they are, against the step
    if gauge.uncertainty == gauge.pieces:
        return f"{start} No reading helps."
    torque = "; a preload is told by its running torque" if say.loaded else ""
    return f"{start} With sizes {say(gauge.step)} apart no reading does that a bench can take{torque}."


def _step(gauge: Gauge, say: Speaker) -> str:
    """How far the sizes step, and how far that moves the gap where that is another length."""
    if gauge.step is None or gauge.moves is None:
        return ""
    here = f"{say(gauge.step)} here"
    return here if gauge.moves == gauge.step else f"{here}, {say(gauge.moves)} in the gap"


def _for_every(gauge: Gauge, say: Speaker) -> str:
    """What it takes to be sure of every reading; empty where no reading does."""
    return "" if gauge.would_do is None else f"; for every one, read it {_to(gauge, say)}"


def _to(gauge: Gauge, say: Speaker, within: str = "") -> str:
    """How finely a reading would do, and where it has to be taken."""
    return f"to {within}±{say(gauge.would_do or Fraction(0))}{' in the final assembly' if gauge.final else ''}"


def _per_cent(chance: Fraction) -> str:
    return f"{float(chance) * 100:g} %"


def guard_words(gap: Gap, say: Speaker) -> str:
    """Where the best estimate has to come, and how far from the limits that is."""
    window = gap.window
    asked = "to be sure" if gap.least_chance is None else f"for a chance of {_per_cent(gap.least_chance)}"
    zone = guarded(gap)
    if zone is None:
        return f"{asked} there is no room: the window is too narrow for this gauge."
    low, high = zone
    bands = [
        say(abs(Fraction(end) - limit))
        for end, limit in ((low, window.min), (high, window.max))
        if end is not None and limit is not None
    ]
    guard = bands[0] if len(set(bands)) == 1 else " and ".join(bands)
    start = f"{asked} with exact pieces its best estimate has to come to"
    if low is not None and high is not None:
        return f"{start} {say.clearance(low, high)}: guard bands of {guard}."
    least = [f"{say.clearance(low, low)} or more"] if low is not None else []
    most = [f"{say.clearance(high, high)} or less"] if high is not None else []
    return f"{start} {''.join([*least, *most])}: a guard band of {guard}."
