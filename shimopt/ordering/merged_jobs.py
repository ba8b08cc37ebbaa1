"""Several jobs as one: they share drawer, catalogues and postage."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from shimopt.arithmetic.clearance import Stack
from shimopt.errors import InputError, Problem
from shimopt.job import Job, Supplier
from shimopt.parts import Offer, Part, StockLine


@dataclass(frozen=True, slots=True)
class Merged:
    """Jobs with one stock in common, all their suppliers, and by job the stock lines that its own files name."""

    jobs: tuple[Job, ...]
    suppliers: tuple[Supplier, ...]
    own: tuple[frozenset[int], ...]


def with_coming(jobs: Sequence[Job]) -> list[Job]:
    """The jobs with what is on order counted as on hand: it is bought already."""
    return [
        replace(job, stock=tuple(replace(line, on_hand=line.on_hand + line.coming) for line in job.stock))
        if any(line.coming for line in job.stock)
        else job
        for job in jobs
    ]


def merged(jobs: Sequence[Job]) -> Merged:
    """The jobs with their stock put together.

    A drawer that several jobs name counts once; different drawers are put together. Raises InputError where the jobs
    disagree on a supplier's terms, on the micrometer or on a currency.
    """
    problems = [*_differing_suppliers(jobs), *_differing_micrometers(jobs), *_differing_rates(jobs)]
    if problems:
        raise InputError(problems)
    suppliers = {supplier.name: supplier for job in jobs for supplier in job.suppliers}
    if len(jobs) == 1:
        return Merged(tuple(jobs), tuple(suppliers.values()), (frozenset(range(len(jobs[0].stock))),))
    lines: dict[object, StockLine] = {}
    drawers: set[str] = set()
    for job in jobs:
        drawer = job.drawer_key
        counted = bool(drawer) and drawer in drawers
        drawers.add(drawer)
        for line in job.stock:
            kind = _kind(line.part)
            old = lines.get(kind, replace(line, on_hand=0, offers=()))
            offers = tuple({_terms(offer): offer for offer in (*old.offers, *line.offers)}.values())
            # of one drawer counted already only what no other job sees is more
            more = (line.held + line.coming_for_it, line.coming_for_it) if counted else (line.on_hand, line.coming)
            before = (old.coming, old.coming_for_it) if kind in lines else (0, 0)
            lines[kind] = replace(
                old,
                on_hand=old.on_hand + more[0],
                offers=offers,
                coming=before[0] + more[1],
                coming_for_it=before[1] + line.coming_for_it,
            )
    stock = tuple(sorted(lines.values(), key=lambda line: line.part.order))
    at = {_kind(line.part): number for number, line in enumerate(stock)}
    own = tuple(frozenset(at[_kind(line.part)] for line in job.stock) for job in jobs)
    return Merged(tuple(_with_stock(job, stock, at) for job in jobs), tuple(suppliers.values()), own)


def _kind(part: Part) -> object:
    """What tells one part from another in a common stock."""
    return part.name, part.piece, part.thickness, part.inner, part.outer


def _with_stock(job: Job, stock: tuple[StockLine, ...], at: Mapping[object, int]) -> Job:
    """The job with the common stock; what is in its places, was in them or came out of them is found there."""

    def there(pieces: Stack) -> Stack:
        return tuple(sorted(at[_kind(job.stock[i].part)] for i in pieces))

    places = tuple(
        replace(place, installed=there(place.installed), came_out=there(place.came_out)) for place in job.places
    )
    began = {name: there(pieces) for name, pieces in job.began_with.items()}
    read = {name: there(pieces) for name, pieces in job.read_with.items()}
    return replace(job, stock=stock, places=places, began_with=began, read_with=read)


def _terms(offer: Offer) -> Offer:
    return replace(offer, catalogue="")


def _file(job: Job) -> str:
    return job.inputs[0] if job.inputs else job.title


def _differing_suppliers(jobs: Sequence[Job]) -> list[Problem]:
    first: dict[str, tuple[Supplier, Job]] = {}
    problems = []
    for job in jobs:
        for supplier in job.suppliers:
            other, where = first.setdefault(supplier.name, (supplier, job))
            if other != supplier:
                problems.append(
                    Problem(
                        _file(job),
                        f'[[supplier]] "{supplier.name}"',
                        "",
                        f"{_file(where)} states other terms of this supplier",
                        "state the same postage, smallest order and currency in both",
                    )
                )
    return problems


def _differing_rates(jobs: Sequence[Job]) -> list[Problem]:
    """Jobs whose money is in different currencies, or that let one of a currency cost differently."""
    problems = []
    first = next((job for job in jobs if job.money.currency), None)
    for job in jobs if first is not None else ():
        theirs, ours = (first or job).money, job.money
        if ours.currency not in ("", theirs.currency):
            rule = f"{_file(first or job)} counts in {theirs.currency}, and what they need is bought together"
            problems.append(Problem(_file(job), "currency", ours.currency, rule, "count in one currency in both"))
            continue
        for name, rate in ours.rates.items():
            if name in theirs.rates and theirs.rates[name].rate != rate.rate:
                rule = f"{_file(first or job)} says that one {name} costs {theirs.rates[name].rate}"
                problems.append(Problem(_file(job), f"rates.{name}", f"{rate.rate}", rule, "state one rate in both"))
    return problems


def _differing_micrometers(jobs: Sequence[Job]) -> list[Problem]:
    if len({job.micrometer for job in jobs}) <= 1:
        return []
    return [
        Problem(
            _file(jobs[-1]),
            "micrometer",
            "",
            "jobs that share a drawer name different micrometers",
            "name the same micrometer in all of them, or order for each alone",
        )
    ]
