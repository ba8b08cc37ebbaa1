"""The customer's letter in words that need no training: the answer, what is allowed, every gap, what to watch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shimopt.arithmetic import off_by
from shimopt.arithmetic.changes import PlaceChange
from shimopt.arithmetic.clearance import thickness_of
from shimopt.arithmetic.needed import Span
from shimopt.errors import shown
from shimopt.job import Balance, Gap, Window
from shimopt.lengths import Bracket
from shimopt.planner import Decision
from shimopt.reasons.account import Unsuited
from shimopt.reasons.gap_reasons import AlreadyInside, NoThinner, TooTightWithThinnest
from shimopt.reasons.reason import Reason
from shimopt.reasons.shared_reasons import StaysOutside
from shimopt.reasons.ways_out import ShimsNotAllowed
from shimopt.seats import Finding
from shimopt.words.assembly_words import heat_words
from shimopt.words.customer_words import because, to_settle, unfit
from shimopt.words.exact_words import exact_grounds
from shimopt.words.finding_words import finding_words
from shimopt.words.findings_list import planned_cautions
from shimopt.words.first_words import blind_words, in_and_wrong
from shimopt.words.found_words import find_out_first
from shimopt.words.measured_words import measured_words
from shimopt.words.reading_words import basis_text, both_clearance, both_units, limits_both, source_text
from shimopt.words.running_words import running_measured
from shimopt.words.speaker import Speaker, begun, chance_text, ended, listed, sized, stack_wanted

__all__ = [
    "SECTION_WORDS",
    "GapWords",
    "all_gap_words",
    "allowed_words",
    "balance_words",
    "common_window",
    "explanation",
    "grounds",
    "refused_words",
    "rule_words",
]

SECTION_WORDS = {
    False: "That shim on the shaft, cut open: held in the middle, and as it would lie.",
    True: "That shim at the shaft, cut open: dark red is where both would have to be.",
}

# what is in and does not suit, whatever the clearance
_NOT_RIGHT = ("in_does_not_suit", "in_where_none_goes", "more_in_than_taken")


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
        f"truly fits its seat. A clearance that is already right is left alone{_unless_moved(decision)}."
    )


def _unless_moved(decision: Decision) -> str:
    """Where the work moves one that was right, for places that act on several do so."""
    changes = decision.changes.at
    for gap in decision.job.gaps:
        shared = [place for place, _ in gap.effects if len(decision.job.moved_by[place]) > 1]
        right = not off_by(gap.reading.bracket.best, gap.window)
        if right and any(changes[place].changed for place in shared):
            return ", unless a shim that another needs moves it too"
    return ""


def common_window(decision: Decision) -> Window | None:
    """The window of every gap, where it is the same for all."""
    windows = {(gap.window.min, gap.window.max) for gap in decision.job.gaps}
    return decision.job.gaps[0].window if len(windows) == 1 else None


def allowed_words(decision: Decision, say: Speaker) -> str:
    """What is allowed, and who says so."""
    sources = list(dict.fromkeys(source_text(gap) for gap in decision.job.gaps))
    window = common_window(decision)
    if window is None:
        return f"What is allowed is stated in: {ended(listed(sources, 3))}"
    everywhere = " everywhere" if len(decision.job.gaps) > 1 else ""
    return f"Allowed is {limits_both(window, say)}{everywhere}, as stated in: {ended(listed(sources, 3))}"


def balance_words(decision: Decision, say: Speaker) -> list[str]:
    """How alike the places that belong together come out."""
    said = []
    for balance in decision.job.balances:
        found = decision.outcome.balances[balance.name]
        start = f"{shown(balance.name)} ({listed(balance.members, 4)})"
        if found.met is None:
            said.append(f"{start}: not compared while one of them is outside.")
            continue
        after = both_units(found.spread_after, found.spread_after, say)
        asked = ""
        if balance.within is not None:
            asked = f"; at most {both_units(balance.within, balance.within, say)} is asked"
            asked += "" if found.met else ", which these parts cannot give"
        come = "their packs come out equal" if balance.places else "they come out alike"
        meant = _meant(balance, say)
        come = f"{'their packs' if balance.places else 'they'} come out as they should, {meant}" if meant else come
        alike = come if not found.spread_after else f"{come}{',' if meant else ''} to within {after}"
        said.append(f"{start}: {alike}{asked}.")
    return said


def _meant(balance: Balance, say: Speaker) -> str:
    """Which of them is meant to be larger than the others, and by how much."""
    more = "thicker" if balance.places else "larger"
    return " and ".join(f"{shown(name)} {both_units(by, by, say)} {more}" for name, by in balance.offset.items() if by)


def grounds(decision: Decision, counts: dict[str, tuple[int, int]]) -> list[str]:
    """What the letter rests on, where it rests on something taken for granted."""
    measured = any(line.part.measured for line in decision.job.stock)
    said = exact_grounds(counts, measured=measured)
    if decision.screening.unchecked:
        said.append("Not every shim could be checked against its seat, for some dimensions are not known.")
    return said


@dataclass(slots=True)
class GapWords:
    """The sentences about a gap, and the refused part that they describe, None where they describe none.

    `plain` where they say no more than that it was found so, got this shim or was right, and is so now.
    """

    sentences: list[str]
    described: Unsuited | None = None
    plain: bool = True


def all_gap_words(decision: Decision, say: Speaker) -> dict[str, GapWords]:
    """The sentences about every gap. A refused part is described where it first comes up."""
    described: set[str] = set()
    return {gap.name: _gap_words(decision, gap, say, described) for gap in decision.job.gaps}


def _gap_words(decision: Decision, gap: Gap, say: Speaker, described: set[str]) -> GapWords:
    account, found, job = decision.account(gap.name), decision.outcome.gaps[gap.name], decision.job
    first = job.as_first_read.get(gap.name, gap.reading).bracket
    told: Unsuited | None = None
    told_here = say.about(gap)
    said = [measured_words(decision, gap, say)]
    if common_window(decision) is None:
        said.append(f"Allowed {limits_both(gap.window, told_here)}.")
    movers = [decision.changes.at[place] for place, _ in gap.effects]
    held = any(change.held for change in movers)
    # that it is right, and what stays in, is told by what is done
    visited = _visited(decision, gap)
    stay = (held or bool(visited)) and not any(change.changed for change in movers)
    if visited:
        said += _was_done(decision, gap, first, visited, say)
    else:
        said += _measured_again(decision, gap, say)
    turned = running_measured(job, gap)
    said += [turned] if turned else []
    said += _done(decision, gap, say)
    usual = len(said) - bool(turned)
    told_already: tuple[type[Reason], ...] = (AlreadyInside, NoThinner)
    if any(reason.about == gap.name and isinstance(reason, ShimsNotAllowed) for reason in decision.reasons):
        # by how much it is outside is told with what has to be done instead
        told_already = (*told_already, StaysOutside)
    for reason in decision.reasons:
        if reason.about == gap.name and not (stay and isinstance(reason, told_already)):
            words = because(reason, told_here, held=held)
            said += [words] if words else []
            usual += bool(words) and isinstance(reason, (AlreadyInside, NoThinner))
    if any(change.into for change in movers) or found.verdict == "outside":
        refusals, told = _refused(decision.refused(gap.name), say, described)
        said += refusals
        usual += len(refusals)
    again = any(r.about == gap.name and isinstance(r, TooTightWithThinnest) and r.doubtful for r in decision.reasons)
    again = again or gap.name in find_out_first(decision)
    if found.verdict == "outside" and account.aim is not None and account.aim.least > 0 and not again:
        said.append(_wanted(account.needed or account.aim, account.fewest, say))
    chance = found.chance
    if chance is not None and found.verdict != "outside" and (gap.least_chance or gap.reading.basis != "worst case"):
        said.append(f"The chance that it is inside is {chance_text(chance).replace('>', 'more than ')}.")
    if gap.heat is not None:
        said.append(begun(heat_words(gap, gap.heat, found.after, say).removeprefix(f"{shown(gap.name)}: ")))
    said += [f"To be cleared up: {words}" for words in planned_cautions(decision, say, dict(gap.effects))]
    for finding in decision.findings:
        if finding.place == gap.name and (blind := blind_words(job, finding, say)):
            said.append(f"To be cleared up: {blind}.")
        elif finding.place == gap.name and finding.grade == "caution" and not finding.part and not _told_first(finding):
            # how the job is written is the shop's business
            words = finding_words(finding, say).removesuffix(" state that as its `shift`")
            words = words.removesuffix(", or").removesuffix(":")
            said.append(f"To be cleared up: {f'it {words}' if finding.code.startswith('reading') else words}.")
    plain = found.verdict == "inside" and len(said) == usual and _as_usual(decision, gap, movers)
    return GapWords(said, told, plain)


def _as_usual(decision: Decision, gap: Gap, movers: Sequence[PlaceChange]) -> bool:
    """Whether a table's row tells all of how it was found and what is done there."""
    read = decision.job.as_first_read.get(gap.name, gap.reading)
    visits = [*movers, *_visited(decision, gap)]
    twice = bool(_visited(decision, gap)) and any(change.changed for change in movers)
    strange = read.opens or read.basis != "worst case" or any(term.code == "shift" for term in read.terms)
    settled = gap.name not in find_out_first(decision) and not in_and_wrong(decision) & {p for p, _ in gap.effects}
    return settled and not twice and not strange and not any(change.back or change.stays_out for change in visits)


