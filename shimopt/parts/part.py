"""A shim or spacer, how many of it are on hand, and at what terms it can be bought."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import KW_ONLY, dataclass, field
from decimal import Decimal
from fractions import Fraction

from shimopt.errors import RefusedError
from shimopt.lengths import Bracket

_CHUNKS = re.compile(r"[0-9]+|[^0-9]+")
_MOST_MONEY = 10**9
_MONEY_DECIMALS = 6

# these take up play and set none: how thick one is depends on how hard it is pressed
SPRINGS = ("wavy", "spring", "disc spring")
FORMS = ("ring", "slotted", "tabbed", "spacer", *SPRINGS)
# what a catalogue or a tin calls them where nobody states the form
_CALLED = {
    "wavy": re.compile(r"\bwavy\b|\b(wave|waved|curved|crinkle)[ -]+(washer|spring|ring)s?\b", re.IGNORECASE),
    "spring": re.compile(r"\bspring[ -]+(lock[ -]+)?washers?\b", re.IGNORECASE),
    "disc spring": re.compile(r"\bdis[ck][ -]+springs?\b|\bconical[ -]+spring\b", re.IGNORECASE),
}
# what a piece without a tag is called by, with the name of the table that it came with: `parcel row 3`
ROW = " row "


def natural_key(text: str) -> tuple[tuple[int, int, str], ...]:
    """A sorting key in which S-2 comes before S-10."""
    return tuple([(0, int(c), c) if c[0] in "0123456789" else (1, 0, c) for c in _CHUNKS.findall(text)])


def called(name: str, piece: str | None) -> str:
    """A part's name with the tag of one of several like pieces, as both were typed: `S-10 [a]`."""
    return f"{name} [{piece}]" if piece else name


def is_worn(thickness: Fraction, marked: Fraction | int | None) -> bool:
    """Whether a piece is thinner by more than a twentieth of its marking: worn, or never what it is marked.

    Common practice, no source: 0.125 in has been found at 0.114. Either way it is measured all round before it is used.
    """
    return marked is not None and thickness < Fraction(marked) * 19 / 20


def is_thick(thickness: Fraction, marked: Fraction | int | None) -> bool:
    """Whether a piece is thicker by more than a twentieth of its marking: another one (common practice, no source)."""
    return marked is not None and thickness > Fraction(marked) * 21 / 20


def money_of(amount: Decimal) -> Decimal:
    """An amount of money, as it is. Raises RefusedError."""
    if not 0 <= amount <= _MOST_MONEY or -int(amount.normalize().as_tuple().exponent) > _MONEY_DECIMALS:
        raise RefusedError("money is from 0 up to a thousand million, with at most six decimals", "write it like 6.50")
    return amount


# a slip of a point is ten times, one of a unit 25.4 or more, a wrong label hardly ever eight (common practice)
_OFF_LABEL = 8


def off_label(read: Fraction, label: Fraction) -> bool:
    """Whether a thickness is of another order than its label: wear and wrong labels do not explain it."""
    return not label / _OFF_LABEL < read < label * _OFF_LABEL


