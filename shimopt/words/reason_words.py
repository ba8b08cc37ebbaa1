"""Reasons in words."""

from __future__ import annotations

from collections import Counter
from functools import partial

from shimopt.arithmetic.clearance import Stack
from shimopt.choose import Scarce
from shimopt.errors import shown
from shimopt.job import Job
from shimopt.planner import Decision
from shimopt.reasons import gap_reasons as of_gap
from shimopt.reasons import shared_reasons as shared
from shimopt.reasons.gap_reasons import Length, MayBeTight, Reason
from shimopt.words.digits import of_a_gauge
from shimopt.words.even_words import even_words
from shimopt.words.finding_words import finding_words
from shimopt.words.read_steps import find_out, known_shim
from shimopt.words.size_words import at_most_pieces, worn_words
from shimopt.words.speaker import Speaker, chance_text, listed, loose_or_tight, plural, probably, sized, would_do
from shimopt.words.together_words import together_words
from shimopt.words.ways_out_words import way_out_words

_MOST_UNSUITED, _MOST_NAMED = 3, 4


# their sentences name all the gaps or places that they are about
_OF_SEVERAL = (shared.WindowsFight, shared.NoStacksForAll, shared.ShiftThickness, of_gap.TooFewForAll)


def reason_words(reason: Reason, say: Speaker) -> str:
    """The reason as a sentence that stands on its own. Raises TypeError for a kind that has none."""
    told = reason_told(reason, say)
    return told if isinstance(reason, _OF_SEVERAL) else f"{shown(reason.about)}: {told}"


def reason_told(reason: Reason, say: Speaker) -> str:
    """The same where what it is about is named already."""
    return (
        _inside(reason, say)
        or _outside(reason, say)
        or way_out_words(reason, say)
        or even_words(reason, say)
        or together_words(reason, say)
    )


def about_reason(job: Job, reason: Reason, say: Speaker) -> Speaker:
    """Who speaks about a reason: of a gap, with what is known of that gap."""
    return say.about(job.gap[reason.about]) if reason.about in job.gap else say


def _inside(reason: Reason, say: Speaker) -> str:
    """Of a gap with a place of its own that is inside, surely or by its best estimate; empty for other kinds."""
    pieces = partial(say.stack, at=reason.about)
    match reason:
        case of_gap.InsideWithThinnest():
            needless = " and is not needed" if reason.needless else ""
            return (
                f"already inside, so nothing is fitted. The thinnest that suits ({pieces(reason.stack)}) "
                f"would bring it to {_clear(reason.after, say)}{needless}."
            )
        case of_gap.AlreadyInside():
            return "already inside, so nothing is fitted."
        case of_gap.NoThinner():
            return (
                f"already inside, so nothing is fitted. Even the thinnest that suits "
                f"({pieces(reason.stack)}) would make it {_clear(reason.after, say)}: "
                f"{'too loose' if reason.opens else 'too tight'}."
            )
        case of_gap.FittedToComeInside():
            if reason.bare:
                return (
                    f"without shims the cover stands {say(-reason.read)} off; {_thick(reason, say)} under it "
                    "brings it inside."
                )
            was = say.misses(reason.read, of_a_gauge(say, reason.off), reason.side, reason.preload)
            return f"reads {was}; {_thick(reason, say)} brings it inside."
        case of_gap.FittedToBeSurer():
            return f"its reading could be {say(reason.out)} out of the window; {_thick(reason, say)} makes it surer."
        case of_gap.FittedToMatch():
            return f"{_as_read(reason.sure)}; {_thick(reason, say)} is fitted to match {listed(reason.names)}."
        case of_gap.FittedForTarget():
            nearer = "brings it nearer to its target, which the job puts first"
            return f"{_as_read(reason.sure)}; {_thick(reason, say)} {nearer}."
        case of_gap.FittedForTheChance():
            return (
                f"as read its chance to be inside is only {chance_text(reason.chance)}; "
                f"{_thick(reason, say)} raises it."
            )
        case of_gap.ChanceTooLow():
            more = ", and no stack that is left does better" if reason.surest else ""
            return (
                f"inside by its best estimate, but with a chance of {chance_text(reason.chance)} where "
                f"{chance_text(reason.least)} is asked{more}."
            )
        case MayBeTight():
            return (
                f"reads as nothing where preload is wanted, so it may be as tight already, or tighter: "
                f"nobody knows that it is inside. Turn it (running torque), or read it {known_shim(reason.opens)}, "
                "before anything goes in or comes out."
            )
        case of_gap.UnprovenAsRead():
            return f"{_likely(reason)}, but it could be {_out(reason, say)}; {_surer(reason)}."
        case of_gap.Unproven():
            return f"{_likely(reason)}, but it could be {_out(reason, say)}."
        case shared.StaysOutside():
            return (
                f"{_clear(reason.read, say)} with {pieces(reason.stack)} in, {say(reason.off)} "
                f"{loose_or_tight(reason.side)}; what was in stays in."
            )
        case shared.Stays():
            inside = "inside" if reason.sure else "inside by its best estimate"
            return f"{_clear(reason.read, say)} with {pieces(reason.stack)} in, {inside}; it stays."
        case shared.SwappedInside():
            was = (
                f"reads {say.misses(reason.read, of_a_gauge(say, reason.off), reason.side, reason.preload)}"
                if isinstance(reason, shared.Swapped)
                else f"{_as_read(reason.sure)} ({_clear(reason.read, say)})"
            )
            stack, held = pieces(reason.stack), pieces(reason.held)
            out, into = Counter(reason.held) - Counter(reason.stack), Counter(reason.stack) - Counter(reason.held)
            done = f"{stack} in place of {held}" if into else f"taking {pieces(tuple(sorted(out.elements())))} out"
            even = f", to match {listed(reason.names)}" if reason.names else ""
            return f"{was}; {done} makes it {_clear(reason.after, say)}{even}."
    return ""


