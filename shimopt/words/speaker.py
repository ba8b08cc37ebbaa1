"""Who speaks: one unit for all lengths, one stock whose parts are named; and names, counts and chances in a row."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, field, replace
from fractions import Fraction
from itertools import groupby
from typing import TYPE_CHECKING

from shimopt.errors import shown
from shimopt.lengths import Bracket, spelled, to_digits

if TYPE_CHECKING:  # a batch says its few sentences without all that a plan needs
    from shimopt.arithmetic.clearance import Stack
    from shimopt.arithmetic.needed import Span
    from shimopt.job import Gap, Job, Seat
    from shimopt.job.gap import Side
    from shimopt.parts import StockLine
    from shimopt.parts.drawer import FittedPiece

_LIKELY = 0.75  # from such a chance on something is called probable
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


@dataclass(frozen=True, slots=True)
class Speaker:
    """Says lengths in `unit` (`say(nm)`), and parts and stacks of `stock` by their names, as `seats` order them.

    `loaded` where a clearance can be a preload: then one above zero is called play. `digits` after the point where a
    column holds so many, the same for all; `ends` how many the brackets of a plan are shown with at most, as read and
    after, rounded outward. Not `both` where what is else said in both systems of units is said in one. `had`: where the
    parts are that a plan may use. Without `tags` pieces are named as a customer knows them.
    """

    unit: str
    stock: Sequence[StockLine] = ()
    _: KW_ONLY
    with_unit: bool = True
    seats: Mapping[str, Seat | None] = field(default_factory=dict)
    loaded: bool = False
    digits: int | None = None
    ends: tuple[int, int] | None = None
    both: bool = True
    had: str = "in the drawer"
    tags: bool = True

    @classmethod
    def of(cls, job: Job, unit: str = "", *, buys: bool = False) -> Speaker:
        """The speaker of a job, in its unit or another; it knows the seats of the job's places and gaps.

        `buys` whether the plan that it speaks of may use what the catalogues offer.
        """
        seats = {gap.name: gap.seat for gap in job.gaps} | {place.name: place.seat for place in job.places}
        had = "that can be had" if buys else "in the drawer"
        return cls(unit or job.unit, job.stock, seats=seats, had=had)

    def __call__(self, nm: Fraction | int) -> str:
        """A length."""
        if self.digits is None:
            return spelled(nm, self.unit, with_unit=self.with_unit)
        text = to_digits(nm, self.unit, self.digits)
        return f"{text} {self.unit}" if self.with_unit else text

    def as_read(self, bracket: Bracket) -> Bracket:
        """What was read, rounded outward to the digits that readings are shown with."""
        return self._outward(bracket, 0)

    def as_after(self, bracket: Bracket) -> Bracket:
        """What a gap comes to, rounded outward to the digits that that is shown with."""
        return self._outward(bracket, 1)

    def _outward(self, bracket: Bracket, which: int) -> Bracket:
        return bracket if self.ends is None or bracket.exact else bracket.outward(self.unit, self.ends[which])

    @property
    def bare(self) -> Speaker:
        """The same speaker, leaving the unit out: for columns that name it in their head."""
        return replace(self, with_unit=False)

    @property
    def in_one_unit(self) -> Speaker:
        """The same speaker, saying no length in a second system of units."""
        return replace(self, both=False)

    def about(self, gap: Gap) -> Speaker:
        """The same speaker about one gap; where window or reading know preload, every clearance says which it is."""
        read = [] if gap.reading.opens else [gap.reading.bracket.low]
        limits = [Fraction(limit) for limit in (gap.window.min, gap.window.max) if limit is not None]
        return replace(self, loaded=any(end < 0 for end in [*read, *limits]))

    def bracket(self, low: Fraction | int, high: Fraction | int) -> str:
        """`0.350 to 0.365 mm`, or one number where both ends are the same."""
        return self(high) if low == high else " to ".join(self.both_ends(low, high)) + self._behind

    def both_ends(self, low: Fraction | int, high: Fraction | int) -> tuple[str, str]:
        """Two lengths that stand beside each other, without their unit: with as many digits as the finer one."""
        texts = self.bare(low), self.bare(high)
        if not all(text[-1].isdecimal() for text in texts):  # "under 0.0001 mm"
            return texts
        digits = max(len(text.partition(".")[2]) for text in texts)
        return to_digits(low, self.unit, digits), to_digits(high, self.unit, digits)

    @property
    def _behind(self) -> str:
        return f" {self.unit}" if self.with_unit else ""

    def span(self, span: Span, of: str = "") -> str:
        """`0.35 to 0.37 mm`, or `0.35 mm or more` where nothing ends it; `of` what it is of, such as ` of shim`."""
        return f"{self(span.least)}{of} or more" if span.most is None else f"{self.bracket(span.least, span.most)}{of}"

    def clearance(self, low: Fraction | int, high: Fraction | int) -> str:
        """A clearance from low to high; below zero it is a preload and called so, never a negative play."""
        if low >= 0:
            return f"play {self.bracket(low, high)}" if self.loaded else self.bracket(low, high)
        if high <= 0:
            return f"preload {self.bracket(-high, -low)}"
        pinched, loose = self.both_ends(-low, high)
        return f"preload {pinched} to play {loose}{self._behind}"

    def so_much(self, nm: Fraction | int) -> str:
        """`0.07 mm of play`, `0.02 mm of preload`."""
        return f"{self(max(nm, -nm))} of {'preload' if nm < 0 else 'play'}"

    def misses(self, read: Fraction | int, off: Fraction | int, side: Side, preload: bool) -> str:
        """`5.5 thou too loose`; where preload is wanted, what is read, and how far it is too loose or tight."""
        if not preload:
            return f"{self(off)} {loose_or_tight(side)}"
        wanted = " where preload is wanted" if read >= 0 else ""
        return f"{self.so_much(read)}{wanted}: {self(off)} {loose_or_tight(side)}"

    def from_to(self, start: Fraction | int, end: Fraction | int) -> str:
        """`from 3 to 4 thou`, `from 27.5 to 2.5 thou of preload`, `from preload 6.5 to play 8.5 thou`."""
        if start < 0 and end < 0:
            return f"from {' to '.join(self.both_ends(-start, -end))}{self._behind} of preload"
        if start >= 0 and end >= 0:
            return f"from {' to '.join(self.both_ends(start, end))}{self._behind}{' of play' if self.loaded else ''}"
        one, other = self.both_ends(max(start, -start), max(end, -end))
        sides = ["preload" if at < 0 else "play" for at in (start, end)]
        return f"from {sides[0]} {one} to {sides[1]} {other}{self._behind}"

    def window(self, low: Fraction | int | None, high: Fraction | int | None) -> str:
        """The limits of a window; a limit below zero is one of preload."""
        if low is not None and high is not None:
            return self.clearance(low, high)
        limit, at_least = (low, True) if low is not None else (high or 0, False)
        # of a preload, more is less clearance
        return f"at {'least' if at_least == (limit >= 0) else 'most'} {self.clearance(limit, limit)}"

    def named(self, index: int) -> str:
        """A part's name, with its tag where it has one."""
        return self.tagged(self.stock[index].part.name, self._tag(index))

    def tagged(self, name: str, piece: str | None) -> str:
        """The name of a part, with the tag of one of several like pieces."""
        return tagged(name, piece if self.tags else None)

    def known(self, name: str, piece: str | None, thickness: Bracket | None) -> str:
        """The same of the piece of such a thickness, as `part` calls it; by name and tag where it is in no stock."""
        from shimopt.parts.part import natural_key

        key = natural_key(name)
        at = bisect_left(self.stock, key, key=lambda line: natural_key(line.part.name))
        while thickness is not None and at < len(self.stock) and natural_key(self.stock[at].part.name) == key:
            if self.stock[at].part.known_by == (name, piece, thickness):
                return self.part(at)
            at += 1
        return self.tagged(name, piece)

    def part(self, index: int) -> str:
        """The same; of a measured piece with its measure, where another of that name is of another thickness."""
        part, name = self.stock[index].part, self.named(index)
        twins = (self.stock[i].part for i in self._of_one_name(index) if self._tag(i) == self._tag(index))
        apart = part.measured and any(one.thickness.best != part.thickness.best for one in twins)
        return f"{name} (measured {self(part.thickness.best)})" if apart else name

    def _tag(self, index: int) -> str | None:
        """A piece's tag; one that its row in a table gave it, and nobody wrote on it, only where need be."""
        part = self.stock[index].part
        if not part.tag_is_row:
            return part.piece
        # what differs in more than its thickness may not suit where this one does
        unlike = any(self.stock[i].part.but_thickness != part.but_thickness for i in self._of_one_name(index))
        return part.piece if unlike else None

    def _of_one_name(self, index: int) -> Iterator[int]:
        """The others that it may be taken for: a stock is in natural order, so that one name's parts are neighbours."""
        row = self.stock[index].part.tag_is_row
        for step in (-1, 1):
            at = index + step
            while 0 <= at < len(self.stock) and self.stock[at].part.name == self.stock[index].part.name:
                if self.stock[at].on_hand or not row:
                    yield at
                at += step

    def stack(self, stack: Stack, at: str = "", within: Stack = ()) -> str:
        """A stack's parts as they go in at a place or at a gap's own place; `nothing` where it is empty.

        What is part of a larger stack, `within`, stands in the order of that.
        """
        seat = self.seats.get(at)
        if Counter(stack) - Counter(within):
            return self.row(stack, seat)
        from shimopt.seats import fitting_order

        left, found = Counter(stack), []
        for line in fitting_order(within, self.stock, seat):
            if left[line]:
                left[line] -= 1
                found.append(line)
        return self._counted(found)

    def _counted(self, lines: Sequence[int]) -> str:
        """Parts in this order, neighbours of one kind counted."""
        groups = [(name, len(list(group))) for name, group in groupby(self.part(i) for i in lines)]
        return " + ".join(f"{n} x {name}" if n > 1 else name for name, n in groups) or "nothing"

    def row(self, stack: Stack, seat: Seat | None = None) -> str:
        """A stack's parts as they go in on a seat, neighbours of one kind counted."""
        from shimopt.seats import fitting_order

        return self._counted(fitting_order(stack, self.stock, seat))

    def thick(self, stack: Stack) -> str:
        """How thick a stack is: its best estimate, or from where to where where no tin is marked with that."""
        from shimopt.arithmetic.clearance import thickness_of

        parts, whole = [self.stock[line].part for line in stack], thickness_of(stack, self.stock)
        marked = all(part.measured or part.marked in (None, part.thickness.best) for part in parts)
        return self(whole.best) if marked else self.bracket(whole.low, whole.high)

    def ordered(self, stack: Stack, seat: Seat | None) -> str:
        """The same, saying so where the order matters."""
        from shimopt.seats import order_matters

        mixed = order_matters(stack, self.stock, seat)
        face = "fixed face" if seat is not None and seat.moving_face else "face"
        return f"{self.row(stack, seat)}, in this order from the {face}" if mixed else self.row(stack, seat)

    def money(self, cost: Fraction) -> str:
        """A cost with its currency, where one is named."""
        currencies = {o.currency for line in self.stock for o in line.offers if o.price is not None and o.currency}
        amount = f"{float(cost):,.2f}"
        return f"{amount} {shown(min(currencies))}" if currencies else amount


