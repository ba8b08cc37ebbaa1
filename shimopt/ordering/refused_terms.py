"""Terms that cannot be compared: suppliers of whom nothing is known, money in currencies that nobody changes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from shimopt.errors import InputError, Problem, nearest_name
from shimopt.job import Job, Supplier
from shimopt.job.money import currency_of
from shimopt.parts import Offer, StockLine

# offers with the numbers of their stock lines
Offered = Sequence[tuple[int, Offer]]


def refuse_what_cannot_be_compared(
    stock: Sequence[StockLine], offered: Offered, suppliers: Sequence[Supplier], files: str, own: str
) -> None:
    """Raise InputError where terms or currencies are missing or do not agree.

    Parameters: files, the jobs for messages; own, the currency that they count in, empty where they name none.
    """
    problems = [
        *_unknown_suppliers(stock, offered, suppliers, files),
        *_mixed_money(stock, offered, suppliers, files, own),
        *_two_bills(stock, offered, suppliers),
    ]
    if problems:
        raise InputError(problems)


def without_terms(job: Job) -> list[str]:
    """The suppliers who offer something, and of whom the job states no terms: nothing can be ordered before it does."""
    offered = [(i, offer) for i, line in enumerate(job.stock) for offer in line.offers]
    return [problem.value for problem in _unknown_suppliers(job.stock, offered, job.suppliers, "")]


def currencies_of(offered: Offered, named: Mapping[str, Supplier]) -> set[str]:
    """The currencies that prices are in."""
    return {currency_of(offer, named) for _, offer in offered if offer.price is not None} - {""}


def _as_stated(offered: Offered, named: Mapping[str, Supplier]) -> set[str]:
    """The currencies that catalogues and suppliers state, before any rate."""
    prices = {offer.charged_in or currency_of(offer, named) for _, offer in offered if offer.price is not None}
    traded = {offer.supplier for _, offer in offered} & named.keys()
    return (prices | {named[name].charged_in or named[name].currency for name in traded}) - {""}


def _cell(stock: Sequence[StockLine], line: int, offer: Offer) -> str:
    """Where the currency of an offer stands, or should."""
    row = f"row {offer.row}" if offer.row is not None else f"part {stock[line].part.name}"
    return f"{row}, column currency"


def _unknown_suppliers(
    stock: Sequence[StockLine], offered: Sequence[tuple[int, Offer]], suppliers: Sequence[Supplier], files: str
) -> Iterator[Problem]:
    names = [supplier.name for supplier in suppliers]
    first: dict[str, int] = {}
    for i, offer in offered:
        if offer.supplier and offer.supplier not in names:
            first.setdefault(offer.supplier, i)
    for name, i in sorted(first.items()):
        meant = nearest_name(name, names)
        yield Problem(
            files,
            "[[supplier]]",
            name,
            f"postage and smallest order of this supplier are not known ({stock[i].part.name} is offered by it)",
            (f"did you mean {meant}? Else " if meant else "")
            + f'add [[supplier]] with name = "{name}" and postage = ... (0 where there is none)',
        )


def _mixed_money(
    stock: Sequence[StockLine], offered: Offered, suppliers: Sequence[Supplier], files: str, own: str
) -> Iterator[Problem]:
    named = {s.name: s for s in suppliers}
    traded = {offer.supplier for _, offer in offered}
    currencies = currencies_of(offered, named) | {s.currency for s in suppliers if s.currency and s.name in traded}
    if not currencies:
        return
    if len(currencies) > 1 or (own and currencies != {own}):
        yield from _without_rate(stock, offered, named, currencies, own, files)
    for i, offer in offered:
        if offer.price is not None and not currency_of(offer, named):
            yield Problem(
                offer.catalogue,
                _cell(stock, i, offer),
                str(offer.price),
                f"this price has no currency, and others are in {', '.join(sorted(_as_stated(offered, named)))}",
                "fill in the currency of every price, or that of its supplier",
            )
    for supplier in suppliers:
        priced = {currency_of(o, named) for _, o in offered if o.supplier == supplier.name and o.price is not None}
        if supplier.name in traded and supplier.postage and not supplier.currency and not priced:
            yield Problem(
                files,
                f'[[supplier]] "{supplier.name}", postage',
                str(supplier.postage),
                f"this postage has no currency, and prices are in {', '.join(sorted(currencies))}",
                "add currency = ...",
            )


def _without_rate(
    stock: Sequence[StockLine],
    offered: Offered,
    named: Mapping[str, Supplier],
    currencies: set[str],
    own: str,
    files: str,
) -> Iterator[Problem]:
    """The first row of each currency that no rate changes into the job's own, or into the first of them."""
    main = own or min(currencies)
    rates = ", ".join(f"{name} = ..." for name in sorted(currencies - {main}))
    first: dict[str, Problem] = {}
    for i, offer in offered:
        currency = currency_of(offer, named)
        if offer.price is None or not currency or currency == main:
            continue
        rule = f"prices are in {', '.join(sorted(currencies))}, and no rate says what one {currency} costs"
        remedy = (
            f"say what it costs in the job: rates = {{ {currency} = ... }}"
            if own
            else f'give all prices in one currency, or say in the job what another costs: currency = "{main}", '
            f"rates = {{ {rates} }}"
        )
        first.setdefault(currency, Problem(offer.catalogue, _cell(stock, i, offer), currency, rule, remedy))
    yield from (first[currency] for currency in sorted(first))
    for supplier in named.values():
        if supplier.currency in currencies - first.keys() - {main}:
            rule = f"prices are in {', '.join(sorted(currencies))}, and no rate says what one {supplier.currency} costs"
            remedy = f"say what it costs: rates = {{ {supplier.currency} = ... }}"
            yield Problem(files, f'[[supplier]] "{supplier.name}", currency', supplier.currency, rule, remedy)


def _two_bills(stock: Sequence[StockLine], offered: Offered, suppliers: Sequence[Supplier]) -> Iterator[Problem]:
    """Prices in another currency than their supplier's bill, which is one sum."""
    bills = {s.name: s.charged_in or s.currency for s in suppliers}
    for i, offer in offered:
        own = offer.charged_in or offer.currency
        if offer.price is None or not own or bills.setdefault(offer.supplier, own) in ("", own):
            continue
        who = f"{offer.supplier} charges" if offer.supplier else "prices without a supplier are"
        rule = f"{who} in {bills[offer.supplier]}, and sends one bill"
        remedy = "give all prices of a supplier in one currency" + ("" if offer.supplier else ", or name the suppliers")
        yield Problem(offer.catalogue, _cell(stock, i, offer), own, rule, remedy)
