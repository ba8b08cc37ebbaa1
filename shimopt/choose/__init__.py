"""One stack per place: level after level, each proven best before the next is looked at.

Every place has one yes-or-no column per option: nothing, or a stack that brings its gap's best estimate inside. Options
that another option beats whatever the other places get are left out (`candidates/beaten.py`). Places that act together
are changed only if fewer gaps are outside then, and none is made too tight, or tighter, for it
(`arithmetic/in_vain.py`). Lengths are divided by the job's largest common tick, so that coefficients stay small. Then,
level by level (`choose/level_after_level.py`):

1. If the present choice stands at the sum of every place's own least, it is proven: no solve.
2. Else, where the combinations of the options that are left are few enough, each is worked out in whole numbers, by
   hand (up to some hundreds) or as arrays (up to a million, `choose/try_all.py`): no solver is loaded. Where all places
   that are open act together, those that may be as good are built up place by place (`choose/place_by_place.py`): what
   the places to come can add to every gap is known, so that far larger numbers come down to a few; and what could be
   had if there were pieces enough is a bound.
3. Else HiGHS is asked (`choose/asked_of_solvers.py`). Its prices, rounded, give a bound that holds exactly; its
   proposal is worked out again in whole numbers. What no row has room for, held levels above all, is struck at once
   (`proof/room_in_rows.py`); what is left open is searched by branch and bound whose every node has such a bound and
   is struck so, what costs more parted from what costs less first (`choose/branching.py`): once each place's
   cost is settled, prices mostly show that there is no such plan. Where only the drawer ties clusters, what is left is
   built up cluster after cluster (`choose/building.py`). Where none of that ends, CP-SAT is asked for anything better.
   Balances, and gaps that several places move, make relaxations weak: as soon as few combinations are left, each
   cluster becomes one group with a column for every combination that no other one beats (`choose/tied_places.py`); of
   many, only those are listed that a plan as good can hold (`choose/reached.py`). How far many gaps of one balance are
   apart is told range by range (`choose/spread_ranges.py`).
4. Options whose reduced cost exceeds what is left between bound and value are struck for good, and the level is held.

A search that stops at its limit may be brought down by the search for a later level: from there all is asked anew.

Which way a job goes is not counted but tried (`choose/both_ways.py`). Where clusters share nothing but the drawer, the
whole way is tried as far as it is cheap; what that does not settle goes by prices (`choose/priced/`). As soon as they
leave a level open and little can stand in a plan as good, that is looked at whole; and where they come to no end, the
whole way begins with their plan and their bounds.

What may be called proven, and why, stands in `proof/proven.py`, and nowhere else.

Jobs with thousands of options (drawers of singly measured pieces) are first tried with few pieces per stack; more are
added only as far as the count of pieces allows (`_few_pieces_first` in `choose/chooser.py`).
"""

from shimopt.choose.both_ways import choose
from shimopt.choose.chosen import Choice, LevelResult, Scarce
from shimopt.choose.inside_together import Contest

__all__ = ["Choice", "Contest", "LevelResult", "Scarce", "choose"]
