"""One stack per place: level after level, each proven best before the next is looked at.

Every place has one yes-or-no column per option: nothing, or a stack that brings its gap's best estimate inside.
Options that another option beats whatever the other places get are left out (`candidates/beaten.py`). Lengths are
divided by the job's largest common tick, so that coefficients stay small. Then, level by level (`choose/descent.py`):

1. If the present choice stands at the sum of every place's own least, it is proven: no solve.
2. Else the linear relaxation gives prices; rounded to fractions, they give a bound that holds exactly
   (`choose/bounds.py`). If that bound reaches the present choice, it is proven.
3. Else HiGHS searches. Its proposal is worked out again in whole numbers; if it breaks a rule or contradicts itself,
   presolve is switched off, then CP-SAT is asked; if none agrees, the level stands unproven.
4. Options whose reduced cost exceeds what is left between bound and value are struck for good, and the level is held.

Jobs with thousands of options (drawers of singly measured pieces) are first tried with few pieces per stack; more are
added only as far as the count of pieces allows (`_few_pieces_first` in `choose/chooser.py`).
"""

from shimopt.choose.choice import Choice, LevelResult, Scarce
from shimopt.choose.chooser import MOST_WHOLE, choose
from shimopt.choose.contest import Contest

__all__ = ["MOST_WHOLE", "Choice", "Contest", "LevelResult", "Scarce", "choose"]
