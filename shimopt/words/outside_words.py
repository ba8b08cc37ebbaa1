"""How a gap comes to be outside after the work: it was so as found, or what is done for others takes it out."""

from __future__ import annotations

from collections.abc import Sequence

from shimopt.errors import shown
from shimopt.job import Gap, Place
from shimopt.planner import Decision
from shimopt.reasons import gap_reasons as of_gap
from shimopt.reasons import shared_reasons as shared
from shimopt.reasons.gap_reasons import Reason
from shimopt.reasons.kept_back import OpenedToo
from shimopt.reasons.remedies import OneMorePiece
from shimopt.words.digits import few_digits
from shimopt.words.size_words import at_most_pieces
from shimopt.words.speaker import Speaker, listed, loose_or_tight, not_all_right, would_do

SO_FAR = "before the search stopped"
_OF_SEVERAL = (shared.WindowsFight, shared.NoStacksForAll, of_gap.TooFewForAll)
_MOST_NAMED = 2
_MANY = 12  # of more gaps no row names who got its pieces, but if it is one
_MOST_TOLD = 3
# what is known of a gap that is left outside however far the search went
_KNOWN_OUTSIDE = """
above_window all_elsewhere below_window left_by_priority left_together_by_priority may_be_tight no_place_moves
no_size_between no_stacks_for_all not_thick_enough nothing_on_hand nothing_suits read_again_first reads_as_nothing
set_by_torque shims_not_allowed too_few_for_all too_few_pieces too_tight_with_thinnest windows_fight
""".split()  # noqa: SIM905 (a line for each would hide what follows)
_LOOSE = {"over": "loose", "under": "tight"}
_MORE = {"over": "looser", "under": "tighter"}


def spoiled(decision: Decision) -> dict[str, shared.TogetherOutside]:
    """Gaps that this work takes out of their windows, or further out than they were found, each with the reason."""
    return {
        reason.about: reason
        for reason in decision.reasons
        if isinstance(reason, shared.TogetherOutside) and reason.still > reason.off
    }


def nearer(decision: Decision, name: str) -> bool:
    """Whether the work brings a gap nearer to its window, without bringing it inside."""
    gap, found = decision.job.gap[name], decision.outcome.gaps[name]
    return 0 < found.off < gap.window.off(gap.reading.bracket.best)


def as_found(reason: shared.TogetherOutside) -> str:
    """How it was before."""
    if reason.off:
        return "nearer as found"
    return "right as found by its best estimate" if reason.doubt else "right as found"


def done_for(reason: shared.TogetherOutside) -> str:
    """What takes it out: the work, by the gaps that it serves, else by the places where it is done."""
    return f"what is done for {listed(reason.served)}" if reason.served else f"what is done at {listed(reason.names)}"


def takes_out(reason: shared.TogetherOutside, fight: Sequence[str] = ()) -> str:
    """`gap 2 was right as found, but what is done for gap 1 makes it too tight`; in a `fight` of windows, that."""
    name, then = shown(reason.about), _LOOSE[reason.side_after]
    if fight:
        found = f"too {_LOOSE[reason.side]} as found" if reason.off else as_found(reason)
        still = f"still {_MORE[reason.side]}" if reason.off and reason.side_after == reason.side else f"too {then}"
        return f"{name} was {found} and will be {still}, for {not_all_right(fight)}"
    if not reason.off:
        return f"{name} was {as_found(reason)}, but {done_for(reason)} makes it too {then}"
    more = f"still {_MORE[reason.side]}" if reason.side_after == reason.side else f"too {then}, by more"
    return f"{name} was too {_LOOSE[reason.side]} as found, and {done_for(reason)} makes it {more}"


def misses_as_found(reason: shared.TogetherOutside, say: Speaker) -> str:
    """`right as found`, `0.54 mm too loose as found`."""
    return f"{few_digits(say, reason.off)[0]} too {_LOOSE[reason.side]} as found" if reason.off else as_found(reason)


def turns_wrongly(*, tight: bool) -> str:
    """What takes the place of how far it is outside by its length."""
    return f"turns too {'hard' if tight else 'easily'}"


def not_by_length(decision: Decision, gap: Gap) -> str:
    """What takes the place of how far outside it is where its reading tells nothing of that; else empty."""
    if way := decision.job.turns_wrong(gap.name):
        return turns_wrongly(tight=way == "tight")
    return "may be tight already" if gap.may_be_tight else ""


