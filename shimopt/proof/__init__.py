"""Proof: the only room that knows a solver, and the bounds, searches and rules by which something is called proven.

`rows` and `exact_bounds` are a whole-number model, `highs` asks HiGHS for prices and proposals, `second_solver` asks
CP-SAT for anything better, `room_in_rows` strikes what rows leave no room for, `branch_and_bound` searches by bounds
that hold exactly, `layers` builds up all answers that are left, `proven` alone may say that a level is best. Nothing
here prints, and nothing is kept between two questions: any number of threads may ask at once.
"""
