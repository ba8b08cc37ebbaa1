"""From the options of all places to the whole-number model: what they share becomes rows and helpers.

Every row and every helper is a whole number of ticks. A helper's value in a solution only has to be right where a level
is brought down; what a choice is worth is always worked out anew from its columns.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from shimopt.arithmetic.in_vain import most_outside
from shimopt.candidates import PlaceOptions, Scale
from shimopt.choose.coupling import Linked, Ties, linked_gaps
from shimopt.choose.whole_model import Model, Tied
from shimopt.job import Job
from shimopt.job.levels import Level
from shimopt.proof.rows import Row


def build_model(
    job: Job,
    scale: Scale,
    options: Sequence[PlaceOptions],
    supply: Mapping[int, int],
    fights: Mapping[tuple[str, ...], int] | None = None,
) -> Model:
    """The model of a job.

    Parameters: supply, what can be had of each stock line; fights, gaps whose windows surely miss each other, and by
    how much in all [ticks].
    """
    columns = [option for place in options for option in place.options]
    groups, start = [], 0
    for place in options:
        groups.append(range(start, start + len(place.options)))
        start += len(place.options)
    place_of = [place.place for place in options]
    prices = [offer.price for line in job.stock for offer in line.offers if offer.price is not None]
    linked = linked_gaps(job, scale, groups, columns, place_of)
    model = Model(
        job,
        scale,
        groups,
        columns,
        [place.gap for place in options],
        supply=dict(supply),
        place_of=place_of,
        linked=linked,
        linked_from=_linked_from(linked.values()),
        balances_from=_balances_from(job, scale, place_of, [place.gap for place in options], linked),
        price_unit=10 ** max((-min(0, int(price.as_tuple().exponent)) for price in prices), default=0),
    )
    for level in ("short", "split", *(level for level in Level if level.of in ("gap", "stack"))):
        model.levels[level] = {c: share for c, option in enumerate(columns) if (share := option.share.get(level, 0))}
    for place, group in zip(options, groups, strict=True):
        if place.gap:
            model.outs[place.gap] = {c: 1 for c in group if columns[c].outside}
    model.levels |= _add_stock(model)
    model.shared_rows, model.shared_helpers = len(model.rows), len(model.helpers)
    for gap in model.linked.values():
        _add_linked(model, gap, exact_outside=job.levels[0] != "outside")
    for gaps, miss in (fights or {}).items():
        _add_fight(model, gaps, miss)
    group_of = {place: at for at, place in enumerate(place_of) if place}
    model.ties = replace(
        _add_ties(model, job, [cluster.places for cluster in job.clusters], group_of),
        worth=_add_worth(model, job, group_of),
        tight=_add_tight(model),
    )
    model.own_rows, model.own_helpers = len(model.rows), len(model.helpers)
    model.levels |= _add_balances(model)
    return model


def _linked_from(linked: Iterable[Linked]) -> dict[int, list[Linked]]:
    found: dict[int, list[Linked]] = defaultdict(list)
    for gap in linked:
        found[min(gap.groups)].append(gap)
    return found


def _balances_from(
    job: Job, scale: Scale, place_of: Sequence[str], gap_of: Sequence[str], linked: Mapping[str, Linked]
) -> dict[int, list[Tied]]:
    """Balances by the first group that each ties: those of its gaps, or of its places and all gaps that they move."""
    of_place = {place: at for at, place in enumerate(place_of) if place}
    of_gap = {gap: at for at, gap in enumerate(gap_of) if gap}
    found: dict[int, list[Tied]] = defaultdict(list)
    for balance in job.balances:
        groups = {of_place[place] for place in balance.places}
        for name in job.gaps_behind(balance):
            groups |= set(linked[name].groups) if name in linked else {of_gap[name]}
        offset = {name: scale.ticks(balance.offset.get(name, 0)) for name in balance.members}
        within = None if balance.within is None else scale.ticks(balance.within)
        found[min(groups)].append(Tied(balance, frozenset(groups), offset, within))
    return found


def _add_stock(model: Model) -> dict[str, dict[int, int]]:
    """Pieces used are on hand, or bought in whole packs: the terms of the levels of buying."""
    uses: dict[int, dict[int, int]] = defaultdict(dict)
    most: Counter[int] = Counter()
    for group in model.groups:
        here: Counter[int] = Counter()
        for column in group:
            for i, count in Counter(model.columns[column].stack).items():
                uses[i][column] = count
                here[i] = max(here[i], count)
        most.update(here)
    bought, unpriced, cost = {}, {}, {}
    for i in sorted(uses):
        line = model.job.stock[i]
        there = model.job.there[i]
        if most[i] <= there:
            continue
        if model.supply[i] <= there:
            model.rows.append(Row(dict(uses[i]), there))
            continue
        need = most[i] - there
        pieces = model.add_helper(0, need, whole=False)
        bought[pieces] = 1
        model.rows.append(Row({**uses[i], pieces: -1}, there))
        packs = {}
        for offer in line.offers:
            if offer.price is None:
                continue
            pack = model.add_helper(0, -(-need // offer.pack), whole=True)
            packs[pack] = -offer.pack
            cost[pack] = int(offer.price * model.price_unit)
        if packs:
            model.rows.append(Row({pieces: 1, **packs}, 0))
        else:
            unpriced[pieces] = 1
    return {"bought": bought, "unpriced": unpriced, "cost": cost}


def _add_balances(model: Model) -> dict[str, dict[int, int]]:
    """The spread of a balance, and its excess; both nothing where a gap of it is outside: the terms of both."""
    spread, excess = {}, {}
    group_of = {gap: group for gap, group in zip(model.places, model.groups, strict=True) if gap}
    group_at = {place: group for place, group in zip(model.place_of, model.groups, strict=True) if place}
    for balance in model.job.balances:
        offsets = {name: model.scale.ticks(balance.offset.get(name, 0)) for name in balance.members}
        even = {
            name: _thick(model, group_at[name], offset)
            if balance.places
            else _even(model, name, group_of.get(name, range(0)), offset)
            for name, offset in offsets.items()
        }
        floor, ceiling = min(least for _, _, least, _ in even.values()), max(most for _, _, _, most in even.values())
        widest = ceiling - floor
        if widest == 0:
            continue
        outside = {at: 1 for name in model.job.gaps_behind(balance) for at in model.outs[name]}
        top, bottom = (model.add_helper(0, widest, whole=False) for _ in range(2))
        width = model.add_helper(0, widest, whole=False)
        spread[width] = 1
        # a gap outside sets the balance aside: the row that ties the width to top and bottom is then slack
        model.rows.append(Row({top: 1, bottom: -1, width: -1, **dict.fromkeys(outside, -widest)}, 0))
        for base, terms, _, _ in even.values():
            model.rows.append(Row({**terms, top: -1}, floor - base))
            model.rows.append(Row({**{c: -t for c, t in terms.items()}, bottom: 1}, base - floor))
        if balance.within is not None:
            over = model.add_helper(0, widest, whole=False)
            excess[over] = 1
            model.rows.append(Row({width: 1, over: -1}, model.scale.ticks(balance.within)))
    return {"spread": spread, "excess": excess}


def _even(model: Model, gap: str, group: range, offset: int) -> tuple[int, dict[int, int], int, int]:
    """A gap's best estimate less its offset: a number, the terms that are added to it, and its least and most."""
    if gap in model.linked:
        linked = model.linked[gap]
        least, most = linked.range(1)
        return linked.judge.read[1] - offset, linked.terms(1), least - offset, most - offset
    return _one_of({c: model.columns[c].best - offset for c in group})


