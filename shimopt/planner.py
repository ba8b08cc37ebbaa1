"""Screen, find candidates, choose, check, explain: the one function that reads like this line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import partial
from time import monotonic
from typing import Any

from shimopt.arithmetic import Outcome, audit, outcome_of
from shimopt.arithmetic.agreement import held_till_found_out
from shimopt.arithmetic.audit import left_short, short_places
from shimopt.arithmetic.changes import Changes, Move, changes_of, moves_of, visit_of
from shimopt.arithmetic.clearance import Stack
from shimopt.candidates import too_large_to_carry
from shimopt.choose import Choice, LevelResult, Scarce, choose
from shimopt.choose.chooser import supply_of
from shimopt.errors import FaultError, InputError, Problem
from shimopt.job import Job
from shimopt.proof.proven import Proof
from shimopt.reasons import Gauge, Reason, assumptions, gauges, suspicions
from shimopt.reasons.about_places import about_installed, about_places
from shimopt.reasons.about_trial import about_record, about_trial
from shimopt.reasons.alternatives import Alternative, Chosen, Nearest, alternatives, nearest_misses
from shimopt.reasons.as_stated import about_effects, about_readings, about_sizes, about_tools, not_by_chance, not_read
from shimopt.reasons.doubts import hang_on_doubts, read_with_what_gives
from shimopt.reasons.explain import explain
from shimopt.reasons.gap_account import Account, Unsuited, account_of, unsuited_parts
from shimopt.reasons.job_facts import NotAsPredicted
from shimopt.reasons.kept_back import held_that_serves, opened_too
from shimopt.reasons.remedies import Remedies, remedies_of
from shimopt.reasons.shared_reasons import NoPrice
from shimopt.seats import Finding, Screening, screen, stack_findings, with_hard_between
from shimopt.watch import Watch

__all__ = ["Chosen", "Decision", "before_reasons", "best_so_far", "chosen_stacks", "decide", "explained", "unexplained"]


_TRIAL_STEPS = 2_000
# why a gap reads otherwise than predicted, where that is known by the reading itself
FOUND_OUT = (
    "cover_rested",
    "preload_hidden",
    "cover_may_have_rested",
    "preload_may_be_hidden",
    "reading_slipped",
    "reading_doubted",
    "closed_up_holds",
    "record_off",
    "read_with_play",
)


@dataclass(frozen=True, kw_only=True)
class Decision:
    """A plan as data: what was decided, what it does, how far it is proven, and why.

    `visit` is what was changed up to the job's last record, `changes` what the plan changes from there.
    """

    job: Job
    buy: bool
    stacks: Mapping[str, Stack]
    changes: Changes
    visit: Changes
    levels: tuple[LevelResult, ...]
    outcome: Outcome
    nearest: Mapping[str, Nearest]
    screening: Screening
    findings: tuple[Finding, ...]
    reasons: tuple[Reason, ...]
    gauges: Mapping[str, Gauge]
    assumptions: tuple[Reason, ...]
    seconds: float
    choices: tuple[Alternative, ...] = ()
    way: str = "whole"
    scarce: tuple[Scarce, ...] = ()
    remedies: Remedies = field(default_factory=Remedies)
    # what takes long is worked out when it is first shown, and kept here for every other screen and paper of this plan
    worked_out: dict[tuple[object, ...], Any] = field(default_factory=dict, init=False, compare=False, repr=False)

    @property
    def proven(self) -> bool:
        """Whether every level is proven best."""
        return all(level.proven for level in self.levels)

    @property
    def moves(self) -> tuple[Move, ...]:
        """Every piece that is moved, in the order of work."""
        return moves_of(self.changes)

    @property
    def to_find_out(self) -> list[str]:
        """Gaps of which it has to be found out, before anything is done, why they read otherwise than predicted.

        Or why they turn as is stated, though they are outside by calculation.
        """
        facts = {one.place: one.fact for one in self.findings if isinstance(one.fact, NotAsPredicted)}
        gaps = [self.job.gap[name] for name, fact in facts.items() if fact.likely not in FOUND_OUT]
        outside, changes = self.job.found_outside, self.changes.at
        torque = [gap.name for gap in self.job.gaps if self.job.right_but_by_length(gap.name)]
        return torque + [
            gap.name
            for gap in gaps
            if gap.name in outside
            or any(changes[place].changed or self._held_outside(place) for place, _ in gap.effects)
        ]

    def _held_outside(self, place: str) -> bool:
        """Whether a gap stays outside only because nothing is changed at a place before it is known what is in."""
        outside = (gap for gap in self.job.moved_by[place] if self.outcome.gaps[gap.name].verdict == "outside")
        return self.job.place[place].held and any(outside)

    @property
    def doubted(self) -> dict[str, str]:
        """By gap the reading or size on which its answer hangs, where that looks wrong and is measured again first."""
        found: dict[str, str] | None = self.worked_out.get(("doubted",))
        if found is None:
            found = hang_on_doubts(self.findings, self.job, self.stacks, self.changes)
            self.worked_out["doubted",] = found
        return found

    @property
    def waiting(self) -> set[str]:
        """The gaps for which nothing is to be fitted yet, for they are read again first."""
        return {*self.doubted, *read_with_what_gives(self.findings, self.job)}

    @property
    def doable(self) -> bool:
        """Whether all comes inside by this plan, and it can be followed as it stands."""
        return self.outcome.doable and not self.to_find_out

    def account(self, gap: str) -> Account:
        """Everything that decided about one gap."""
        supply = supply_of(self.job, self.buy)
        return account_of(self.job.gap[gap], self.job, self.screening, self.stacks, self.outcome, supply)

    def refused(self, gap: str) -> tuple[Unsuited, ...]:
        """Parts that are thick enough for a gap as it was first read, but don't suit its seat."""
        supply, measured = supply_of(self.job, self.buy), self.job.gap[gap]
        first = replace(measured, reading=self.job.first_read(measured))
        return unsuited_parts(first, self.job, self.screening, supply)

    @property
    def cost(self) -> Fraction | None:
        """The price of what is to buy, in whole packs; None where a piece has no price."""
        unknown = any(isinstance(reason, NoPrice) for reason in self.reasons)
        return None if unknown else self.outcome.levels["cost"]


