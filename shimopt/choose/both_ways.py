"""One stack per place, by both ways: the whole way as far as it is cheap, prices, the whole way for what they leave."""

from __future__ import annotations

from fractions import Fraction
from functools import partial

from shimopt.choose.chooser import OPTIONS_TRIED, Chooser, supply_of
from shimopt.choose.chosen import Choice
from shimopt.choose.quick_plan import plan_at_once
from shimopt.job import Job
from shimopt.seats import Screening
from shimopt.watch import Few, Watch

# of a job of more gaps it is told which sizes hold it back
_MANY_GAPS = 300
# a job of so few places and stock lines is planned before anybody looks at a watch
_FEW_TO_WAIT_FOR, _FEW_LINES = 12, 60
# so many places a plan at once may look at, one as often as it likes; or so much of the time that is left
_LOOKS_AT_ONCE, _SHARE_AT_ONCE = 600, 0.5


def choose(job: Job, screening: Screening, *, buy: bool = False, watch: Watch | None = None) -> Choice:
    """Choose one stack per place, level by level.

    Parameters: buy, whether what the catalogues offer may be used; watch, how long it may take, told what begins.
    """
    watch = watch or Watch()
    at_once = _at_once(job, screening, buy, watch)
    choice = _searched(job, screening, buy, watch, at_once)
    # a search that was cut off may not have come so far
    return choice if at_once is None or choice.values <= at_once.values else at_once


def _searched(job: Job, screening: Screening, buy: bool, watch: Watch, at_once: Choice | None) -> Choice:
    """The whole way as far as it is cheap, then prices, then the whole way with the plan and the bounds of these.

    Prices know only clusters that share nothing but the drawer: all other jobs are solved whole. Where the time is over
    before there is a model, it is the plan `at_once`.
    """
    whole = partial(Chooser, job, screening, buy, watch)
    if not _can_be_priced(job, buy):
        return whole().choice()
    # every place has an option at least
    if len(job.places) <= OPTIONS_TRIED and (choice := whole().tried()) is not None:
        return choice
    # loaded only where it is needed: arrays take as long to load as a small job to plan
    from shimopt.choose.priced import priced_choice

    choice = priced_choice(job, screening, supply_of(job, buy), watch, scarce=len(job.gaps) > _MANY_GAPS)
    if choice is None:
        return at_once if at_once is not None and watch.left() == 0.0 else whole().choice()
    # where only ties are open, they are too many to settle
    if all(level.proven for level in choice.levels) or (other := whole().choice_after(choice)) is None:
        return choice
    # the time may have gone into the first
    return min(other, choice, key=_values_and_how_sure)


def _can_be_priced(job: Job, buy: bool) -> bool:
    """Whether prices know such a job at first sight; `priced.fleet_of` looks closer.

    What they don't know goes the whole way. CPU seconds on two cores with ten others at work (`tests/speed/page.py`
    measures such jobs): places in pairs, 300: 4.7, 1,000: 17; `--buy` from all of a standard, 100 gaps: 0.5, 300: 1.1,
    1,000: 3.4, 3,000: 8.9. Prices know equal packs (300 gaps, a pair of them in ten: 1.3), gaps in several balances
    (chains of ten, 100: 0.9, 300: 0.9, 1,000: 2.4) and one balance of all (100: 0.7, 300: 2.4, 1,000: 7.4; with
    readings and sizes to 0.001 mm 100: 5, 300: 33). What is still slow, all of it with too little in the drawer: every
    gap in a pack with another (100: 5, 300: 14 to 18), one chain of 99 balances (16), packs and balances of the same
    gaps that are too many to list (100, whole: 16).
    """
    packs = {name for names in job.equal for name in names}
    return not buy and all(
        cluster.alone or (packs.issuperset(cluster.places) and len(cluster.gaps) == len(cluster.places))
        for cluster in job.clusters
    )


def _values_and_how_sure(choice: Choice) -> tuple[tuple[Fraction, ...], int]:
    """By which of two choices of the same job one is kept."""
    return choice.values, sum(not level.proven for level in choice.levels)


def _at_once(job: Job, screening: Screening, buy: bool, watch: Watch) -> Choice | None:
    """Where somebody said how long he waits, or the search may be long: a plan, told before models take their time."""
    left, many = watch.left(), len(job.places) > _FEW_TO_WAIT_FOR or len(job.stock) > _FEW_LINES
    # by prices the first plan of a job is there as soon
    if left is None and (not many or _can_be_priced(job, buy)):
        return None
    # without a limit the same on every machine
    limit = Few(_LOOKS_AT_ONCE, watch) if left is None else Watch(left * _SHARE_AT_ONCE)
    choice = plan_at_once(job, screening, supply_of(job, buy), limit)
    if choice is not None:
        watch.told(choice, choice.judged)
    return choice
