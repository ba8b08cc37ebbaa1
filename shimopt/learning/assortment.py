"""Which drawer to keep: the kit that serves most jobs until the next delivery, tried on seasons it was not chosen for.

Sample average approximation (Kleywegt, Shapiro and Homem-de-Mello, 2002): the best kit for seasons drawn from what the
shop had to do, judged on others; the average of several such models' bounds is, but for chance, above what any kit can
serve. Where there are few mixes of jobs all of them are looked at, and nothing is left to chance.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from shimopt.errors import InputError
from shimopt.learning.kit_budget import Budget
from shimopt.learning.kit_model import KitModel
from shimopt.learning.kit_search import climbed, equal_kit, every_kit, judge_of, kit_by_use, trimmed
from shimopt.learning.needs import Need
from shimopt.learning.seasons import Kit, Kits, OneByOne, Season, all_mixes, all_orders, average, drawn, served_by_each
from shimopt.watch import Few, Limit

# seasons that a kit is chosen by and judged by, and models for the bound; fewer where jobs have several gaps
_CHOSEN_BY, _JUDGED_BY, _MODELS = 400, 2_000, 6
_CHOSEN_BY_SEVERAL, _JUDGED_BY_SEVERAL = 60, 300
# of jobs that more stacks serve than these, as where every piece is measured, fewer; never less than a sixth
_STACKS, _LEAST_SHARE = 200, 6
# so many columns of a model are searched through in a few seconds
_COLUMNS, _LEAST_SEASONS, _MOST_SEASONS = 6_000, 4, 30
_NODES = 40
# where so many kits are looked at, those with room left too, all are tried, on ever more seasons ever fewer of them,
# the best so far; where jobs have several gaps, or where every season there is is looked at, fewer
_MOST_KITS, _MOST_SLOWLY = 9_000_000, 30_000
_FIRST_SIEVES = ((20, 100_000), (60, 2_000))
_SIEVES = ((60, 2_000), (_CHOSEN_BY, 60))
# 95 % on one side by Student's t with five degrees of freedom, as every table of it has
_T = 2.015
SURE = NormalDist().inv_cdf(0.975)
# so much less of a gain is small: not worth a new way of keeping the drawer
_SMALL = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Assortment:
    """A kit for `jobs` jobs between two deliveries, `served` of them on average, give or take `error` (95 %).

    `bound`: no kit of this budget serves more (`exact`), or more than that only by a chance of 5 %. `by_use` and
    `equally` are what kits in proportion to use, and of equal counts, serve. `curve` holds other budgets and what they
    serve.
    """

    needs: tuple[Need, ...]
    jobs: int
    budget: Budget
    kit: Kit
    served: float
    error: float
    bound: float
    exact: bool
    by_use: float
    equally: float
    curve: tuple[tuple[Budget, float], ...] = ()

    @property
    def gain(self) -> float:
        """How many more jobs are served than by a kit in proportion to use, as a share of those."""
        return self.served / self.by_use - 1 if self.by_use else 0.0

    @property
    def gains_little(self) -> bool:
        """Whether that is small, or may be chance."""
        return self.gain < _SMALL or self.served - self.by_use <= self.error

    @property
    def never(self) -> tuple[Need, ...]:
        """Jobs that no stack of these parts serves."""
        return tuple(need for need in self.needs if need.never)


def assortment_of(
    needs: Sequence[Need], budget: Budget, jobs: int, limit: Limit, progress: Callable[[str], None] = lambda _: None
) -> Assortment:
    """The kit to keep. Raises InputError where nothing is left to go by."""
    counted = [need for need in needs if need.not_counted is None]
    if not counted:
        raise InputError.at(
            "", "no job says what it would need", "name jobs with readings of their own", where="READINGS"
        )
    parts = len(budget.on_hand)
    single = all(len(need.gaps) <= 1 for need in counted)
    chosen, judged_by = _how_many(counted)
    chosen_by = drawn(len(counted), jobs, chosen, seed=1)
    progress(f"{len(counted)} jobs; looking for the kit")
    served = judge_of(counted, chosen_by, parts)
    useful = sorted({part for need in counted for stacks in need.gaps for stack in stacks for part in stack})
    by_use, equal = kit_by_use(counted, budget), equal_kit(counted, budget)
    orders = all_orders(len(counted), jobs)
    few = every_kit(budget, useful, _MOST_KITS if single and orders is None else _MOST_SLOWLY)
    if few is None:
        found = max(
            (climbed(kit, budget, served, useful) for kit in {by_use, equal}), key=lambda one: (served(one), one)
        )
        progress("how many any kit could serve")
        bound, exact, proposed = _bound(counted, budget, jobs, found, limit)
        kits = [found, *(climbed(kit, budget, served, useful) for kit in proposed)]
        best = max(kits, key=lambda one: (served(one), one))
    else:
        progress(f"each of {len(few)} kits")
        best, bound = _best_of_all(counted, few, jobs, orders)
        exact = orders is not None
    best = trimmed(best, budget, served)
    progress("trying the kit on seasons it was not chosen for")
    by_hundreds = judged_by if few is None else _JUDGED_BY
    judged = orders or drawn(len(counted), jobs, by_hundreds, seed=2)
    one_by_one = OneByOne(counted)
    mean, error = average([one_by_one.served(best, season) for season in judged])
    sure = orders is not None
    judge = judge_of(counted, judged, parts)
    simple = judge(by_use), judge(equal)
    return Assortment(
        needs=tuple(needs),
        jobs=jobs,
        budget=budget,
        kit=best,
        served=mean,
        error=0.0 if sure else SURE * error,
        # drawn seasons may serve a kit better than those that the bound was drawn from
        bound=max(bound, mean, *simple),
        exact=exact,
        by_use=simple[0],
        equally=simple[1],
        curve=_curve(counted, budget, served, judge, useful, best),
    )


def _how_many(needs: Sequence[Need]) -> tuple[int, int]:
    """Seasons that a kit is chosen by, and judged by."""
    if all(len(need.gaps) <= 1 for need in needs):
        return _CHOSEN_BY, _JUDGED_BY
    stacks = sum(len(stacks) for need in needs for stacks in need.gaps) / len(needs)
    less = min(_LEAST_SHARE, max(1.0, stacks / _STACKS))
    return round(_CHOSEN_BY_SEVERAL / less), round(_JUDGED_BY_SEVERAL / less)


def _best_of_all(needs: Sequence[Need], every: Kits, jobs: int, orders: list[Season] | None) -> tuple[Kit, float]:
    """The best of all kits there are, and what none of them serves more than; but for chance where seasons are drawn.

    Those that are far behind on the first seasons are not looked at again.
    """
    parts = every.shape[1]
    for number, (seasons, left) in enumerate(_FIRST_SIEVES if len(every) > _MOST_SLOWLY else ()):
        served = served_by_each(needs, every, drawn(len(needs), jobs, seasons, seed=40 + number))
        every = every[np.argsort(-served, kind="stable")[:left]]
    kits: list[Kit] = [tuple(kit) for kit in every.tolist()]
    if orders is not None:
        judge = judge_of(needs, orders, parts)
        best = max(kits, key=lambda kit: (judge(kit), kit))
        return best, judge(best)
    near = kits
    for number, (seasons, left) in enumerate(_SIEVES):
        near = sorted(near, key=judge_of(needs, drawn(len(needs), jobs, seasons, seed=50 + number), parts))[-left:]
    tops, most = list[Kit](), list[float]()
    for number in range(_MODELS):
        judge = judge_of(needs, drawn(len(needs), jobs, _JUDGED_BY, seed=100 + number), parts)
        tops.append(max(near, key=lambda kit: (judge(kit), kit)))
        most.append(judge(tops[-1]))
    mean, error = average(most)
    # chosen by seasons that it is not judged by
    judge = judge_of(needs, drawn(len(needs), jobs, _MODELS * _JUDGED_BY, seed=3), parts)
    return max(set(tops), key=lambda kit: (judge(kit), kit)), mean + _T * error


def kit_tried(needs: Sequence[Need], budget: Budget, jobs: int, kit: Kit) -> tuple[float, float]:
    """What a kit serves, and one found from it by steps: both judged on seasons that they were not chosen by."""
    counted = [need for need in needs if need.not_counted is None]
    parts, seasons = len(budget.on_hand), _how_many(counted)
    served, judge = (
        judge_of(counted, drawn(len(counted), jobs, number, seed), parts)
        for seed, number in enumerate(seasons, start=1)
    )
    useful = sorted({part for need in counted for stacks in need.gaps for stack in stacks for part in stack})
    return judge(kit), judge(climbed(kit, budget, served, useful, rounds=12))


def _curve(
    needs: Sequence[Need],
    budget: Budget,
    served: Callable[[Kit], float],
    judge: Callable[[Kit], float],
    useful: Sequence[int],
    best: Kit,
) -> tuple[tuple[Budget, float], ...]:
    """What other budgets serve, each by a kit of its own; a larger one can hold the kit of a smaller one."""
    found = dict[Budget, float]()
    most = 0.0
    # no money spent is a budget too: what is on hand serves something
    for share in (0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 2.0):
        other = budget.times(share)
        if other in found or other.pieces == 0:
            continue
        kit = best if other == budget else climbed(kit_by_use(needs, other), other, served, useful, rounds=8)
        most = judge(kit) if other == budget else max(most, judge(kit))
        found[other] = most
    return tuple(found.items())


def _bound(needs: Sequence[Need], budget: Budget, jobs: int, kit: Kit, limit: Limit) -> tuple[float, bool, list[Kit]]:
    """How many jobs of a season any kit serves at most, whether that is exact, and kits that came up."""
    columns = sum(1 + len(stacks) for need in needs for stacks in need.gaps) / len(needs)
    mixes = all_mixes(len(needs), jobs)
    if mixes is not None and len(mixes) * jobs * columns <= 2 * _COLUMNS:
        model = KitModel(needs, mixes, budget, kit)
        lost = model.least_lost(Few(10 * _NODES, limit))
        return jobs * (1 - lost / model.jobs), True, [model.best]
    seasons = min(_MOST_SEASONS, max(_LEAST_SEASONS, int(_COLUMNS / max(1.0, jobs * columns))))
    most, kits = list[float](), list[Kit]()
    for number in range(_MODELS):
        model = KitModel(needs, drawn(len(needs), jobs, seasons, seed=100 + number), budget, kit)
        most.append(jobs * (1 - model.least_lost(Few(_NODES, limit)) / model.jobs))
        kits.append(model.best)
        if limit.over():
            break
    mean, error = average(most)
    without = sum(need.never for need in needs) / len(needs)
    return min(mean + _T * error, jobs * (1 - without)), False, kits
