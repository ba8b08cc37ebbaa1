"""Who competes for a piece: the set named is as small as it can be."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import HealthCheck, given, settings

from shimopt.job import Job
from shimopt.planner import decide
from shimopt.reasons.gap_reasons import DrawerRanOut
from tests.brute_force import best_plan
from tests.jobs import gap, job, shim, window
from tests.strategies import jobs


def part_of(of: Job, names: tuple[str, ...]) -> Job:
    """The job with these gaps only, and nothing asked for but that they come inside."""
    kept = tuple(g for g in of.gaps if g.name in names)
    return replace(of, gaps=kept, places=tuple(p for p in of.places if p.name in names), balances=(), priority=())


def all_inside(of: Job, names: tuple[str, ...]) -> bool:
    """By brute force: whether these gaps can all be inside at once."""
    return not names or best_plan(part_of(of, names)).levels["outside"] == 0


@settings(deadline=None, max_examples=120, suppress_health_check=[HealthCheck.too_slow])
@given(jobs(most_gaps=4, most_lines=3, with_priority=False))
def test_gaps_that_compete_cannot_all_be_served_and_without_any_one_of_them_the_others_can(of: Job) -> None:
    for reason in decide(of).reasons:
        if isinstance(reason, DrawerRanOut):
            assert reason.about in reason.names
            assert not all_inside(of, reason.names)
            for name in reason.names:
                assert all_inside(of, tuple(other for other in reason.names if other != name))


def test_the_gap_that_got_the_piece_is_named_and_the_one_that_has_another_is_not() -> None:
    """By hand: one S-6 serves left or right; the middle takes S-12 and competes with nobody.

    Left and right are equal to every level, so left gets what comes first in natural order: no part at all.
    """
    gaps = [gap(name, low, low, window(8, 10)) for name, low in (("left", 15), ("middle", 21), ("right", 15))]
    decision = decide(job(gaps, [shim(6, 1), shim(12, 2)], most=1))
    (reason,) = (found for found in decision.reasons if isinstance(found, DrawerRanOut))
    assert reason.about == "left"
    assert reason.names == ("left", "right")
    assert reason.got == ("right",)
    assert reason.off == 5 * 25_400