def _thick(model: Model, group: range, offset: int) -> tuple[int, dict[int, int], int, int]:
    """The same of a place: how thick its stack is, less its offset."""
    return _one_of({c: model.thickness(c) - offset for c in group})


def _one_of(values: Mapping[int, int]) -> tuple[int, dict[int, int], int, int]:
    """One column of a group is chosen: the least value goes into the number, so that terms stay small."""
    least = min(values.values())
    return least, {c: value - least for c, value in values.items() if value > least}, least, max(values.values())


def _add_linked(model: Model, linked: Linked, *, exact_outside: bool) -> None:
    """Rows and helpers of one gap.

    `exact_outside`: also forbid to call a gap outside that is not. Where `outside` is brought down before anything else
    that comes by itself; in another order of levels a balance could be set aside by a lie.
    """
    judge, levels = linked.judge, model.levels
    best = linked.terms(1)
    below, above = 0, 0
    outs: dict[int, int] = {}
    least, most = linked.range(1)
    if judge.max is not None and most > judge.max:
        above = most - judge.max
        outs[_side(model, best, judge.read[1], judge.max, (least, most), exact=exact_outside)] = 1
    if judge.min is not None and least < judge.min:
        below = judge.min - least
        outs[_side(model, _turned(best), -judge.read[1], -judge.min, (-most, -least), exact=exact_outside)] = 1
    model.outs[linked.name] = outs
    levels["outside"] |= outs
    if above or below:
        miss = model.add_helper(0, max(above, below), whole=False)
        levels["miss"][miss] = 1
        model.misses[linked.name] = miss
        if above:
            model.add_row({**best, miss: -1}, (judge.max or 0) - judge.read[1])
        if below:
            model.add_row({**_turned(best), miss: -1}, judge.read[1] - (judge.min or 0))
    _add_doubt(model, linked, outs)
    if judge.target is not None and (off := max(most - judge.target, judge.target - least)) > 0:
        away = model.add_helper(0, off, whole=False)
        levels["target"][away] = 1
        model.add_row({**best, away: -1}, judge.target - judge.read[1])
        model.add_row({**_turned(best), away: -1}, judge.read[1] - judge.target)


def _side(model: Model, terms: Mapping[int, int], read: int, limit: int, ends: tuple[int, int], *, exact: bool) -> int:
    """A yes-or-no helper: the estimate read + terms, which runs from end to end, lies above the limit."""
    least, most = ends
    out = model.add_helper(0, 1, whole=True)
    model.add_row({**terms, out: limit - most}, limit - read)
    if exact and least <= limit:
        # above the limit by at least one tick, or not called so
        model.add_row({**_turned(terms), out: limit + 1 - least}, read - least)
    return out


