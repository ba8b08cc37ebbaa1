"""Large jobs: clusters that share nothing but the drawer, chosen by what a piece is worth to all of them.

A job whose clusters share nothing but the drawer, and are single gaps, or gaps with places of their own that balances
or equal packs tie, is planned by prices where the whole way does not settle it in a few steps (`choose/both_ways.py`).
Data flows

`tables` (options of every kind of place, as arrays; a kind's options are a slice of its seat's stacks) -> `listed`
(clusters with equal packs: all their combinations as the options of one place) and `woven` (gaps in several balances)
-> `fleet` (clusters, scarce lines) -> `members`, `priced_balances`, `woven_prices` (what values cost together) ->
`pricing` (every cluster's cheapest choice at given prices, all at once, in 64-bit whole
numbers: the sum is a true bound) -> `prices` (which prices to try: those of `master`, a linear program that mixes whole
choices of 40 groups of clusters) -> `mixing` (which few clusters the mix splits) -> `options_near_bound` (which options
a plan near the bound could hold) -> `rounding` (the split clusters and some neighbours chosen exactly by HiGHS) ->
`priced_descent` (level after level; a level is held by a limit with a price of its own) -> `handover` (what is left
open, and ties, settled on the few options that a plan as good can hold) -> `scarcest_sizes` (which sizes hold the job
back) -> `priced_way`.

Bounds are rounded up to what a level can come to at all: a multiple of what all shares of it are multiples of.

What was learnt: a linear program with a row per cluster is the bottleneck, one with 40 groups is not, and still all
but as many groups as there are limits come out whole; looking closer at those groups only leaves some 15 clusters
split. The neighbours that make the exact part come out are those in which the plan of the level before and the mix
differ at a held level: `miss` above all has to be hit to the tick. A limit of a mix has next to no room for floats: at
high prices even 1e-5 of it hides tens of units of a level, and the search for prices ends too early. Nothing that
decides is a float: prices are rounded, bounds summed in whole numbers, plans checked against supply and held levels,
and the audit of every plan sees these plans too.
"""

from shimopt.choose.priced.priced_way import priced_choice

__all__ = ["priced_choice"]
