"""What one more reading of a gap would tell and save, in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby
from typing import TYPE_CHECKING

from shimopt.planner import Decision
from shimopt.words.first_words import read_again
from shimopt.words.money_words import money
from shimopt.words.speaker import Speaker, begun, chance_text, ended, listed

# a plan of which all is inside needs none of it
if TYPE_CHECKING:
    from shimopt.ordering.another_reading import Further, Told
    from shimopt.ordering.reading_worth import AfterReading, ReadingWorth, Way

# a job with more gaps is not looked at gap by gap
_MOST_GAPS = 40
_MOST_TOLD = 6
# what errors without end are never more than
_NEARLY_ALWAYS = Fraction(99, 100)


def settled_words(decision: Decision, gap: str, say: Speaker) -> list[str]:
    """`One more reading with blades of 0.01 mm would settle it 8 times in 10`; none where none would."""
    if not _open(decision, gap):
        return []
    from shimopt.ordering.another_reading import further_readings

    return settled_by(further_readings(decision, gap), say)


def asked_words(decision: Decision, gap: str, say: Speaker) -> list[str]:
    """The same of one gap that is asked for, and how to ask what it saves."""
    if not _open(decision, gap):
        return []
    return [*settled_words(decision, gap, say), "What one more reading saves: shimopt why JOB GAP --strip-down MONEY"]


def _open(decision: Decision, gap: str) -> bool:
    """Whether one more reading could tell more."""
    if decision.outcome.gaps[gap].verdict == "inside" or len(decision.job.gaps) > _MOST_GAPS:
        return False
    from shimopt.ordering.another_reading import could_be_read

    return could_be_read(decision, gap) and gap not in read_again(decision)


def rather_pulled(decision: Decision, names: Sequence[str]) -> list[str]:
    """Those of these gaps that more pulls of the same dial settle as often as a finer one, which is not named then."""
    return [name for name in names if _rather_pulled(decision, name)]


def _rather_pulled(decision: Decision, name: str) -> bool:
    reading = decision.job.gap[name].reading
    by_dial = reading.uneven_pulls is not None or (reading.after_fitting and reading.first == "indicator")
    if not by_dial or not _open(decision, name):
        return False
    from shimopt.ordering.another_reading import USUAL_DIALS, further_readings

    ways = {way.by: way for way in further_readings(decision, name)}
    dial, pulls = ways.get("dial"), ways.get("pulls")
    if reading.after_fitting:
        return dial is not None and dial.step in USUAL_DIALS and bool(dial.settles)
    return pulls is not None and pulls.settles > 0 and (dial is None or pulls.settles >= dial.settles)


def settled_by(ways: tuple[Further, ...], say: Speaker) -> list[str]:
    """The same of readings that were worked out."""
    helping = [way for way in ways if way.settles]
    if not helping:
        return []
    first, *others = [f"with {_by(way, say)} would settle it {times_in_ten(way.settles)}" for way in helping]
    return [ended(f"One more reading {listed([first, *(other.replace(' would settle it', '') for other in others)])}")]


def times_in_ten(chance: Fraction | float) -> str:
    """A chance as it is counted at the bench, rounded down: never more than it is."""
    if chance == 1:
        return "for certain"
    if chance >= _NEARLY_ALWAYS:
        return "nearly always"
    tenths = int(chance * 10)
    return f"{tenths} {'time' if tenths == 1 else 'times'} in 10" if tenths else "less than 1 time in 10"


def _by(way: Further, say: Speaker) -> str:
    if way.by in ("pull", "pulls"):
        return f"{'one more pull' if way.by == 'pull' else 'three more pulls'} of the same dial"
    return f"blades {say(way.step)} apart" if way.by == "blades" else f"a dial of {say(way.step)}"


def worth_words(worth: ReadingWorth, say: Speaker) -> list[str]:
    """What each way on costs on average, which is cheapest, and what is done after each outcome of the best reading."""
    said = settled_by(tuple(reading.further for reading in worth.readings), say)
    said += [_way(way, worth, say) for way in worth.ways if way.name != "none"]
    if worth.not_priced:
        said.append(f"What a parcel costs is not known: {worth.not_priced}.")
    elif worth.unserved:
        said.append("Nothing on hand or on offer serves all that it may be.")
    found = worth.today.job.gap[worth.gap].reading.found
    for reading in worth.readings:
        if reading.further.by == "blades" and reading.further.step >= found.high - found.low:
            said.append(
                f"{begun(_by(reading.further, say))} are as coarse as what it was read by: they tell little more."
            )
        served = any(way is not None and way.name != "none" for way in reading.ways)
        if served and reading.again is not None and reading.cost is not None:
            comes = f"{_again(reading.again)}{_cost(reading.cost, worth, say)}"
            if not reading.further.certain and not reading.again:
                comes = comes.replace("not stripped", "hardly ever stripped").replace(
                    "at no cost", "at hardly any cost"
                )
            said.append(f"Read again with {_by(reading.further, say)} first: {comes}.")
    best = worth.best_reading
    if best is not None:
        saves = f"; that saves {_money(worth.saves, worth, say)} on average" if worth.saves else ""
        said.append(f"Best read it again with {_by(best.further, say)} first{saves}.")
        said.append(f"{begun(_outcomes(best, worth, say))}.")
    elif (way := worth.cheapest_way) is not None and worth.readings and way.name != "none":
        said.append(f"No such reading saves anything: {_do(way, worth.today, worth, say)}.")
    if worth.ways and not worth.strip_down:
        said.append("Only parcels are counted: with --strip-down 120 a second strip-down costs 120.")
    return said


def _way(way: Way, worth: ReadingWorth, say: Speaker) -> str:
    return f"{begun(_do(way, worth.today, worth, say))}: {_again(way.again)}{_cost(way.cost, worth, say)}."


def _again(chance: Fraction | float) -> str:
    return f"stripped down again in {chance_text(chance)} of cases" if chance else "not stripped down again"


def _cost(cost: Fraction | float, worth: ReadingWorth, say: Speaker) -> str:
    return f", {_money(cost, worth, say)} on average" if cost else ", at no cost"


def _do(way: Way, told: Told, worth: ReadingWorth, say: Speaker) -> str:
    match way.name:
        case "fit":
            return f"fit {say.stack(told.stack, worth.gap)}" if told.stack else "leave it as it is"
        case "one":
            return f"order for its best estimate alone ({_money(way.now, worth, say)})"
        case "all":
            return f"order all that it may need ({_money(way.now, worth, say)})"
        case "sure":
            return f"order what makes it surely inside ({_money(way.now, worth, say)})"
        case "none":
            return "nothing on hand or on offer serves it"


def _money(amount: Fraction | float, worth: ReadingWorth, say: Speaker) -> str:
    return say.money(Fraction(amount)) if worth.order is None else money(worth.order, Fraction(amount))


def _outcomes(reading: AfterReading, worth: ReadingWorth, say: Speaker) -> str:
    """From which reading to which, what is done then."""

    def steps() -> Iterator[tuple[str, Told]]:
        for told, way in zip(reading.further.told, reading.ways, strict=True):
            if way is not None:
                yield _do(way, told, worth, say), told

    spans = []
    for do, group in groupby(steps(), key=lambda step: step[0]):
        reads = [told.read for _, told in group]
        low, high = reads[0], reads[-1]
        ends = [low.low, high.high] if reading.further.by == "blades" else [low.best, high.best]
        # under a cover what is read is what it stands off
        opens = worth.today.job.gap[worth.gap].reading.opens
        span = say.bracket(*sorted(-end for end in ends)) if opens else say.bracket(*ends)
        spans.append(f"where it then reads {span}, {do}")
    return "; ".join(spans[:_MOST_TOLD])
