"""Something worth saying about a part on a seat, or about a gap's reading; and what a rule answers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import Field, dataclass, fields
from enum import StrEnum
from fractions import Fraction
from typing import ClassVar, Literal, NamedTuple, dataclass_transform

from shimopt.job import Seat
from shimopt.parts import Part

# fields of these two types are what decided: lengths [nm], and shares, ratios, forces and pressures [N, mm², N/mm²]
Length = Fraction | int
Number = Fraction


class FindingCode(StrEnum):
    """The kinds of findings, as the JSON names them."""

    # a part on a seat
    BORE_TOO_SMALL = "bore_too_small"
    BORE_MAY_BE_TOO_LARGE = "bore_may_be_too_large"
    BORE_TOO_LARGE = "bore_too_large"
    OUTSIDE_TOO_LARGE = "outside_too_large"
    NEAR_NEXT_RING = "near_next_ring"
    RUBS_NEXT_RING = "rubs_next_ring"
    STANDS_OVER_GROOVE = "stands_over_groove"
    STACK_OVER_GROOVE = "stack_over_groove"
    DROPS_INTO_GROOVE = "drops_into_groove"
    MAY_STAND_ON_FILLET = "may_stand_on_fillet"
    STANDS_ON_FILLET = "stands_on_fillet"
    OFF_CENTRE_UNCOVERED = "off_centre_uncovered"
    OFF_CENTRE_UNEVEN = "off_centre_uneven"
    CARRIES_TOO_LITTLE = "carries_too_little"
    CARRIES_NOTHING = "carries_nothing"
    PRESSURE_MAY_BE_TOO_HIGH = "pressure_may_be_too_high"
    PRESSURE_TOO_HIGH = "pressure_too_high"
    PRESSURE_LIMIT_FROM_MEMORY = "pressure_limit_from_memory"
    THIN_WALL = "thin_wall"
    TOO_THIN = "too_thin"
    VERY_THIN = "very_thin"
    PART_NOT_TAKEN = "part_not_taken"
    TAKES_UP_PLAY = "takes_up_play"
    FORM_NOT_ALLOWED = "form_not_allowed"
    SLOTTED_ON_MOVING_FACE = "slotted_on_moving_face"
    NEEDS_TAB = "needs_tab"
    TAB_HAS_NO_ROOM = "tab_has_no_room"
    MATERIAL_NOT_ALLOWED = "material_not_allowed"
    SOFT_ON_MOVING_FACE = "soft_on_moving_face"
    # a stack, a place
    MIXED_BORES = "mixed_bores"
    STACK_ORDER = "stack_order"
    FROM_MEMORY = "from_memory"
    SHIMS_NOT_ALLOWED = "shims_not_allowed"
    NOT_CHECKED = "not_checked"
    # a piece in hand
    BURR = "burr"
    UNEVEN_THICKNESS = "uneven_thickness"
    NO_MEASURING_ERROR = "no_measuring_error"
    COARSE_INSTRUMENT = "coarse_instrument"
    LABEL_NOT_KNOWN = "label_not_known"
    LABEL_UNCONFIRMED = "label_unconfirmed"
    LABEL_HAS_NO_TOLERANCE = "label_has_no_tolerance"
    NOT_AS_LABELLED = "not_as_labelled"
    # a reading
    SPOTS_TILTED = "spots_tilted"
    FEW_PULLS = "few_pulls"
    NO_PRELOAD_ASSUMED = "no_preload_assumed"
    COVER_FREE_ASSUMED = "cover_free_assumed"
    PACK_WAS_TOO_THICK = "pack_was_too_thick"
    PACKS_WERE_TOO_THICK = "packs_were_too_thick"
    CAME_OUT_AT_HAND = "came_out_at_hand"
    NOT_AS_IN_SERVICE = "not_as_in_service"
    READ_WITH_PLAY = "read_with_play"
    CLOSED_UP_DIFFERS = "closed_up_differs"
    CLOSED_UP_PLANNED = "closed_up_planned"
    READING_FAR_OFF = "reading_far_off"
    READING_SUSPECT = "reading_suspect"
    SIZE_SUSPECT = "size_suspect"
    DECIDED_BY_BRACKETS = "decided_by_brackets"
    COLUMN_NOT_READ = "column_not_read"
    # a record
    NOT_AS_PREDICTED = "not_as_predicted"
    # an effect
    EFFECT_FROM_FIGURE = "effect_from_figure"
    EFFECT_FROM_BEVEL = "effect_from_bevel"
    EFFECT_FROM_TRIAL = "effect_from_trial"
    # places as the job states them
    GEAR_SHARE_ASKED = "gear_share_asked"
    GEAR_WAY_ASKED = "gear_way_asked"
    SEATS_ASKED = "seats_asked"
    SPRING_WAS_IN = "spring_was_in"
    TOOL_TOO_COARSE = "tool_too_coarse"
    # what is in, and stays
    IN_DOES_NOT_SUIT = "in_does_not_suit"
    IN_WHERE_NONE_GOES = "in_where_none_goes"
    MORE_IN_THAN_TAKEN = "more_in_than_taken"


@dataclass(frozen=True, kw_only=True)
@dataclass_transform(frozen_default=True, kw_only_default=True)
class Fact:
    """What was found, without saying where. Every kind of it is a frozen dataclass whose fields are given by name."""

    code: ClassVar[FindingCode]

    def __init_subclass__(cls, code: FindingCode | None = None) -> None:
        """A kind says its code beside its name."""
        if code is not None:
            cls.code = code
            dataclass(frozen=True, kw_only=True)(cls)

    def lengths(self) -> dict[str, Length]:
        """The lengths that decided, by name [nm]."""
        return {_NAMES.get(one.name, one.name): getattr(self, one.name) for one in self._of_type("Length")}

    def numbers(self) -> dict[str, Number]:
        """The shares, ratios, forces and pressures that decided, by name."""
        return {one.name: getattr(self, one.name) for one in self._of_type("Number")}

    def _of_type(self, name: str) -> list[Field[object]]:
        return [one for one in fields(self) if one.type == name]


# names that Python keeps for itself, or that a field says better
_NAMES = {"start": "from", "end": "to", "is_now": "is"}


Grade = Literal["stop", "caution", "note"]
# what all findings of a part come to
Suits = Literal["suits", "caution", "stop"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One finding: where, how grave, and what.

    `grade`: "stop" must not be fitted, "caution" fit with care, "note" worth knowing. `place` or `part` is empty where
    the finding is not about one; `piece` is the tag of a single piece.
    """

    place: str = ""
    part: str = ""
    piece: str | None = None
    grade: Grade
    fact: Fact

    @property
    def code(self) -> FindingCode:
        """The kind of what was found."""
        return self.fact.code


