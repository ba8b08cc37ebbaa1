"""What a shop's records say of a supplier's sizes: how thick its pieces run, for chances alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated

from pydantic import AfterValidator, model_validator

from shimopt.errors import RefusedError
from shimopt.fields import JobTable, PositiveLength, Text
from shimopt.parts import StockLine

# a mean so far off its marking is another marking's
_FARTHEST = 4


@dataclass(frozen=True, slots=True)
class LearntSize:
    """Pieces of a supplier marked `marked` are `mean` thick on average [nm].

    `lot` is the standard deviation that the pieces of a lot have in common, `piece` that from piece to piece.
    """

    supplier: str
    marked: int
    mean: int
    lot: int
    piece: int


class LearntSizeTable(JobTable):
    """One `[[true_size]]`."""

    supplier: Text
    marked: PositiveLength
    mean: PositiveLength
    lot: PositiveLength
    piece: PositiveLength

    @model_validator(mode="after")
    def _near_its_marking(self) -> LearntSizeTable:
        if not self.marked < _FARTHEST * self.mean < _FARTHEST**2 * self.marked:
            raise RefusedError("the mean is far from what is marked", "look at the units of both")
        return self

    def size(self) -> LearntSize:
        """The size as the program uses it."""
        return LearntSize(self.supplier, self.marked, self.mean, self.lot, self.piece)


def _each_once(tables: list[LearntSizeTable]) -> list[LearntSizeTable]:
    for number, table in enumerate(tables):
        if any((table.supplier, table.marked) == (other.supplier, other.marked) for other in tables[:number]):
            raise RefusedError("one size of one supplier stands there twice", "keep the newer one")
    return tables


LearntSizes = Annotated[list[LearntSizeTable], AfterValidator(_each_once)]


def learnt_by_line(stock: Sequence[StockLine], sizes: Sequence[LearntSize]) -> Mapping[int, LearntSize]:
    """What is known of each stock line that nobody measured: by who delivered it, or alone offers it."""
    known = {(size.supplier, size.marked): size for size in sizes}
    found = dict[int, LearntSize]()
    for number, line in enumerate(stock if known else ()):
        suppliers = {line.part.supplier} if line.part.supplier else {offer.supplier for offer in line.offers}
        size = known.get((next(iter(suppliers)), line.part.marked or 0)) if len(suppliers) == 1 else None
        if size is not None and not line.part.measured:
            found[number] = size
    return found
