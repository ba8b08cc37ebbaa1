"""What a reason is; its kinds stand, by subject, in the files beside this one."""

from __future__ import annotations

from fractions import Fraction

from shimopt.seats.finding import Kind

Length = Fraction | int  # nm


class Reason(Kind, code=""):
    """Why something is as it is.

    `about` names the gap, place, balance or part, and is empty where the whole job is meant; `names` the gaps, places,
    balances or parts that take part.
    """

    about: str
    names: tuple[str, ...] = ()