def outside_then(decision: Decision, gap: Gap, say: Speaker) -> str:
    """`stays 5.5 thou too loose`; where the work changes it, `will be`; what turns wrong does that."""
    if other := not_by_length(decision, gap):
        return other
    found = decision.outcome.gaps[gap.name]
    verb = "stays" if found.after.best == gap.reading.bracket.best else "will be"
    if verb == "stays" and decision.job.stands_bare(gap):
        verb = "without shims is"
    return f"{verb} {few_digits(say, found.off)[0]} {loose_or_tight(gap.window.side(found.after.best))}"


def why_outside(decision: Decision, place: Place, gap: Gap, say: Speaker) -> str:
    """Of a gap that is outside though nothing goes into a place that moves it: what becomes of it, and why."""
    then, name = outside_then(decision, gap, say), shown(gap.name)
    if place.seat is not None and not place.seat.shims_allowed:
        return f"no shim goes here: it {then}"
    if reason := spoiled(decision).get(gap.name):
        return f"{name} {then}: it was {misses_as_found(reason, say)}, {done_for(reason)} makes it so"
    if len(gap.effects) > 1 or len(decision.job.moved_by[place.name]) > 1:
        fight = next((names for names in _fights(decision) if gap.name in names), ())
        cannot = f": {not_all_right(fight)}" if fight else ""
        first = _put_first(decision, [gap.name])
        too_few = (r for r in decision.reasons if isinstance(r, (of_gap.TooFewPieces, of_gap.TooFewForAll)))
        if any(place in (r.names or (r.about,)) for r in too_few for place, _ in gap.effects):
            return f"{name} {then}: too few pieces {say.had} suit"
        return f"{name} {then}{f': the job puts {listed(first)} first' if first else cannot}"
    if not_by_length(decision, gap):
        return f"{name} {then}"
    return f"{why_nothing(decision, place, gap, say)}: {name} {then}"


def reasons_about(decision: Decision, *names: str) -> list[Reason]:
    """The reasons that are about these gaps, places or balances, in their order; sorted once for all of a plan."""
    known: dict[str, list[tuple[int, Reason]]] | None = decision.worked_out.get(("reasons about",))
    if known is None:
        known = decision.worked_out["reasons about",] = {}
        for told in enumerate(decision.reasons):
            known.setdefault(told[1].about, []).append(told)
    found = [told for name in {*names} for told in known.get(name, ())]
    return [reason for _, reason in sorted(found, key=lambda told: told[0])]


def left_by_cut_off(decision: Decision) -> frozenset[str]:
    """The gaps that are left outside because the search for a plan stopped: nothing says that no stack would serve."""
    known: frozenset[str] | None = decision.worked_out.get(("left by cut-off",))
    if known is None:
        settled = {
            name
            for reason in decision.reasons
            if reason.code in _KNOWN_OUTSIDE
            for name in (reason.about, *(reason.names if isinstance(reason, _OF_SEVERAL) else ()))
        }
        stopped = any(level.name == "outside" and not level.proven for level in decision.levels)
        left = (
            gap.name
            for gap in (decision.job.gaps if stopped else ())
            if decision.outcome.gaps[gap.name].verdict == "outside"
            and decision.job.takes_shims(gap.name)
            and not settled & {gap.name, *(place for place, _ in gap.effects)}
        )
        known = decision.worked_out["left by cut-off",] = frozenset(left)
    return known


def why_nothing(decision: Decision, place: Place, gap: Gap, say: Speaker) -> str:
    """Why nothing is fitted for a gap with a place of its own, in a few words."""
    if place.seat is not None and not place.seat.shims_allowed:
        return "no shim goes here"
    of_gap_or_place = reasons_about(decision, gap.name, place.name)
    more = next((reason for reason in of_gap_or_place if isinstance(reason, OneMorePiece)), None)
    if more is not None and any(isinstance(reason, of_gap.NotThickEnough) for reason in of_gap_or_place):
        pieces, are = ("single piece", "suits is") if more.pieces == 1 else (f"{more.pieces} pieces", "suit are")
        return f"no {pieces} {say.had} that {are} thick enough"
    whys = (_why(reason, decision, say) for reason in of_gap_or_place)
    cut_off = gap.name in left_by_cut_off(decision)
    return next(filter(None, whys), f"nothing was found {SO_FAR}" if cut_off else f"nothing {say.had} helps")


def _put_first(decision: Decision, outside: Sequence[str]) -> tuple[str, ...]:
    """What the job puts before these gaps, where that alone leaves every one of them outside; else empty."""
    kinds = (of_gap.LeftByPriority, of_gap.LeftTogetherByPriority)
    first = {reason.about: reason.first for reason in decision.reasons if isinstance(reason, kinds)}
    return first[outside[0]] if outside and all(name in first for name in outside) else ()


