"""What a shop's records say of a supplier's sizes: how thick its pieces run, for chances alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated

from pydantic import AfterValidator, model_validator

from shimopt.errors import RefusedError
from shimopt.fields import JobTable, PositiveLength, Text
from shimopt.lengths import Bracket
from shimopt.parts import StockLine

# an offset is told from so much of half the printed tolerance on
MATTERS = Fraction(1, 4)
# a mean so far off its marking is another marking's
_FARTHEST = 4


@dataclass(frozen=True, slots=True)
class LearntSize:
    """Pieces of a supplier marked `marked` are `mean` thick on average [nm].

    `lot` is the standard deviation that the pieces of a lot have in common, `piece` that from piece to piece. `of_lot`
    is the one lot that it is of, "" for lots that nobody measured: then `lot` is how well its mean is known. Of that
    `offset` is the same for all lots of this supplier and marking.
    """

    supplier: str
    marked: int
    mean: int
    lot: int
    piece: int
    of_lot: str = ""
    offset: int = 0

    def runs_off(self, printed: Bracket) -> Fraction:
        """By how much its pieces run thicker than the middle of what is printed; 0 where that does not matter."""
        off = self.mean - printed.best
        return off if abs(off) >= MATTERS * (printed.high - printed.low) / 2 else Fraction(0)


class LearntSizeTable(JobTable):
    """One `[[true_size]]`."""

    supplier: Text
    marked: PositiveLength
    mean: PositiveLength
    lot: PositiveLength
    piece: PositiveLength
    of_lot: Text | None = None
    offset: PositiveLength | None = None

    @model_validator(mode="after")
    def _near_its_marking(self) -> LearntSizeTable:
        if not self.marked < _FARTHEST * self.mean < _FARTHEST**2 * self.marked:
            raise RefusedError("the mean is far from what is marked", "look at the units of both")
        if (self.offset or 0) > self.lot:
            raise RefusedError("what all lots share is more than what a lot has in common", "make offset at most lot")
        return self

    def size(self) -> LearntSize:
        """The size as the program uses it."""
        return LearntSize(
            self.supplier, self.marked, self.mean, self.lot, self.piece, self.of_lot or "", self.offset or 0
        )


def _which(table: LearntSizeTable) -> tuple[str, int, str | None]:
    return table.supplier, table.marked, table.of_lot


def _each_once(tables: list[LearntSizeTable]) -> list[LearntSizeTable]:
    for number, table in enumerate(tables):
        if any(_which(table) == _which(other) for other in tables[:number]):
            raise RefusedError("one size of one supplier stands there twice", "keep the newer one")
    return tables


LearntSizes = Annotated[list[LearntSizeTable], AfterValidator(_each_once)]


def learnt_by_line(stock: Sequence[StockLine], sizes: Sequence[LearntSize]) -> Mapping[int, LearntSize]:
    """What is known of each stock line that nobody measured: by who delivered it, or alone offers it."""
    known = {(size.supplier, size.marked, size.of_lot): size for size in sizes}
    found = dict[int, LearntSize]()
    for number, line in enumerate(stock if known else ()):
        suppliers = {line.part.supplier} if line.part.supplier else {offer.supplier for offer in line.offers}
        if len(suppliers) != 1 or line.part.measured:
            continue
        of = next(iter(suppliers)), line.part.marked or 0
        # of a lot that was measured more is known than of all that its supplier delivers
        size = known.get((*of, line.part.lot)) or known.get((*of, ""))
        if size is not None:
            found[number] = size
    return found
