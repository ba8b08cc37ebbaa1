"""Plans against values that nobody here worked out, the source beside each."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

import pytest

from shimopt.candidates import stacks_between
from shimopt.job import Balance, Gap, Job, Place, Seat, Window
from shimopt.lengths import Bracket, length_of
from shimopt.parts import Part, StockLine
from shimopt.planner import decide
from shimopt.readings import feeler_reading
from shimopt.readings.feeler import Spot
from shimopt.reasons.shared_reasons import NotWithin
from tests.jobs import fitted, gap, job, shim, window

# Change making: the fewest coins for an amount. Tables of public change-making test data, worked out again by dynamic
# programming: (sizes, counts, amount, fewest pieces).
CHANGE = [
    ([1, 3, 4], None, 6, 2),  # taking the largest first needs 3
    ([1, 4, 5, 8, 11], None, 29, 4),
    ([1, 2, 6, 12, 24, 48, 60], None, 96, 2),
    ([16, 17, 23, 24, 39, 40], None, 100, 6),  # taking the largest first finds none
    ([5, 9, 13], None, 19, 3),
    ([10, 15, 20, 30, 50, 100], [2, 2, 2, 2, 2, 1], 175, 4),
    ([4, 6, 9], [1, 2, 1], 19, 3),
    ([18, 9, 23, 20, 59, 61, 70, 75, 76, 30], [1, 2, 3, 2, 1, 1, 1, 2, 1, 2], 190, 3),
]

# Subset sums: (weights, target, number of solutions). Public subset-sum instances, solutions counted again.
SUBSET_SUMS = [
    ("15 22 14 26 32 9 16 8", 53, 3),
    ("267 493 869 961 1000 1153 1246 1598 1766 1922", 5842, 1),
    (
        "518533 1037066 2074132 1648264 796528 1593056 686112 1372224 244448 488896 977792 1955584 1411168 322336 "
        "644672 1289344 78688 157376 314752 629504 1259008",
        2463098,
        1,
    ),
    ("81 80 43 40 30 26 12 11 9", 100, 1),
    ("1 2 4 8 16 32", 22, 1),
    ("25 27 3 12 6 15 9 30 21 19", 50, 1),
]


def amount(sizes: list[int], counts: list[int] | None, total: int) -> Job:
    """One place with room for eight pieces, where only a stack of exactly `total` brings the gap to nothing."""
    many = counts or [total // min(sizes) + 1] * len(sizes)
    lines = [shim(size, count, unit="um") for size, count in zip(sizes, many, strict=True)]
    return job([gap("shaft", total, total, window(0, 0, unit="um"), unit="um")], lines, most=8)


@pytest.mark.parametrize(("sizes", "counts", "total", "fewest"), CHANGE)
def test_the_fewest_pieces_are_those_of_the_change_making_tables(
    sizes: list[int], counts: list[int] | None, total: int, fewest: int
) -> None:
    of = amount(sizes, counts, total)
    decision = decide(of)
    assert decision.outcome.levels["pieces"] == fewest
    assert decision.outcome.gaps["shaft"].after == Bracket.between(0, 0)
    assert decision.proven


def test_what_no_sizes_add_up_to_gets_nothing() -> None:
    """6, 9 and 20 cannot make 43, the Frobenius number of the three, and make everything above it."""
    assert decide(amount([6, 9, 20], None, 43)).stacks["shaft"] == ()
    for total in range(44, 50):
        assert decide(amount([6, 9, 20], None, total)).stacks["shaft"]


@pytest.mark.parametrize(("weights", "target", "solutions"), SUBSET_SUMS)
def test_stacks_of_one_thickness_are_as_many_as_the_subset_sum_tables_say(
    weights: str, target: int, solutions: int
) -> None:
    sizes = [int(weight) for weight in weights.split()]
    found = stacks_between(sizes, [1] * len(sizes), min(len(sizes), 8), target, target)
    assert len(found) == solutions
    assert all(sum(sizes[kind] for kind in stack) == target for stack in found)


def test_like_pieces_are_not_counted_twice() -> None:
    """Subset-sum instance P04 has two solutions by index, which differ by the 3 they take: one stack of like pieces."""
    weights = [41, 34, 21, 20, 8, 7, 7, 4, 3, 3]
    assert len(stacks_between(weights, [1] * 10, 10, 50, 50)) == 2
    pieces = Counter(weights)
    sizes = list(pieces)
    (stack,) = stacks_between(sizes, [pieces[size] for size in sizes], 10, 50, 50)
    assert sorted((sizes[kind] for kind in stack), reverse=True) == [21, 8, 7, 7, 4, 3]


def test_an_inch_is_25_4_mm_in_every_plan() -> None:
    """International yard and pound agreement, 1959; NIST SP 811: 1 in = 25.4 mm exactly."""
    inch = length_of("1 in", None)
    assert inch == 25_400_000
    of = job([gap("shaft", 1, 1, window(0, 0, unit="mm"), unit="in")], [shim("25.4", 1, unit="mm")], most=1)
    assert decide(of).outcome.gaps["shaft"].after == Bracket.between(0, 0)


def test_a_built_up_reading_of_272_takes_268_for_a_float_of_4_thou() -> None:
    """Worked in a public manual: 1.008 + 0.030 - 0.686 - 0.080 = 0.272 in, less 0.004 float = 0.268 in."""
    read = 1008 + 30 - 686 - 80
    of = job([gap("bearing", read, read, window(4, 4))], [shim(250, 1), shim(18, 1), shim(20, 1)], most=3)
    assert fitted(decide(of).stacks, of) == {"bearing": ["S-18", "S-250"]}


def test_a_crankshaft_with_20_thou_of_thrust_is_left_5_by_a_15_thou_shim() -> None:
    """Common practice, no source: measured 0.020 in, most allowed 0.006, a 0.015 shim leaves 0.005."""
    of = job([gap("cam", 20, 20, window(1, 6))], [shim(15, 1), shim(10, 1)], most=1)
    decision = decide(of)
    assert fitted(decision.stacks, of) == {"cam": ["S-15"]}
    assert decision.outcome.gaps["cam"].after.best == 5 * 25_400


def test_wheel_end_play_of_1_to_5_thou_is_left_alone() -> None:
    """TMC RP 618: wheel-end play of 0.001 to 0.005 in is right."""
    of = job([gap("wheel", 1, 5, window(1, 5))], [shim(2, 4)])
    decision = decide(of)
    assert decision.stacks["wheel"] == ()
    assert decision.outcome.gaps["wheel"].verdict == "inside"


def test_the_blade_that_goes_and_the_next_that_does_not_bracket_the_gap() -> None:
    """Common practice, no source: 0.008 in goes and 0.009 in does not, so the gap is 8 to 9 thou."""
    read = feeler_reading([Spot(go=length_of("0.008 in", None), no_go=length_of("0.009 in", None))]).bracket
    assert read == Bracket(Fraction(8 * 25_400), Fraction(17, 2) * 25_400, Fraction(9 * 25_400))


def two_arms(within: int | None, seat: Seat | None) -> Job:
    """Common practice, no source: a tight pull at 14 and at 10 thou, blades 1 thou apart, at least 4."""
    allowed = Window(4 * 25_400, None, "common practice")
    arms = tuple(
        Gap(name, feeler_reading([Spot(snug=blade * 25_400, step=25_400)]), allowed, ((name, Fraction(-1)),), seat)
        for name, blade in (("left arm", 14), ("right arm", 10))
    )
    places = tuple(Place(arm.name, seat, 3) for arm in arms)
    row = Balance("arms", ("left arm", "right arm"), None if within is None else within * 25_400)
    ring = Part("R-5", Bracket.between(5 * 25_400, 5 * 25_400), inner=Bracket.between(15_875_000, 15_875_000))
    return Job("arms", "thou", arms, places, (row,), (StockLine(ring, 2),))


def test_two_arms_inside_their_window_need_nothing_however_uneven() -> None:
    decision = decide(two_arms(None, None))
    assert not any(decision.stacks.values())
    assert decision.outcome.doable
    assert [reason.code for reason in decision.reasons if reason.about == "arms"] == ["left_uneven"]


def test_one_piece_of_5_thou_brings_two_arms_within_2_thou() -> None:
    """By hand: 14 - 5 = 9 against 10 is 1 thou apart; asked for is 2."""
    of = two_arms(2, None)
    decision = decide(of)
    assert fitted(decision.stacks, of) == {"left arm": ["R-5"]}
    best = {name: found.after.best / 25_400 for name, found in decision.outcome.gaps.items()}
    assert best == {"left arm": 9, "right arm": 10}
    assert decision.outcome.doable


def test_two_arms_stay_uneven_with_reasons_when_the_piece_does_not_suit_the_seat() -> None:
    """By hand: a bore of 5/8 in (15.875 mm) does not go over a 16 mm shaft; 14 and 10 stay 4 thou apart, 2 too many."""
    decision = decide(two_arms(2, Seat("thrust face", Bracket.between(16_000_000, 16_000_000))))
    assert not any(decision.stacks.values())
    assert not decision.outcome.doable
    assert {(found.place, found.code) for found in decision.findings if found.grade == "stop"} == {
        ("left arm", "bore_too_small"),
        ("right arm", "bore_too_small"),
    }
    (reason,) = (reason for reason in decision.reasons if reason.about == "arms")
    assert reason.code == "not_within"
    assert isinstance(reason, NotWithin)
    assert (reason.before, reason.after, reason.within, reason.over) == (4 * 25_400, 4 * 25_400, 2 * 25_400, 2 * 25_400)