def means_words(decision: Decision, outside: Sequence[str], say: Speaker) -> str:
    """By what gaps cannot be put right: `by shims` where none may go in or helps, else by the parts that it may use."""
    if first := _put_first(decision, outside):
        return f"while the job puts {listed(first)} first"
    if kept := kept_by_others(decision, outside):
        return f"while {listed(kept)} {'keeps' if len(kept) == 1 else 'keep'} what is in"
    fights = windows_fighting(decision)
    if outside and set(outside) <= set(fight := fights.get(outside[0], ())):
        return f"as long as what is allowed for {listed(fight, 4)} stands"
    if outside and not any(decision.job.gap[name].effects for name in outside):
        return "as no place for a shim is named there"
    if outside and left_by_cut_off(decision).issuperset(outside):
        return f"by what was found {SO_FAR}"
    return "by shims" if all(_none_helps(decision, name) for name in outside) else f"with the parts {say.had}"


def kept_by_others(decision: Decision, outside: Sequence[str]) -> tuple[str, ...]:
    """The places that would have to be opened, though they are right, where that would bring all of these inside."""
    opened = {reason.about: reason.names for reason in decision.reasons if isinstance(reason, OpenedToo)}
    if not outside or not all(name in opened for name in outside):
        return ()
    return tuple(dict.fromkeys(place for name in outside for place in opened[name]))


def not_right(decision: Decision, wrong: Sequence[str], say: Speaker) -> str:
    """What cannot be put right, and what was nearer to right before this work."""
    taken_out = spoiled(decision)
    closer = [name for name in wrong if name not in taken_out and nearer(decision, name)] if taken_out else []
    left = [name for name in wrong if name not in taken_out and name not in closer]
    if not taken_out and (hidden := [name for name in left if decision.job.untold(name)]) == left:
        return f"cannot be said to be right or wrong yet: {listed(hidden, _MOST_TOLD)}"
    if not taken_out:
        kinds = _by_place(decision, left)
        if len(kinds) == 1:
            return f"cannot be put right {means_words(decision, left, say)}: {listed(left, _MOST_TOLD)}"
        told = "; ".join(f"{listed(names, _MOST_TOLD)} {means_words(decision, names, say)}" for names in kinds)
        return f"cannot be put right: {told}"
    fights = windows_fighting(decision)
    said = [takes_out(reason, fights.get(name, ())) for name, reason in list(taken_out.items())[:_MOST_TOLD]]
    more = len(taken_out) - _MOST_TOLD
    said += [f"so it is with {more} more"] if more > 0 else []
    if closer:
        come = "comes" if len(closer) == 1 else "come"
        said.append(f"{listed(closer, _MOST_TOLD)} {come} nearer, but not right")
    said += cannot_words(decision, left, say, _MOST_TOLD)
    return f"will not be right: {'; '.join(said)}"


def cannot_words(decision: Decision, left: Sequence[str], say: Speaker, most: int) -> list[str]:
    """`a cannot be put right with the parts in the drawer`, those apart that no place moves; `most` are named."""
    # of what may be right as it is nobody says so
    left = [name for name in left if not decision.job.untold(name)]
    return [
        f"{listed(names, most)} cannot be put right {means_words(decision, names, say)}"
        for names in _by_place(decision, left)
    ]


def _by_place(decision: Decision, names: Sequence[str]) -> list[list[str]]:
    """Gaps that other shims would help, those that none helps or may, those that no place moves, and what is open."""
    kinds: dict[str, list[str]] = {"parts": [], "none helps": [], "no place": [], "open": []}
    for name in names:
        other = "open" if name in left_by_cut_off(decision) else "parts"
        moved = bool(decision.job.gap[name].effects)
        kinds["no place" if not moved else "none helps" if _none_helps(decision, name) else other].append(name)
    return [kind for kind in kinds.values() if kind]


def _none_helps(decision: Decision, name: str) -> bool:
    """Whether no shim may go in at a gap, or none can help: it is too tight with nothing in, say."""
    kinds = (of_gap.BelowWindow, of_gap.AboveWindow, of_gap.ReadsAsNothing)
    beyond = any(isinstance(reason, kinds) for reason in reasons_about(decision, name))
    return beyond or not decision.job.takes_shims(name)


def windows_fighting(decision: Decision) -> dict[str, tuple[str, ...]]:
    """Gaps whose windows cannot all hold, whatever goes in, each with all of them."""
    fights = (r.names for r in decision.reasons if isinstance(r, shared.WindowsFight) and len(r.names) > 1)
    return {name: names for names in fights for name in names}


