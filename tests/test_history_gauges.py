"""How well a gauge repeats: the likelihood by quadrature, made-up gauges of known truth behind blades of many steps."""

from __future__ import annotations

from math import floor, sqrt

import numpy as np
import pytest
from scipy import integrate, stats

from shimopt.learning.gauge_pairs import GaugeKnown, GaugePair, gauges_of
from shimopt.learning.true_gauge import Pair, _second_given_first, repeatability
from shimopt.words.history_words import gauge_lines


def read(rng: np.random.Generator, gap: float, off: float, step: float) -> tuple[float, float]:
    """Between which blades a gap is found."""
    blade = floor((gap + rng.normal(0, off)) / step)
    return blade * step, (blade + 1) * step


def made_up(rng: np.random.Generator, off: float, step: float, pairs: int, other: float = 0.0) -> list[Pair]:
    found = []
    for _ in range(pairs):
        gap = rng.uniform(5, 40)
        found.append(Pair(read(rng, gap, off, step), read(rng, gap + rng.normal(0, other), off, step), other**2))
    return found


def scatter(pairs: list[Pair]) -> float:
    """What one would take it to be by the readings alone: the root of half the mean square of their differences."""
    return sqrt(np.mean([(sum(pair.first) - sum(pair.second)) ** 2 / 4 for pair in pairs]) / 2)


@pytest.mark.parametrize("spread", [0.05, 0.4, 3.0])
@pytest.mark.parametrize("second", [(0.0, 1.0), (1.0, 2.0), (2.5, 3.0), (-0.7, 0.6)])
def test_the_chance_of_the_second_reading_by_quadrature(spread: float, second: tuple[float, float]) -> None:
    def upper(y: float) -> float:
        return float(stats.norm.cdf((second[1] - y) / spread) - stats.norm.cdf((second[0] - y) / spread))

    by_hand, _ = integrate.quad(upper, 0.0, 1.0, points=[0.3, 0.6, 0.9, 0.99], epsabs=1e-12)
    found = _second_given_first(np.array([[0.0, 1.0]]), np.array([second]), np.array([[spread]]))
    assert float(found[0, 0]) == pytest.approx(by_hand, abs=1e-9)


def test_all_second_readings_together_are_certain() -> None:
    """From far below to far above, blade by blade: the chances sum to one."""
    seconds = np.array([(float(k), k + 1.0) for k in range(-30, 30)])
    firsts = np.tile([0.0, 1.0], (60, 1))
    assert _second_given_first(firsts, seconds, np.full((1, 60), 2.0)).sum() == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize(("off", "plain"), [(0.1, 2.0), (0.3, 1.3), (1.0, None), (3.0, None)])
def test_gauges_of_known_truth_behind_blades(off: float, plain: float | None) -> None:
    """60 gauges of 40 pairs, blades a step of 1 apart: 95 % hold, hardly biased. Scatter alone is, near the step."""
    rng = np.random.default_rng(round(100 * off))
    sets = [made_up(rng, off, 1.0, 40) for _ in range(60)]
    known = [repeatability(pairs) for pairs in sets]
    assert sum(one.low <= off <= one.high for one in known) >= 54
    assert np.median([one.middle for one in known]) == pytest.approx(off, rel=0.12)
    if plain is not None:
        assert np.mean([scatter(pairs) for pairs in sets]) > plain * off


def test_scatter_alone_calls_a_gauge_perfect_that_never_shows() -> None:
    """Far below the step all pairs read the same: scatter says 0, and the truth is only that it is fine enough."""
    rng = np.random.default_rng(5)
    pairs = [Pair((gap, gap + 1.0), (gap, gap + 1.0)) for gap in rng.integers(5, 40, 25).astype(float)]
    known = repeatability(pairs)
    assert scatter(pairs) == 0
    assert (known.shows, known.same) == (False, 25)
    assert 0.01 < known.high < 0.2


def test_errors_of_pieces_and_seat_are_taken_off() -> None:
    """A gauge of 0.4, pieces and seat of 0.5: told of them it is found, not told it is called far worse."""
    rng = np.random.default_rng(6)
    told = [made_up(rng, 0.4, 0.5, 60, other=0.5) for _ in range(25)]
    untold = [[Pair(pair.first, pair.second) for pair in pairs] for pairs in told]
    known = [repeatability(pairs) for pairs in told]
    assert np.median([one.middle for one in known]) == pytest.approx(0.4, rel=0.2)
    assert sum(one.low <= 0.4 <= one.high for one in known) >= 22
    assert np.median([repeatability(pairs).middle for pairs in untold]) > 0.5


def test_a_mean_of_several_pulls_repeats_better() -> None:
    """First the mean of four pulls: its variance counts a quarter, 1.25 in all. Graduations are fine beside it."""
    rng = np.random.default_rng(7)
    pairs = []
    for _ in range(200):
        gap, mean, once = rng.uniform(5, 40), rng.normal(0, 0.5), rng.normal(0, 1.0)
        pairs.append(Pair((gap + mean, gap + mean + 0.1), (gap + once, gap + once + 0.1), repeats=1.25))
    assert repeatability(pairs).middle == pytest.approx(1.0, rel=0.12)


def test_one_slip_carries_nothing_and_is_named() -> None:
    rng = np.random.default_rng(9)
    pairs = made_up(rng, 0.5, 1.0, 30)
    slip = Pair((12.0, 13.0), (25.0, 26.0), name="the slip")
    clean, spoilt = repeatability(pairs), repeatability([*pairs, slip])
    assert [pair.name for pair in spoilt.wild] == ["the slip"]
    assert spoilt.middle == pytest.approx(clean.middle, rel=0.03)
    assert scatter([*pairs, slip]) > 2 * scatter(pairs)


def test_one_pair_shows_no_gauge_to_be_finer_than_its_graduation() -> None:
    """Alike once between blades 0.05 mm apart is likely, too, of a gauge that is off by that; forty times it is not."""
    pairs = [Pair((300_000, 350_000), (300_000, 350_000))]
    assert repeatability(pairs).high > 50_000
    said = [" ".join(gauge_lines(GaugeKnown("set 1", repeatability(pairs * count), 0), "mm")) for count in (1, 40)]
    assert "coarser than its graduation, so it says nothing yet" in said[0]
    assert "finer than its graduation shows" in said[1]


def test_below_twenty_pairs_there_is_a_range_and_no_figure() -> None:
    rng = np.random.default_rng(10)
    pairs = [GaugePair("a", pair) for pair in made_up(rng, 0.5, 1.0, 19)]
    (few,) = gauges_of(pairs)
    (enough,) = gauges_of([*pairs, *(GaugePair("a", pair) for pair in made_up(rng, 0.5, 1.0, 1))])
    assert (few.enough, enough.enough) == (False, True)
