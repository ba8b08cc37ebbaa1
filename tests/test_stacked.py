"""What holds for a stack as a whole: the order of its pieces, bores alike, grooves further up, a least number."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import combinations_with_replacement

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shimopt.arithmetic.audit import short_places
from shimopt.candidates import stacks_between
from shimopt.job import Place, Seat
from shimopt.planner import decide
from shimopt.reasons.gap_reasons import PartsDoNotSuit
from shimopt.seats import fitting_order, order_matters, stack_findings
from tests.jobs import fitted, gap, job, shim, window
from tests.seats import groove, mm, nm

STOCK = tuple(sorted((shim(size, 5) for size in (2, 3, 5, 8, 10)), key=lambda line: line.part.order))
SIZES = [float(line.part.thickness.best / 25_400) for line in STOCK]


def order_of(sizes: list[int], order: str = "") -> list[float]:
    stack = [SIZES.index(size) for size in sizes]
    return [SIZES[i] for i in fitting_order(stack, STOCK, Seat("", order=order))]


def test_thin_pieces_go_between_thick_ones_unless_the_seat_says_otherwise() -> None:
    assert order_of([2, 8, 10]) == [10, 2, 8]
    assert order_of([2, 3, 5, 8, 10]) == [10, 5, 2, 3, 8]
    assert order_of([2, 8, 10], "thin outside") == [2, 10, 8]
    assert order_of([2, 2, 10, 10], "thin outside") == [2, 10, 10, 2]


@given(st.lists(st.integers(0, 4), max_size=6), st.sampled_from(["thin between thick", "thin outside"]))
def test_an_order_keeps_all_pieces_and_its_ends_are_the_thickest_or_the_thinnest(stack: list[int], order: str) -> None:
    found = fitting_order(stack, STOCK, Seat("", order=order))
    assert sorted(found) == sorted(stack)
    if len(stack) > 2:
        ends, sizes = sorted([SIZES[found[0]], SIZES[found[-1]]]), sorted(SIZES[i] for i in stack)
        assert ends == (sizes[-2:] if order == "thin between thick" else sizes[:2])


def turning(*pieces: tuple[str, str, str], order: str = "") -> list[str]:
    """Pieces (thickness in mm, hardness, form) of one stack, as they go in where the other side turns."""
    lines = [shim(size, 1, unit="mm") for size, _, _ in pieces]
    lines = [
        replace(line, part=replace(line.part, name=size, hardness=hardness, form=form))
        for line, (size, hardness, form) in zip(lines, pieces, strict=True)
    ]
    found = fitting_order(range(len(lines)), lines, Seat("front", moving_face=True, order=order))
    return [lines[i].part.name for i in found]


def test_the_hard_piece_goes_against_what_turns_and_the_thin_one_to_the_fixed_face() -> None:
    # common practice (hard washer at the turning face, shims at the still face), listed from the fixed face on
    assert turning(("1.588", "700 HV", "ring"), ("0.05", "soft", "ring")) == ["0.05", "1.588"]
    # hardness goes before thickness: a soft thick piece would wear
    assert turning(("0.5", "hard", "ring"), ("1", "soft", "ring")) == ["1", "0.5"]
    # nobody said how hard: thick against what turns, but never before one that is known to be hard
    assert turning(("0.5", "", "ring"), ("1", "", "ring"), ("0.1", "", "ring")) == ["0.1", "0.5", "1"]
    assert turning(("0.5", "700 HV", "ring"), ("1", "", "ring")) == ["1", "0.5"]
    # a slotted one can work its way out
    assert turning(("0.5", "hard", "ring"), ("1", "hard", "slotted")) == ["1", "0.5"]


def test_the_seats_own_order_comes_before_what_turns() -> None:
    pieces = (("0.2", "hard", "ring"), ("0.8", "soft", "ring"), ("1", "soft", "ring"))
    assert turning(*pieces, order="thin between thick") in (["0.8", "0.2", "1"], ["1", "0.2", "0.8"])
    # thin ones outside, as asked; of the two at the ends the hard one turns
    assert turning(*pieces, order="thin outside") == ["0.8", "1", "0.2"]


def findings(stack: tuple[int, ...], bores: list[str], seat: Seat) -> list[str]:
    lines = [shim(size, 5, unit="mm", inner=nm(bore)) for size, bore in zip(("0.3", "0.5"), bores, strict=True)]
    read = gap("a", 2, 2, window(0, 1, unit="mm"), seat=seat, unit="mm")
    planned = replace(job([read], lines, unit="mm"), stock=tuple(lines), places=(Place("a", seat, 3),))
    return [finding.code for finding in stack_findings(planned, {"a": stack})]


def test_mixed_bores_in_one_stack_are_a_caution() -> None:
    seat = Seat("journal", mm("16"))
    # of two pieces none lies between: there is no order to tell
    assert findings((0, 1), ["16.1", "16.2"], seat) == []
    assert findings((0, 1, 1), ["16.1", "16.2"], seat) == ["stack_order"]
    # common practice: more than 0.2 mm apart
    assert findings((0, 1), ["16.1", "16.31"], seat) == ["mixed_bores"]
    assert findings((0, 0), ["16.1", "16.31"], seat) == []


def test_a_piece_that_the_stack_lifts_over_a_groove_is_a_caution() -> None:
    # two pieces of 0.5 mm: the second lies from 0.5 to 1.0, over a groove from 0.5 to 0.9 by 80 % of its width
    over = Seat("journal", mm("16"), grooves=groove("15.9", "0.5", "0.9"))
    assert findings((1, 1), ["16.1", "16.1"], over) == ["stack_over_groove"]
    assert findings((1,), ["16.1", "16.1"], over) == []
    further = Seat("journal", mm("16"), grooves=groove("15.9", "1", "2"))
    assert findings((1, 1), ["16.1", "16.1"], further) == []


def test_a_plan_says_where_figures_are_from_memory() -> None:
    line = shim("0.3", 1, unit="mm")
    line = replace(line, part=replace(line.part, provenance="memory", note="from memory: size pair"))
    decision = decide(job([gap("a", "0.5", "0.5", window("0.1", "0.3", unit="mm"), unit="mm")], [line], unit="mm"))
    assert fitted(decision.stacks, decision.job) == {"a": ["S-0.3"]}
    assert "from_memory" in [finding.code for finding in decision.findings]


def cover(fewest: int, most: int = 4) -> Seat:
    return Seat("cover", most_pieces=most, fewest_pieces=fewest)


def test_a_stack_has_at_least_the_fewest_pieces_of_its_seat() -> None:
    read = gap("cap", 10, 10, window(0, 1))
    stock = [shim(10, 1), shim(5, 2), shim(3, 2), shim(4, 1)]
    free = decide(job([read], stock))
    assert fitted(free.stacks, free.job) == {"cap": ["S-10"]}
    bound = replace(job([replace(read, seat=cover(3))], stock), places=(Place("cap", cover(3), 4, 3),))
    assert fitted(decide(bound).stacks, bound) == {"cap": ["S-3", "S-3", "S-4"]}


def test_a_least_number_that_the_drawer_cannot_give_means_nothing_fitted_and_a_reason_that_names_the_place() -> None:
    # inside as read, and still not doable: the seat takes at least three pieces and there are two
    for low, about in ((10, "outside"), (1, "inside")):
        read = gap("cap", low, low, window(0, 1), seat=cover(3))
        bound = replace(job([read], [shim(5, 2)]), places=(Place("cap", cover(3), 4, 3),))
        decision = decide(bound)
        assert fitted(decision.stacks, bound) == {}
        assert decision.outcome.gaps["cap"].verdict == about
        assert not decision.outcome.doable
        assert ("cap", "too_few_pieces") in [(reason.about, reason.code) for reason in decision.reasons]


def test_a_place_is_short_only_where_suiting_pieces_are_too_few() -> None:
    bound = replace(
        job([gap("cap", 10, 10, window(0, 1))], [shim(5, 2), shim(3, 1)]), places=(Place("cap", cover(3), 4, 3),)
    )
    assert short_places(bound, {"cap": (0, 1)}, {0: 1, 1: 2}) == {}
    assert short_places(bound, {"cap": (1,)}, {0: 1, 1: 2}) == {"cap": 2}


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 9), st.integers(0, 3)), min_size=1, max_size=4),
    st.integers(0, 30),
    st.integers(0, 12),
    st.integers(1, 4),
    st.integers(0, 5),
)
def test_stacks_of_at_least_so_many_pieces_are_those_of_brute_force(
    kinds: list[tuple[int, int]], low: int, width: int, most: int, fewest: int
) -> None:
    sizes, counts = [size for size, _ in kinds], [count for _, count in kinds]
    expected = [
        stack
        for pieces in range(max(1, fewest), most + 1)
        for stack in combinations_with_replacement(range(len(kinds)), pieces)
        if all(stack.count(i) <= counts[i] for i in set(stack)) and low <= sum(sizes[i] for i in stack) <= low + width
    ]
    assert sorted(stacks_between(sizes, counts, most, low, low + width, fewest=fewest)) == sorted(expected)


def test_the_plan_tells_which_parts_would_serve_by_thickness_and_why_they_do_not_suit() -> None:
    seat = Seat("journal", mm("16"))
    read = gap("a", "0.5", "0.5", window("0.1", "0.3", unit="mm"), seat=seat, unit="mm")
    # 0.3 mm serves but hangs off centre; 0.9 mm does not serve, whatever its bore
    stock = [shim("0.3", 1, unit="mm", inner=nm("17")), shim("0.9", 1, unit="mm", inner=nm("17"))]
    decision = decide(job([read], stock, unit="mm"))
    told = [reason for reason in decision.reasons if isinstance(reason, PartsDoNotSuit)]
    assert [(reason.about, reason.names) for reason in told] == [("a", ("S-0.3",))]
    assert [(f.code, f.fact.lengths()["least_play"]) for f in told[0].findings] == [
        ("bore_too_large", Fraction(1_000_000))
    ]


@pytest.mark.parametrize(
    ("sizes", "order", "told"),
    [
        # one thick piece with thin ones: none can lie between two thicker
        ((20, 3, 3), "", False),
        ((20, 10, 3), "", True),
        ((20, 20, 3), "", True),
        ((20, 20, 3), "thin outside", False),
        ((20, 3, 3), "thin outside", True),
        ((20, 3), "", False),
    ],
)
def test_an_order_is_told_only_where_a_piece_lies_between_two_others(
    sizes: tuple[int, ...], order: str, told: bool
) -> None:
    stock = [shim(size, 1) for size in sizes]
    seat = Seat("s", order=order)
    assert order_matters(range(len(sizes)), stock, seat) == told
