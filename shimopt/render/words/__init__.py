"""All sentences that users read about a plan: short, active, every number with its unit."""

from shimopt.render.words.choice_words import choice_words
from shimopt.render.words.finding_words import finding_words
from shimopt.render.words.headline import exactness, headline
from shimopt.render.words.names import listed, money_text, stack_text
from shimopt.render.words.next_words import next_steps
from shimopt.render.words.reason_words import reason_words

__all__ = ["choice_words", "exactness", "finding_words", "headline", "listed", "money_text", "next_steps", "reason_words", "stack_text"]
