"""When the parcel comes: what arrived held against what was ordered, and whether it is still enough.

What was ordered is the list that `order` wrote, or the order worked out anew from the job as it stood before the
parcel (`ordered.py`). Every piece is checked as any piece in hand is, and told apart: as ordered, wrong, standing in
for one of the same size, spare (`against_order.py`). Whether it is enough is no rule of its own: the cards are made
again from the drawer as it is now with what fits of the parcel, and nothing more on offer; the readings that these
leave open and the order did not are what was lost (`parcel.py`).
"""

from shimopt.receiving.against_order import Held, Kind
from shimopt.receiving.ordered import Asked, AskedFor
from shimopt.receiving.parcel import Again, Lost, Parcel, received

__all__ = ["Again", "Asked", "AskedFor", "Held", "Kind", "Lost", "Parcel", "received"]