def _add_doubt(model: Model, linked: Linked, outs: Mapping[int, int]) -> None:
    """Whether the bracket stands out of the window, and by how much; nothing where the gap is outside."""
    judge = linked.judge
    least, most = linked.range(0)[0] - linked.most_allowed, linked.range(2)[1] + linked.most_allowed
    sides: list[tuple[dict[int, int], int, int, int]] = []
    if judge.max is not None and most > judge.max:
        sides.append((linked.terms(2), judge.read[2], judge.max, most - judge.max))
    if judge.min is not None and least < judge.min:
        sides.append((_turned(linked.terms(0)), -judge.read[0], -judge.min, judge.min - least))
    if not sides:
        return
    unproven = model.add_helper(0, 1, whole=True)
    model.levels["unproven"][unproven] = 1
    for terms, read, limit, reach in sides:
        doubt = model.add_helper(0, reach, whole=False)
        model.levels["doubt"][doubt] = 1
        slack = dict.fromkeys(outs, -reach)
        model.add_row({**terms, **slack, unproven: -reach}, limit - read)
        model.add_row({**terms, **slack, doubt: -1}, limit - read)


def _turned(terms: Mapping[int, int]) -> dict[int, int]:
    return {c: -term for c, term in terms.items()}


def _add_fight(model: Model, gaps: Sequence[str], apart: int) -> None:
    """Windows that surely miss each other by `apart` in all: at least one gap is outside, and so much is missed.

    The solver would find out by itself, after a long search.
    """
    if all(name in model.misses for name in gaps):
        model.add_row({out: -1 for name in gaps for out in model.outs[name]}, -1)
        model.add_row({model.misses[name]: -1 for name in gaps}, -apart)


def _add_ties(model: Model, job: Job, clusters: Iterable[Sequence[str]], group_of: Mapping[str, int]) -> Ties:
    """The rows of equal packs, and of places that get no stack because one is short of its least number."""
    ties = Ties(
        tuple(tuple(group_of[name] for name in names) for names in job.equal if set(names) <= set(group_of)),
        tuple(
            tuple(group_of[name] for name in places)
            for places in clusters
            if len(places) > 1 and set(places) <= set(group_of)
        ),
    )
    for at in ties.equal:
        _add_equal(model, [model.groups[group] for group in at])
    for at in ties.together:
        stays = [model.groups[group][0] for group in at]
        for stay in stays:
            if model.columns[stay].share.get("short"):
                for other in stays:
                    if other != stay:
                        model.add_row({stay: 1, other: -1}, 0)
    return ties


def _add_worth(
    model: Model, job: Job, group_of: Mapping[str, int]
) -> tuple[tuple[tuple[int, ...], tuple[str, ...], int], ...]:
    """The rows of places that are changed only if fewer of their gaps are outside: groups, gaps, how many may be."""
    found = []
    for cluster in job.clusters:
        gaps = tuple(name for name in cluster.gaps if model.outs.get(name))
        most = most_outside(job, cluster)
        if cluster.alone or cluster.fixed or not {*cluster.places} <= {*group_of} or len(gaps) <= most:
            continue
        groups = tuple(group_of[name] for name in cluster.places)
        outs = {out: 1 for name in gaps for out in model.outs[name]}
        # as it was one more may be outside, or none where none was
        stays = sum(off != 0 for off in (model.linked[n].judge.off(model.linked[n].judge.read[1]) for n in gaps))
        more = {} if stays <= most else {0: most - stays}
        for group in groups:
            model.add_row({**outs, **{model.groups[group][at]: less for at, less in more.items()}}, most)
        found.append((groups, gaps, most))
    return tuple(found)


def _add_tight(model: Model) -> tuple[tuple[str, int], ...]:
    """The rows of gaps that may not become too tight, nor tighter where they are: each with the least it may be off."""
    found = []
    for linked in model.linked.values():
        judge = linked.judge
        if judge.min is not None and linked.range(1)[0] < (least := min(judge.read[1], judge.min)):
            found.append((linked.name, least - judge.min))
            model.add_row(_turned(linked.terms(1)), judge.read[1] - least)
    return tuple(found)


def _add_equal(model: Model, groups: Sequence[range]) -> None:
    packs = [{c: model.pieces(c) for c in group} for group in groups]
    stay: int | None = None
    if len({pack[group[0]] for pack, group in zip(packs, groups, strict=True)}) > 1:
        stay = model.add_helper(0, 1, whole=True)
        for group in groups:
            model.add_row({stay: 1, group[0]: -1}, 0)
    for one in sorted({one for pack in packs for pieces in pack.values() for one in pieces}):
        first, *others = ({c: n for c, pieces in pack.items() if (n := pieces.count(one))} for pack in packs)
        for other in others:
            reach = max([*first.values(), *other.values()], default=0)
            slack = {} if stay is None else {stay: -reach}
            model.add_row({**first, **_turned(other), **slack}, 0)
            model.add_row({**_turned(first), **other, **slack}, 0)
