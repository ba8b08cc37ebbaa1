"""A reading: the bracket in which a gap lies, how it was got, and what had to be assumed."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import KW_ONLY, dataclass, replace
from fractions import Fraction
from math import ceil, floor
from typing import Any, Literal

from shimopt.lengths import Bracket
from shimopt.probability import Error, Even, Normal, Student, error_of, half_width

Basis = Literal["worst case", "95 %"]
Shape = Literal["rectangular", "triangular", "normal"]
# how blades tell a best estimate
Told = Literal["", "pair", "snug", "spots"]
LIKELY_SHARE = Fraction(95, 100)


@dataclass(frozen=True, slots=True)
class Term:
    """One number or one error that a reading is built of [nm].

    `code` says what it is ("pulls", "dimension", "resolution" ...), `name` what the user called it; `amount` is what it
    adds to the gap (0 for an error alone), `half` how far it can be off at worst, `errors` how it is spread; `assumed`
    whether `half` is a common-practice figure because none was stated; `count` how many pulls, leaves or per cent;
    `as_read` what `half` is on the instrument, where a lever's angle scales it; `apart` how far apart pulls were on it.
    """

    code: str
    amount: Fraction
    half: Fraction
    errors: tuple[Error, ...]
    name: str = ""
    assumed: bool = False
    count: Fraction | None = None
    as_read: Fraction | None = None
    _: KW_ONLY
    apart: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """A gap's bracket [nm, exact].

    `kind` says which instrument or form it came from ("value", "feeler", "indicator", "built_up", "cover_gap",
    "table", "record" as predicted or "record after fitting"); `basis` whether the bracket is a hard bound or holds with
    95 %; `no_preload_assumed` that one end is zero only by assumption (no preload, or a cover that does not rest on the
    case yet); `tilt` how far apart spots lie that should agree, 0 where they do [nm], `spots` from where to where they
    then read; `spread` how its error is distributed, None where the bracket alone says it; `terms` what it is built of;
    `worst` and `likely` the bracket on either basis, where both are known; `pulls` how often an indicator was pulled;
    `stated_exact` that no tolerance was given, though a shift widens it; `unmoved` the bracket without a shift, None
    where there is none; `no_blade` the blade that would not go where that is all that one spot told [nm]; `by` how
    blades told the best estimate: by a "pair" that goes and does not, a "snug" one, or the mean of several "spots";
    `first` the kind of the reading before the first record, "" where it is that reading itself; `repeats` the standard
    deviation of one reading of its gauge, where the shop knows it [nm].
    """

    bracket: Bracket
    kind: str
    basis: Basis = "worst case"
    _: KW_ONLY
    no_preload_assumed: bool = False
    tilt: Fraction = Fraction(0)
    spots: Bracket | None = None
    spread: tuple[Error, ...] | None = None
    terms: tuple[Term, ...] = ()
    worst: Bracket | None = None
    likely: Bracket | None = None
    pulls: int | None = None
    stated_exact: bool = False
    unmoved: Bracket | None = None
    no_blade: int | None = None
    by: Told = ""
    first: str = ""
    repeats: int | None = None

    @property
    def opens(self) -> bool:
        """Whether shims open the gap and what is read is minus it: read under a cover pulled down without shims."""
        return self.kind == "cover_gap"

    @property
    def sign(self) -> int:
        """What the clearance is times what is read: -1 where shims open the gap."""
        return -1 if self.opens else 1

    @property
    def recorded(self) -> bool:
        """Whether it comes from a record: of the machine as it stands now, not of a trial assembly."""
        return self.kind in ("record", "record after fitting")

    @property
    def calculated(self) -> bool:
        """Whether nobody has taken it since what is in was changed: it is as predicted then."""
        return self.kind == "record"

    @property
    def after_fitting(self) -> bool:
        """Whether it was taken after a fitting."""
        return self.kind == "record after fitting"

    @property
    def found(self) -> Bracket:
        """What was found at the machine, without what may move until the final assembly."""
        return self.unmoved or self.bracket

    @property
    def shift(self) -> Fraction:
        """How far it may move yet, ± until the final assembly [nm]: no finer gauge takes that away."""
        return sum((term.half for term in self.terms if term.code == "shift"), Fraction(0))

    @property
    def taken_as_exact(self) -> bool:
        """Whether a single number without any tolerance was given."""
        return self.bracket.exact or self.stated_exact

    @property
    def uneven_pulls(self) -> Student | None:
        """How well the pulls of a dial repeat by their own spread; None where they do not differ, or are too few."""
        spread = self.errors if self.kind == "indicator" else ()
        return next((error for error in spread if isinstance(error, Student)), None)

    @property
    def errors(self) -> tuple[Error, ...]:
        """The errors of the best estimate, each independent of the others."""
        return error_of(self.bracket) if self.spread is None else self.spread

    def moved_by(self, shift: int) -> Reading:
        """The reading of a gap that may move by ± `shift` [nm] between trial and final assembly: a wider bracket."""
        if not shift:
            return self
        term = Term("shift", Fraction(0), Fraction(shift), (Even(Fraction(shift)),))
        if self.likely is not None:
            moved = estimated(self.kind, (*self.terms, term), self.basis, self.bracket.best)
            return replace(moved, pulls=self.pulls, unmoved=self.bracket)
        wider = Bracket(self.bracket.low - shift, self.bracket.best, self.bracket.high + shift)
        return replace(
            self,
            bracket=wider,
            worst=None,
            spread=(*self.errors, *term.errors),
            terms=(*self.terms, term),
            stated_exact=self.bracket.exact,
            unmoved=self.bracket,
        )

    def repeating(self, deviation: int) -> Reading:
        """The reading by a gauge whose single readings have this standard deviation [nm]: its chances know of it.

        Its bracket stays: what is called sure never rests on what a gauge did before. Of pulls it takes the place of
        what their own spread, or common practice, says.
        """
        square, errors = Fraction(deviation) ** 2, self.errors
        if self.likely is not None:
            lever = next((term.count for term in self.terms if term.code == "lever" and term.count), Fraction(1))
            # the smallest round a wheel is one pull
            pulls = self.pulls if self.terms[0].code == "pulls" and self.pulls else 1
            square *= lever**2 / pulls
            others = (term for term in self.terms if term.code not in ("repeats", "repeatability"))
            errors = tuple(error for term in others for error in term.errors)
        return replace(self, spread=(*errors, Normal(square)), repeats=deviation)

    def negated(self) -> Reading:
        """The reading of minus the same length."""
        read = self.bracket
        terms = tuple(replace(term, amount=-term.amount) for term in self.terms)
        return replace(self, bracket=Bracket(-read.high, -read.best, -read.low), terms=terms)


def from_nothing(read: Bracket) -> bool:
    """Whether a reading begins at nothing, as where no blade goes, or was typed as 0: it may hide a preload."""
    return read.low == 0 or read.best == 0


def spread_of_95(read: Bracket, dof: int) -> tuple[Error, ...]:
    """How a best estimate errs whose bracket holds it 19 times in 20: as a mean of `dof` + 1 pulls, else normally."""
    half = (read.high - read.low) / 2
    unit = Fraction(1_000_000)
    of_unit: Error = Student(unit**2, dof) if dof > 1 else Normal(unit**2)
    square = (half * unit / half_width((of_unit,), LIKELY_SHARE)) ** 2
    return ((Student(square, dof) if dof > 1 else Normal(square)),) if half else ()


def estimated(kind: str, terms: Iterable[Term], basis: Basis, best: Fraction | None = None) -> Reading:
    """A reading whose terms combine: both brackets, rounded outward to whole nanometres, and the one that is asked for.

    `best` is the sum of the terms unless given. Worst case: all errors at their worst at once. 95 %: the symmetric
    interval that holds 95 % of the sum of the errors.
    """
    terms = tuple(terms)
    errors = tuple(error for term in terms for error in term.errors)
    best = sum((term.amount for term in terms), Fraction(0)) if best is None else best
    worst = _outward(best, sum((term.half for term in terms), Fraction(0)))
    likely = _outward(best, Fraction(half_width(errors, LIKELY_SHARE)))
    return Reading(
        worst if basis == "worst case" else likely, kind, basis, spread=errors, terms=terms, worst=worst, likely=likely
    )


def _outward(best: Fraction, half: Fraction) -> Bracket:
    return Bracket(Fraction(floor(best - half)), best, Fraction(ceil(best + half)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A way in which a gap can be read: the key of a gap's table that holds it, and how it becomes a Reading.

    `field` is the type of the key's value, with the validators that refuse what cannot be; `read` makes the reading of
    such a value, with the spread of a stated ± and the basis asked for; `takes_shape` whether it states a ± that can be
    spread; `bare` says of the value as it was written whether a reading stands in it as a bare number; `blades` gives
    the two neighbouring blades [nm] where one such pair read it; `shims_in` whether it is read with the shims in or
    out, None where it does not say; `read_round_wheel` makes the reading of several between teeth, where that is not
    the same.
    """

    key: str
    field: Any
    read: Callable[[Any, Shape, Basis], Reading]
    takes_shape: bool = False
    bare: Callable[[Any], bool] = lambda _: False
    blades: Callable[[Any], tuple[int, int] | None] = lambda _: None
    shims_in: Callable[[Any], bool | None] = lambda _: None
    read_round_wheel: Callable[[Any, Basis], Reading] | None = None