def _as_read(sure: bool) -> str:
    return "inside as read" if sure else "inside as read by its best estimate, not surely"


def _find_out(reason: of_gap.ReadsAsNothing) -> str:
    return find_out(cover=reason.cover, opened_by=reason.opened_by)


def _likely(reason: of_gap.Unproven) -> str:
    return f"{probably(reason.chance)} inside ({chance_text(reason.chance)})"


def _out(reason: of_gap.Unproven, say: Speaker) -> str:
    """By how much a gap could be out, at either end."""
    ends = [f"{say(amount)} too {how}" for amount, how in ((reason.tight, "tight"), (reason.loose, "loose")) if amount]
    return " or ".join(ends) or "just outside"


def _surer(reason: of_gap.UnprovenAsRead) -> str:
    """What would tell for certain where nothing is fitted."""
    again = "read it again " + ("in the final assembly" if reason.final else "with a finer gauge")
    if reason.further:
        return f"more shim only makes it {'tighter' if reason.tight else 'looser'}: {again}"
    return f"no stack that is left makes it surer: {again}" if reason.surest else again


def _outside(reason: Reason, say: Speaker) -> str:
    """Of a gap with a place of its own that is left outside; empty for other kinds."""
    pieces = partial(say.stack, at=reason.about)
    match reason:
        case of_gap.BelowWindow():
            return (
                f"{say(reason.off)} too tight. More shim cannot help. The reading or the assembly is "
                "wrong, look there first: its seating, dirt, shims left in; else metal must come off."
            )
        case of_gap.AboveWindow():
            return (
                f"{say(reason.off)} too loose. More shim cannot help, it only opens the gap further. "
                "The reading or the assembly is wrong, look there first: the seating of the cover; else metal must "
                "come off."
            )
        case of_gap.SetByTorque():
            how, less = ("hard", "tight") if reason.tight else ("easily", "loose")
            return (
                f"it turns too {how}, so it is set too {less} whatever it reads in length: what was in stays "
                "in until it is set by its running torque."
            )
        case of_gap.ReadAgainFirst():
            return (
                f"{say(reason.off)} outside its window, by a reading that looks wrong (see above): read it "
                "again before anything is done."
            )
        case of_gap.ReadsAsNothing():
            return f"{say(reason.off)} outside its window by a reading of nothing: {_find_out(reason)}."
        case of_gap.PartsDoNotSuit():
            return _unsuited(reason, say)
        case of_gap.TooFewPieces():
            return (
                f"its seat takes at least {reason.fewest} pieces, and only {reason.there} {say.had} "
                f"{'suits' if reason.there == 1 else 'suit'}."
            )
        case of_gap.TooFewForAll():
            return f"{too_few_for_all(reason, say)}."
        case of_gap.NothingSuits():
            return f"{say(reason.off)} {loose_or_tight(reason.side)}, and no part {say.had} suits its seat."
        case of_gap.NothingOnHand():
            return f"{say(reason.off)} {loose_or_tight(reason.side)}, and there is nothing to fit."
        case of_gap.AllElsewhere():
            return (
                f"{say(reason.off)} {loose_or_tight(reason.side)}, and all that suits is in {listed(reason.names, 4)} "
                "and stays there."
            )
        case of_gap.NotThickEnough() if reason.in_now:
            return (
                f"needs at least {say(reason.least)} of shim by its best estimate; what is in ({pieces(reason.stack)}) "
                f"leaves it {say(reason.off)} {loose_or_tight(reason.side)}, and nothing that is there is thicker."
                f"{worn_words(reason.stack, say)}"
            )
        case of_gap.NotThickEnough():
            of_what = f"{at_most_pieces(reason.pieces)}{'that is left' if reason.left else say.had}"
            return (
                f"needs at least {say(reason.least)} of shim by its best estimate; the thickest stack {of_what} "
                f"({pieces(reason.stack)}) is {say(reason.thickest)} and "
                f"would leave it {say(reason.off)} {loose_or_tight(reason.side)}. What does not bring it inside is not "
                "fitted."
            )
        case of_gap.TooTightWithThinnest():
            how = "too loose" if isinstance(reason, of_gap.TooLooseWithThinnest) else "too tight"
            return (
                f"the thinnest that suits ({pieces(reason.stack)}, {say(reason.thinnest)}) would make it "
                f"{_clear(reason.after, say)}, {say(reason.short)} {how}."
                + (
                    f" It takes {say(reason.most)} at most, far less than the thinnest there is: the reading or the "
                    "assembly may be wrong, look there first."
                    if reason.doubtful
                    else ""
                )
            )
        case of_gap.NoSizeBetween() if reason.in_now:
            return "no stack that may go in falls into its window, or nearer to it than what is in."
        case of_gap.NoSizeBetween():
            start = "no stack that may go in falls into its window"
            if not reason.stack:
                return f"{start}, and of what is left nothing brings it nearer."
            return (
                f"{start}. Of what is left the nearest ({pieces(reason.stack)}) would make it "
                f"{_clear(reason.after, say)}, {say(reason.off)} outside."
            )
        case of_gap.PreloadNotStated():
            return (
                "what would preload it is not fitted, for nothing states how much preload it may have. If it may have "
                "some, state that as the `min` of its window."
            )
        case of_gap.DrawerRanOut():
            return _ran_out(reason, say)
        case of_gap.BeyondParts():
            end = (
                "A reading or the assembly is likely wrong: look there first, before buying anything"
                if reason.searched
                else "Check the measurement; if it is right, thicker parts are needed"
            )
            return (
                f"needs {say(reason.least)} of shim, and {reason.pieces} of the thickest part known "
                f"make {say(reason.most)}. {end}."
            )
        case of_gap.LeftByPriority():
            return (
                f"{pieces(reason.stack)} would bring it inside; it is left outside because the job's "
                f"priority puts {', '.join(shown(level) for level in reason.first)} first."
            )
        case of_gap.LeftTogetherByPriority():
            return (
                f"parts {say.had} would bring it inside, with all that it acts with; it is left outside "
                f"because the job's priority puts {', '.join(shown(level) for level in reason.first)} first."
            )
        case of_gap.LeftBySearch():
            return f"{pieces(reason.stack)}, which is left, would bring it inside; the search stopped before that."
    return ""


