"""Candidate stacks of a place: every way to bring its gap inside, less those that another beats at every level."""

from shimopt.stacks.beaten import without_beaten
from shimopt.stacks.coupled import coupled_options
from shimopt.stacks.judge import Ends, Judge
from shimopt.stacks.options import Option, PlaceOptions, fixed_gap, place_options
from shimopt.stacks.scale import Scale
from shimopt.stacks.shortage import short_places
from shimopt.stacks.sums import TooManyError, nearest_stack, stacks_between

__all__ = [
    "Ends",
    "Judge",
    "Option",
    "PlaceOptions",
    "Scale",
    "TooManyError",
    "coupled_options",
    "fixed_gap",
    "nearest_stack",
    "place_options",
    "short_places",
    "stacks_between",
    "without_beaten",
]
