"""The colours of all pictures, mixed for this project; each has a sign or a word beside it that says the same.

What is written has a contrast of at least 4.5 to 1 to what it is written on, lines that tell something one of at least
3 to 1 to what they lie on (WCAG 2.2, 1.4.3 and 1.4.11).
"""

from __future__ import annotations

PAPER = "#ffffff"
INK = "#14161a"  # what is written and drawn
FAINT = "#54585f"  # what is written beside it
BAND = "#dadbd7"  # what is allowed

SUITS = "#1b4f7a"  # suits; the face carried; play allowed
CAUTION = "#74450a"
AGAINST = "#9c2a22"  # stop; two things in one place; a face that carries nothing; play beyond what is allowed

METAL = "#b3bcc0"  # the shaft, cut open
BODY, HATCH = "#ecebe6", "#8b8f8c"  # the body with its face, and its hatching
FILLET = HATCH  # the radius between body and shaft
OTHER = "#d8cdbf"  # the next ring
PLAY, TOO_MUCH = "#e4edf3", "#f4d6d0"  # under the dots of the play allowed, under the stripes of what is beyond it
