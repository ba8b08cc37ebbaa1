"""Plans of large jobs: which way is taken, that plans hold, that they repeat, and what is told of scarce sizes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from shimopt.candidates import Scale, Usable, place_options
from shimopt.choose import choose
from shimopt.choose.chooser import Chooser, supply_of
from shimopt.choose.priced.tables import OF_GAPS, OF_ROWS, tables_of
from shimopt.job import Gap, Job
from shimopt.planner import Decision, chosen_stacks, decide
from shimopt.render.json.plan_json import plan_object
from shimopt.render.screens.layout import UNICODE
from shimopt.render.screens.plan_screen import screen_lines
from shimopt.render.screens.short_screen import short_lines
from shimopt.seats import screen
from shimopt.seats.stack_rules import stack_findings
from shimopt.watch import Watch
from tests.large_jobs import mixed_job, with_drawer
from tests.speed.bench_jobs import gaps_in_pairs

# a job counts as large here from a quarter of the gaps on that make it so elsewhere, and nothing is left to the whole
# way: the same way, sooner gone
_MANY_GAPS = 75
_COUNT = 80


@pytest.fixture(scope="module", autouse=True)
def _large_sooner() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("shimopt.choose.both_ways._MANY_GAPS", _MANY_GAPS)
        patched.setattr("shimopt.choose.priced.handover._MOST_OPTIONS", 0)
        patched.setattr("shimopt.choose.priced.handover._MOST_OF_THESE", 0)
        patched.setattr("shimopt.choose.chooser._MOST_AFTER_PRICES", 0)
        yield


def large_job(seed: int = 1) -> Job:
    return with_drawer(gaps_in_pairs(_COUNT, seed), 0.05, 0.15, seed)


def words_on_screen(of: Decision) -> str:
    return " ".join(" ".join(line for line, _ in screen_lines(of, "mm", 100, UNICODE)).split())


@pytest.fixture(scope="module")
def large() -> Decision:
    return decide(large_job())


def test_a_job_of_which_prices_leave_something_open_says_so(large: Decision) -> None:
    cut_off = decide(large_job(), watch=Watch(steps=20))
    assert not cut_off.proven
    assert cut_off.way == plan_object(cut_off)["way"] == "priced"
    assert "Planned by prices" in words_on_screen(cut_off)
    # where nothing is open it does not matter which way it was found
    assert large.proven
    assert large.way == "whole"


def test_a_job_of_few_gaps_is_solved_whole_and_says_nothing_of_ways() -> None:
    small = decide(gaps_in_pairs(4, 0))
    assert small.way == "whole"
    assert "Planned by prices" not in words_on_screen(small)


def test_counts_of_a_large_plan_are_within_one_of_their_bounds_and_the_spread_within_a_thousandth(
    large: Decision,
) -> None:
    for level in large.levels:
        assert level.bound is not None
        assert level.bound <= level.value
        if level.name in ("outside", "unproven", "pieces"):
            assert level.value - level.bound <= 1
        if level.name == "spread":
            assert level.value - level.bound <= level.value / 1000


@pytest.mark.parametrize("finer", [False, True], ids=["hundredths", "micrometres"])
def test_a_thousand_gaps_of_which_many_go_unserved_are_proven_at_every_level(finer: bool) -> None:
    of = with_drawer(gaps_in_pairs(1_000, 1), 0.06, 0.18, 1)
    if finer:
        of = replace(of, gaps=tuple(_shifted(gap, 1_000 * (at * 7 % 10)) for at, gap in enumerate(of.gaps)))
    assert [level.name for level in choose(of, screen(of)).levels if not level.proven] == []


def _shifted(gap: Gap, by: int) -> Gap:
    """The gap, read so many nanometres larger."""
    read = gap.reading.bracket
    moved = replace(read, low=read.low + by, best=read.best + by, high=read.high + by)
    return replace(gap, reading=replace(gap.reading, bracket=moved))


def test_a_level_counts_as_proven_only_where_it_and_all_above_it_stand_at_their_bounds(large: Decision) -> None:
    met = True
    for level in large.levels:
        met = met and level.value == level.bound
        assert level.proven == met


def test_the_same_large_job_gives_the_same_plan(large: Decision) -> None:
    assert chosen_stacks(large_job()).choice.stacks == large.stacks


def test_the_whole_way_is_never_below_a_bound_of_the_other(large: Decision) -> None:
    """The whole way is exact at `outside`, the first level."""
    of = large_job()
    whole = Chooser(of, screen(of), False)
    model, _ = whole.model()
    least = whole._descent(model).level("outside")
    assert least.proven
    priced = large.levels[0]
    assert priced.bound is not None
    assert priced.bound <= least.value <= priced.value


def test_what_a_few_more_of_a_size_bring_is_what_a_plan_with_them_brings(large: Decision) -> None:
    assert large.scarce, "the drawer of this job leaves gaps outside"
    for one in large.scarce:
        stock = list(large.job.stock)
        stock[one.line] = replace(stock[one.line], on_hand=stock[one.line].on_hand + one.more)
        more = replace(large.job, stock=tuple(stock))
        before = next(level.value for level in large.levels if level.name == one.level)
        after = next(level for level in choose(more, screen(more)).levels if level.name == one.level)
        # both plans are within one of the best
        assert abs(before - after.value - one.fewer) <= 1
    text = words_on_screen(large)
    assert "What holds the job back" in text
    assert plan_object(large)["scarce"][0]["fewer"] == large.scarce[0].fewer


class Counted(tuple[Any, ...]):
    """A tuple that counts how often somebody goes through it."""

    begun = 0

    def __iter__(self) -> Iterator[Any]:
        self.begun += 1
        return super().__iter__()


def test_nobody_goes_through_all_places_or_findings_for_each_of_them(large: Decision) -> None:
    """Of 60 places more that would be 60 times more often: what is told of 10,000 would take minutes."""
    small = decide(with_drawer(gaps_in_pairs(_COUNT // 4, 1), 0.05, 0.15, 1))
    begun = []
    for of in (small, large):
        findings, places = Counted(of.findings), Counted(of.job.places)
        plan_object(replace(of, findings=findings))
        screen_lines(replace(of, findings=findings), "mm", 100, UNICODE)
        short_lines(replace(of, findings=findings), "mm", 100, UNICODE)
        stack_findings(replace(of.job, places=places), of.stacks)
        begun.append((findings.begun, places.begun))
    assert all(0 < more < less + _COUNT // 4 for less, more in zip(*begun, strict=True))


def test_an_empty_drawer_leaves_a_large_job_as_it_is() -> None:
    of = large_job()
    empty = decide(replace(of, stock=tuple(replace(line, on_hand=0) for line in of.stock)))
    assert not any(empty.stacks.values())
    assert decide(replace(of, stock=())).outcome.levels["pieces"] == 0


@pytest.mark.parametrize("seed", range(6))
def test_options_cut_from_a_shared_table_are_those_listed_one_by_one(seed: int) -> None:
    of = mixed_job(seed)
    screening, scale, supply = screen(of), Scale.of(of), supply_of(of, False)
    counts = [max(supply[i], 2) for i in range(len(of.stock))]
    tables, kinds = tables_of(of, scale, screening, list(zip(of.places, of.gaps, strict=True)), supply)
    for place, gap, kind in zip(of.places, of.gaps, kinds.tolist(), strict=True):
        listed = place_options(
            of,
            scale,
            place,
            gap,
            Usable(screening.suits[place.name], counts, screening.cautions[place.name], place.most_pieces),
        )
        found = {}
        for option in np.arange(tables.first[kind], tables.first[kind + 1]).tolist():
            row = int(tables.row[option])
            shares = dict(zip(OF_GAPS, tables.of_gap[option].tolist(), strict=True))
            shares |= dict(zip(OF_ROWS, tables.of_stack[row].tolist(), strict=True))
            # a place by itself adds nothing to balances
            assert (shares.pop("excess"), shares.pop("spread")) == (0, 0)
            found[tables.stacks[row]] = (int(tables.best[option]), shares)
        assert found == {option.stack: (option.best, option.share) for option in listed.options}


def test_the_screen_of_a_large_job_begins_with_what_holds_it_back_and_lists_only_the_first_reasons(
    large: Decision,
) -> None:
    lines = [line for line, _ in screen_lines(large, "mm", 80, UNICODE)]
    titles = [line for line in lines if line in ("What holds the job back", "Places", "Why")]
    assert titles[0] == "What holds the job back"
    why = lines[lines.index("Why") + 1 : lines.index("", lines.index("Why"))]
    assert len([line for line in why if line.startswith("  ") and not line.startswith("    ")]) <= 61