def _told_first(finding: Finding) -> bool:
    """Whether the first lines of the letter say it already, in full."""
    return finding.code in _NOT_RIGHT or bool(to_settle(finding))


def _visited(decision: Decision, gap: Gap) -> list[PlaceChange]:
    """What was changed up to the last record at the places that move a gap."""
    return [change for place, _ in gap.effects if (change := decision.visit.at[place]).changed]


def _was_done(decision: Decision, gap: Gap, first: Bracket, changed: Sequence[PlaceChange], say: Speaker) -> list[str]:
    """What was changed at an earlier visit, and what it reads since."""
    off = "" if decision.job.stood_bare(gap) else _off(first, gap, say)
    if any(change.held or change.back or change.stays_out for change in changed):
        done = f"{begun('; '.join(_step(change, gap, say, over=True) for change in changed))}."
    else:
        named, thickness, count = _pieces_in(changed, gap, say)
        shim, was = ("The shim", "was") if count == 1 else ("The shims", "were")
        done = f"{shim} {named}, {thickness} thick, {was} fitted."
    return [f"{off}{done}", *_measured_again(decision, gap, say)]


def _pieces_in(changed: Sequence[PlaceChange], gap: Gap, say: Speaker) -> tuple[str, str, int]:
    """What goes into places that were empty: its names, how thick it is, how many pieces."""
    pieces = [piece.line for change in changed for piece in change.into]
    thick = thickness_of(pieces, say.stock)
    named = [
        say.stack(tuple(piece.line for piece in change.into), change.place)
        + ("" if change.place == gap.name else f" at {shown(change.place)}")
        for change in changed
    ]
    return listed(named), both_units(thick.low, thick.high, say), len(pieces)


