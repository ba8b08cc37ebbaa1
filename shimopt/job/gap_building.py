"""From a gap's table to a Gap: its reading with what moves it, its window cold and hot, and what decides."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

from shimopt.errors import Problem
from shimopt.job.gaps_table import GapRow
from shimopt.job.model import Gap, Heat, Seat, Window
from shimopt.job.places import effects_of
from shimopt.job.schema import GapTable, JobFile, is_bare
from shimopt.lengths import spelled
from shimopt.readings import Reading

__all__ = ["GapBuilder"]


class GapBuilder:
    """Builds the gaps of one job; what cannot be is added to `problems`."""

    def __init__(self, contents: JobFile, seats: Mapping[str | None, Seat], file: Path) -> None:
        self.contents, self.seats, self.file = contents, seats, file
        self.job_window = None if contents.window is None else contents.window.window()
        self.state = () if contents.state is None else contents.state.told()
        # places that are written out; where none are, every gap has one of its own name
        self.places = {place.name for place in contents.place} if contents.place else None
        self.problems: list[Problem] = []

    def of_table(self, number: int, table: GapTable, as_typed: Mapping[str, Any]) -> Gap:
        """The gap of `[[gap]]` number so and so."""
        where = f'[[gap]] {number} "{table.name}"'
        reading, window = table.reading(self.contents.basis), None if table.window is None else table.window.window()
        allowed = window or self.job_window
        assert allowed is not None, "a gap without a window was refused before"
        if reading.kind == "built_up" and reading.bracket.best < 0 and not _preload_expected(allowed):
            less = spelled(-reading.bracket.best, self.contents.unit)
            self._complain(
                f"{where}, built_up",
                "",
                f"the dimensions come to {less} less than nothing, and the window does not expect a preload",
                "look for a slip in what is added and taken",
            )
        heat = None if table.heat is None else table.heat.heat()
        dial = as_typed.get("indicator")
        bare = any(
            map(
                is_bare,
                (
                    as_typed.get("value"),
                    as_typed.get("feeler"),
                    dial.get("readings") if isinstance(dial, dict) else None,
                ),
            )
        )
        state = dict(self.state) | dict(() if table.state is None else table.state.told())
        return self._gap(table.name, reading, allowed, table.seat, bare, table, heat, tuple(state.items()), where)

    def of_row(self, row: GapRow) -> Gap:
        """The gap of a row of the gaps table."""
        allowed = row.window or self.job_window
        assert allowed is not None, "a gap without a window was refused before"
        return self._gap(row.name, row.reading, allowed, row.seat, True, None, None, self.state, "")

    def _gap(
        self,
        name: str,
        reading: Reading,
        window: Window,
        seat: str | None,
        bare: bool,
        table: GapTable | None,
        heat: Heat | None,
        state: tuple[tuple[str, str], ...],
        where: str,
    ) -> Gap:
        own_shift, own_decision = (None, None) if table is None else (table.shift, table.decision)
        own_final = None if table is None else table.final_reading
        read = reading.bracket
        decision = self.contents.decision if own_decision is None else own_decision
        allowed = window if heat is None else self._window_with_heat(window, heat, where)
        effects, sources = effects_of(
            name,
            None if table is None else table.effects,
            self.places,
            Fraction(1 if reading.opens else -1),
        )
        return Gap(
            name,
            reading.moved_by(self.contents.shift if own_shift is None else own_shift),
            allowed,
            effects,
            self.seats.get(seat),
            bare,
            None if decision == "sure" else decision,
            heat,
            None if allowed is window else window,
            state,
            sources,
            self.contents.final_reading if own_final is None else own_final,
            (read.best - read.low, read.high - read.best),
            None if table is None else _blades(table),
        )

    def _window_with_heat(self, cold: Window, heat: Heat, where: str) -> Window:
        """The clearances cold that are inside when cold and when hot: hot is cold and the growth."""
        if heat.window is None:
            return cold
        hot_low, hot_high = (None if at is None else at - heat.growth for at in (heat.window.min, heat.window.max))
        low = max((at for at in (cold.min, hot_low) if at is not None), default=None)
        high = min((at for at in (cold.max, hot_high) if at is not None), default=None)
        if low is not None and high is not None and low > high:
            unit = self.contents.unit
            self._complain(
                f"{where}, heat.window",
                "",
                "no clearance is inside both cold and hot: the gap grows by "
                f"{spelled(heat.growth, unit)}, so cold it has to be {spelled(low, unit)} or more and "
                f"{spelled(high, unit)} or less",
                "check lengths, materials and both windows",
            )
            return cold
        if (low, high) == (cold.min, cold.max):
            return cold
        target = cold.stated_target
        if target is not None:
            # what is aimed at stays as near to the stated target as the hot window lets it
            target = target if low is None else max(low, target)
            target = target if high is None else min(high, target)
        return Window(low, high, f"{cold.source}; hot: {heat.window.source}", target)

    def _complain(self, where: str, value: str, rule: str, remedy: str) -> None:
        self.problems.append(Problem(str(self.file), where, value, rule, remedy))


def _blades(table: GapTable) -> tuple[int, int] | None:
    """The two neighbouring blades of a gap read at one spot by marked blades alone; under a cover those read there."""
    spots = table.feeler or [spot.as_feeler() for spot in table.cover_gap or []]
    if len(spots) != 1 or spots[0].go is None or spots[0].no_go is None or spots[0].blade_error:
        return None
    return (spots[0].go, spots[0].no_go) if spots[0].go < spots[0].no_go else None


def _preload_expected(window: Window) -> bool:
    return window.min is None or window.min < 0
