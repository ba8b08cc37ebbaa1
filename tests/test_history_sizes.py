"""What measured pieces tell of a supplier: by hand, by plain quadrature, and on made-up suppliers of known truth."""

from __future__ import annotations

from fractions import Fraction
from math import sqrt

import numpy as np
import pytest
from scipy import stats

from shimopt.learning import true_sizes as model
from shimopt.learning.mixture import Mixture
from shimopt.learning.pieces_measured import Measured
from shimopt.learning.supplier_sizes import SizeOf, names_alike, sizes_of
from shimopt.learning.true_sizes import Piece, true_sizes
from shimopt.lengths import Bracket


def measured(deviations: dict[str, list[float]], supplier: str = "Kestrel", half: int = 20_000) -> list[Measured]:
    """Pieces marked 0.20 mm by lot, deviations in halves of the printed tolerance."""
    return [
        Measured(
            supplier,
            lot,
            200_000,
            Bracket.between(200_000 - half, 200_000 + half),
            Fraction(200_000 + round(off * half)),
            Fraction(0),
            Fraction(0),
            name=f"{lot} {number}",
            piece=("S-20", ""),
        )
        for lot, offs in deviations.items()
        for number, off in enumerate(offs)
    ]


def made_up(rng: np.random.Generator, lots: int, pieces: int, lot: float, piece: float) -> tuple[float, list[Piece]]:
    """A supplier's true offset, and measured pieces of it."""
    offset = rng.normal(0, 0.5)
    own = [offset + rng.normal(0, lot) for _ in range(lots)]
    return offset, [Piece(mean + rng.normal(0, piece), str(at)) for at, mean in enumerate(own) for _ in range(pieces)]