def decide(job: Job, *, buy: bool = False, watch: Watch | None = None, choices: bool = False) -> Decision:
    """Plan a job: one stack for every place, proven as far as it goes, with reasons.

    Parameters: buy, whether what the catalogues offer may be used too; watch, how long it may take, told what begins
    and what is best so far; choices, whether to work out what each piece more or less would give.
    Raises InputError where prices cannot be compared, FaultError where the result fails its own check.
    """
    watch = watch or Watch()
    return explained(chosen_stacks(job, buy=buy, watch=watch), watch=watch, choices=choices)


def chosen_stacks(job: Job, *, buy: bool = False, watch: Watch | None = None) -> Chosen:
    """The first half of a plan: one stack for every place, with proof. Parameters and errors as of `decide`."""
    start, watch = monotonic(), watch or Watch()
    planned = held_till_found_out(_decided_by_brackets(job))
    screening = _screened(planned, buy)
    choice = choose(planned, screening, buy=buy, watch=watch)
    watch.told(choice, choice.judged)
    found = _checked(job, planned, screening, choice, buy)
    _compare(choice, found.outcome)
    return replace(found, seconds=monotonic() - start)


def explained(chosen: Chosen, *, watch: Watch | None = None, choices: bool = False) -> Decision:
    """The second half of a plan: why these stacks and no others. Parameters as of `decide`."""
    start, watch = monotonic(), watch or Watch()
    watch.begins("reasons")
    job, screening, choice, outcome = chosen.job, chosen.screening, chosen.choice, chosen.outcome
    supply = chosen.supply
    nearest, doubted = nearest_misses(job, screening, choice.stacks, outcome, supply), [*suspicions(job)]
    bare = before_reasons(chosen)
    told = replace(
        bare,
        nearest=nearest,
        findings=(
            *doubted,
            *about_readings(job),
            *not_by_chance(chosen.stated, job, outcome),
            *about_effects(job),
            *about_tools(job),
            *about_installed(job, bare.changes, screening.stopped),
            *about_places(job, bare.changes),
            *about_trial(job, outcome),
            *about_sizes(job, choice.stacks),
            *bare.findings,
            *not_read(job),
        ),
        reasons=tuple(explain(chosen, nearest, {finding.place for finding in doubted}, watch)),
        gauges=gauges(
            job,
            screening,
            supply,
            {name for name, gap in outcome.gaps.items() if gap.verdict == "inside"},
            {gap.name: choice.stacks.get(gap.effects[0][0], ()) for gap in job.gaps if gap.effects},
        ),
    )
    again = partial(_planned_again, watch=watch)
    remedies = replace(remedies_of(chosen, again), held=held_that_serves(chosen, again))
    told = replace(told, remedies=remedies, reasons=(*told.reasons, *opened_too(chosen, again)))
    told = replace(told, seconds=chosen.seconds + monotonic() - start)
    # what each piece more or less would give is worked out where every gap has a place of its own that was empty
    plain = not any(place.installed for place in job.places) and all(cluster.alone for cluster in job.clusters)
    if choices and plain and choice.way == "whole":
        told = replace(told, choices=alternatives(job, screening, choice, buy=chosen.buy, watch=watch))
    return told


def _planned_again(job: Job, buy: bool, watch: Watch) -> Chosen:
    """A changed job, planned with a few steps in the time that is left: to try a remedy."""
    return chosen_stacks(job, buy=buy, watch=Watch(watch.left(), min(watch.steps or _TRIAL_STEPS, _TRIAL_STEPS)))


def best_so_far(job: Job, watch: Watch, *, buy: bool = False) -> Decision:
    """The best that a plan under way has told its watch, checked but without its reasons; at first all as it was."""
    return unexplained(job, watch.best if isinstance(watch.best, Choice) else None, buy=buy)


