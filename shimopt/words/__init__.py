"""All sentences that users read about a plan: short, active, every number with its unit."""

from shimopt.words.assembly_words import heat_words, state_words, tightening_words
from shimopt.words.choice_words import choice_words
from shimopt.words.finding_words import finding_words
from shimopt.words.gauge_words import gauge_words, guard_words
from shimopt.words.headline import exactness, headline
from shimopt.words.large_words import scarce_words, way_words
from shimopt.words.names import listed, money_text, stack_text
from shimopt.words.next_words import next_steps
from shimopt.words.reading_words import assumption_words, reading_words, term_words
from shimopt.words.reason_words import reason_words

__all__ = [
    "assumption_words",
    "choice_words",
    "exactness",
    "finding_words",
    "gauge_words",
    "guard_words",
    "headline",
    "heat_words",
    "listed",
    "money_text",
    "next_steps",
    "reading_words",
    "reason_words",
    "scarce_words",
    "stack_text",
    "state_words",
    "term_words",
    "tightening_words",
    "way_words",
]
