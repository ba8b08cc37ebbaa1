"""The seat: the geometry that a shim sits on, what it allows, and the limits that its fit is judged by."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from fractions import Fraction

from shimopt.lengths import Bracket

# findings about a part or a stack on a seat: a seat may give each another grade
GRADED = (
    "bore_too_small",
    "bore_too_large",
    "bore_may_be_too_large",
    "outside_too_large",
    "off_centre_uncovered",
    "off_centre_uneven",
    "drops_into_groove",
    "stands_over_groove",
    "stands_on_fillet",
    "may_stand_on_fillet",
    "rubs_next_ring",
    "near_next_ring",
    "carries_nothing",
    "carries_too_little",
    "pressure_too_high",
    "pressure_may_be_too_high",
    "thin_wall",
    "too_thin",
    "very_thin",
    "form_not_allowed",
    "slotted_on_moving_face",
    "tab_has_no_room",
    "needs_tab",
    "material_not_allowed",
    "soft_on_moving_face",
    "mixed_bores",
    "stack_over_groove",
)
ORDERS = ("thin between thick", "thin outside")


@dataclass(frozen=True, slots=True)
class Face:
    """The land that a shim bears on, between two diameters [nm]."""

    inner: Bracket
    outer: Bracket


@dataclass(frozen=True, slots=True)
class Groove:
    """An undercut or relief of the shaft: its diameter, and from where to where it runs from the face [nm]."""

    diameter: Bracket
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Pressure:
    """A limit of surface pressure [N/mm²] and who states it; `memory` where the figure is from memory."""

    value: Fraction
    source: str
    memory: bool = False


@dataclass(frozen=True, slots=True)
class Limits:
    """What the rules compare with. All defaults are common practice without a published source.

    `clear`: least distance from the next ring, on the radius [nm]; `carried`: least share of the land that is carried;
    `width`: least share of the centred contact width that is left on the bare side at full shift; `over_groove`:
    largest share of a part's width that may stand over a groove; `wall`: least ring wall in thicknesses; `pressure`: no
    default; `hardness`: least hardness against a moving face, as text ("350 HV", "35 HRC"), empty for the default of
    either scale.
    """

    clear: int = 250_000
    carried: Fraction = Fraction(3, 5)
    width: Fraction = Fraction(1, 2)
    over_groove: Fraction = Fraction(1, 2)
    wall: Fraction = Fraction(3)
    pressure: Pressure | None = None
    hardness: str = ""


@dataclass(frozen=True, slots=True)
class Seat:
    """The geometry that a shim sits on, and what the seat allows. None: nobody said, and nothing is guessed.

    `bore_play` is the largest allowed difference of a part's bore and the shaft, None for the default; `bore` the
    counterbore; `grooves` is empty where there surely is none; `fillet` the radius between shaft and face; `chamfer` is
    taken off the outer edge of the face; `next_ring` the diameter that a shim must stay inside of; `keyway` whether a
    tab finds room; `tab` whether a shim must have one; `moving_face` whether something turns against the shims, on
    the side away from the face; `load` axial [N]; `absent` names features (bore, next_ring) of which the job says that
    there is none; `grades` sets the grade of findings by their code.
    """

    name: str
    shaft: Bracket | None = None
    bore_play: int | None = None
    most_pieces: int | None = None
    _: KW_ONLY
    shims_allowed: bool = True
    why: str = ""
    bore: Bracket | None = None
    face: Face | None = None
    grooves: tuple[Groove, ...] | None = None
    fillet: int | None = None
    chamfer: int = 0
    next_ring: Bracket | None = None
    keyway: bool | None = None
    tab: bool | None = None
    moving_face: bool | None = None
    load: Fraction | None = None
    fewest_pieces: int = 0
    thinnest: int | None = None
    forms: tuple[str, ...] = ()
    materials: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()  # which parts it takes, by name: "W-*"; empty for all
    order: str = ""
    limits: Limits = Limits()
    grades: tuple[tuple[str, str], ...] = ()
    absent: frozenset[str] = frozenset()
