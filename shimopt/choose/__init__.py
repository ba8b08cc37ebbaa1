"""One stack per place: level after level, each proven best before the next is looked at."""

from shimopt.choose.choice import Choice, LevelResult, Scarce
from shimopt.choose.chooser import choose
from shimopt.choose.contest import Contest

__all__ = ["Choice", "Contest", "LevelResult", "Scarce", "choose"]
