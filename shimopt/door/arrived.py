"""What a parcel brought as Python holds it: what came of what was ordered, and whether it is enough."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shimopt.door.given import JobLike, loaded_all, watch_of
from shimopt.door.purchased import Order
from shimopt.errors import InputError
from shimopt.receiving import Parcel
from shimopt.tables.read import Source
from shimopt.watch import ORDER_STEPS
from shimopt.words.speaker import plural

if TYPE_CHECKING:
    import pandas as pd

    from shimopt.job import Job
    from shimopt.ordering.order_result import Order as Purchase
    from shimopt.parts.drawer import Accepted


@dataclass(frozen=True, repr=False)
class Arrival:
    """What a parcel brought against its order; `parcel` holds all of it as data, `accepted` what went into the drawer.

    `lines` and `pieces` are pandas frames, made anew each time they are asked for.
    """

    parcel: Parcel
    accepted: Accepted | None = None

    @property
    def complete(self) -> bool:
        """Whether as many pieces came as were ordered, those counted that stand in for others."""
        return self.parcel.complete

    @property
    def enough(self) -> bool:
        """Whether drawer and parcel serve every final reading that the order was to serve."""
        return self.parcel.enough

    @property
    def order(self) -> Order:
        """The order with the cards that drawer and parcel make as they are, and nothing more to buy."""
        return Order(self.parcel.now)

    @property
    def again(self) -> Order | None:
        """What to order so that it is enough again; None where it is."""
        return None if self.parcel.again is None else Order(self.parcel.again.order)

    @property
    def lines(self) -> pd.DataFrame:
        """One row per line of the order: how many pieces came as ordered, stand in, are wrong or missing."""
        import pandas as pd

        columns = ["supplier", "part", "pieces", "as_ordered", "stand_in", "wrong", "missing"]
        return pd.DataFrame(self.to_dict()["ordered"], columns=columns)

    @property
    def pieces(self) -> pd.DataFrame:
        """One row per row of what came: how many, what they count as, of which ordered part, and whether they fit."""
        import pandas as pd

        columns = ["part", "piece", "pieces", "kind", "ordered_as", "as_labelled", "fits", "there_already"]
        return pd.DataFrame(self.to_dict()["pieces"], columns=columns)

    def to_dict(self) -> dict[str, Any]:
        """The object that `shimopt order --came FILE --json` prints."""
        from shimopt.render.json.parcel_json import parcel_object

        return parcel_object(self.parcel, None if self.accepted is None else self.accepted.rows)

    def __repr__(self) -> str:
        """One line: how many pieces came, and whether they are all and enough."""
        came = plural(sum(one.pieces for one in self.parcel.held), "piece")
        whole = "complete" if self.complete else "not complete"
        return f"<Arrival of {came}: {whole}, {'enough' if self.enough else 'not enough'}>"

    def _repr_html_(self) -> str:
        """What a notebook shows: the lines as a table."""
        table: str = self.lines.to_html(index=False, border=0)
        return table


# the options of the command, each by its name
def came(
    jobs: JobLike | Iterable[JobLike],
    parcel: Source | str,
    *,
    ordered: Order | str | os.PathLike[str] | None = None,
    update_drawer: bool = False,
    time_limit: float | None = None,
    steps: int | None = ORDER_STEPS,
    progress: Callable[[str], None] | None = None,
) -> Arrival:
    """Hold what a parcel brought against its order, and say whether it is enough with the drawer as it now is.

    Parameters: jobs, those that were ordered for; parcel, a parts table of what came (a path or a frame), counted, and
    measured as far as it was (a second frame for one drawer gives its pieces tags, column `piece`); ordered, what was
    ordered: what `order` gave, or the list or JSON that an order wrote (if not given it is worked out anew, without
    this parcel); update_drawer, whether what fits is put into the drawer, once however often; time_limit, steps and
    progress as for `order`.
    Raises InputError with everything that is wrong, FaultError where a result fails its own check; nothing is written
    then.

    >>> import pandas, shimopt
    >>> sent = shimopt.order("demo_data/fulling-mill")
    >>> box = pandas.DataFrame({"part": ["S-10", "S-20", "S-25"], "on_hand": [1, 1, 1]})
    >>> shimopt.came("demo_data/fulling-mill", box, ordered=sent)
    <Arrival of 3 pieces: complete, enough>
    """
    from shimopt.ordering.order import make_order
    from shimopt.receiving import received

    these, watch = loaded_all(jobs), watch_of(time_limit, steps, progress)
    holder = _drawer_of(these) if update_drawer else None
    source = Path(parcel) if isinstance(parcel, str) else parcel
    listed = None if ordered is None or isinstance(ordered, Order) else Path(ordered)

    def sent(before: Sequence[Job]) -> Purchase:
        return ordered.purchase if isinstance(ordered, Order) else make_order(before, watch=watch)

    found = received(these, source, ordered=listed, anew=sent, watch=watch)
    if holder is None or holder.drawer_of is None:
        return Arrival(found)
    return Arrival(found, holder.drawer_of.accept(found.accepted))


def _drawer_of(jobs: Iterable[Job]) -> Job:
    """The job whose drawer a parcel goes into. Raises InputError where there is none, or more than one."""
    with_drawer = {job.drawer_key: job for job in jobs if job.drawer_of is not None}
    if len(with_drawer) == 1:
        return next(iter(with_drawer.values()))
    rule = "the jobs have different drawers" if with_drawer else "the job has no drawer to put the pieces into"
    remedy = "put the pieces in one after the other" if with_drawer else "give the job a drawer, or leave this out"
    raise InputError.at("", rule, remedy, where="update_drawer", value=", ".join(sorted(with_drawer)) or "True")