def unit_name(unit: str) -> str:
    """What a unit is called in a sentence: `inches` for `in`."""
    return {"in": "inches"}.get(unit, unit)


def listed(names: Sequence[str], most: int = 6) -> str:
    """Names in a row: `a, b and c`."""
    safe = [shown(name) for name in names[:most]]
    if len(names) > most:
        safe.append(f"{len(names) - most} more")
    return safe[0] if len(safe) == 1 else f"{', '.join(safe[:-1])} and {safe[-1]}" if safe else ""


def tagged(name: str, piece: str | None) -> str:
    """A part by its name, with the tag of one of several like pieces, made harmless."""
    return f"{shown(name)} [{shown(piece)}]" if piece else shown(name)


def not_all_right(names: Sequence[str]) -> str:
    """`a and b cannot both be right`."""
    return f"{listed(names, 4)} cannot {'both be right' if len(names) == 2 else 'all be right at once'}"


def loose_or_tight(side: Side) -> str:
    """How a gap is outside."""
    return "too loose" if side == "over" else "too tight"


def begun(sentence: str) -> str:
    """A sentence with its first letter large."""
    return sentence[:1].upper() + sentence[1:]


def ended(text: str) -> str:
    """Text that somebody typed, made harmless, as a sentence: with a full stop where it does not end in a sign."""
    safe = shown(text, len(text)).rstrip()
    return safe if safe.endswith((".", "?", "!", "…")) else f"{safe}."


