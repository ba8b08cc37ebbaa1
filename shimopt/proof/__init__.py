"""Proof: the only room that knows a solver, and the bounds, searches and rules by which something is called proven.

`rows` and `sums` are a whole-number model, `highs` asks HiGHS for prices and proposals, `second` asks CP-SAT for
anything better, `search` is branch and bound by bounds that hold exactly, `layers` builds up all answers that are left,
`proven` alone may say that a level is best.
Nothing here prints, and nothing is kept between two questions: any number of threads may ask at once.
"""