def too_few_for_all(reason: of_gap.TooFewForAll, say: Speaker) -> str:
    """`p and q take at least 4 pieces together, and only 3 in the drawer suit`."""
    alone = len(reason.names) == 1
    takes = f"{listed(reason.names)} {'takes' if alone else 'take'} at least {reason.fewest} pieces"
    takes = takes if alone else f"{takes} together"
    if reason.there >= reason.fewest:
        return f"{takes}, and of the {reason.there} {say.had} that suit no such pack{'' if alone else 's'} can be made"
    return f"{takes}, and only {reason.there} {say.had} {'suits' if reason.there == 1 else 'suit'}"


def _clear(length: Length, say: Speaker) -> str:
    return say.clearance(length, length)


def _thick(reason: of_gap.Fitted, say: Speaker) -> str:
    """The stack with its thickness."""
    return sized(say.stack(reason.stack, reason.about), say(reason.thickness))


def got_text(reason: of_gap.DrawerRanOut) -> str:
    """Who got the pieces, and did not have them before."""
    got = [name for name in reason.got if name not in reason.kept]
    if not reason.and_others:
        return listed(got, _MOST_NAMED)
    return f"{', '.join(map(shown, got[:_MOST_NAMED]))} and others" if got else "others"


def _stay(stack: Stack) -> str:
    return "stays" if len(stack) == 1 else "stay"