def number_word(count: int) -> str:
    """A small number as a word, a larger one in figures."""
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def sized(stack: str, thickness: str) -> str:
    """A stack with its thickness, which is not said twice: a part without a name is called by it."""
    return stack if stack == thickness or stack.endswith(f"(measured {thickness})") else f"{stack} ({thickness})"


def stack_wanted(fewest: int, size: str) -> str:
    """What a seat that takes at least two pieces wants: its size is that of the whole stack."""
    return f"a stack of at least {number_word(fewest)} pieces, {size} in all"


def plural(count: int | Fraction, word: str) -> str:
    """`1 piece`, `2 pieces`."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def pieces_text(pieces: Sequence[FittedPiece]) -> str:
    """Pieces that are in a place, joined by plus signs."""
    counted = Counter(tagged(p.part, p.piece) for p in pieces)
    return " + ".join(f"{n} x {name}" if n > 1 else name for name, n in counted.items())


def would_do(*, sure: bool) -> str:
    """What a stack would do that is not to be had."""
    return "would do it" if sure else "would do it by best estimate"


def probably(*chances: Fraction | float | None) -> str:
    """`probably` where each is likely enough to be called so (None: not reckoned), else `perhaps`."""
    return "probably" if all(chance is None or chance >= _LIKELY for chance in chances) else "perhaps"


def chance_text(chance: Fraction | float) -> str:
    """A probability in per cent; never 100 % or 0 % unless it is exactly that."""
    if chance in (0, 1):
        return f"{int(chance) * 100} %"
    if not 0.0005 <= chance < 0.9995:
        return ">99.9 %" if chance > 0.5 else "<0.1 %"
    return f"{float(chance) * 100:.1f} %"