def test_two_lots_with_known_spreads_by_hand(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both spreads 0.5, so that each piece has variance 0.25. Lot a (0.3, 0.1): mean 0.2, variance 0.125, about the
    offset 0.375; lot b (-0.2): 0.25, about the offset 0.5. The offset, beforehand 0 with variance 1: precision
    1/0.375 + 1/0.5 + 1 = 5.6667, mean (0.2/0.375 - 0.2/0.5)/5.6667 = 0.13333/5.6667 = 0.023529, variance 0.176471.
    Lot a: a third (0.125/0.375) is drawn from the offset: 0.2 * 2/3 + 0.023529/3 = 0.141176, variance
    0.125 * 2/3 + 0.176471/9 = 0.102941; a piece of it 0.25 more. Lengths in units of 3, as all scales with it.
    """
    monkeypatch.setattr(model, "_GRID", np.array([0.5]))
    found = true_sizes([Piece(0.9, "a"), Piece(0.3, "a"), Piece(-0.6, "b")], 3.0)
    assert found.offset.mean / 3 == pytest.approx(0.0235294)
    assert found.offset.variance / 9 == pytest.approx(0.1764706)
    assert found.next_lot.variance / 9 == pytest.approx(0.1764706 + 0.5)
    assert found.of_lot["a"].mean / 3 == pytest.approx(0.1411765)
    assert found.of_lot["a"].variance / 9 == pytest.approx(0.1029412 + 0.25)


def test_plain_quadrature_over_all_unknowns_says_the_same() -> None:
    """Offset, lot means and both spreads summed over grids of their own: nothing is integrated in closed form."""
    pieces = {"a": [0.3, 0.1, 0.35], "b": [-0.2, 0.1]}
    found = true_sizes([Piece(off, lot, own=0.2) for lot, offs in pieces.items() for off in offs], 1.0)
    spreads = np.geomspace(0.02, 4, 30)
    prior = spreads * stats.t(3).pdf(spreads / 0.4)
    offsets = lots = np.linspace(-4, 4, 241)
    joint = prior[:, None, None] * prior[None, :, None] * stats.norm.pdf(offsets)
    about = stats.norm.pdf(lots[None, :, None] - offsets[None, None, :], 0, spreads[:, None, None])
    # a spread of lots below the grid's step is no spread at all
    about /= about.sum(axis=1, keepdims=True)
    for offs in pieces.values():
        scale = np.sqrt(spreads[:, None] ** 2 + 0.2**2 / 3)
        likely = np.prod([stats.norm.pdf(off, lots, scale) for off in offs], axis=0)
        joint = joint * np.einsum("pl,tlo->pto", likely, about)
    joint /= joint.sum()
    mean = (joint * offsets).sum()
    variance = (joint * (offsets - mean) ** 2).sum()
    of_pieces, of_lots = (joint.sum(axis=axis) @ spreads**2 for axis in ((1, 2), (0, 2)))
    assert found.offset.mean == pytest.approx(mean, abs=0.003)
    assert sqrt(found.offset.variance) == pytest.approx(sqrt(variance), rel=0.02)
    assert sqrt(found.next_lot.variance) == pytest.approx(sqrt(variance + of_pieces + of_lots), rel=0.03)


def test_intervals_hold_on_suppliers_of_known_truth_and_are_not_biased() -> None:
    """300 suppliers, four lots of five: 95 % within 3 points. All pieces as one heap of 20 hold far less often."""
    rng = np.random.default_rng(2)
    next_lot = of_lot = heap = 0
    offs = []
    for _ in range(300):
        lot, piece = np.exp(rng.normal(np.log(0.3), 0.4, 2))
        offset, pieces = made_up(rng, 4, 5, lot, piece)
        found = true_sizes(pieces, 1.0)
        one = offset + rng.normal(0, lot) + rng.normal(0, piece)
        next_lot += 0.025 <= found.next_lot.up_to(one) <= 0.975
        all_of_them = np.array([each.deviation for each in pieces])
        reach = stats.t(19).ppf(0.975) * all_of_them.std(ddof=1) * sqrt(1 + 1 / 20)
        heap += abs(one - all_of_them.mean()) <= reach
        # one more of a lot is about the lot's own mean, which the pieces of it are about too
        own = [each.deviation for each in pieces if each.lot == "0"]
        of_lot += 0.025 <= true_sizes(pieces[1:], 1.0).of_lot["0"].up_to(own[0]) <= 0.975
        offs.append(found.offset.mean - offset)
    assert abs(next_lot / 300 - 0.95) <= 0.03
    assert abs(of_lot / 300 - 0.95) <= 0.03
    assert heap / 300 < 0.92
    assert abs(np.mean(offs)) <= 3 * np.std(offs) / sqrt(300)


def test_the_micrometer_common_to_all_pieces_is_not_averaged_away() -> None:
    """200 pieces to ± 0.3 of one micrometer: the offset is known no better, standard deviation 0.3/sqrt(3)."""
    rng = np.random.default_rng(4)
    _, pieces = made_up(rng, 20, 10, 0.05, 0.05)
    assert sqrt(true_sizes(pieces, 1.0).offset.variance) < 0.05
    assert 0.3 / sqrt(3) < sqrt(true_sizes(pieces, 1.0, common=0.3).offset.variance) < 0.2


def test_one_wild_piece_is_named_and_carries_nothing() -> None:
    """A 0.30 in a bag of 0.20: five halves of the tolerance off."""
    lots = {"a": [0.5, 0.6, 0.4, 0.55], "b": [0.3, 0.45, 0.35], "c": [0.6, 0.7, 0.5]}
    (clean,) = sizes_of(measured(lots))
    (spoilt,) = sizes_of(measured({**lots, "c": [0.6, 0.7, 0.5, 5.0]}))
    assert [piece.name for piece in spoilt.aside] == ["c 3"]
    assert spoilt.mean == clean.mean
    assert spoilt.next_lot == clean.next_lot
    # and a lot that is off as a whole is a lot, and no wild piece
    (with_lot,) = sizes_of(measured({**lots, "d": [-0.6, -0.5, -0.55]}))
    assert with_lot.aside == ()


def test_too_few_pieces_say_nothing_and_one_lot_nothing_of_the_next() -> None:
    (few,) = sizes_of(measured({"a": [0.9, 0.9], "b": [0.9, 0.9]}))
    assert (few.enough, few.runs_off, few.knows_next_lot, few.knows("a")) == (False, None, False, False)
    (one_lot,) = sizes_of(measured({"a": [0.1 + 0.02 * k for k in range(20)]}))
    assert (one_lot.knows("a"), one_lot.knows_next_lot) == (True, False)
    assert one_lot.more_lots is not None
    assert one_lot.more_lots >= 2


def test_a_maker_that_scatters_as_its_label_allows_leaves_the_label() -> None:
    """Spread evenly over all that is printed, from lot to lot as well: no dozen lots would know more."""
    lots = {str(lot): [lot / 3 + each for each in (-0.6, 0, 0.6)] for lot in range(-4, 5)}
    (size,) = sizes_of(measured(lots))
    assert (size.knows_next_lot, size.more_lots) == (False, None)


def test_how_many_more_to_measure_is_about_what_it_takes() -> None:
    """30 suppliers of whom two lots are known: after as many more as was said, half or more are known well enough."""
    rng = np.random.default_rng(8)
    asked = done = 0
    for _ in range(30):
        offset, pieces = made_up(rng, 2, 5, 0.2, 0.2)
        more = _size(pieces).more_lots
        if more is None:
            continue
        asked += 1
        for lot in range(more):
            mean = offset + rng.normal(0, 0.2)
            pieces += [Piece(mean + rng.normal(0, 0.2), f"more {lot}") for _ in range(5)]
        done += _size(pieces).knows_next_lot
    assert asked > 20
    assert 0.5 <= done / asked <= 0.95


def _size(pieces: list[Piece]) -> SizeOf:
    lots: dict[str, list[float]] = {}
    for piece in pieces:
        lots.setdefault(piece.lot, []).append(piece.deviation)
    (size,) = sizes_of(measured(lots))
    return size


def test_it_runs_thick_only_where_that_is_known_and_matters() -> None:
    lots = {lot: [0.62, 0.6, 0.64, 0.61] for lot in "abcde"}
    (thick,) = sizes_of(measured(lots))
    assert thick.runs_off is not None
    assert float(thick.runs_off) == pytest.approx(0.6175 * 20_000, rel=0.02)
    (hardly,) = sizes_of(measured({lot: [off - 0.5 for off in offs] for lot, offs in lots.items()}))
    assert hardly.runs_off is None


@pytest.mark.parametrize(
    ("one", "other", "asked"),
    [
        ("Kestrel Shim Works", "kestrel shimworks", True),
        ("Kestrel Shim Works", "Kestrel Shim Work", True),
        ("Kestrel Shim Works", "Osier Bearing Supply", False),
        ("Stock 1", "Stock 2", False),
        ("ABC", "ABD", False),
    ],
)
def test_a_supplier_written_in_two_ways_is_asked_about(one: str, other: str, asked: bool) -> None:
    """The name that stands less often is asked about, wherever it comes in the alphabet."""
    told = [(other, "row 2"), (one, "row 3"), (one, "row 4")]
    problems = names_alike(told, ())
    assert [(problem.value, problem.where, f"is this {one}?" in problem.rule) for problem in problems] == (
        [(other, "supplier, row 2", True)] if asked else []
    )
    assert not names_alike(told, (other,))


def test_what_two_lots_share_is_how_the_mean_of_all_is_known(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both spreads known: the covariance of two lots' means by the plain algebra of normal variables."""
    monkeypatch.setattr("shimopt.learning.true_sizes._GRID", np.array([0.3]))
    lots = ["a"] * 3 + ["b"] * 7
    offset, lot, piece = 1.0, 0.09, 0.09
    same = np.array([[one == other for other in lots] for one in lots], float)
    pieces = offset + lot * same + piece * np.eye(10)
    of_lots = np.array([[offset + lot * (name == one) for one in lots] for name in ("a", "b")])
    left = offset + lot * np.eye(2) - of_lots @ np.linalg.solve(pieces, of_lots.T)
    found = true_sizes([Piece(0.1 * n, one) for n, one in enumerate(lots)], 1.0)
    assert found.in_common["a"] * found.in_common["b"] == pytest.approx(left[0, 1])
    assert found.of_lot["a"].variance == pytest.approx(left[0, 0] + piece)


def test_shares_of_a_mixture_are_those_of_scipy() -> None:
    weights, means, variances = (np.array(of) for of in ([0.3, 0.7], [-1.0, 2.0], [0.5, 4.0]))
    mixture = Mixture(weights, means, variances)
    for x in (-3.0, 0.0, 2.5, 9.0):
        assert mixture.up_to(x) == pytest.approx(weights @ stats.norm.cdf(x, means, np.sqrt(variances)), abs=1e-12)
    low, high = mixture.interval()
    assert (mixture.up_to(low), mixture.up_to(high)) == (pytest.approx(0.025), pytest.approx(0.975))