def _measured_again(decision: Decision, gap: Gap, say: Speaker) -> list[str]:
    """What it reads after a fitting, or by calculation; nothing where nothing was done and nobody read it again."""
    if not gap.reading.recorded:
        return []
    now = gap.reading.bracket
    reads = f"{both_clearance(now.low, now.high, say.about(gap))}{basis_text(gap, plain=True)}"
    if gap.reading.calculated:
        return [f"By calculation it is {reads} now; it was not measured again."]
    same = now == decision.job.as_first_read[gap.name].bracket
    return [f"Measured again on {shown(decision.job.read_on(gap.name))}: {'the same' if same else reads}."]


def _done(decision: Decision, gap: Gap, say: Speaker) -> list[str]:
    """What comes out and goes in, at every place that moves the gap, and what that makes of it; or what stays in."""
    job, after = decision.job, decision.outcome.gaps[gap.name].after
    movers = [decision.changes.at[place] for place, _ in gap.effects]
    changed = [change for change in movers if change.changed]
    # a cover without shims is not meant to be right
    off = "" if job.stands_bare(gap) else _off(gap.reading.bracket, gap, say)
    result = f"{both_clearance(after.low, after.high, say.about(gap))}{basis_text(gap, plain=True)}"
    # what goes in at one place may cancel what comes out at another
    unchanged = after == gap.reading.bracket
    if not changed:
        held = [change for change in movers if change.stays]
        told = bool(_visited(decision, gap))
        return [words] if (held or told) and (words := _stays(decision, gap, held, say, told=told)) else []
    if any(change.held or change.back or change.stays_out for change in changed):
        steps = "; ".join(_step(change, gap, say) for change in changed)
        then = "With that it stays at" if unchanged else "That brings it to"
        return [f"{off}{begun(steps)}. {then} {result}."]
    moves = {effect > 0 for place, effect in gap.effects if decision.changes.at[place].changed}
    if len(changed) > 1 and len(moves) > 1:
        # packs that pull against each other have no sum
        steps = "; ".join(_step(change, gap, say) for change in changed)
        return [f"{off}{begun(steps)}. {'With that it stays at' if unchanged else 'That brings it to'} {result}."]
    named, thickness, count = _pieces_in(changed, gap, say)
    shim, s = ("The shim", "s") if count == 1 else ("The shims", "")
    it = shown(gap.name) if job.stands_bare(gap) else "it"
    brings = f"leave{s} {it} at" if unchanged else f"bring{s} {it} to"
    return [f"{off}{shim} {named}, {thickness} thick, {brings} {result}."]


