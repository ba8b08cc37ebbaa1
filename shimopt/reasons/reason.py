"""What a reason is, and the code of every kind: one class for each, by subject in the files beside this one."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import ClassVar, Literal, dataclass_transform

Length = Fraction | int  # nm
# on which side of its window a gap is
Side = Literal["over", "under"]


class Code(StrEnum):
    """The kinds of reasons and assumptions, as the JSON names them."""

    # a gap with a place of its own
    ALREADY_INSIDE = "already_inside"
    ALREADY_INSIDE_AND_NO_THINNER = "already_inside_and_no_thinner"
    FITTED_TO_COME_INSIDE = "fitted_to_come_inside"
    FITTED_TO_BE_SURER = "fitted_to_be_surer"
    FITTED_TO_MATCH = "fitted_to_match"
    FITTED_FOR_TARGET = "fitted_for_target"
    FITTED_FOR_THE_CHANCE = "fitted_for_the_chance"
    CHANCE_TOO_LOW_AFTER = "chance_too_low_after"
    CHANCE_TOO_LOW_AS_READ = "chance_too_low_as_read"
    UNPROVEN_AFTER = "unproven_after"
    UNPROVEN_AS_READ = "unproven_as_read"
    MAY_BE_TIGHT = "may_be_tight"
    SHIMS_NOT_ALLOWED = "shims_not_allowed"
    BELOW_WINDOW = "below_window"
    READ_AGAIN_FIRST = "read_again_first"
    READS_AS_NOTHING = "reads_as_nothing"
    ABOVE_WINDOW = "above_window"
    PARTS_DO_NOT_SUIT = "parts_do_not_suit"
    TOO_FEW_PIECES = "too_few_pieces"
    NOTHING_SUITS = "nothing_suits"
    NOTHING_ON_HAND = "nothing_on_hand"
    NOT_THICK_ENOUGH = "not_thick_enough"
    TOO_TIGHT_WITH_THINNEST = "too_tight_with_thinnest"
    TOO_LOOSE_WITH_THINNEST = "too_loose_with_thinnest"
    NO_SIZE_BETWEEN = "no_size_between"
    DRAWER_RAN_OUT = "drawer_ran_out"
    BEYOND_PARTS = "beyond_parts"
    LEFT_BY_PRIORITY = "left_by_priority"
    LEFT_TOGETHER_BY_PRIORITY = "left_together_by_priority"
    LEFT_BY_SEARCH = "left_by_search"
    ONE_MORE_PIECE = "one_more_piece"
    FEWER_PIECES = "fewer_pieces"
    STACK_DOES_NOT_SUIT = "stack_does_not_suit"
    MADE_THINNER = "made_thinner"
    OPENED_TOO = "opened_too"
    STAYS = "stays"
    STAYS_OUTSIDE = "stays_outside"
    SWAPPED = "swapped"
    SWAPPED_INSIDE = "swapped_inside"
    # gaps and places that act together
    NO_PLACE_MOVES = "no_place_moves"
    PLACE_STAYS = "place_stays"
    TOGETHER_LEFT = "together_left"
    TOGETHER_MOVED = "together_moved"
    TOGETHER_STILL_INSIDE = "together_still_inside"
    TOGETHER_OUTSIDE = "together_outside"
    WINDOWS_FIGHT = "windows_fight"
    NO_STACKS_FOR_ALL = "no_stacks_for_all"
    MORE_THICKNESS = "more_thickness"
    SHIFT_THICKNESS = "shift_thickness"
    SPLIT_NOT_STATED = "split_not_stated"
    SPLIT_BY_NAME = "split_by_name"
    # balances and the purchase
    BALANCE_SET_ASIDE = "balance_set_aside"
    NOT_WITHIN = "not_within"
    NOT_WITHIN_FOUND = "not_within_found"
    LEFT_UNEVEN = "left_uneven"
    NO_PRICE = "no_price"
    # what is taken for granted
    REPEATABILITY_ASSUMED = "repeatability_assumed"
    RESOLUTION_ASSUMED = "resolution_assumed"
    PERMISSIBLE_ERROR_ASSUMED = "permissible_error_assumed"
    DIMENSION_ASSUMED = "dimension_assumed"
    GASKET_ASSUMED = "gasket_assumed"
    CRUSH_ASSUMED = "crush_assumed"
    FARTHEST_PULL = "farthest_pull"
    ERRORS_INDEPENDENT = "errors_independent"
    UNMEASURED_INDEPENDENT = "unmeasured_independent"
    MEASURED_INDEPENDENT = "measured_independent"
    MICROMETER_SHARED = "micrometer_shared"
    HEAT_UNIFORM = "heat_uniform"


@dataclass(frozen=True, kw_only=True)
@dataclass_transform(frozen_default=True, kw_only_default=True)
class Reason:
    """Why something is as it is.

    `about` names the gap, place, balance or part, and is empty where the whole job is meant; `names` the gaps, places,
    balances or parts that take part. Every kind is a frozen dataclass with one code, its own or that of the kind it is
    made of, and adds what its sentence needs, by name.
    """

    code: ClassVar[Code]

    about: str
    names: tuple[str, ...] = ()

    def __init_subclass__(cls, code: Code | None = None) -> None:
        """A kind says its code beside its name."""
        if code is not None:
            cls.code = code
        dataclass(frozen=True, kw_only=True)(cls)
