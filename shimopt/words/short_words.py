"""A plan in a few words: what goes out and in at a place and where from, what is assumed, how far it is proven."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

from shimopt.arithmetic.changes import BENCH, DRAWER, ORDER, Piece
from shimopt.errors import shown
from shimopt.job import Gap
from shimopt.planner import Decision
from shimopt.reasons.gap_reasons import FittedToMatch, PreloadNotStated, ReadsAsNothing
from shimopt.seats import order_matters
from shimopt.words.change_words import counted, out_here
from shimopt.words.digits import few_digits
from shimopt.words.doubt_words import doubted
from shimopt.words.even_words import cleared_up_first, settled_before
from shimopt.words.exact_words import exact_counts, split_words, taken_words
from shimopt.words.findings_list import unchecked_words
from shimopt.words.found_words import find_out_first
from shimopt.words.next_steps import MAKERS, bores_to_measure
from shimopt.words.outside_words import not_by_length, reasons_about, why_nothing
from shimopt.words.shortfall_words import too_few_told
from shimopt.words.speaker import Speaker, begun, chance_text, listed, loose_or_tight
from shimopt.words.trial_words import shifts_counted_on
from shimopt.words.ways_out_words import way_out_words

LEAVE = "leave"
_MOST_ORDERS = 4
_TOLD_ONCE = 3  # from so many places on
_MOST_UNCHECKED = 3  # all of it stands in --full


class AtPlace(NamedTuple):
    """What is done at one place: what comes `out`, what `stays` in, what goes `into` it and its `source`.

    `changed` whether anything is done: else `source` is the verb of what stays, and of an empty place `into` says that.
    """

    out: str
    stays: str
    into: str
    source: str
    changed: bool


def one_source(decision: Decision, say: Speaker) -> str:
    """Where all pieces come from, where several places get some; empty where they come from here and there."""
    sources = [_sources(change.into, say, change.place) for change in decision.changes if change.into]
    return sources[0] if len(sources) >= _TOLD_ONCE and len(set(sources)) == 1 else ""


def source_words(source: str) -> str:
    """`All pieces from tin 2.`"""
    where = {"": "", "drawer": "from the drawer", "to buy": source}.get(source, f"from {source}")
    return f"All pieces {where}." if where else ""


def at_place(decision: Decision, place: str, say: Speaker, known: str = "") -> AtPlace:
    """The same for one place of a plan, in cells of a table; not the source that is `known` of all."""
    change = decision.changes.at[place]
    out, into = (tuple(piece.line for piece in pieces) for pieces in (change.out, change.into))
    stays = say.stack(change.stays, place, decision.stacks.get(place, ())) if change.stays else ""
    if not change.changed:
        return AtPlace("", stays, "" if stays else _left(decision, place), LEAVE if stays else "", False)
    nothing, source = not into and not stays, _sources(change.into, say, change.place)
    return AtPlace(
        say.stack(out, place) if out else "",
        stays,
        say.stack(into, place) if into or nothing else "",
        "" if source == known else source,
        True,
    )


def _left(decision: Decision, place: str) -> str:
    """An empty place stays so: because all is right, or because nothing helps."""
    gaps = decision.job.moved_by[place]
    return LEAVE if all(decision.outcome.gaps[gap.name].verdict != "outside" for gap in gaps) else "nothing"


def _sources(pieces: Sequence[Piece], say: Speaker, place: str) -> str:
    """Where pieces come from: one name where it is the same for all, else each its own, in the order of the stack."""
    came = [(name, _source(piece, say, place)) for name, piece in counted(pieces, say, place)]
    if not came:
        return ""
    if len({source for _, source in came}) == 1:
        return came[0][1]
    if len(came) == len({piece.line for piece in pieces}) and not any("," in source for _, source in came):
        return " + ".join(source for _, source in came)
    # like pieces from here and there
    return ", ".join(f"{source} ({name})" for name, source in came)


def _source(piece: Piece, say: Speaker, place: str) -> str:
    if piece.other == DRAWER:
        return shown(say.stock[piece.line].part.at or "drawer")
    if piece.other == BENCH:
        return f"bench, {out_here(piece, place)}"
    return "to buy" if piece.other == ORDER else shown(piece.other)


def beside_verdict(decision: Decision, gap: Gap, say: Speaker, still: Collection[str]) -> str:
    """What is said beside the sign of a verdict: how far a gap stays outside, or its chance where that is below all.

    `still` are the gaps of which something is open.
    """
    found = decision.outcome.gaps[gap.name]
    if hangs := doubted(decision).get(gap.name):
        return hangs
    if decision.job.turns_wrong(gap.name) or (found.verdict == "outside" and gap.may_be_tight):
        return not_by_length(decision, gap)
    if found.verdict == "outside":
        return f"{few_digits(say.bare, found.off)[0]} {loose_or_tight(gap.window.side(found.after.best))}"
    if gap.may_be_tight:
        return "unknown"
    if gap.name in still:
        return "once settled"
    return "" if found.chance == 1 else chance_text(found.chance)


def under(decision: Decision, gap: Gap, say: Speaker, wanted: Mapping[str, str]) -> str:
    """What is said under the row of a gap: why nothing is fitted where it stays outside, and what would put it right;
    that nobody has read it since it was fitted. `wanted` says by gap which size would do.
    """
    found, movers = decision.outcome.gaps[gap.name], [place for place, _ in gap.effects]
    about = reasons_about(decision, gap.name)
    matched = [reason for reason in about if isinstance(reason, FittedToMatch)]
    said = [f"inside by itself, fitted to match {listed(reason.names)}." for reason in matched]
    if not movers:
        said.append("no place moves it.")
    if gap.name in doubted(decision) or any(isinstance(reason, ReadsAsNothing) for reason in about):
        # what looks like a slip, or reads as nothing, has a line of its own
        return ""
    if not_by_length(decision, gap):
        return ""
    if found.verdict == "outside" and movers == [gap.name] and not decision.changes.at[gap.name].changed:
        needs = f": needs {wanted[gap.name]}" if gap.name in wanted else ""
        said.append(f"{why_nothing(decision, decision.job.place[gap.name], gap, say)}{needs}.")
    elif gap.name in wanted:
        said.append(f"needs {wanted[gap.name]}.")
    few = []
    if found.verdict == "outside" and movers != [gap.name]:
        few = [words for names, words in too_few_told(decision, say) if {*names} & {*movers}]
    if found.verdict != "inside":
        ways = (way_out_words(reason, say.about(gap)) for reason in about)
        said += [way for way in ways if way]
    if any(isinstance(reason, PreloadNotStated) for reason in about):
        said.append("nothing states how much preload it may have.")
    if gap.reading.calculated:
        turned = decision.job.turned(gap.name) is not None
        said.append("calculated, turned after fitting." if turned else "calculated, not read after fitting: read it.")
    return " ".join([*few, *map(begun, said)])


def balance_words(decision: Decision, say: Speaker) -> list[tuple[bool | None, str]]:
    """Every balance that states a limit in a sentence, and whether it is met."""
    said, waits = list[tuple[bool | None, str]](), cleared_up_first(decision)
    for balance in decision.job.balances:
        found = decision.outcome.balances[balance.name]
        if balance.within is None:
            continue
        if why := settled_before(decision.job, balance, waits):
            said.append((None, f"{shown(balance.name)} not compared: {why}."))
            continue
        name, after, asked = shown(balance.name), say(found.spread_after), say(balance.within)
        if worst := found.beyond(balance.within):
            by_best = f"(best estimate {say.bare(found.spread_after)})"
            said.append((None, f"{name} may be uneven by up to {say(worst)} {by_best}; {asked} asked."))
            continue
        surely = after if found.may_be is None else say(found.may_be)
        words = {
            True: f"{name} alike within {surely}; {asked} asked.",
            False: f"{name} uneven by {after}; {asked} asked.",
            None: f"{name} not compared: a gap of it is outside.",
        }
        said.append((found.met, words[found.met]))
    return said


def marks_words(decision: Decision, told: str) -> str:
    """What the marks in brackets of a table mean, where there are any; `told` is the table."""
    tags = (f"[{shown(line.part.piece)}]" for line in decision.job.stock if line.part.piece)
    return next((f"{tag}: the mark on the piece." for tag in tags if tag in told), "")


def in_order(decision: Decision, say: Speaker) -> str:
    """In which order the pieces of a place go in; empty where nowhere an order matters."""
    job, told, faces = decision.job, [], set()
    for change in decision.changes:
        stack = decision.stacks.get(change.place, ())
        seat = job.place[change.place].seat
        if not change.into or not order_matters(stack, job.stock, seat):
            continue
        faces.add("fixed face" if seat is not None and seat.moving_face else "face")
        if change.stays:
            told.append(f"{shown(change.place)} {say.stack(stack, change.place)}")
    if not faces:
        return ""
    if not told:
        return f"Pieces of one place in the order written, from the {' or '.join(sorted(faces))}."
    more = f", and {len(told) - _MOST_ORDERS} more: shimopt sheet JOB" if len(told) > _MOST_ORDERS else ""
    return f"In this order from the {' or '.join(sorted(faces))}: {'; '.join(told[:_MOST_ORDERS])}{more}."


def assumed_words(decision: Decision, *, chances: bool) -> str:
    """What was taken as exact and what was not checked, in one line; empty where nothing was.

    Parameter: chances, whether per cents stand above.
    """
    counts = exact_counts(decision)
    said = ["Per cent: how likely it is inside."] if chances else []
    if any(gap.reading.unmoved for gap in decision.job.gaps):
        said.append("What may shift until the final assembly counts in what it comes to.")
        said += shifts_counted_on(decision, Speaker(decision.job.unit))
    said += _errors_assumed(decision)
    if counts["readings"][0]:
        said.append("Readings without ± taken as exact.")
    if counts["part_sizes"][0] > counts["measured_sizes"][0]:
        said.append("Sizes as marked: use a micrometer.")
    if counts["measured_sizes"][0]:
        said.append("Measured sizes taken as exact.")
    others = {
        "bores and shafts": "diameters",
        "angles of levers": "lever_angles",
        "coefficients of expansion": "coefficients",
    }
    if taken := [name for name, key in others.items() if counts[key][0]]:
        said.append(f"{begun(listed(taken))} as stated.")
    said += [*taken_words(decision), *split_words(decision)]
    unchecked = unchecked_words(decision, _MOST_UNCHECKED).partition(" See: ")[0]
    if bores_to_measure(decision):
        unchecked += " Measure bores and shafts."
    return " ".join(filter(None, (*said, unchecked)))


def _errors_assumed(decision: Decision) -> list[str]:
    """`Assumed, none stated: dial ±0.01 mm, housing depth ±0.01 mm.`: what nobody stated of readings."""
    say, by = Speaker(decision.job.unit), dict[str, None]()
    of_a_dial = {"permissible_error": "dial", "resolution": "dial's lines", "repeatability": "how it repeats"}
    for term in (term for gap in decision.job.gaps for term in gap.reading.terms if term.assumed):
        off = say(term.half if term.as_read is None else term.as_read)
        by[f"{of_a_dial.get(term.code, shown(term.name))} ±{off}"] = None
    more = [f"{len(by) - _MOST_UNCHECKED} more"] if len(by) > _MOST_UNCHECKED else []
    return [f"Assumed, none stated: {', '.join([*[*by][:_MOST_UNCHECKED], *more])}."] if by else []


def makers_words(decision: Decision) -> str:
    """What stands over a plan that can be carried out; empty for others."""
    return MAKERS if decision.outcome.doable and not find_out_first(decision) else ""


def proof_words(decision: Decision) -> str:
    """How far the plan is proven, and which commands say more."""
    proven = "Proven best." if decision.proven else "Not proven best."
    return f"{proven} Reasons: shimopt why JOB. Paper: shimopt sheet JOB. More: --full"