def _joined(said: list[str]) -> str:
    return f"{', '.join(said[:-1])} and {said[-1]}" if len(said) > 1 else said[0]


def _stays(decision: Decision, gap: Gap, held: list[PlaceChange], say: Speaker, *, told: bool) -> str:
    """That what is in stays in; its name, unless that was `told`."""
    unsuited = in_and_wrong(decision)
    right = decision.outcome.gaps[gap.name].verdict == "inside" and not unsuited & {place for place, _ in gap.effects}
    if told:
        return ("By that it is right." if gap.reading.calculated else "That is right.") if right else ""
    if unsuited & {change.place for change in held}:
        return "What becomes of what is in has to be settled first."
    named = listed(
        [
            say.stack(change.stays, change.place) + ("" if change.place == gap.name else f" at {shown(change.place)}")
            for change in held
        ]
    )
    verb = "stays" if sum(len(change.stays) for change in held) == 1 else "stay"
    return f"That is right: {named} {verb} in." if right else f"{named} {verb} in."


_COMES, _CAME = ("comes out", "come out"), ("came out", "came out")
_GOES, _WENT = ("goes in", "go in"), ("went in", "went in")
_GOES_BACK, _WENT_BACK = ("goes back in", "go back in"), ("went back in", "went back in")


def _step(change: PlaceChange, gap: Gap, say: Speaker, *, over: bool = False) -> str:
    """What comes out of a place and what goes into it, with its thickness; where that is `over`, what stayed too.

    What had come out for the reading goes back in, or stays out.
    """
    said = []
    for lines, verbs in (
        (tuple(piece.line for piece in change.out), _CAME if over else _COMES),
        (change.back, _WENT_BACK if over else _GOES_BACK),
        (change.new, _WENT if over else _GOES),
    ):
        if lines:
            thick = say(thickness_of(lines, say.stock).best)
            said.append(f"{sized(say.stack(lines, change.place), thick)} {verbs[len(lines) > 1]}")
    if over and change.stays:
        said.append(f"{say.stack(change.stays, change.place)} stayed in")
    if change.stays_out:
        stays = "stayed" if over else "stays" if len(change.stays_out) == 1 else "stay"
        said.append(f"{say.stack(change.stays_out, change.place)}, out for the reading, {stays} out")
    return f"{'' if change.place == gap.name else f'at {shown(change.place)} '}{_joined(said)}"


def _off(read: Bracket, gap: Gap, say: Speaker) -> str:
    """By how much a reading is outside, as the beginning of a sentence; empty where it is not."""
    over = off_by(read.best, gap.window)
    if not over:
        return ""
    loose = gap.window.max is not None and read.best > gap.window.max
    return f"That is {both_units(over, over, say)} too {'loose' if loose else 'tight'}. "


def _refused(refused: tuple[Unsuited, ...], say: Speaker, described: set[str]) -> tuple[list[str], Unsuited | None]:
    """The shims that are thick enough but don't suit the seat; the first of them that is new is described."""
    said: list[str] = []
    others = 0
    first: Unsuited | None = None
    for unsuited in refused:
        mark = f"{say.part(unsuited.line)}: {finding_words(unsuited.finding, say)}"
        if first is not None or mark in described:
            others += 1
            continue
        described.add(mark)
        first = unsuited
        said.append(
            f"One shim of the drawer would be thick enough, but {unfit(unsuited.finding, say)}. It is not used here."
        )
    if others:
        which = "Others that are thick enough do" if others > 1 else "Another that is thick enough does"
        said.append(f"{which} not suit this seat{' either' if said else ''}.")
    return said, first


def refused_words(finding: Finding, gap: Gap, say: Speaker) -> str:
    """Why not every shim that is thick enough was taken, by the first that was not."""
    why = unfit(finding, say)
    return f"Not every shim that is thick enough can be used. At {shown(gap.name)} one would be, but {why}."


def _wanted(span: Span, fewest: int, say: Speaker) -> str:
    if fewest > 1:
        most = span.least if span.most is None else span.most
        size = f"{both_units(span.least, most, say)}{' or more' if span.most is None else ''}"
        return f"What is needed is {stack_wanted(fewest, size)}; each piece has to suit."
    if span.most is None:
        return f"What is needed is {both_units(span.least, span.least, say)} of shim or more that suits."
    return f"What is needed is a shim of {both_units(span.least, span.most, say)} that suits."
