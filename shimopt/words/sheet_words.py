"""What to do at the bench, in the order in which it is done; and the cautions that stand on every paper."""

from __future__ import annotations

from shimopt.errors import shown
from shimopt.job import Gap, Job, Place
from shimopt.planner import Decision
from shimopt.seats import fitting_order
from shimopt.words.reading_words import both_units
from shimopt.words.speaker import Speaker, listed, pieces_text

__all__ = [
    "AFTERWARDS",
    "BENCH_CAUTIONS",
    "CARD_HEADING",
    "LETTER_CAUTIONS",
    "LICENSED",
    "PREPARE",
    "Piece",
    "pieces_of",
    "read_steps",
    "sheet_answer",
    "torque_words",
]

LICENSED = (
    "On aircraft, pressure equipment, lifting gear and road vehicles a licensed person decides and signs; "
    "these figures only prepare that decision."
)
LETTER_CAUTIONS = (
    "The machine maker's service data come first.",
    "Switch the machine off, lock it and secure it before anyone reaches into it. Shims have sharp edges.",
    "This letter is about the clearances listed here. It does not say that the machine is safe to run.",
)
BENCH_CAUTIONS = (
    "Isolate and lock the machine before you reach into it.",
    "Shims cut. Springs, circlips and heavy parts: restrain and support them.",
    "Blowing dry: under 2 bar (30 psi), guard and eye protection, never at people; never spin a bearing with air.",
    "Solvents burn: ventilate.",
    "The machine maker's service data come first.",
)


Piece = dict[str, str]

# common practice, no published source
PREPARE = (
    "Machine isolated and locked",
    "Shims and spacer faces deburred, flat, checked on a plate",
    "Seats, shoulders and shims clean and dry",
    "A thin film of oil on the faces",
    "Every shim measured with a micrometer, its tag kept with it",
)
_READ = ("Tighten as for service", "Seat it by turning")
_PUSH = (
    "Push it to one end (a free float has none of its own: either will do), then read",
    "Turn a little, push, read again: both readings must agree",
)
_TORQUE = "without oil, or as the maker states"
AFTERWARDS = (
    "Every reading is where it was expected. If not, stop: look for a burr, dirt, a piece not as marked, a clamp not "
    "tight.",
    "Every reading is inside what is allowed. If not, take it apart again and do not run it.",
    "The readings are written into the job: shimopt record JOB",
)
# steps 3 to 5 are for today's readings; after a rebuild with new parts the gap is read again
CARD_HEADING = "Bench card: on the day, in place of step 4"


def read_steps(job: Job) -> list[str]:
    """How it is read: play by pushing, a preload by its running torque."""
    loaded = [gap.name for gap in job.gaps if gap.window.wants_preload]
    push = _PUSH if len(loaded) < len(job.gaps) else ()
    if not loaded:
        return [*_READ, *push]
    instead = f"{listed(loaded)}, instead of pushing: turn" if push else "A preload cannot be pushed: turn"
    return [*_READ, *push, f"{instead} it with a spring balance or a torque gauge ({_TORQUE}) and note the torque"]


def torque_words(gap: Gap, place: str) -> str:
    """What is written down beside a preload, at the last place that moves it; empty for other gaps and places."""
    last = place == gap.effects[-1][0]
    return f"running torque, {_TORQUE}: ________" if gap.window.wants_preload and last else ""


def sheet_answer(decision: Decision) -> str:
    """What there is to do, in one line."""
    filled = [name for name, stack in decision.stacks.items() if stack]
    outside = [name for name, found in decision.outcome.gaps.items() if found.verdict == "outside"]
    pieces = int(decision.outcome.levels["pieces"])
    if not filled:
        said = "Nothing to fit."
    else:
        places = f"{len(filled)} of {len(decision.stacks)} place{'' if len(decision.stacks) == 1 else 's'}"
        said = f"Fit {pieces} shim{'' if pieces == 1 else 's'} in {places}; leave the others as they are."
        if len(filled) == len(decision.stacks):
            said = f"Fit {pieces} shim{'' if pieces == 1 else 's'}, in every place."
    if outside:
        said += f" {len(outside)} cannot be put right with what is in the drawer: see below."
    return said


def pieces_of(decision: Decision, place: str, say: Speaker) -> list[Piece]:
    """The pieces of a stack in order from the fixed face: name, thickness, how it is known, where it lies."""
    job, found = decision.job, []
    for index in fitting_order(decision.stacks.get(place, ()), job.stock, job.place[place].seat):
        part = job.stock[index].part
        thick = both_units(part.thickness.low, part.thickness.high, say)
        found.append(
            {
                "name": say.part(index),
                "thickness": thick,
                "known": "measured before; now" if part.measured else "as marked; measured",
                "at": shown(part.at),
            }
        )
    return found


def expected_text(decision: Decision, gap: Gap, say: Speaker) -> str:
    """What should be read after fitting."""
    after = decision.outcome.gaps[gap.name].after
    return say.about(gap).clearance(after.low, after.high)


def not_fitted_words(decision: Decision, place: Place, gaps: list[Gap], say: Speaker) -> str:
    """Why a place gets nothing, in a few words."""
    if kept := decision.job.kept(place.name):
        return f"keeps what is in it: {pieces_text(kept)}"
    for gap in gaps:
        found, window = decision.outcome.gaps[gap.name], gap.window
        if found.verdict == "outside":
            tight = window.min is not None and found.after.best < window.min
            off = say(found.off)
            return f"nothing that helps is at hand: it stays {off} too {'tight' if tight else 'loose'}"
    return "nothing: leave it as it is"
