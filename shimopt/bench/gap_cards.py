"""Gaps and places of a plan as cards, as plain data: what was read, what is done, what it comes to, the scale."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from shimopt.errors import shown
from shimopt.job import Gap
from shimopt.lengths import Bracket
from shimopt.planner import Decision
from shimopt.render.pictures.gap_bars import Bar, job_bars
from shimopt.render.pictures.gap_strip import Strip, strip_svg
from shimopt.words.bench_page_words import SIGNS, VERDICTS, moved_by_words, work_rows
from shimopt.words.digits import span_text, with_digits
from shimopt.words.findings_list import cautions
from shimopt.words.first_words import open_gaps
from shimopt.words.next_steps import sizes_wanted
from shimopt.words.reading_words import limits_text, source_text, stands
from shimopt.words.short_words import at_place, beside_verdict, one_source, under
from shimopt.words.speaker import Speaker


class Strips(dict[Strip, str]):
    """Pictures of gaps that were drawn already: of one plan, before its reasons and with them."""


@dataclass(frozen=True, slots=True)
class Cards:
    """Makes the cards of one plan: what is the same for all of them is worked out once."""

    decision: Decision
    say: Speaker
    bars: Mapping[str, Sequence[Bar]]
    still: Collection[str]
    wanted: Mapping[str, str]
    source: str
    strips: Strips

    @classmethod
    def of(cls, decision: Decision, strips: Strips | None = None) -> Cards:
        """Those of a plan, in the unit of its job. Parameter: strips, of the same plan, drawn before."""
        say = with_digits(Speaker.of(decision.job, buys=decision.buy), decision)
        return cls(
            decision,
            say,
            job_bars(decision, say.unit),
            open_gaps(decision),
            sizes_wanted(decision, say),
            one_source(decision, say),
            Strips() if strips is None else strips,
        )

    def gap(self, n: int, gap: Gap) -> dict[str, Any]:
        """One gap. Parameter: n, its number in the job, from 1."""
        decision, say = self.decision, self.say
        found, read = decision.outcome.gaps[gap.name], gap.reading.found
        same = found.after == read and not gap.reading.opens
        # what has to be settled first is not shown as right
        verdict = "unproven" if found.verdict == "inside" and gap.name in self.still else found.verdict
        own = gap.in_own_place
        return {
            "n": n,
            "name": shown(gap.name),
            "unit": say.unit,
            "read": stands(read, say.bare) if gap.reading.opens else self._shown(read, gap, 0),
            "reading": stands(read, say) if gap.reading.opens else self._with_unit(self._shown(read, gap, 0)),
            "allowed": limits_text(gap.window, say.about(gap)),
            "source": source_text(gap),
            "then": "same" if same else self._shown(found.after, gap, 1),
            "sign": SIGNS[verdict],
            "verdict": verdict,
            "word": VERDICTS[verdict],
            "beside": beside_verdict(decision, gap, say, self.still),
            "under": under(decision, gap, say, self.wanted),
            "own": own,
            "work": self.work(gap.name) if own else [],
            "changed": own and decision.changes.at[gap.name].changed,
            "in_now": self.in_now(gap.name) if own else "",
            "moved_by": "" if own else moved_by_words([place for place, _ in gap.effects]),
            "care": cautions(decision, say, {gap.name}),
            "strip": self.strip(n, gap, verdict),
        }

    def _shown(self, bracket: Bracket, gap: Gap, which: int) -> str:
        """As the plan's table has it. Parameter: which, 0 for what was read, 1 for what it comes to."""
        return span_text(bracket, gap, replace(self.say.bare, digits=(self.say.ends or (None, None))[which]))

    def _with_unit(self, shown: str) -> str:
        """A clearance with its unit, and behind it its star where it holds 19 times in 20 only."""
        return f"{shown.removesuffix('*')} {self.say.unit}{'*' * shown.endswith('*')}"

    def work(self, place: str) -> list[dict[str, str]]:
        """What is done at a place."""
        held = any(change.held for change in self.decision.changes)
        return work_rows(at_place(self.decision, place, self.say, self.source), held=held)

    def in_now(self, place: str) -> str:
        """What was in a place during the reading."""
        installed = self.decision.job.place[place].installed
        return self.say.stack(installed, place) if installed else ""

    def places(self) -> list[dict[str, Any]]:
        """Every place that does not move one gap of its own name alone."""
        own = {gap.name for gap in self.decision.job.gaps if gap.in_own_place}
        return [
            {
                "name": shown(place.name),
                "work": self.work(place.name),
                "changed": self.decision.changes.at[place.name].changed,
                "in_now": self.in_now(place.name),
            }
            for place in self.decision.job.places
            if place.name not in own
        ]

    def strip(self, n: int, gap: Gap, verdict: str) -> str:
        """The picture of a gap on its scale: as it is, after a record as it was measured, and as it will be."""
        bars = self.bars[gap.name][-2:]
        swap = bars[-1].swap
        strip = Strip(
            title=f"{gap.name}: {limits_text(gap.window, self.say.about(gap))}",
            window=gap.window,
            bars=tuple(bars),
            moves="" if ";" in swap or ":" in swap else swap,
            sign=SIGNS[verdict],
            verdict=verdict,
            key=str(n),
            said=tuple(
                self._with_unit(self._shown(bar.bracket, gap, 0 if bar.label == "found" else 1)) for bar in bars
            ),
        )
        if strip not in self.strips:
            self.strips[strip] = strip_svg(strip, self.say.about(gap))
        return self.strips[strip]
