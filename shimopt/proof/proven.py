"""When a level may be called proven: the one place that says so, and why it may."""

from __future__ import annotations

from enum import StrEnum


class Proof(StrEnum):
    """How far it is shown that nothing is better; the first two are proofs."""

    EXACT = "exact"
    TWO_SOLVERS = "two solvers"
    ONE_SOLVER = "one solver"
    NONE = "none"

    @property
    def proven(self) -> bool:
        """Whether that counts as proven."""
        return self in (Proof.EXACT, Proof.TWO_SOLVERS)

    def below(self, above: Proof) -> Proof:
        """How far a level is proven where those above it are proven so far: no further than these."""
        return max(self, above, key=[*Proof].index)


def proof_of(value: int, bound: int | None, *, closed: bool = False, nothing_better: bool = False) -> Proof:
    """How far a value is proven to be the least of its level.

    Parameters: value, what the best plan in hand comes to, worked out in whole numbers from its stacks; bound, what
    no plan is below, shown in whole numbers; closed, whether HiGHS said that nothing is better; nothing_better, whether
    CP-SAT, asked on the same whole-number model for anything better, said that there is nothing.

    Why `EXACT` holds whatever a solver said. A bound in hand is one of these, or the least of several:

    - the sum of every place's own least share, or of every cluster's least: each plan holds one option of each place,
      and shares add up;
    - for any prices p <= 0 of rows `a x <= b`, the sum of p b, of every place's least priced option and of every
      helper's least priced end: for each plan, c x >= c x + p (b - a x), and that is at least this sum (weak duality).
      Prices are rounded to whole parts of a unit, and all sums are sums of whole numbers, so it does not matter where
      the prices came from. Values are whole multiples of a unit, so the bound may be rounded up to one. The same with
      one combination of each cluster for one option of each place: the least of all of them is known, listed or not;
    - everything that is left was looked at: options struck before cost, by such a bound, more than the plan in hand, or
      take more of a row than is left when every other place and every helper takes its least (`room_in_rows`);
      ranges left out in a search had a bound that was no better than it, or none of their plans keeps the rules, which
      the same sum shows where it is above nothing without any costs; all the others were worked out one by one, or
      built up group after group (`layers`), where of beginnings that took the same of every limit the best is enough;
    - a spread of so much needs a range of values that is no wider, and of every narrower range such a bound says that
      no plan as good at the levels above lies in it (`spread_ranges`); a range within one of those holds none.

    Why `TWO_SOLVERS` may be relied on: HiGHS and CP-SAT share neither code nor method (one branches over relaxations
    in floats, the other over clauses in whole numbers), and both were asked the same model, whose numbers stay below
    1e6, so that floats tell one unit from the next; for a worse plan to pass, both must err on the same model.

    What one of them alone says is a word, not a proof.
    """
    if bound is not None and bound >= value:
        return Proof.EXACT
    if closed and nothing_better:
        return Proof.TWO_SOLVERS
    return Proof.ONE_SOLVER if closed or nothing_better else Proof.NONE
