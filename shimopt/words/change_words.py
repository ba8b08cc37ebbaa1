"""What is done at the machine: the whole job in one clause, a place in a few words, every piece in a sentence."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence

from shimopt.arithmetic.changes import BENCH, DRAWER, ORDER, Changes, Piece, PlaceChange
from shimopt.arithmetic.needed import needed
from shimopt.errors import shown
from shimopt.job import Gap
from shimopt.planner import Decision
from shimopt.seats import fitting_order
from shimopt.words.speaker import Speaker, listed, number_word, plural

_MOST_KINDS, _LONGEST_NAMES = 2, 30


def job_words(decision: Decision, say: Speaker, then: str = "") -> str:
    """The whole work as a clause without its end: `open 5 of 12: four shims change places ...`.

    Parameter: then, what becomes of the gap where one place is changed.
    """
    changes = decision.changes
    changed = [change for change in changes if change.changed]
    if not changed:
        return "nothing needs to be fitted"
    if shift := changes.shift:
        source, target, thick = shown(shift.source), shown(shift.target), say(shift.thick)
        if not shift.of_pieces:
            return f"make the pack at {source} {thick} thinner and that at {target} as much thicker{_staying(changes)}"
        return f"move {thick} from {source} to {target}{_exchanged(changes, say)}{_staying(changes)}"
    if not changes.opened and not changes.left:
        pieces = plural(len(changes.going_in()), "piece")
        return f"{pieces} in {len(changed)} of {plural(len(changes.at), 'place')}"
    if len(changed) == 1:
        return f"{_one_place(changed[0], say)}{then}{_staying(changes)}"
    start = f"open {len(changes.opened)}" if changes.opened else ""
    start += f"{' and ' if start else ''}fill {len(changes.filled)}" if changes.filled else ""
    # a few are named
    names = ", ".join(shown(one.place) for one in changed)
    which = f" ({names})" if len(names) <= _LONGEST_NAMES else ""
    return f"{start} of {len(changes.at)}{which}: {', '.join(_flows(changes, say))}{_staying(changes)}"


def named_places(decision: Decision, say: Speaker) -> str:
    """All that is done, place by place, where that is at one or two: `fit 2 x 0.20 mm at armature`; else empty."""
    changed = [change for change in decision.changes if change.changed]
    if decision.changes.shift or not 0 < len(changed) <= _MOST_KINDS:
        return ""
    return " and ".join(_one_place(change, say) for change in changed)


def _exchanged(changes: Changes, say: Speaker) -> str:
    """What goes over and what comes back, where a thickness moves and no piece of that thickness does."""
    shift = changes.shift
    if shift is None:
        return ""
    source, target = changes.at[shift.source], changes.at[shift.target]
    over, back = [piece.line for piece in source.out], [piece.line for piece in target.out]
    if not back or len(changes.between_places) != len(over) + len(back) or changes.going_in(DRAWER):
        return ""
    there, here = say.stack(tuple(over), shift.source), say.stack(tuple(back), shift.target)
    return f" ({there} {_go(over)} over, {here} {_come(back)} back)"


def _go(pieces: Sequence[int]) -> str:
    return "goes" if len(pieces) == 1 else "go"


def _come(pieces: Sequence[int]) -> str:
    return "comes" if len(pieces) == 1 else "come"


def _staying(changes: Changes) -> str:
    stay = len(changes.left) + len(changes.empty)
    return f"; leave {stay if stay > 1 else plural(stay, 'place')} alone" if stay else ""


def _one_place(change: PlaceChange, say: Speaker) -> str:
    """All that is done, where it is done at one place."""
    place, into = shown(change.place), [piece.line for piece in change.into]
    if not change.out:
        return f"{'add' if change.held else 'fit'} {say.stack(tuple(into), change.place)} at {place}"
    out = f"take {say.stack(tuple(piece.line for piece in change.out), change.place)} out of {place}"
    return f"{out} and put {say.stack(tuple(into), change.place)} in" if into else out


def _flows(changes: Changes, say: Speaker) -> Iterator[str]:
    """How many shims change places, what the drawer gives, what is to be bought; what goes back, where that is all."""
    if between := len(changes.between_places):
        yield f"{number_word(between)} {'shim changes' if between == 1 else 'shims change'} places"
    if back := changes.going_in(BENCH):
        yield f"{_named(back, say)}, out for the reading, {'goes' if len(back) == 1 else 'go'} in"
    if drawer := changes.going_in(DRAWER):
        yield f"{_named(drawer, say)} {'comes' if len(drawer) == 1 else 'come'} from the drawer"
    if buy := changes.going_in(ORDER):
        yield f"{_named(buy, say)} {'is' if len(buy) == 1 else 'are'} to buy"
    # what comes out for nothing that goes in
    if (over := changes.to_drawer) and not (changes.going_in(DRAWER) or changes.going_in(ORDER)):
        yield f"{_named(over, say)} {'comes' if len(over) == 1 else 'come'} out"


def _named(pieces: list[Piece], say: Speaker) -> str:
    """One or two kinds by name, more by their number."""
    count = Counter(piece.line for piece in pieces)
    if len(count) > _MOST_KINDS:
        return f"{number_word(len(pieces))} shims"
    return listed([say.stack((line,) * many) for line, many in sorted(count.items())])


def place_words(decision: Decision, place: str, say: Speaker) -> str:
    """What is done at one place, and what is in it then."""
    change, stack = decision.changes.at[place], decision.stacks.get(place, ())
    out, stays, into = (
        say.stack(lines, place, stack) if lines else ""
        for lines in (
            tuple(piece.line for piece in change.out),
            change.stays,
            tuple(piece.line for piece in change.into),
        )
    )
    return work_words(out, stays, into, say.ordered(stack, decision.job.place[place].seat))


def left_words(decision: Decision, gap: Gap, say: Speaker) -> str:
    """Of a gap left alone, with nothing in its own place, how much would leave it surely inside; else empty."""
    change = decision.changes.at.get(gap.name)
    if change is None or [name for name, _ in gap.effects] != [gap.name]:
        return ""
    span = needed(decision.job, gap) if decision.job.place[gap.name].takes_shims else None
    if change.changed or change.held or span is None or span.least or not span.most:
        return ""
    return f"leave; up to {say(span.most)} would still be inside"


def work_words(out: str, stays: str, into: str, whole: str) -> str:
    """The same of any stacks that are named: what comes out, stays, goes in, and all that is in then, in its order."""
    if not out and not into:
        return f"leave {stays} in" if stays else "fit nothing"
    if not stays:
        return ", ".join([*([f"take {out} out"] if out else []), f"fit {whole}" if into else "fit nothing"])
    steps = [f"take {out} out"] if out else []
    steps += [f"leave {stays} in", *([f"add {into}: {whole}"] if into else [])]
    return ", ".join(steps)


def goes_to(piece: Piece, say: Speaker) -> str:
    """Where a piece goes that comes out: `into 3 inlet`, `to the drawer (tin 4)`; what is worn goes into none."""
    part = say.stock[piece.line].part
    if piece.other == DRAWER and part.worn and part.marked is not None:
        return f"aside: worn? {say(part.marked - part.thickness.best)} under its mark"
    return _drawer("to", piece, say) if piece.other == DRAWER else f"into {shown(piece.other)}"


def came_from(piece: Piece, say: Speaker, place: str) -> str:
    """Where a piece comes from that goes into a place: `out of 3 inlet`, `from the drawer (tin 4)`, `to buy`."""
    if piece.other == ORDER:
        return "to buy"
    if piece.other == BENCH:
        return f"from the bench, {out_here(piece, place)}"
    return _drawer("from", piece, say) if piece.other == DRAWER else f"out of {shown(piece.other)}"


def out_here(piece: Piece, place: str) -> str:
    """Out of which place a piece came for the reading, seen from the one that it goes into."""
    return "came out here" if piece.out_of == place else f"out of {shown(piece.out_of)}"


def _drawer(way: str, piece: Piece, say: Speaker) -> str:
    at = say.stock[piece.line].part.at
    return f"{way} the drawer ({shown(at)})" if at else f"{way} the drawer"


def change_sentences(decision: Decision, say: Speaker) -> list[str]:
    """Every place that changes, each piece with where it goes or comes from; then the places that stay as they are."""
    changes = decision.changes
    said = []
    for change in changes:
        if change.changed:
            steps = [f"{name} out, {goes_to(piece, say)}" for name, piece in counted(change.out, say, change.place)]
            steps += [
                f"{name} in, {came_from(piece, say, change.place)}"
                for name, piece in counted(change.into, say, change.place)
            ]
            steps += (
                [f"{_stays(decision, change, say)} {'stays' if len(change.stays) == 1 else 'stay'} in"]
                if change.stays
                else []
            )
            said.append(f"{shown(change.place)}: {'; '.join(steps)}.")
    said += [f"{words}." for words in stays_out_words(decision, say)]
    if changes.left:
        alone = "stays as it is" if len(changes.left) == 1 else "stay as they are"
        said.append(f"{listed(changes.left, 12)} {alone}.")
    return said


def _stays(decision: Decision, change: PlaceChange, say: Speaker) -> str:
    """What stays in, in the order of all that is in then."""
    return say.stack(change.stays, change.place, decision.stacks.get(change.place, ()))


def stays_out_words(decision: Decision, say: Speaker, but: Collection[str] = ()) -> list[str]:
    """What came out for the reading and goes in nowhere, place by place, `but` for some."""
    return [
        f"{shown(change.place)}: {say.stack(change.stays_out, change.place)}, out for the reading, "
        f"{'stays' if len(change.stays_out) == 1 else 'stay'} out"
        for change in decision.changes
        if change.stays_out and change.place not in but
    ]


def counted(pieces: Iterable[Piece], say: Speaker, place: str) -> list[tuple[str, Piece]]:
    """Like pieces of a place with the same other end as one, in the order in which they lie there: `2 x S-1`."""
    count = Counter(pieces)
    lines = fitting_order([piece.line for piece in count], say.stock, say.seats.get(place))
    in_order = sorted(count, key=lambda piece: lines.index(piece.line))
    return [(say.stack((piece.line,) * count[piece]), piece) for piece in in_order]
