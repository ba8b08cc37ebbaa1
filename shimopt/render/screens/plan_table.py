"""The plan as a table: a row per gap, what was read, what to do, what it comes to; then a row per place of its own."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from rich.cells import cell_len

from shimopt.errors import shown
from shimopt.job import Gap, Window
from shimopt.lengths import Bracket
from shimopt.planner import Decision
from shimopt.render.screens.laid_table import Cell, Row, fits, table
from shimopt.render.screens.layout import Line, Marks, bold, plain
from shimopt.render.screens.shared_scale import SharedScale
from shimopt.words.digits import digits_of, span_text
from shimopt.words.doubt_words import doubted
from shimopt.words.first_words import in_and_wrong, open_gaps
from shimopt.words.next_steps import MOST_ROWS, sizes_wanted
from shimopt.words.reading_words import stands
from shimopt.words.short_notes import common_window
from shimopt.words.short_words import AtPlace, at_place, beside_verdict, one_source, under
from shimopt.words.speaker import Speaker, listed, plural

# so many rows stand for themselves; of more only what is not inside, then counts
_MOST_WRONG, _MOST_KINDS = 8, 12
_KINDS = {"outside": "outside", "unproven": "inside by best estimate", "inside": "inside"}
_ORDER = {"outside": 0, "unproven": 1, "inside": 2}
_SCALE = (14, 40)
_MANY, _LONG = 6, 4  # of so many names those longer than a so manieth part of the screen are told by what differs
_HEAD = ("", "read", "out", "leave", "in", "from", "then", "allowed")
_NUMBERS = ("read", "then", "allowed")


# what every row needs is worked out once
@dataclass(frozen=True, slots=True)
class _Columns:
    """Speakers for what was read and for what it comes to: as many digits as the readings have, one more at most."""

    decision: Decision
    say: Speaker
    read: Speaker
    then: Speaker
    marks: Marks
    wanted: Mapping[str, str]
    source: str
    still: Collection[str]
    untold: Collection[str]

    @classmethod
    def of(cls, decision: Decision, say: Speaker, marks: Marks) -> _Columns:
        """Both for all gaps of a plan."""
        read, then = digits_of(decision, say.unit)
        return cls(
            decision,
            say,
            replace(say.bare, digits=read),
            replace(say.bare, digits=then),
            marks,
            sizes_wanted(decision, say),
            one_source(decision, say),
            open_gaps(decision),
            {*doubted(decision), *(gap.name for gap in decision.job.gaps if decision.job.untold(gap.name))},
        )

    def sign(self, verdict: str) -> str:
        return {"inside": self.marks.inside, "outside": self.marks.outside, "unproven": self.marks.unproven}[verdict]

    def span(self, bracket: Bracket, gap: Gap, say: Speaker) -> str:
        """A clearance from low to high, rounded outward; a star where it holds 19 times in 20 only."""
        return span_text(bracket, gap, say)


def rows_without(decision: Decision, say: Speaker) -> int:
    """Of how many rows a brief table leaves out what is said under them."""
    wanted = sizes_wanted(decision, say)
    return sum(bool(under(decision, gap, say, wanted)) for gap in decision.job.gaps)


def gap_table(decision: Decision, say: Speaker, width: int, marks: Marks, *, brief: bool = False) -> list[Line]:
    """A row per gap, those first that are not inside, all of one window together; of very many gaps the counts.

    A `brief` one says nothing under its rows.
    """
    of = _Columns.of(decision, say, marks)
    gaps = sorted(decision.job.gaps, key=lambda gap: _ORDER[decision.outcome.gaps[gap.name].verdict])
    if len(gaps) > MOST_ROWS:
        return _large(of, gaps, width)
    shared = _shared_words([gap.name for gap in gaps], width)
    groups = _by_window(gaps)
    names = [gap.name for members in groups.values() for gap in members]
    rows = [_row(of, decision.job.gap[name], shared, allowed=len(groups) > 1, brief=brief) for name in names]
    heads: dict[int, str] = {}
    # windows that many share stand above their rows, others in a column, if there is room
    if len(groups) > 1 and (2 * len(groups) <= len(gaps) or not fits(_head(of), rows, width)):
        rows, at = [_row(of, decision.job.gap[name], shared, allowed=False, brief=brief) for name in names], 0
        for window, members in groups.items():
            heads[at] = f"allowed {of.say.about(members[0]).window(window.stated_min, window.max)} ({window.source})"
            at += len(members)
    scales = {
        gap.name: (window, [point for one in members for point in _points(decision, one)])
        for window, members in groups.items()
        for gap in members
    }

    def scale(room: int) -> list[Cell]:
        if room < _SCALE[0]:
            return []
        wide = min(room, _SCALE[1])
        made = {name: SharedScale.of(*scales[name], wide, marks) for name in names}
        head = made[names[0]].head(say.unit) if len(groups) == 1 else ""
        return [Cell(head), *(Cell(made[name].drawn(*_points(decision, decision.job.gap[name]))) for name in names)]

    lines = table(_head(of), rows, width, heads, scale)
    return [*plain(f"… stands for: {shown(shared)}", width), *lines] if shared else lines


def _shared_words(names: Sequence[str], width: int) -> str:
    """The words with which all names begin, but for the last of them, where many are long."""
    if len(names) < _MANY or max(map(cell_len, names)) <= width // _LONG:
        return ""
    words = [name.split(" ") for name in names]
    shared = 0
    while all(len(one) > shared + 1 and one[shared] == words[0][shared] for one in words):
        shared += 1
    return " ".join(words[0][: shared - 1]) if shared > 2 else ""


def _by_window(gaps: Sequence[Gap]) -> dict[Window, list[Gap]]:
    groups: defaultdict[Window, list[Gap]] = defaultdict(list)
    for gap in gaps:
        groups[gap.window].append(gap)
    return dict(groups)


def _points(decision: Decision, gap: Gap) -> tuple[Fraction, Fraction]:
    after = decision.outcome.gaps[gap.name].after.best
    # what a cover reads that was nipped without shims was never a clearance
    return (after if decision.job.stood_bare(gap) else gap.reading.bracket.best), after


def _head(of: _Columns) -> Row:
    held = any(change.held for change in of.decision.changes)
    head = [Cell(text, whole=text in _NUMBERS) for text in _HEAD]
    if not held:
        head[4] = Cell("fit")
    return Row(tuple(head))


def _row(of: _Columns, gap: Gap, shared: str = "", *, allowed: bool, brief: bool = False) -> Row:
    """One gap, without the words that all names share: its place is told beside it where that is its own."""
    decision = of.decision
    found, read = decision.outcome.gaps[gap.name], gap.reading.found
    own = gap.in_own_place
    done = _done(at_place(decision, gap.name, of.say, of.source) if own else None, _apart(decision))
    same = found.after == read and not gap.reading.opens
    then = "same" if same else of.span(found.after, gap, of.then)
    said = beside_verdict(decision, gap, of.say, of.still)
    # what has to be settled first is not shown as right
    told = found.verdict == "outside" and gap.name not in of.untold
    known = told or gap.name not in of.still
    sign = found.verdict if known else "unproven"
    return Row(
        (
            Cell(f"… {shown(gap.name[len(shared) + 1 :])}" if shared else shown(gap.name)),
            Cell(stands(read, of.read), says_all=True) if gap.reading.opens else Cell(of.span(read, gap, of.read)),
            *done,
            Cell(f"{then} {of.sign(sign)} {said}".rstrip(), sign, len(then) + 1),
            Cell(of.say.about(gap).bare.window(gap.window.stated_min, gap.window.max) if allowed else ""),
        ),
        "" if brief else under(decision, gap, of.say, of.wanted),
    )


def _done(at: AtPlace | None, apart: bool) -> tuple[Cell, Cell, Cell, Cell]:
    """What is done at a place, in the columns out, leave, in and from; of a gap without one of its own nothing.

    `apart` where what stays has a column: else it stands among what is in, as from nowhere.
    """
    if at is None:
        return Cell(""), Cell(""), Cell(""), Cell("")
    role = "do" if at.changed else ""
    if at.stays and not apart:
        return Cell(at.out, role), Cell(""), Cell(at.stays, says_all=True), Cell(at.source, says_all=True)
    left = not at.changed and at.into != "nothing"
    # a piece is not "from to buy"
    source = Cell(at.source if at.changed else "", says_all=at.source == "to buy")
    return Cell(at.out, role), Cell(at.stays), Cell(at.into, role, says_all=left), source


def _apart(decision: Decision) -> bool:
    """Whether some of what is in stays where other pieces come out or go in."""
    return any(change.changed and change.stays for change in decision.changes)


def place_table(decision: Decision, say: Speaker, width: int, *, brief: bool = False) -> list[Line]:
    """A row for every place that does not move one gap of its own name alone; `brief` those where anything is done."""
    own = {gap.name for gap in decision.job.gaps if gap.in_own_place}
    places = [place.name for place in decision.job.places if place.name not in own]
    rows: list[Row] = []
    wrong, source = in_and_wrong(decision), one_source(decision, say)
    places.sort(key=lambda name: (not decision.changes.at[name].changed, name not in wrong))
    changed = sum(decision.changes.at[name].changed or name in wrong for name in places)
    # a line for one more would save nothing
    most = max(changed, 1) if brief and len(places) > changed + 1 else MOST_ROWS
    hangs = {place for name in doubted(decision) for place, _ in decision.job.gap[name].effects}
    for name in places[: min(most, MOST_ROWS)]:
        under = "To be settled first: see above." if name in wrong else ""
        if not under and name in hangs and decision.changes.at[name].changed:
            under = "Only if what looks wrong above is right."
        done = _done(at_place(decision, name, say, source), _apart(decision))
        rows.append(Row((Cell(shown(name)), *done), under))
    if not rows:
        return []
    held = any(decision.changes.at[name].held for name in places)
    head = Row((Cell(""), Cell("out"), Cell("leave"), Cell("in" if held else "fit"), Cell("from")))
    lines = table(head, rows, width)
    more = len(places) - len(rows)
    return (
        [*lines, *plain(f"{plural(more, 'more place')}: shimopt plan JOB --full", width, "  ")] if more > 0 else lines
    )


def _large(of: _Columns, gaps: Sequence[Gap], width: int) -> list[Line]:
    """Of very many gaps the first that are not inside, then how many of each verdict get which stack."""
    decision = of.decision
    wrong = [gap for gap in gaps if decision.outcome.gaps[gap.name].verdict != "inside"]
    # what all have is said above the table
    apart = common_window(decision) is None
    rows = [_row(of, gap, allowed=apart) for gap in wrong[:_MOST_WRONG]]
    lines = table(_head(of), rows, width) if rows else []
    if len(wrong) > len(rows):
        counts = Counter(decision.outcome.gaps[gap.name].verdict for gap in wrong[len(rows) :])
        told = [
            f"{count} more {'outside' if verdict == 'outside' else 'not surely inside'}"
            for verdict, count in counts.items()
        ]
        lines += bold(f"{listed(told)}: shimopt plan JOB --full", width, "  ")
    return [*lines, *([("", False)] if lines else []), *_kinds(of, gaps, width)]


def _kinds(of: _Columns, gaps: Sequence[Gap], width: int) -> list[Line]:
    """How many gaps get which stack, by verdict, the commonest first."""
    decision, kinds = of.decision, defaultdict[tuple[str, AtPlace | None], list[Gap]](list)
    for gap in gaps:
        own = gap.in_own_place
        done = at_place(decision, gap.name, of.say, of.source) if own else None
        kinds[(decision.outcome.gaps[gap.name].verdict, done)].append(gap)
    ranked = sorted(kinds.items(), key=lambda one: (_ORDER[one[0][0]], -len(one[1])))
    rows = []
    for (verdict, done), members in ranked[:_MOST_KINDS]:
        count = Cell(plural(len(members), "gap"))
        found = Cell(f"{of.sign(verdict)} {_KINDS[verdict]}", verdict)
        rows.append(Row((count, *_done(done, _apart(decision)), found)))
    held = any(change.held for change in decision.changes)
    head = Row((Cell(""), Cell("out"), Cell("leave"), Cell("in" if held else "fit"), Cell("from"), Cell("then")))
    lines = table(head, rows, width)
    more = sum(len(members) for _, members in ranked[_MOST_KINDS:])
    told = f"{plural(more, 'gap')} more in {plural(len(ranked) - _MOST_KINDS, 'kind')} of stack." if more else ""
    end = "Gap by gap: shimopt plan JOB --full, or on paper: shimopt sheet JOB"
    return [*lines, *plain(f"{told} {end}".strip(), width, "  ", "  ")]
