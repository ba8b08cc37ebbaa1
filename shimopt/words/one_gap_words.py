"""Why a gap cannot be answered alone: what else decides about it. A plan of the whole job answers it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from shimopt.choose.single_gap import NotAnswered

_WHY: Mapping[NotAnswered | Literal["too many"], str] = {
    "no place": "no place moves this gap",
    "places": "several places move this gap",
    "effect": "what its place adds does not simply come off this gap: its effect is not -1",
    "shared": "its place moves other gaps too",
    "compared": "a balance compares this gap or its pack with others",
    "equal": "its pack is to equal another pack",
    "pieces": "there are pieces in its place, or there were before the reading",
    "fewest": "its place asks for a fewest number of pieces",
    "tight": "it reads as nothing where preload is wanted: nobody knows where it stands",
    "chance": "its chance to be inside decides, not its bracket",
    "priority": "the job states an order of levels of its own",
    "too many": "its seat takes more stacks than can be listed",
}


def why_not_alone(why: NotAnswered | Literal["too many"]) -> str:
    """The sentence, with what to do."""
    return f"{_WHY[why]}; plan the whole job"
