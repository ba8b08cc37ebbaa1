"""What is done at every place, or was done at the last visit, counted for the letter's first sentence and its heads."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from shimopt.arithmetic.changes import Changes, PlaceChange
from shimopt.errors import shown
from shimopt.planner import Decision
from shimopt.words.found_words import done_by_no_shim
from shimopt.words.speaker import Speaker, listed, number_word

_MOST_NAMED = 3

# what becomes of one place, of one where it is more than one piece, and of several places
_DONE = {
    "filled": ("gets a shim", "gets shims", "get shims"),
    "back": ("gets back what came out", "gets back what came out", "get back what came out"),
    "some back": ("gets back some of what came out",) * 2 + ("get back some of what came out",),
    "added": ("gets one shim more", "gets more shims", "get more shims"),
    "swapped": ("gets another shim", "gets other shims", "get other shims"),
    "emptied": ("loses its shim", "loses its shims", "lose their shims"),
    "fewer": ("gets fewer shims", "gets fewer shims", "get fewer shims"),
    "otherwise": ("gets no other shim", "gets no other shims", "get no other shims"),
    "unshimmed": ("gets no shim", "gets no shims", "get no shims"),
    "machined": ("is put right without a shim",) * 2 + ("are put right without a shim",),
    "worked on": ("is worked on without a shim",) * 2 + ("are worked on without a shim",),
    "left": ("keeps its shim", "keeps its shims", "keep their shims"),
    "empty": ("is left as it is", "is left as it is", "are left as they are"),
}
# the same of the only place, where it is not said as of one of several
_ALONE = {
    "back": ("what came out for the reading goes back in",) * 2,
    "some back": ("some of what came out for the reading goes back in, and some stays out",) * 2,
    "swapped": ("another shim goes in", "other shims go in"),
    "emptied": ("what was in comes out",) * 2,
    "fewer": ("some of what was in comes out",) * 2,
    "otherwise": ("no shim is changed",) * 2,
    "unshimmed": ("no shim goes in",) * 2,
    "machined": ("it is put right without a shim",) * 2,
    "worked on": ("it is worked on without a shim",) * 2,
    "left": ("what is in stays in",) * 2,
    "empty": ("nothing is fitted",) * 2,
}
# the same of a visit that is over
_NOW = ("is", "are", "get", "gets", "go", "goes", "lose", "loses", "keep", "keeps", "comes", "stays")
_THEN = ("was", "were", "got", "got", "went", "went", "lost", "lost", "kept", "kept", "came", "stayed")
_WAS = dict(zip(_NOW, _THEN, strict=True))


def what_is_done(decision: Decision) -> str:
    """What is done and what is left; where nothing is to be done after a visit, what was done then."""
    over = all_fitted(decision)
    worked = [f"{shown(name)} was worked on as well: {done}" for name, done in worked_on_too(decision).items() if over]
    more = len(worked) - _MOST_NAMED
    worked = [*worked[:_MOST_NAMED], *([f"so were {more} more"] if more > 0 else [])]
    return "; ".join([_at_the_places(decision, over=over), *worked])


def all_fitted(decision: Decision) -> bool:
    """Whether by the job's record all is fitted."""
    return decision.changes.nothing and bool(decision.job.records)


def worked_on_too(decision: Decision) -> dict[str, str]:
    """What was done to gaps otherwise than by shims where shims were changed too, by gap."""
    at = decision.visit.at
    done = {gap.name: decision.job.machined(gap.name) for gap in decision.job.gaps}
    return {
        gap.name: shown(done[gap.name], 200)
        for gap in decision.job.gaps
        if done[gap.name] and any(at[place].changed for place, _ in gap.effects)
    }


