"""One stack per place: level after level, each proven best before the next is looked at."""

from shimopt.choose.choice import Choice, LevelResult
from shimopt.choose.chooser import choose, most_gaps_inside

__all__ = ["Choice", "LevelResult", "choose", "most_gaps_inside"]