def _fights(decision: Decision) -> list[tuple[str, ...]]:
    """Gaps that cannot all be inside, whatever is fitted, or with what is at hand."""
    kinds = (shared.WindowsFight, shared.NoStacksForAll)
    return [r.names for r in decision.reasons if isinstance(r, kinds) and len(r.names) > 1]


def for_no_other(decision: Decision, gap: str) -> list[str]:
    """The rule by which a gap stays outside that could be brought inside if another were given for it."""
    names = next((names for names in _fights(decision) if gap in names), ())
    others = [name for name in names if name != gap]
    if not others or decision.outcome.gaps[gap].verdict != "outside":
        return []
    lost = shown(others[0]) if len(others) == 1 else f"one of {listed(others)}"
    return [
        f"Whatever brings {shown(gap)} inside leaves {lost} outside: places that act together are changed only if "
        "fewer gaps are outside then, and none is made too tight, or tighter, for another."
    ]


def else_further_out(reason: of_gap.DrawerRanOut, decision: Decision, say: Speaker) -> str:
    """That the one gap that got the pieces would else be further outside than this one; empty where that is not why."""
    others = [name for name in reason.names if name != reason.about]
    if len(others) != 1 or tuple(others) != reason.got or decision.job.place[others[0]].installed:
        return ""
    other, window = decision.job.gap[others[0]], decision.job.gap[others[0]].window
    off = window.off(other.reading.bracket.best)
    if off <= decision.outcome.gaps[reason.about].off:
        return ""
    return f"would else stay {few_digits(say, off)[0]} {loose_or_tight(window.side(other.reading.bracket.best))}"


def _why(reason: Reason, decision: Decision, say: Speaker) -> str:
    """Why nothing is fitted for a gap with a place of its own, in a few words; empty for other reasons."""
    match reason:
        case of_gap.DrawerRanOut():
            would = would_do(sure=reason.sure)
            stack = say.stack(reason.stack, reason.about) if reason.stack else "what would do it"
            many = len(decision.job.gaps) > _MANY and len(reason.got) > 1
            others = reason.and_others or len(reason.got) > _MOST_NAMED or many
            got = "other places" if others else listed(reason.got)
            if not got:
                return "the drawer has not enough for it"
            if reason.stack and reason.kept and set(reason.kept) == set(reason.got):
                lies = "is" if len(reason.stack) == 1 else "pieces of it are"
                stay = "stays" if len(reason.stack) == 1 else "stay"
                return f"{stack} {would}, but {lies} in {got} and {stay} there"
            if not reason.stack:
                return f"{stack} goes to {got}"
            goes, stays = ("goes", "stays") if len(reason.stack) == 1 else ("pieces of it go", "stay")
            if not others and (kept := [name for name in reason.got if name in reason.kept]):
                gone = listed([name for name in reason.got if name not in kept])
                return f"{stack} {would}, but {goes} to {gone} and {stays} in {listed(kept)}"
            else_out = else_further_out(reason, decision, say)
            return f"{stack} {would}, but {goes} to {got}{f', which {else_out}' if else_out else ''}"
        case of_gap.LeftByPriority():
            first = listed([str(level) for level in reason.first])
            return f"{say.stack(reason.stack, reason.about)} would do it, but the job puts {first} first"
        case of_gap.LeftBySearch():
            return f"{say.stack(reason.stack, reason.about)} would do it, but the search stopped before that"
        case of_gap.BelowWindow() | of_gap.AboveWindow():
            return "no shim helps here, see its seating first"
        case of_gap.SetByTorque():
            return turns_wrongly(tight=reason.tight)
        case of_gap.ReadAgainFirst():
            return "read it again first"
        case of_gap.ReadsAsNothing():
            return "it reads as nothing: find out first what that hides"
        case of_gap.AllElsewhere():
            return f"all that suits is in {listed(reason.names, _MOST_NAMED)} and stays there"
        case of_gap.NotThickEnough() if reason.pieces:
            return f"no stack {at_most_pieces(reason.pieces)}{say.had} is thick enough"
        case of_gap.NotThickEnough():
            return f"nothing {say.had} that suits is thick enough"
        case of_gap.NoSizeBetween():
            return f"no stack {say.had} that may go in brings it inside"
        case of_gap.TooTightWithThinnest():
            there = any(line.on_hand for line in decision.job.stock) or decision.buy
            return f"even the thinnest {say.had} is too thick" if there else "the drawer is empty"
        case of_gap.TooFewPieces():
            return f"too few pieces {say.had} suit"
    return ""
