"""What to buy so that the final build needs no second order, and the card that says what to fit.

A stack serves an interval of final readings: those at which the gap is inside at both ends of the reading's uncertainty
and of every piece (`ordering/coverage.py`, found in `supply.py`). A gap's card must serve its whole range; it sets
aside as many of each part as its most demanding row needs, and drawer and packs must hold what all gaps set aside.
`cheapest_order.py` brings down one level after the other; `recheck.py` checks every card again by plain arithmetic.
`tests/order_brute_force.py` is the slow, obvious answer.

Every set of suppliers is a branch of its own (`supplier_branch.py`), the one with the lowest bound first: with postage
settled, relaxations are strong. There are two models (`order_model.py`; what both say of buying: `packs_model.py`). One
looks at single stretches of readings (`stretches.py`): small, always possible, weak. The other chooses whole covers,
sets of pieces that serve a gap's whole range (`covers.py`): far tighter (on one job of 12 gaps its relaxation stood at
1,723 where the other's stood at 1,670 and the answer at 1,781), but covers run into the hundred thousands.
`cover_prices.py` therefore keeps only those that could be part of an order good enough: their price must fit between
bound and best order; prices are whole numbers, so nothing is left out wrongly. Where too many are left (a drawer full
of free pieces), the model of stretches answers.

A level is closed by branch and bound in whole numbers: the solver proposes values, prices and, where there is no
answer, the reason for it; all of it is worked out again in whole numbers, so nothing that is proven rests on a float.
Packs are made whole first: once they are settled, so is every level from the cost on, and setting the pieces aside for
them is a small problem (`one_level.py`). HiGHS's own search only proposes good orders to start from.

Of a large market an order is made of few sizes, and of what each supplier alone sells; the cheaper of these is a
budget. For every set of suppliers a relaxation over whole covers of all stacks is a bound, and its prices tell which
stacks an order as good can hold (`large_market_bound.py`, `large_market_search.py`): 200 sizes make a million stacks,
and of them a few hundred are left. Covers are priced
there one cheapest cover a gap at a time, from an order and what other sets of suppliers met: a dozen small linear
programs stand within a few per cent of the best order (on one job of 40 gaps at 3,320 of 3,364, where stretches stood
at 3,205), and the covers little dearer than such a bound, or those that it was made of, hold an order about as good.
The cheapest cover is looked for best first: what costs nothing is had from the start, and what the rest of the range
costs at least is known at a few of its readings. What the goods cost at least, whoever sends them, rules sets out.

What is asked, spending and days included, is in `order_request.py`, what a gap may ask for in `demand.py`, offers and
terms in `market.py`, what an order is judged by in `purchase.py`; a row as the bench needs it in `after_fitting.py`.

Of many gaps, and in a large market, an order is first made cheaper gap by gap (`cheaper_gap_by_gap.py`); in a large
market this goes on from what each relaxation leans to. Of many gaps by stretches few sets of suppliers are searched:
all of them take minutes and seldom better it. The cost is bounded then, and not proven, and no level below it is
searched.

Among purchases equal at every level, exchanges of single packs look for one that keeps further from the limits
(`mid_window.py`: tried, not proven). What drawer and parcel hold beside is shared out (`shared_pieces.py`), so that a
row of a card can be what a plan would give at that reading (`row_stack.py`).

Places that act together are gaps of the order, too, where their stacks can be listed (`cells_together.py`): what a
choice of them serves is a box of readings, known exactly (`choices_together.py`). A few readings are looked at, then
what a purchase leaves open of the others, so that what is bought is proven with the rest; and within a limit it serves
as much as it can. Else they come after the gaps that stand alone (`gaps_together.py`). What a row fits is what plans
give with drawer and parcel (`planned_together.py`, `readings_together.py`); of what nothing serves
`unserved_together.py` knows the chance, and what would.

What a smallest order leaves over is filled (`top_up.py`), and what less would do is told with its chance (`worth.py`,
`cheapest_ways.py`): the cheapest purchase of all that is likely enough, proven as the order is (`likely_enough.py`).
"""