@dataclass(frozen=True, slots=True)
class Part:
    """A part with its dimensions [nm].

    `piece` tags one of several like pieces; `thickness` is the measured bracket where it was measured, else the marked
    one with its tolerance; `marked` the marking alone; `inner` and `outer` are diameters, `edge` the chamfer of the
    bore's edge, None where nobody said; `form` is one of FORMS; `provenance` says where its figures are from;
    `supplier` who delivered this piece and `lot` the lot it came in, where its row says so; `tolerance` how far above
    and below the marking the label of a measured piece allows it, where that is stated.
    """

    name: str
    thickness: Bracket
    piece: str | None = None
    measured: bool = False
    marked: int | None = None
    _: KW_ONLY
    inner: Bracket | None = None
    outer: Bracket | None = None
    material: str = ""
    form: str = ""
    at: str = ""
    note: str = ""
    hardness: str = ""
    edge: int | None = None
    provenance: str = ""
    # who sold it makes no other part of it
    supplier: str = field(default="", compare=False)
    lot: str = field(default="", compare=False)
    # what it measures decides, whatever its label allows
    tolerance: tuple[int, int] | None = field(default=None, compare=False)

    @property
    def printed(self) -> Bracket | None:
        """What the label of a measured piece allows; None where it states no tolerance."""
        if self.marked is None or self.tolerance is None:
            return None
        above, below = self.tolerance
        return Bracket.between(self.marked - below, self.marked + above)

    @property
    def tag_is_row(self) -> bool:
        """Whether the row of the table that it came with stands for a tag, which nobody wrote on it."""
        table, row, number = (self.piece or "").rpartition(ROW)
        return bool(table and row) and number.isdecimal()

    @property
    def but_thickness(self) -> tuple[object, ...]:
        """What else may make it suit or not."""
        return self.inner, self.outer, self.material, self.form, self.hardness, self.edge

    @property
    def known_by(self) -> tuple[str, str | None, Bracket]:
        """What tells it from others: rows of one name may be of another measure, and of another material."""
        return self.name, self.piece, self.thickness

    @property
    def like(self) -> tuple[str, Fraction]:
        """What pieces of equal packs have in common: their name, and the measure of one that is not as marked."""
        best = self.thickness.best
        other = self.measured and (is_worn(best, self.marked) or is_thick(best, self.marked))
        return self.name, best if other else Fraction(0)

    @property
    def worn(self) -> bool:
        """Whether it was measured, and found far thinner than it is marked."""
        return self.measured and is_worn(self.thickness.best, self.marked)

    @property
    def spring(self) -> str:
        """Which of SPRINGS it is, by its form or, where that is blank, by what it is called; empty for others."""
        if self.form:
            return self.form if self.form in SPRINGS else ""
        called = f"{self.name} {self.note}"
        return next((form for form, words in _CALLED.items() if words.search(called)), "")

    @property
    def is_spring(self) -> bool:
        """Whether it gives under load, so that its thickness sets no clearance."""
        return bool(self.spring)

    @property
    def unconfirmed(self) -> bool:
        """Whether some or all of its figures are from memory or second hand, and not from a document that was seen."""
        return self.provenance.casefold().startswith(("memory", "second hand"))

    @property
    def judges_labels(self) -> bool:
        """Whether a piece that is not as these figures say is wrongly labelled: they were seen, or are a shop's own."""
        return self.provenance.casefold() in ("", "seen")

    @property
    def order(self) -> tuple[object, ...]:
        """Natural order of parts: by name, then tag, then thickness; never by the row they stood on."""
        # asked of every row of a table: nothing is gone through that may be named
        name, piece, thick, inner, outer = self.name, self.piece or "", self.thickness, self.inner, self.outer
        key = (natural_key(name), name, natural_key(piece) if piece else (), piece, thick.low, thick.high)
        bore = (inner.low, inner.high) if inner else ()
        return (*key, *bore, outer.low, outer.high) if outer else (*key, *bore)


@dataclass(frozen=True, slots=True)
class Offer:
    """Terms at which a part can be bought: `price` for one pack of `pack` pieces, None where nobody said.

    `price_from` holds bundle prices, (10, 0.80): from 10 packs on, each costs 0.80; counts rise, prices fall. Where the
    job says what the offer's own currency costs, prices are in the job's currency: `charged_in` is its own, `rate` what
    one of it costs. `row` is where it stands in the catalogue.
    """

    price: Decimal | None
    pack: int = 1
    currency: str = ""
    supplier: str = ""
    lead_days: int | None = None
    catalogue: str = ""
    _: KW_ONLY
    price_from: tuple[tuple[int, Decimal], ...] = ()
    rate: Decimal = Decimal(1)
    charged_in: str = ""
    row: int | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class StockLine:
    """One kind of piece: like pieces are one line with a count.

    `row` is where it stands in the drawer's file, `typed_in` the unit of the column that gives its thickness;
    `held` how many of it are held for the job in a stock that several jobs share, `coming` how many are on order there
    that it may count on, `coming_for_it` how many of these were ordered for it, and `coming_for_others` titles and
    pieces on order for other jobs.
    """

    part: Part
    on_hand: int
    offers: tuple[Offer, ...] = ()
    row: int | None = field(default=None, compare=False)
    typed_in: str = field(default="", compare=False)
    held: int = field(default=0, compare=False)
    coming: int = field(default=0, compare=False)
    _: KW_ONLY
    coming_for_it: int = field(default=0, compare=False)
    coming_for_others: tuple[tuple[str, int], ...] = field(default=(), compare=False)


def sizes_of(lines: Iterable[StockLine]) -> list[Fraction]:
    """Every thickness that stock lines have by their best estimate, each once, in order [nm]."""
    # rows of a table share their figures, and exact fractions are slow to compare
    shared = {id(size): size for size in (line.part.thickness.best for line in lines)}
    return sorted({*shared.values()})
