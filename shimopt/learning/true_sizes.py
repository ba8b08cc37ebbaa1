"""What a supplier's pieces of one marking really measure: deviation = offset + lot + piece + gauge.

The offset is common to all that the supplier delivers, a lot's own part to its pieces; both are integrated in closed
form, given the spread of lots and the spread of pieces within a lot, and these two are summed over a grid. How likely
either spread is beforehand (half a Student's t with three degrees of freedom) and how far off an offset may be (normal)
is scaled by half the printed tolerance. A lot of few pieces is drawn towards the others, one of many is not (partial
pooling; Gelman and others, Bayesian Data Analysis, chapter 5).

The gauge has two parts: what differs from piece to piece (`own`), and what the micrometer adds to all of them. The
latter cannot be told from the offset by any number of pieces, and is put on top of what is known of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from shimopt.learning.mixture import Floats, Mixture

# both spreads, in halves of the printed tolerance: from so little that it matters to nobody to four times all of it
_GRID = np.geomspace(0.02, 4.0, 28)
# what is likely beforehand: a piece off by a third of the half tolerance, a lot by as much, an offset by all of it
_PIECE, _LOT, _OFFSET = 0.4, 0.4, 1.0
_DOF = 3
# an even error of half-width a has the variance a²/3 (JCGM 100:2008, 4.3.7)
_EVEN = 3.0


@dataclass(frozen=True, slots=True)
class Piece:
    """One measured piece: how far from the middle of what is printed, of which lot; `own` is ± of this piece alone."""

    deviation: float
    lot: str
    own: float = 0.0


@dataclass(frozen=True, slots=True)
class TrueSizes:
    """What is known after `pieces`: mixtures of deviations from the middle of what is printed.

    `offset` is the mean of all that the supplier delivers, `next_lot` a piece of a lot that nobody measured yet, and
    `of_lot` a piece of each lot; `in_common` is how much of what is open of a lot all lots share. It, `lot_spread` and
    `piece_spread` are standard deviations, by their means.
    """

    pieces: tuple[Piece, ...]
    offset: Mixture
    next_lot: Mixture
    of_lot: dict[str, Mixture]
    in_common: dict[str, float]
    lot_spread: float
    piece_spread: float


def true_sizes(pieces: Sequence[Piece], half: float, common: float = 0.0) -> TrueSizes:
    """What pieces tell of all of their marking.

    Parameters: half, half the printed tolerance, above 0; common, ± of the micrometer, the same for all pieces.
    Lengths in any one unit.
    """
    scaled = [replace(p, deviation=p.deviation / half, own=p.own / half) for p in pieces]
    lots = sorted({piece.lot for piece in pieces})
    of_lot = np.array([[piece.lot == lot for piece in pieces] for lot in lots], float).reshape(len(lots), len(pieces))
    off = np.array([piece.deviation for piece in scaled], float)
    own = np.array([piece.own**2 / _EVEN for piece in scaled], float)
    # by the spread of pieces, then by lot: how much is known of its mean, the mean, what is left of each piece
    precise = 1 / (_GRID[:, None] ** 2 + own)
    known = precise @ of_lot.T
    means = (precise * off) @ of_lot.T / known
    left = (precise * (off - means @ of_lot) ** 2).sum(axis=1)
    within = (np.log(precise).sum(axis=1) - left - np.log(known).sum(axis=1)) / 2
    # by both spreads, then by lot: the variance of its mean about the offset
    about = _GRID[None, :, None] ** 2 + 1 / known[:, None, :]
    told = 1 / about
    precision = told.sum(axis=2) + 1 / _OFFSET**2
    offset = (told * means[:, None, :]).sum(axis=2) / precision
    fit = (told * (means[:, None, :] - offset[:, :, None]) ** 2).sum(axis=2) + (offset / _OFFSET) ** 2
    likely = within[:, None] + (np.log(told).sum(axis=2) - np.log(precision) - fit) / 2
    likely = likely + _likely(_GRID / _PIECE)[:, None] + _likely(_GRID / _LOT)[None, :]
    weights = np.exp(likely - likely.max()).ravel()
    weights /= weights.sum()
    piece, lot = (np.broadcast_to(grid, likely.shape).ravel() ** 2 for grid in (_GRID[:, None], _GRID[None, :]))
    shared = (common / half) ** 2 / _EVEN

    def mixture(mean: Floats, variance: Floats) -> Mixture:
        return Mixture(weights, mean.ravel() * half, (variance.ravel() + shared) * half**2)

    # of a lot: its own mean, drawn towards the offset by as much as lots are alike
    drawn = 1 / (known[:, None, :] * about)
    own_mean = means[:, None, :] * (1 - drawn) + offset[:, :, None] * drawn
    own_variance = (1 - drawn) / known[:, None, :] + drawn**2 / precision[:, :, None]
    spread = piece.reshape(likely.shape)
    # two lots err together by as much as either is drawn towards an offset that is not known
    together = np.tensordot(weights.reshape(likely.shape), drawn**2 / precision[:, :, None], 2) + shared
    return TrueSizes(
        tuple(pieces),
        mixture(offset, 1 / precision),
        mixture(offset, 1 / precision + (piece + lot).reshape(likely.shape)),
        {name: mixture(own_mean[:, :, at], own_variance[:, :, at] + spread) for at, name in enumerate(lots)},
        {name: float(together[at]) ** 0.5 * half for at, name in enumerate(lots)},
        float(weights @ np.sqrt(lot)) * half,
        float(weights @ np.sqrt(piece)) * half,
    )


def _likely(size: Floats) -> Floats:
    """The logarithm of half a Student's t, on a grid of logarithms: its density times the spread."""
    found: Floats = np.log(size) - (_DOF + 1) / 2 * np.log(1 + size**2 / _DOF)
    return found
