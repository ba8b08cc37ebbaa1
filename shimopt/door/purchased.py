"""An order as Python holds it: what to buy as a frame, and the JSON object."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from shimopt.door.given import JobLike, loaded_all, watch_of
from shimopt.errors import InputError
from shimopt.ordering.order_result import Order as Purchase
from shimopt.watch import ORDER_STEPS
from shimopt.words.speaker import plural

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, repr=False)
class Order:
    """What to buy so that one order is enough; `purchase` holds all of it as data, cards and holes included.

    `lines` is a pandas frame, made anew each time it is asked for.
    """

    purchase: Purchase

    @property
    def whole(self) -> bool:
        """Whether every gap has a card, and the cards leave no reading open."""
        return self.purchase.whole

    @property
    def lines(self) -> pd.DataFrame:
        """One row per part and supplier: packs, pieces and cost, None where there is no price.

        >>> import shimopt
        >>> shimopt.order("demo_data/quarry-tram").lines.columns[:4].tolist()
        ['supplier', 'part', 'packs', 'pack']
        """
        import pandas as pd

        of, rows = self.purchase, []
        for line in of.lines:
            cost = None if line.cost is None else float(line.cost)
            part, pack, lead = of.stock[line.part].part.name, line.offer.pack, line.offer.lead_days
            rows.append((line.supplier, part, line.packs, pack, line.pieces, cost, of.market.currency, lead))
        columns = ["supplier", "part", "packs", "pack", "pieces", "cost", "currency", "lead_days"]
        return pd.DataFrame(rows, columns=columns)

    def to_dict(self) -> dict[str, Any]:
        """The object that `shimopt order --json` prints."""
        from shimopt.render.json.order_json import order_object

        return order_object(self.purchase)

    def __repr__(self) -> str:
        """One line: how much is bought, what it costs, and what it leaves open."""
        of = self.purchase
        cost = "cost unknown" if of.cost is None else f"{float(of.cost):.2f} {of.market.currency}".strip()
        left = "one order is enough" if self.whole else f"{len(of.holes) + len(of.unanswered)} left open"
        return f"<Order for {plural(len(of.jobs), 'job')}: {plural(len(of.lines), 'line')}, {cost}, {left}>"

    def _repr_html_(self) -> str:
        """What a notebook shows: the lines as a table."""
        table: str = self.lines.to_html(index=False, border=0)
        return table


# the options of the command, each by its name
def order(
    jobs: JobLike | Iterable[JobLike],
    *,
    need_by: date | None = None,
    spend: Decimal | int | str | None = None,
    top_up: bool = True,
    suppliers: int | None = None,
    keep_balances: bool = False,
    time_limit: float | None = None,
    steps: int | None = ORDER_STEPS,
    progress: Callable[[str], None] | None = None,
) -> Order:
    """What to buy so that the final build needs no second order, whatever the final readings are.

    Parameters: jobs, one or several, which share drawer and postage; need_by, leave out what arrives later; spend, the
    most that it may cost, in the currency of the prices; top_up, whether a smallest order is filled; suppliers, how
    many may send at most; keep_balances, whether balances are kept where places act together; time_limit and progress
    as for `plan`; steps, the most search steps for each question (None: no limit).
    Raises InputError with everything that is wrong, FaultError where the result fails its own check.

    >>> import shimopt
    >>> shimopt.order("demo_data/quarry-tram").whole
    True
    """
    from shimopt.ordering.merged_jobs import with_coming
    from shimopt.ordering.order import make_order

    watch = watch_of(time_limit, steps, progress)
    days = None if need_by is None else (need_by - datetime.now(UTC).astimezone().date()).days
    if days is not None and days < 0:
        raise InputError.at("", "this day is past", "give a day from today on", where="need_by", value=str(need_by))
    money = None if spend is None else Decimal(spend)
    if money is not None and not (money.is_finite() and 0 < money < 10**9):
        raise InputError.at("", "a budget is an amount above 0", "or leave it out", where="spend", value=str(spend))
    these = with_coming(loaded_all(jobs))
    return Order(
        make_order(
            these,
            within_days=days,
            spend=money,
            top_up=top_up,
            suppliers=suppliers,
            keep_balances=keep_balances,
            watch=watch,
        )
    )