def _ran_out(reason: of_gap.DrawerRanOut, say: Speaker) -> str:
    what = say.stack(reason.stack, reason.about) if reason.stack else "parts that suit"
    would = would_do(sure=reason.sure or not reason.stack)
    kept, got = (reason.kept, [name for name in reason.got if name not in reason.kept])
    if kept and not got and not reason.and_others:
        lies = "it is" if len(reason.stack) == 1 else "pieces of it are"
        said = f"{what} {would}; {lies} in {listed(kept)}, and {_stay(reason.stack)} there."
    else:
        instead = [f"{got_text(reason)} got it instead"] if got or reason.and_others else []
        said = f"{what} {would}, but the drawer ran out{f' ({instead[0]})' if instead else ''}."
        said += f" In {listed(kept)} it stays." if kept else ""
    if len(reason.names) > 1:
        said += f" {listed(reason.names)} cannot all be served at once."
    if not reason.nearest:
        return said
    nearest = say.stack(reason.nearest, reason.about)
    return f"{said} The nearest that is left ({nearest}) would leave it {say(reason.off)} outside."


def _unsuited(reason: of_gap.PartsDoNotSuit, say: Speaker) -> str:
    """Parts of the right thickness that must not be fitted, the first few each with why: what a customer is told."""
    parts: dict[str, list[str]] = {}
    for finding in reason.findings:
        parts.setdefault(finding_words(finding, say), []).append(finding.part)
    said = [f"{listed(names)} ({words})" for words, names in list(parts.items())[:_MOST_UNSUITED]]
    more = sum(len(names) for names in list(parts.values())[_MOST_UNSUITED:])
    end = f"; and {more} more" if more else ""
    return f"right thickness, does not suit: {'; '.join(said)}{end}."


def way_words(decision: Decision) -> str:
    """Which way a large job was planned; empty for a job that was solved whole."""
    if decision.way == "whole":
        return ""
    return (
        f"Planned by prices, for {plural(len(decision.job.places), 'place')} share one drawer: values are what the "
        "plan comes to, and no plan can be below a bound, given the levels above it as they are."
    )


def scarce_words(one: Scarce, say: Speaker) -> str:
    """What a few more of one size would bring."""
    what = say.part(one.line)
    if one.level == "outside":
        brought = f"bring {plural(one.fewer, 'more gap')} inside"
    else:
        brought = f"make {plural(one.fewer, 'more gap')} sure to be inside"
    above = "" if one.level == "outside" else ", with no more gaps outside"
    return f"{one.more} more of {what} would {brought} (tried out by a plan up to this level{above})."
