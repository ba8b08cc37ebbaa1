"""What job.toml may hold of places that are written out: `[[place]]`, `effects` of a gap, `equal`."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, StrictBool, field_validator, model_validator

from shimopt.job.fields import JobTable, NotNegative, Reach, Text, wrong
from shimopt.job.gears import bevel_effect, pitch_angle, trial_effect
from shimopt.job.model import EffectSource
from shimopt.lengths import Bracket, LengthError, parse_number

__all__ = ["EffectTable", "InstalledTable", "PiecesTable", "PlaceTable", "effect_value", "equal_lists", "some_effect"]

_LARGEST_EFFECT = 1000


def _number(value: Any) -> Fraction:
    """An exact number: a TOML number, or text such as "1/3"."""
    if isinstance(value, Fraction):
        return value
    if isinstance(value, bool) or not isinstance(value, int | Decimal | str):
        raise wrong("an effect is a number", 'write it like -1, 0.68 or "1/3"')
    try:
        number = parse_number(str(value))
    except LengthError as error:
        raise wrong(error.rule, error.remedy) from None
    if abs(number) > _LARGEST_EFFECT or number.denominator > 10**12:
        raise wrong(f"an effect lies within ±{_LARGEST_EFFECT}, with at most 12 decimals", "check the figure")
    return number


def _few(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= 50:
        raise wrong("a number of pieces is a whole number from 0 to 50", "write it like 3")
    return value


def _tooth_count(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 3 <= value <= 1000:
        raise wrong("a number of teeth is a whole number from 3 to 1000", "count them")
    return value


def _angle(value: Any) -> Fraction:
    angle = _number(value)
    if not 5 <= angle <= 45:
        raise wrong("a pressure angle lies between 5 and 45 degrees", "write it in degrees, mostly 20")
    return angle


def _share(value: Any) -> Fraction:
    share = _number(value)
    if not 0 < share <= 1:
        raise wrong("a share lies above 0 and is at most 1", "write 0.5 where two packs hold the gear between them")
    return share


class PiecesTable(JobTable):
    """`pieces` of a place."""

    min: Annotated[int, BeforeValidator(_few)] = 0
    max: Annotated[int | None, BeforeValidator(lambda value: None if value is None else _few(value))] = None

    @model_validator(mode="after")
    def _in_order(self) -> PiecesTable:
        if self.max is not None and self.min > self.max:
            raise wrong(f"min {self.min} is above max {self.max}", "swap them")
        return self


class InstalledTable(JobTable):
    """A piece that was in during the reading; a bare text is its part."""

    part: Text
    piece: Text | None = None
    measured: Reach | None = None

    @field_validator("measured")
    @classmethod
    def _above_zero(cls, value: Bracket | None) -> Bracket | None:
        if value is not None and value.low <= 0:
            raise wrong("a thickness is above zero over its whole tolerance", "measure the piece again")
        return value


def _installed(value: Any) -> Any:
    return {"part": value} if isinstance(value, str) else value


class PlaceTable(JobTable):
    """One `[[place]]`."""

    name: Text
    seat: Text | None = None
    pieces: PiecesTable = PiecesTable()
    installed: list[Annotated[InstalledTable, BeforeValidator(_installed)]] = Field(default_factory=list)
    keep: StrictBool = True
    keep_within: NotNegative | None = None

    @field_validator("name")
    @classmethod
    def _not_a_store(cls, value: str) -> str:
        if value in ("bench", "drawer", "order"):
            raise wrong("a place has a name that no store of pieces has", "give it another name")
        return value

    @model_validator(mode="after")
    def _not_too_many(self) -> PlaceTable:
        if len(self.installed) > 50:
            raise wrong("at most 50 pieces can be in one place", "check what was in")
        return self


class BevelTable(JobTable):
    """A bevel pair with shafts at right angles: teeth of pinion and wheel, and which of the two the shim moves."""

    teeth: list[Annotated[int, BeforeValidator(_tooth_count)]]
    pressure_angle: Annotated[Fraction, BeforeValidator(_angle)]
    on: Literal["wheel", "pinion"]
    into_mesh: StrictBool = False
    share: Annotated[Fraction, BeforeValidator(_share)] = Fraction(1)

    @field_validator("teeth")
    @classmethod
    def _two(cls, value: list[int]) -> list[int]:
        if len(value) != 2:
            raise wrong("teeth are those of the pinion and of the wheel", "write teeth = [20, 40]")
        return value

    def effect(self) -> Fraction:
        """What a shim does to the backlash: it opens it, or closes it where it pushes the gear into mesh.

        `share` is how much of its thickness moves the gear: half where two packs hold it between them.
        """
        found = bevel_effect(self.pressure_angle, pitch_angle((self.teeth[0], self.teeth[1]), self.on), self.share)
        return -found if self.into_mesh else found


class TrialTable(JobTable):
    """A gap read with a known pack in place."""

    stack: Reach
    reading: Reach


class EffectTable(JobTable):
    """An effect that is computed, or stated with its source; a stated `figure` wins over what is computed."""

    figure: Annotated[Fraction | None, BeforeValidator(lambda value: None if value is None else _number(value))] = None
    source: Text | None = None
    bevel: BevelTable | None = None
    trial: list[TrialTable] | None = None

    @model_validator(mode="after")
    def _can_be_known(self) -> EffectTable:
        if self.figure is None and self.bevel is None and self.trial is None:
            raise wrong("an effect is stated or computed", "give it figure = ..., bevel = { ... } or trial = [ ... ]")
        if self.bevel is not None and self.trial is not None:
            raise wrong("an effect is computed one way", "keep bevel or trial")
        if self.trial is not None:
            if len(self.trial) != 2:
                raise wrong("an effect takes two trial readings", "read the gap with two packs of different thickness")
            thin, thick = sorted((row.stack for row in self.trial), key=lambda stack: stack.best)
            if thin.low < 0 or thin.high >= thick.low:
                raise wrong("the two packs cannot be told apart in thickness", "try packs that differ by more")
        return self

    def known(self, place: str) -> EffectSource:
        """The effect and where it comes from."""
        source = self.source or ""
        if self.bevel is not None:
            geometry = self.bevel.effect()
            effect = geometry if self.figure is None else self.figure
            teeth = (self.bevel.teeth[0], self.bevel.teeth[1])
            kind = "bevel" if self.figure is None else "figure"
            return EffectSource(
                place, kind, effect, source, geometry, teeth=teeth, angle=self.bevel.pressure_angle, on=self.bevel.on
            )
        if self.trial is not None:
            one, two = self.trial
            low, best, high = trial_effect((one.stack, two.stack), (one.reading, two.reading))
            effect = best if self.figure is None else self.figure
            return EffectSource(
                place,
                "trial" if self.figure is None else "figure",
                effect,
                source,
                low=low,
                high=high,
                geometry=None if self.figure is None else best,
            )
        assert self.figure is not None
        return EffectSource(place, "figure", self.figure, source)


def effect_value(value: Any) -> Any:
    """A table that says how the effect is known; a bare number is its figure."""
    return value if isinstance(value, dict) else {"figure": _number(value)}


def some_effect(effects: dict[str, EffectTable] | None) -> dict[str, EffectTable] | None:
    """Effects of which at least one is not zero."""
    if effects is not None and not any(table.known("").effect for table in effects.values()):
        rule = "all effects are zero: no place moves this gap" if effects else "effects name at least one place"
        raise wrong(rule, "say what a shim does: -1 closes the gap, 1 opens it; or leave effects out")
    return effects


def equal_lists(value: Any) -> Any:
    """One list of places, or a list of such lists, as a list of lists with two places or more."""
    if not isinstance(value, list):
        return value
    lists = value if any(isinstance(inner, list) for inner in value) else [value]
    for names in lists:
        if not isinstance(names, list) or len(names) < 2:
            raise wrong("equal packs are those of at least two places", 'write equal = ["left", "right"]')
        if all(isinstance(name, str) for name in names) and len(set(names)) < len(names):
            raise wrong("a name stands twice in this list", "name each place once")
    return lists
