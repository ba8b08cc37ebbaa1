"""What of the answers to `shimopt new` looks like another unit's is asked about again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from shimopt.cli.terminal import chosen, say
from shimopt.starting.new_answers import Answers
from shimopt.starting.new_doubts import doubts


def settled(answers: Answers, window: Callable[[Answers], Answers], sizes: Callable[[Answers], Answers]) -> Answers:
    """The answers once nothing of them is in doubt: typed again by `window` and `sizes`, or said to stand."""
    while (doubt := next(doubts(answers), None)) is not None:
        say(f"  {doubt.rule}.")
        question = "  Is it as typed, measured with a micrometer?" if doubt.size else "  Is it as typed?"
        if chosen(question, ("yes", "no"), "no") == "no":
            answers = window(answers) if doubt.about == "window" else sizes(answers)
        elif doubt.size:
            answers = replace(answers, measured=answers.measured | {doubt.size})
        else:
            first, *others = answers.gaps
            answers = replace(answers, gaps=[replace(first, checked=True), *others])
    return answers
