"""A plan for a command: within its time, with a sign of life, and where it is stopped the best so far."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from shimopt.cli.shared_options import Call
from shimopt.cli.stopping import (
    AFTER_THE_END,
    IN_ALL,
    INTERRUPTED,
    interrupted,
    only_voice,
    seconds_left,
    times_slower,
    watched,
)
from shimopt.cli.terminal import say, sign_of_life
from shimopt.errors import InputError, Problem, shown
from shimopt.watch import PLAN_STEPS, Watch

if TYPE_CHECKING:
    from shimopt.job import Job
    from shimopt.planner import Decision


# what it takes to work a plan out and to write it, for each gap, and to say why it is so before that [s]
_TO_GIVE_A_GAP, _TO_SAY_WHY = 0.0003, 0.0002


@dataclass(frozen=True, kw_only=True)
class Planned(Call):
    """The call of a command that needs a plan, and how long that may take."""

    time_limit: float | None
    steps: int
    from_start: bool = False
    choices: bool = False
    # whether Ctrl-C still gives the best so far: a screen does, what needs reasons or writes a file does not
    gives_best: ClassVar[bool] = True

    def load(self) -> Job:
        """The job that was named, with the drawer that was named. Raises InputError."""
        from shimopt.job import load_job

        return load_job(self.job, drawer=self.drawer, from_start=self.from_start)


def planned(call: Planned, check: Callable[[Job], None], give: Callable[[Decision], int]) -> int:
    """Plan the job that was named and `give` the plan, once; the exit code that `give` says.

    `check` looks at the job before it is planned. At the end of the time, or at Ctrl-C, what is given is the best so
    far, or after Ctrl-C, where to give it takes too long, what it comes to; what was interrupted is for the screen
    alone, which `give` has to see to. Raises InputError, FaultError.
    """
    from shimopt.planner import best_so_far, decide

    loaded: Job | None = None

    def takes(a_gap: float = _TO_GIVE_A_GAP) -> float:
        return 0.0 if loaded is None else a_gap * len(loaded.gaps) * times_slower()

    def best() -> int:
        if loaded is None and interrupted():
            return INTERRUPTED
        if loaded is None:
            rule, remedy = "the time was over before the job was read", "give it more"
            raise InputError.at("", rule, remedy, where="--time-limit")
        if interrupted() and not call.gives_best:
            say("shimopt: stopped; nothing was written", err=True)
            return INTERRUPTED
        if interrupted() and takes() > IN_ALL:
            _say_how_far(loaded, watch, takes(), beside=call.as_json)
            return INTERRUPTED
        found = best_so_far(loaded, watch, buy=call.buy)
        say("shimopt: stopped before the reasons were worked out; this is the best plan so far", err=True)
        return give(found)

    with sign_of_life() as progress:
        watch = Watch(seconds_left(call.time_limit), call.steps, progress)
        with watched(watch, best, lambda: loaded is not None, takes):
            job = call.load()
            check(job)
            loaded = job
            watch.keep_back(max(0.0, takes(_TO_GIVE_A_GAP + _TO_SAY_WHY) - AFTER_THE_END))
            found = decide(job, buy=call.buy, watch=watch, choices=call.choices)
        only_voice()
    return give(found)


def _say_how_far(job: Job, watch: Watch, seconds: float, *, beside: bool) -> None:
    """What the best so far comes to, where to write all of it would take too long; `beside` what a program reads."""
    from shimopt.choose import Choice
    from shimopt.words.level_words import so_far_words
    from shimopt.words.speaker import Speaker

    say(f"shimopt: stopped; to check the best plan so far and write all of it would take {seconds:.0f} s", err=True)
    best, words = watch.best, Speaker.of(job)
    if not isinstance(best, Choice):
        say("Nothing was found yet.", err=beside)
        return
    say(so_far_words(best.levels, words), err=beside)
    stacks = ((place, best.stacks.get(place.name, place.installed)) for place in job.places)
    for place, stack in stacks if not beside else ():
        if stack != place.installed:
            say(f"{shown(place.name)}: {words.stack(stack, place.name) if stack else 'nothing'}")


def to_choose(job: Job) -> list[Problem]:
    """What is to be chosen at a bench before anything is fitted: the gaps that were read differently there."""
    from shimopt.bench.folder_scan import logs_over

    if not (logs := logs_over(Path(job.inputs[0]))):
        return []
    from shimopt.bench.undecided import differing_in

    return [one for one in differing_in(logs) if one.where in job.gap]


def refuse_undecided(*jobs: Job) -> None:
    """Refuse to go by a reading that is still to be chosen. Raises InputError, of several jobs with their files."""
    waiting = [(job, one) for job in jobs for one in to_choose(job)]
    if waiting:
        raise InputError(replace(one, file=job.inputs[0] if len(jobs) > 1 else "") for job, one in waiting)


def run_plan(job: Job, buy: bool) -> Decision:
    """A plan that a command needs whole, with a sign of life when it takes over a second."""
    from shimopt.planner import decide

    with sign_of_life() as progress:
        watch = Watch(steps=PLAN_STEPS, progress=progress)
        with watched(watch):
            found = decide(job, buy=buy, watch=watch)
    if interrupted():
        raise KeyboardInterrupt
    return found
