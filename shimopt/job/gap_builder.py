"""From a gap's table, or its row, to a Gap: its reading with what moves it, its window cold and hot, what decides."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any

from shimopt.errors import FaultError, Problem
from shimopt.job.effects import effects_of
from shimopt.job.gap import Gap, Heat, Window
from shimopt.job.gaps_table import GapRow
from shimopt.job.job_errors import Keys, Written
from shimopt.job.schema import GapTable, JobFile
from shimopt.job.seat import Seat
from shimopt.lengths import spelled, unit_written
from shimopt.readings import Reading
from shimopt.readings.cover_gap import closed_up


class GapBuilder:
    """Builds the gaps of one job; what cannot be is added to `problems`."""

    def __init__(self, contents: JobFile, seats: Mapping[str | None, Seat], written: Written) -> None:
        self.contents, self.seats, self.written = contents, seats, written
        self.job_window = None if contents.window is None else contents.window.window()
        self.state = () if contents.state is None else contents.state.told()
        # places that are written out; where none are, every gap has one of its own name
        self.places = {place.name for place in contents.place} if contents.place else None
        self.problems: list[Problem] = []

    def of_table(self, at: Keys, table: GapTable, as_written: Mapping[str, Any]) -> Gap:
        """The gap of the `[[gap]]` at this path."""
        form, reading = table.form, table.reading(self.contents.basis)
        cold = self._window(None if table.window is None else table.window.window())
        opened = any(effect.known("").effect > 0 for effect in (table.effects or {}).values())
        may_be_preload = opened or cold.min is None or cold.min < 0
        if form.key == "built_up" and reading.bracket.best < 0 and not may_be_preload:
            less = spelled(-reading.bracket.best, self.contents.unit)
            rule = f"the dimensions come to {less} less than nothing, and the window does not expect a preload"
            remedy = "look for a slip in what is added and taken"
            self.problems.append(self.written.problem((*at, form.key), "", rule, remedy))
        shims_in = form.shims_in(getattr(table, form.key))
        if shims_in is not None:
            self.problems += self._shims_in_or_out((*at, form.key), table, shims_in=shims_in)
        heat = None if table.heat is None else table.heat.heat()
        allowed = cold if heat is None else self._window_with_heat(cold, heat, at)
        state = dict(self.state) | dict(() if table.state is None else table.state.told())
        return replace(
            self._gap(table.name, reading, allowed, table.seat, table),
            typed_in=self.contents.unit if form.bare(as_written.get(form.key)) else None,
            own_unit=None if reading.bracket.exact else _own_unit(as_written.get(form.key)),
            checked=table.looked_at_again,
            heat=heat,
            cold_window=None if allowed is cold else cold,
            state=tuple(state.items()),
            blades=form.blades(getattr(table, form.key)),
            running=table.running_torque,
            closed_up=None if table.after_cover is None else closed_up(table.after_cover),
        )

    def _shims_in_or_out(self, at: Keys, table: GapTable, *, shims_in: bool) -> Iterator[Problem]:
        """A reading without shims beside pieces that are said to have been in, or with shims that nobody names."""
        moving = {table.name} if table.effects is None else set(table.effects)
        installed = [place for place in self.contents.place if place.installed and place.name in moving]
        if shims_in and not installed:
            places = " or ".join(repr(name) for name in sorted(moving))
            rule = f"it is read with the shims in, yet no installed at place {places} says which were in"
            remedy = (
                'name them: [[place]] with name and installed = ["PART"]. If they were out while it was read, leave '
                "shims_in out"
            )
            yield self.written.problem(at, "", rule, remedy)
        for place in [] if shims_in else installed:
            pieces = ", ".join(f'"{piece.part}"' for piece in place.installed)
            rule = f"it is read without shims, yet these are said to have been in at place {place.name!r}: {pieces}"
            remedy = (
                "say which is true. If they were out while it was read, write "
                f"came_out = [{pieces}] at the place instead of installed; if they were in, write shims_in = true in "
                "the reading"
            )
            yield self.written.problem(at, "", rule, remedy)

    def of_row(self, row: GapRow) -> Gap:
        """The gap of a row of the gaps table."""
        gap = self._gap(row.name, row.reading, self._window(row.window), row.seat, None)
        return replace(gap, typed_in=row.unit, checked=row.checked)

    def _gap(self, name: str, reading: Reading, window: Window, seat: str | None, table: GapTable | None) -> Gap:
        """A gap with what the job says of all of them; what its own table says comes first."""

        def said(key: str) -> Any:
            own = None if table is None else getattr(table, key)
            return getattr(self.contents, key) if own is None else own

        read, decision = reading.bracket, said("decision")
        by_itself = Fraction(-reading.sign)
        effects, sources = effects_of(name, None if table is None else table.effects, self.places, by_itself)
        return Gap(
            name,
            self._repeating(reading.moved_by(said("shift"))),
            window,
            effects,
            self.seats.get(seat),
            least_chance=None if decision == "sure" else decision,
            state=self.state,
            effect_sources=sources,
            final_reading=said("final_reading"),
            shift_stated="shift" in self.contents.model_fields_set or (table is not None and table.shift is not None),
            again=(read.best - read.low, read.high - read.best),
        )

    def _repeating(self, reading: Reading) -> Reading:
        """The reading with what the job says of its gauge."""
        deviation = getattr(self.contents.repeatability, reading.kind, None)
        return reading if deviation is None else reading.repeating(deviation)

    def _window(self, own: Window | None) -> Window:
        found = own or self.job_window
        if found is None:
            raise FaultError("a gap without a window was not refused")
        return found.ended_at_nothing

    def _window_with_heat(self, cold: Window, heat: Heat, at: Keys) -> Window:
        """The clearances cold that are inside when cold and when hot: hot is cold and the growth."""
        if heat.window is None:
            return cold
        hot = heat.window.ended_at_nothing
        hot_low, hot_high = (None if at is None else at - heat.growth for at in (hot.min, hot.max))
        low = max((at for at in (cold.min, hot_low) if at is not None), default=None)
        high = min((at for at in (cold.max, hot_high) if at is not None), default=None)
        if low is not None and high is not None and low > high:
            unit = self.contents.unit
            rule = (
                "no clearance is inside both cold and hot: the gap grows by "
                f"{spelled(heat.growth, unit)}, so cold it has to be {spelled(low, unit)} or more and "
                f"{spelled(high, unit)} or less"
            )
            remedy = "check lengths, materials and both windows"
            if hot.ended:
                remedy += "; where it may be preloaded when hot, state so much as `min`"
            self.problems.append(self.written.problem((*at, "heat", "window"), "", rule, remedy))
            return cold
        if (low, high) == (cold.min, cold.max):
            return cold
        target = cold.stated_target
        if target is not None:
            # what is aimed at stays as near to the stated target as the hot window lets it
            target = target if low is None else max(low, target)
            target = target if high is None else min(high, target)
        return Window(low, high, f"{cold.source}; hot: {heat.window.source}", target, ended=cold.ended and low == 0)


def _own_unit(written: object) -> str | None:
    """The unit of a reading that is written as one length with ±."""
    return unit_written(re.split(r"±|\+/?-", written)[-1]) if isinstance(written, str) else None
