"""What a place that moves a gap holds, held and does to it, in words."""

from __future__ import annotations

from fractions import Fraction

from shimopt.errors import shown
from shimopt.planner import Decision
from shimopt.words.speaker import Speaker

__all__ = ["mover_words"]


def mover_words(decision: Decision, place: str, effect: Fraction, say: Speaker) -> str:
    """One place: its effect, what was in, what the plan puts there, and what that does to the gap."""
    job, stack = decision.job, decision.stacks.get(place, ())
    was_in = job.place[place].installed
    times = f"{float(effect):g}" if round(effect, 6) == effect else str(effect)
    start = f"{shown(place)} (effect {times})"
    if stack == was_in:
        return f"{start}: {say.stack(stack)} {'stays' if stack else 'fitted'}, no change."
    thick = say(decision.outcome.thickness[place].best)
    before = f" in place of {say.stack(was_in)}" if was_in else ""
    moved = effect * decision.change(place)
    sign = "adds" if moved > 0 else "takes off"
    return f"{start}: {say.stack(stack)} ({thick}){before} {sign} {say(abs(moved))}."
