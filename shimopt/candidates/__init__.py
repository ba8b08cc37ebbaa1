"""Candidate stacks of a place: every way to bring its gap inside, less those that another beats at every level."""

from shimopt.candidates.beaten import without_beaten, without_stand_ins
from shimopt.candidates.options import (
    Changes,
    Option,
    PlaceOptions,
    Usable,
    coupled_options,
    fixed_gap,
    moved_by,
    place_options,
)
from shimopt.candidates.sorted_sums import NearSums, TooManyError, nearest_stack, stacks_between
from shimopt.candidates.ticks import Ends, Judge, Scale, too_large_to_carry

__all__ = [
    "Changes",
    "Ends",
    "Judge",
    "NearSums",
    "Option",
    "PlaceOptions",
    "Scale",
    "TooManyError",
    "Usable",
    "coupled_options",
    "fixed_gap",
    "moved_by",
    "nearest_stack",
    "place_options",
    "stacks_between",
    "too_large_to_carry",
    "without_beaten",
    "without_stand_ins",
]