def unexplained(job: Job, choice: Choice | None, *, buy: bool = False) -> Decision:
    """The plan that a choice makes, checked, without the reasons that take long: for a search that was cut off.

    Where there is no choice yet, all stays as it was. Raises FaultError where that fails its check.
    """
    planned = held_till_found_out(_decided_by_brackets(job))
    screening = _screened(planned, buy)
    choice = choice or _as_it_was(planned, screening, supply_of(planned, buy))
    return before_reasons(_checked(job, planned, screening, choice, buy))


def _checked(stated: Job, job: Job, screening: Screening, choice: Choice, buy: bool) -> Chosen:
    """A choice with what it comes to. Raises FaultError where that fails its check."""
    short = {*short_places(job, screening.suits, supply_of(job, buy)), *left_short(job, choice.stacks)}
    outcome = outcome_of(job, choice.stacks, screening.cautions, short)
    audit(job, choice.stacks, screening.suits, outcome, buy)
    return Chosen(stated=stated, job=job, buy=buy, screening=screening, choice=choice, outcome=outcome, seconds=0.0)


def before_reasons(chosen: Chosen) -> Decision:
    """The decision of a choice with what needs no search: findings about pieces, assumptions, moves."""
    job, stacks = chosen.job, chosen.choice.stacks
    return Decision(
        job=job,
        buy=chosen.buy,
        stacks=stacks,
        changes=changes_of(job, stacks),
        visit=visit_of(job),
        levels=chosen.choice.levels,
        outcome=chosen.outcome,
        nearest={},
        screening=chosen.screening,
        findings=(
            *about_record(job),
            *with_hard_between(chosen.screening.findings, job, stacks),
            *stack_findings(job, stacks),
        ),
        reasons=(),
        gauges={},
        assumptions=tuple(assumptions(job, stacks)),
        seconds=chosen.seconds,
        way=chosen.choice.way,
        scarce=chosen.choice.scarce,
    )


def _as_it_was(job: Job, screening: Screening, supply: Mapping[int, int]) -> Choice:
    """Every place with what was in it, of which nothing is proven."""
    stacks = {place.name: tuple(place.installed) for place in job.places}
    short = {*short_places(job, screening.suits, supply), *left_short(job, stacks)}
    values = outcome_of(job, stacks, screening.cautions, short).levels
    return Choice(stacks, tuple(LevelResult(level, values[level], None, Proof.NONE, 0.0) for level in job.levels))


def _screened(job: Job, buy: bool) -> Screening:
    """What suits each place. Raises InputError where prices or seats do not agree."""
    if problems := list(too_large_to_carry(job)):
        raise InputError(problems)
    screening = screen(job, buy=buy)
    if buy:
        _refuse_mixed_money(job, screening)
    _refuse_unequal_seats(job, screening)
    return screening


def _compare(choice: Choice, outcome: Outcome) -> None:
    """The levels as chosen and as worked out by plain arithmetic must be the same."""
    for level in choice.levels:
        if level.value != outcome.levels[level.name]:
            raise FaultError(f"level {level.name}: chosen at {level.value}, checked at {outcome.levels[level.name]}")


def _decided_by_brackets(job: Job) -> Job:
    """The job with brackets, not chances, deciding where a place does not move one gap alone.

    What a chance makes of several places together is no sum, and could not be proven.
    """
    together = {name for cluster in job.clusters if not cluster.alone and not cluster.fixed for name in cluster.gaps}
    if not any(gap.least_chance is not None for gap in job.gaps if gap.name in together):
        return job
    gaps = (replace(gap, least_chance=None) if gap.name in together else gap for gap in job.gaps)
    return replace(job, gaps=tuple(gaps))


def _refuse_unequal_seats(job: Job, screening: Screening) -> None:
    """Equal packs on different seats need parts that suit all of them."""
    problems = []
    for names in job.equal:
        suits = [{job.stock[i].part.name for i in screening.suits[name]} for name in names]
        held = {(job.place[name].seat, job.place[name].parts) for name in names}
        if job.stock and len(held) > 1 and not set.intersection(*suits):
            problems.append(
                Problem(
                    "job",
                    "equal",
                    ", ".join(names),
                    "no part suits the seats of all these places",
                    "take them out of `equal`, or add parts that suit all of them",
                )
            )
    if problems:
        raise InputError(problems)


def _refuse_mixed_money(job: Job, screening: Screening) -> None:
    usable = sorted({i for suits in screening.suits.values() for i in suits})
    priced = [(job.stock[i].part.name, o) for i in usable for o in job.stock[i].offers if o.price is not None]
    if len({offer.currency for _, offer in priced}) > 1:
        first = {offer.currency: (name, offer) for name, offer in reversed(priced)}
        raise InputError(
            [
                Problem(
                    offer.catalogue,
                    f"part {name}, column currency",
                    currency or "(none named)",
                    "prices in several currencies cannot be added",
                    "give all prices in one currency",
                )
                for currency, (name, offer) in sorted(first.items())
            ]
        )
