"""A watch: when it is over, what is left, and what it was told."""

from __future__ import annotations

import pytest

import shimopt.watch
from shimopt.watch import Watch


def test_without_a_limit_it_is_never_over_until_somebody_stops_it() -> None:
    watch = Watch()
    assert (watch.over(), watch.left()) == (False, None)
    watch.stop()
    assert (watch.over(), watch.left()) == (True, 0.0)


def test_a_deadline_is_counted_from_the_moment_it_is_made(monkeypatch: pytest.MonkeyPatch) -> None:
    now = [100.0]
    monkeypatch.setattr(shimopt.watch, "monotonic", lambda: now[0])
    watch = Watch(2.0)
    now[0] = 101.5
    assert (watch.over(), watch.left()) == (False, 0.5)
    now[0] = 102.0
    assert (watch.over(), watch.left()) == (True, 0.0)


def test_it_keeps_the_last_best_and_passes_on_what_begins() -> None:
    begun: list[str] = []
    watch = Watch(progress=begun.append)
    watch.begins("pieces")
    watch.told("first")
    watch.told("better")
    assert (watch.best, begun) == ("better", ["pieces"])


def test_of_plans_that_are_judged_it_keeps_the_better_one() -> None:
    watch = Watch()
    watch.told("two outside", (2, 0))
    watch.told("three outside", (3, 0))
    assert watch.best == "two outside"
    watch.told("two outside as well, with a bound", (2, 0))
    assert watch.best == "two outside as well, with a bound"


def test_what_is_found_on_the_way_is_worked_out_when_somebody_asks() -> None:
    watch, worked_out = Watch(), list[int]()

    def found(outside: int) -> tuple[str, tuple[int]]:
        worked_out.append(outside)
        return f"{outside} outside", (outside,)

    watch.told("two outside at once", (2,))
    for outside in (3, 1, 1):
        watch.on_the_way(lambda outside=outside: found(outside))
    assert worked_out == []
    assert watch.best == "1 outside"
    assert worked_out == [3, 1, 1]
    # what is told at the end replaces what nobody asked for
    watch.on_the_way(lambda: found(0))
    watch.told("proven", (0,))
    assert (watch.best, worked_out) == ("proven", [3, 1, 1])