def _at_the_places(decision: Decision, *, over: bool) -> str:
    """The same of the shims at the places alone."""
    changes = decision.visit if over else decision.changes
    if packs := _packs(decision, changes, over=over):
        return packs
    places: dict[str, list[PlaceChange]] = {kind: [] for kind in _DONE}
    gaps = [decision.job.gap[name] for name in done_by_no_shim(decision)] if over else []
    strange = {place for gap in gaps for place, _ in gap.effects}
    machined = {p for gap in decision.job.gaps if over and decision.job.machined(gap.name) for p, _ in gap.effects}
    out = [gap for gap in decision.job.gaps if decision.outcome.gaps[gap.name].verdict == "outside"]
    still = {place for gap in out for place, _ in gap.effects}
    for change in changes:
        done = machined if not change.changed else set()
        places[_kind(change, done, strange, still)].append(change)
    # what cannot be put right is told before, and is not left as it is for being right
    wrong = {name for name, found in decision.outcome.gaps.items() if found.verdict == "outside" and not over}
    of_no_wrong = {kind: [one for one in places[kind] if one.place not in wrong] for kind in ("empty", "left")}
    alone_here = len(changes.at) == 1 and len(decision.job.gaps) == 1
    if alone_here or len(places["empty"]) == len(changes.at):
        kind, (change, *_) = next((kind, those) for kind, those in places.items() if those)
        several = _pieces(change) > 1
        return _said(_ALONE[kind][several] if kind in _ALONE else f"it {_DONE[kind][several]}", over=over)
    said = []
    for kind, those in (places | of_no_wrong).items():
        if those:
            # what is left as it is needs no names
            unnamed = len(those) > _MOST_NAMED or kind in ("left", "empty")
            named = "" if unnamed else f" ({listed([change.place for change in those])})"
            verb = _said(_DONE[kind][2 if len(those) > 1 else _pieces(those[0]) > 1], over=over)
            # what was set at an earlier visit is not what was found
            if kind == "left" and not over and any(decision.visit.at[change.place].changed for change in those):
                verb = "keep what is in them now" if len(those) > 1 else "keeps what is in it now"
            # a place that is no gap is not counted among the gaps
            of_gaps = all(change.place in decision.job.gap for change in those)
            count = (
                number_word(len(those))
                if of_gaps
                else f"{number_word(len(those))} place{'s' if len(those) > 1 else ''}"
            )
            said.append(f"{count} {verb}{named}")
    return "; ".join(said)


def _kind(change: PlaceChange, machined: Collection[str], strange: Collection[str], still: Collection[str]) -> str:
    """What becomes of a place; of one whose gaps were machined whether they are right, or `still` outside."""
    if change.place in machined:
        return "worked on" if change.place in still else "machined"
    if change.place in strange:
        return "otherwise" if change.held or change.changed else "unshimmed"
    return _becomes(change)


def status_words(movers: Sequence[PlaceChange], *, over: bool) -> str:
    """The same of a gap's own place in two or three words, or of what was done there where that is `over`."""
    changed = [change for change in movers if change.changed]
    done = {_becomes(change) for change in changed}
    if not done:
        return "left as it is"
    if done <= {"emptied", "fewer"}:
        if sum(len(change.out) for change in changed) > 1:
            return "shims came out" if over else "shims come out"
        return _said("a shim comes out", over=over)
    if len(done) == 1:
        return _said(_DONE[done.pop()][sum(map(_pieces, changed)) > 1], over=over)
    if done <= {"filled", "back", "some back", "added"}:
        return _said("gets more shim", over=over)
    return _said(_DONE["swapped"][1], over=over)


def _said(text: str, *, over: bool) -> str:
    return " ".join(_WAS.get(word, word) for word in text.split()) if over else text


def _becomes(change: PlaceChange) -> str:
    if not change.changed:
        return "left" if change.held else "empty"
    if not change.held:
        all_back = len(change.back) == len(change.into)
        return ("back" if not change.stays_out else "some back") if all_back else "filled"
    if change.into:
        return "swapped" if change.out else "added"
    return "fewer" if change.stays else "emptied"


def _pieces(change: PlaceChange) -> int:
    """How many pieces what is said of a place is about."""
    return max(len(change.into), len(change.out)) or len(change.stays)


def _packs(decision: Decision, changes: Changes, *, over: bool) -> str:
    """What is done where no gap has a place of its own: its packs set several gaps, or several packs set one."""
    changed = [change.place for change in changes if change.changed]
    if not changed or any(len(gap.effects) == 1 for gap in decision.job.gaps):
        return ""
    if (shift := changes.shift) is not None:
        thick, source, target = Speaker(decision.job.unit)(shift.thick), shown(shift.source), shown(shift.target)
        if shift.of_pieces:
            return f"{thick} of shim {'went' if over else 'moves'} from {source} to {target}"
        return f"the pack at {source} {'got' if over else 'gets'} {thick} thinner, that at {target} as much thicker"
    return f"set by {'a new pack' if len(changed) == 1 else 'new packs'} at {listed(changed)}"
