"""How the gaps are read at the bench: with which end of the job in mind, and where the answer is written down.

And how one is read so that it tells for certain: what a finer gauge alone would not do comes first.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.words.reading_words import basis_text, stands_off
from shimopt.words.speaker import Speaker, listed

# common practice, no published source
_READ = ("Tighten as for service", "Seat it by turning")
_PUSH = "If it floats, push it to one end and hold it there while you read (either end, if the service data name none)"
# one piece that always lies in its place sets a valve as well as an end float
_STAND = "Have it stand as the service data say; what floats is held at one end while you read"
_AGAIN = "Turn a little, read again: both readings must agree"
_ROCK = (
    "hold the pinion, dial square on a tooth of the wheel at its outer end, rock the wheel without pushing it along "
    "its axis"
)
_BLADES = "hold both still, blades between two teeth at their outer end: which one goes, which does not"
_SMALLEST = "at four places round: the smallest of the four counts, not their mean"
_NIP = (
    "nip the cover down evenly, only until the play is just gone and it still turns. Blades "
    "between cover and case, all round: which one goes, which does not"
)
TORQUE = "box without oil, bearings just wetted, or as the maker states"
NOTED = ("goes", "does not go")
_PULLS = ("pull 1", "pull 2", "pull 3")
_ROUND = ("place 1", "place 2", "place 3", "place 4", "smallest")
_TWICE = ("reading 1", "reading 2")


def read_steps(job: Job, as_set: Collection[str] = ()) -> list[str]:
    """How it is read: play by pushing, a preload by its running torque, under a cover by what it stands off.

    Then what has to be read in another way, for one end of it cannot be known like that. Parameter: as_set, gaps that
    are right by their running torque: nothing is read of them.
    """
    left = [f"{listed([*as_set])}: nothing is read, by the running torque it is right"] if as_set else []
    if len(as_set) == len(job.gaps):
        return left
    covers = [gap for gap in job.gaps if gap.reading.opens]
    built = [gap.name for gap in job.gaps if gap.reading.kind == "built_up"]
    # what reads as less than nothing has no play to be pushed or rocked
    without_play = [gap for gap in job.gaps if _has_no_play(gap) and gap.name not in built]
    apart = {*built, *(gap.name for gap in without_play)}
    # the play between teeth is along the pitch circle, not along a shaft
    teeth = [gap.name for gap in job.gaps if _between_teeth(gap) and gap.name not in apart]
    others = [gap for gap in job.gaps if not gap.reading.opens and gap.name not in (*apart, *teeth, *as_set)]
    # what has play is pushed, whatever it is to become
    loaded = [gap.name for gap in others if _is_turned(gap)]
    push = len(loaded) < len(others)
    single = [gap for gap in others if _holds_one(job, gap)]
    held = ((_PUSH, [gap for gap in others if gap not in single]), (_STAND, single)) if push else ()
    told = [*((step, others) for step in _READ), *held, *([(_AGAIN, others)] if push else [])]
    steps = [step if len(of) == len(job.gaps) else _only(step, of, job) for step, of in told if of]
    for how, by_blades in ((_ROCK, False), (_BLADES, True)):
        if names := [name for name in teeth if (blanks(job.gap[name]) == list(NOTED)) is by_blades]:
            steps.append(f"{listed(names)}: {how}; {_SMALLEST}")
    steps += [
        f"{shown(gap.name)}: it has no play to read; read it {known_shim(job.opened_by_more(gap))}, and take off by "
        "how much that opens it"
        for gap in without_play
    ]
    if built:
        steps.append(f"{listed(built)}: measure again what it is built up of")
    if loaded:
        instead = f"{listed(loaded)}, instead of pushing: turn" if push else "A preload cannot be pushed: turn"
        steps.append(f"{instead} {with_balance([job.gap[name] for name in loaded])}")
    for bare, shims in ((True, "no shims in"), (False, "with the shims in that the job names")):
        if names := [gap.name for gap in covers if job.stands_bare(gap) is bare]:
            steps.append(f"{listed(names)}, {shims}: {_NIP}. Do not tighten as for service")
    return [*steps, *left, *_hidden(job)]


def with_balance(gaps: Sequence[Gap]) -> str:
    """How a preload is told, as it is stated where that is: neither blade nor dial reads one."""
    stated = {str(gap.running) if gap.running is not None else "" for gap in gaps}
    (how,) = stated if len(stated) == 1 else ("",)
    how = f"{shown(how)} is stated" if how else TORQUE
    them = "it" if len(gaps) == 1 else "each"
    return f"{them} with a spring balance or a torque gauge ({how}) and note the torque"


def read_after(pairs: Sequence[tuple[str, str]]) -> list[str]:
    """Gaps that tell nothing before another, the second of each pair, is set by what is fitted."""
    return [
        f"{shown(gap)}: read it after step 4, with {shown(other)} set; before that it says nothing"
        for gap, other in pairs
    ]


def _between_teeth(gap: Gap) -> bool:
    """Whether it is the backlash of a bevel pair."""
    return any(source.teeth is not None for source in gap.effect_sources)


def _is_turned(gap: Gap) -> bool:
    """Whether what is read of a gap is its running torque."""
    return gap.window.wants_preload and gap.reading.bracket.best < 0 and not gap.reading.opens


def _has_no_play(gap: Gap) -> bool:
    """Whether it was found tight where play is wanted: its running torque says nothing of how much it lacks."""
    return not gap.window.wants_preload and gap.reading.bracket.best < 0 and not gap.reading.opens


def _holds_one(job: Job, gap: Gap) -> bool:
    """Whether one piece, never none and never two, lies at each place that moves it."""
    places = [job.place[name] for name, _ in gap.effects]
    return bool(places) and all(place.fewest_pieces == place.most_pieces == 1 for place in places)


def _only(step: str, gaps: list[Gap], job: Job) -> str:
    """A step that is not for all gaps: for which, or for all but which if those are one or two of many."""
    left = [gap.name for gap in job.gaps if gap not in gaps]
    which = f"All but {listed(left)}" if len(left) <= 2 < len(gaps) else listed([gap.name for gap in gaps], 4)
    return f"{which}: {step[:1].lower()}{step[1:]}"


def _hidden(job: Job) -> list[str]:
    """What reads as nothing, and may be less than nothing."""
    said = []
    for gap in job.gaps:
        if gap.reading.no_preload_assumed and gap.reading.opens:
            said.append(f"{shown(gap.name)}: no blade goes under the cover: {cover_rests(bare=job.stands_bare(gap))}")
        elif gap.reading.no_preload_assumed and not job.turns_wrong(gap.name):
            again = known_shim(job.opened_by_more(gap))
            said.append(f"{shown(gap.name)}: read as from nothing, which may hide a preload: read it again {again}")
    return said


def known_shim(opened_by_more: bool | None) -> str:
    """How a gap is opened by a known amount, so that what hides in a reading of nothing shows."""
    if opened_by_more is None:
        return "opened by a known amount"
    return f"with a {'thicker' if opened_by_more else 'thinner'} pack of known thickness in"


def find_out(*, cover: bool, opened_by: bool | None) -> str:
    """What comes before anything is done on a reading of nothing."""
    first = "see whether the cover rests on its case, and read the play if it does"
    return f"{first if cover else f'turn it, or read it {known_shim(opened_by)}'}, first; no metal comes off on that"


def cover_rests(*, bare: bool) -> str:
    """What it means that a cover may rest on the case, and how its gap is read then."""
    how = "read that play instead" if bare else "take a shim out until a blade goes, and read it like that"
    return f"if it rests on the case, there is play of a size that nobody knows: {how}"


def read_heading(job: Job) -> str:
    """What stands over the readings: from the trial assembly, or from after an earlier fitting."""
    if not any(gap.reading.recorded for gap in job.gaps):
        return "read"
    day = shown(job.records[-1].date[:10])
    return f"read after fitting ({day})" if all(gap.reading.recorded for gap in job.gaps) else f"read until {day}"


def read_cell(job: Job, gap: Gap, say: Speaker) -> str:
    """What was read, as it was read: without what may move until the final assembly; or that nobody has since."""
    read = say.as_read(gap.reading.found)
    if gap.reading.opens:
        shims = "" if job.stands_bare(gap) else ", shims in"
        return f"{stands_off(read, say)}{shims}"
    reads = f"{say.about(gap).clearance(read.low, read.high)}{basis_text(gap)}"
    return f"calculated, not read: {reads}" if gap.reading.calculated else reads


def blanks(gap: Gap) -> list[str]:
    """What is written down of a gap that is read anew, by the instrument that read it first.

    Closed up it is read as it stands: what was read under a cover, or measured part by part, can only be so once.
    """
    if _is_turned(gap):
        return ["running torque"]
    kind = gap.reading.first or gap.reading.kind
    if gap.reading.recorded and kind in ("cover_gap", "built_up"):
        return list(_TWICE)
    match kind:
        case "indicator" if _between_teeth(gap):
            return list(_ROUND)
        case "indicator":
            return list(_PULLS)
        case "value" | "record" | "record after fitting":
            return list(_TWICE)
        case "built_up":
            return [shown(term.name) for term in gap.reading.terms if term.code in ("dimension", "gasket")]
    return list(NOTED)


def gauged(job: Job, names: Sequence[str]) -> list[str]:
    """Those of these gaps that one instrument reads, and reads as more than nothing: a finer one tells more."""
    return [name for name in names if not _is_blind(job.gap[name]) and not _is_sum(job.gap[name])]


def otherwise_read(job: Job, names: Sequence[str], say: Speaker) -> list[str]:
    """What tells more of the others, an instruction for each: what hides in nothing, what a sum is least known by."""
    gaps = [job.gap[name] for name in names]
    turned: dict[str, list[str]] = {}
    for gap in gaps:
        if _is_blind(gap) and not gap.reading.opens:
            # where one piece always lies nothing is turned to feel a preload: it may be a valve
            start = "read {}" if _holds_one(job, gap) else "turn {}, or read {them}"
            turned.setdefault(f"{start} {known_shim(job.opened_by_more(gap))}", []).append(gap.name)
    said = [how.format(listed(of, 4), them="it" if len(of) == 1 else "them") for how, of in turned.items()]
    for gap in gaps:
        if _is_blind(gap) and gap.reading.opens:
            rests = f"see whether the cover of {shown(gap.name)} rests on its case, and read the play if it does"
            less = f"take a shim out of {shown(gap.name)} until a blade goes, and read it like that"
            said.append(rests if job.stands_bare(gap) else less)
        elif _is_sum(gap) and not _is_blind(gap):
            said.append(_least_known(gap, say))
    return said


def _is_blind(gap: Gap) -> bool:
    return gap.reading.no_preload_assumed


def _is_sum(gap: Gap) -> bool:
    return gap.reading.kind == "built_up"


def _least_known(gap: Gap, say: Speaker) -> str:
    """Which term of a sum leaves most open."""
    terms = [term for term in gap.reading.terms if term.code != "shift"]
    most = max(terms, key=lambda term: term.half)
    what = "what the {} is crushed to" if most.code == "crush" else "the {}"
    known = "assumed" if most.assumed else "known"
    named = what.format(shown(most.name))
    return f"measure {named} again for {shown(gap.name)}: it is {known} least closely (\u00b1{say(most.half)})"
