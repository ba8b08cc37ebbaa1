"""One stack per place: level after level, each proven best before the next is looked at."""

from shimopt.choose.choice import Choice, LevelResult, Scarce
from shimopt.choose.chooser import MOST_WHOLE, choose
from shimopt.choose.contest import Contest

__all__ = ["MOST_WHOLE", "Choice", "Contest", "LevelResult", "Scarce", "choose"]