@dataclass(frozen=True, slots=True)
class Broken:
    """A rule is broken: the grade it has unless the seat says otherwise, and what decided."""

    grade: Grade
    fact: Fact


class Lack(StrEnum):
    """What a rule can lack: first of a seat, then of a part."""

    NO_SEAT = "no_seat"
    NO_SHAFT_DIAMETER = "no_shaft_diameter"
    NO_COUNTERBORE = "no_counterbore"
    NO_FACE = "no_face"
    NO_GROOVE = "no_groove"
    NO_FILLET = "no_fillet"
    NO_NEXT_RING = "no_next_ring"
    NO_LIMIT_PRESSURE = "no_limit_pressure"
    NO_KEYWAY = "no_keyway"
    NO_MOVING_FACE = "no_moving_face"
    NO_BORE = "no_bore"
    NO_OUTSIDE = "no_outside"
    NO_EDGE = "no_edge"
    NO_FORM = "no_form"
    NO_MATERIAL = "no_material"
    NO_HARDNESS = "no_hardness"
    OTHER_HARDNESS_SCALE = "other_hardness_scale"

    @property
    def of_part(self) -> bool:
        """Whether each part lacks it for itself, rather than the seat for all of them."""
        return list(Lack).index(self) >= list(Lack).index(Lack.NO_BORE)


@dataclass(frozen=True, slots=True)
class Unknown:
    """A rule that cannot be checked for what is missing: nothing is guessed."""

    missing: Lack


class Unchecked(NamedTuple):
    """A rule, by its name among RULES, that was not checked, and what it lacked."""

    rule: str
    lack: Lack


# None: the part suits
Answer = Broken | Unknown | None
Rule = Callable[[Part, Seat], Answer]
