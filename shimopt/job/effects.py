"""What moves a gap: `effects`, stated, by the geometry of bevel gears, or from two trial readings."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, StrictBool, field_validator, model_validator

from shimopt.assembly.gears import bevel_effect, pitch_angle, trial_effect
from shimopt.errors import RefusedError
from shimopt.fields import JobTable, Reach, SourceText, whole_number
from shimopt.job.gap import EffectSource
from shimopt.lengths import parse_number

_LARGEST_EFFECT = 1000
# effects divide a nanometre by their common denominator. Twice the longest length (10 m, 1e10 nm; a middle has halves)
# in such ticks is 2e18 then: four of them still add up within 64 bits (9.2e18)
FINEST_EFFECT = 10**8


def _number(value: Any) -> Fraction:
    """An exact number: a TOML number, or text such as "1/3"."""
    if isinstance(value, Fraction):
        return value
    if isinstance(value, bool) or not isinstance(value, int | Decimal | str):
        raise RefusedError("an effect is a number", 'write it like -1, 0.68 or "1/3"')
    number = parse_number(str(value))
    if abs(number) > _LARGEST_EFFECT or number.denominator > FINEST_EFFECT:
        raise RefusedError(
            f"an effect lies within ±{_LARGEST_EFFECT}, with at most eight decimals",
            'check the figure, and round it, or write a fraction such as "1/3"',
        )
    return number


def _angle(value: Any) -> Fraction:
    angle = _number(value)
    if not 5 <= angle <= 45:
        raise RefusedError("a pressure angle lies between 5 and 45 degrees", "write it in degrees, mostly 20")
    return angle


def _share(value: Any) -> Fraction:
    share = _number(value)
    if not 0 < share <= 1:
        raise RefusedError(
            "a share lies above 0 and is at most 1", "write 0.5 where two packs hold the gear between them"
        )
    return share


class BevelTable(JobTable):
    """A bevel pair with shafts at right angles: teeth of pinion and wheel, and which of the two the shim moves."""

    teeth: list[Annotated[int, whole_number(3, 1000, "a number of teeth", "count them")]]
    pressure_angle: Annotated[Fraction, BeforeValidator(_angle)]
    on: Literal["wheel", "pinion"]
    into_mesh: StrictBool | None = None
    share: Annotated[Fraction, BeforeValidator(_share)] | None = None

    @field_validator("teeth")
    @classmethod
    def _two(cls, value: list[int]) -> list[int]:
        if len(value) != 2:
            raise RefusedError("teeth are those of the pinion and of the wheel", "write teeth = [20, 40]")
        return value

    def effect(self) -> Fraction:
        """What a shim does to the backlash: it opens it, or closes it where it pushes the gear into mesh.

        `share` is how much of its thickness moves the gear (all of it where nothing is said): half where two packs
        hold it between them.
        """
        share = Fraction(1) if self.share is None else self.share
        found = bevel_effect(self.pressure_angle, pitch_angle((self.teeth[0], self.teeth[1]), self.on), share)
        return -found if self.into_mesh else found

    @property
    def not_stated(self) -> tuple[str, ...]:
        """What is taken for granted."""
        return tuple(key for key in ("share", "into_mesh") if getattr(self, key) is None)


class TrialTable(JobTable):
    """A gap read with a known pack in place."""

    stack: Reach
    reading: Reach


class EffectTable(JobTable):
    """An effect that is computed, or stated with its source; a stated `figure` wins over what is computed."""

    figure: Annotated[Fraction, BeforeValidator(_number)] | None = None
    source: SourceText | None = None
    bevel: BevelTable | None = None
    trial: list[TrialTable] | None = None

    @model_validator(mode="after")
    def _can_be_known(self) -> EffectTable:
        if self.figure is None and self.bevel is None and self.trial is None:
            raise RefusedError(
                "an effect is stated or computed", "give it figure = ..., bevel = { ... } or trial = [ ... ]"
            )
        if self.bevel is not None and self.trial is not None:
            raise RefusedError("an effect is computed one way", "keep bevel or trial")
        if self.trial is not None:
            if len(self.trial) != 2:
                raise RefusedError(
                    "an effect takes two trial readings", "read the gap with two packs of different thickness"
                )
            thin, thick = sorted((row.stack for row in self.trial), key=lambda stack: stack.best)
            if thin.low < 0 or thin.high >= thick.low:
                raise RefusedError("the two packs cannot be told apart in thickness", "try packs that differ by more")
        if not self.known("").effect and self.figure is None:
            raise RefusedError(
                "this effect comes to 0 at three decimals, which is all that geometry or two readings can tell",
                "if the place moves the gap, state figure = ... with its source; else leave the place out",
            )
        return self

    def known(self, place: str) -> EffectSource:
        """The effect and where it comes from."""
        found = self._computed(place)
        if self.figure is None:
            return found
        computed = None if found.kind == "figure" else found.effect
        return replace(found, kind="figure", effect=self.figure, geometry=computed)

    def _computed(self, place: str) -> EffectSource:
        """What geometry or two trial readings make of it; a stand-in where only a figure is stated."""
        source = self.source or ""
        if self.bevel is not None:
            teeth, effect = (self.bevel.teeth[0], self.bevel.teeth[1]), self.bevel.effect()
            angle, on = self.bevel.pressure_angle, self.bevel.on
            return EffectSource(
                place,
                "bevel",
                effect,
                source,
                geometry=effect,
                teeth=teeth,
                angle=angle,
                on=on,
                not_stated=self.bevel.not_stated,
            )
        if self.trial is not None:
            one, two = self.trial
            low, best, high = trial_effect((one.stack, two.stack), (one.reading, two.reading))
            return EffectSource(place, "trial", best, source, low=low, high=high)
        return EffectSource(place, "figure", Fraction(0), source)


def _effect_value(value: Any) -> Any:
    """A table that says how the effect is known; a bare number is its figure."""
    return value if isinstance(value, dict) else {"figure": _number(value)}


def _some_effect(effects: dict[str, EffectTable] | None) -> dict[str, EffectTable] | None:
    """Effects of which at least one is not zero."""
    if effects is not None and not any(table.known("").effect for table in effects.values()):
        rule = "all effects are zero: no place moves this gap" if effects else "effects name at least one place"
        raise RefusedError(rule, "say what a shim does: -1 closes the gap, 1 opens it; or leave effects out")
    return effects


Effects = Annotated[
    dict[str, Annotated[EffectTable, BeforeValidator(_effect_value)]] | None, AfterValidator(_some_effect)
]


def effects_of(
    name: str, stated: Mapping[str, EffectTable] | None, places: Collection[str] | None, own: Fraction
) -> tuple[tuple[tuple[str, Fraction], ...], tuple[EffectSource, ...]]:
    """What moves a gap, and where the figures come from.

    A gap that states no effects is moved by the place of its own name, by `own`. `places` are those written out, None
    where none are: then every gap has such a place; else it may have none.
    """
    if stated is None:
        return (((name, own),) if places is None or name in places else ()), ()
    known = [table.known(place) for place, table in stated.items()]
    effects = tuple((found.place, found.effect) for found in known if found.effect)
    # a bare number needs no more words
    told = tuple(found for found in known if found.kind != "figure" or found.source or found.geometry is not None)
    return effects, told
