"""What to buy so that the final build needs no second order, and the card that says what to fit.

A stack serves an interval of final readings: those at which the gap is inside at both ends of the reading's
uncertainty and of every piece (`ordering/coverage.py`). A gap's card must serve its whole range; it sets aside as many
of each part as its most demanding row needs, and drawer and packs must hold what all gaps set aside.
`ordering/search.py` chooses the packs level by level; `ordering/audit.py` checks every card again by plain arithmetic.
`tests/order_brute_force.py` is the slow, obvious answer.

Every set of suppliers is a branch of its own (`branch.py`), the one with the lowest bound first: with postage settled,
relaxations are strong. There are two models. One looks at single stretches of readings (`program.py`): small, always
possible, weak. The other chooses whole covers, sets of pieces that serve a gap's whole range (`covers.py`,
`cover_program.py`): far tighter (on one job of 12 gaps its relaxation stood at 1,723 where the other's stood at 1,670
and the answer at 1,781), but covers run into the hundred thousands. `pricing.py` therefore keeps only those that could
be part of an order good enough: their price, by the relaxation's prices, must fit between bound and best order; prices
are whole numbers, so nothing is left out wrongly. Where too many are left (a drawer full of free pieces), the model of
stretches answers. Packs alone are asked to be whole at first: once they are settled, so is every level from the cost
on, and setting the pieces aside for them is a small problem.

`ordering/solver.py` uses highspy, HiGHS's own interface, not ortools: models go over as arrays (ten times faster to
hand over), prices come from the interior point method without crossover, and branching starts without heuristics and
restarts, which cost more than they saved here.
"""
