"""Which reading or which part would change what is decided about a gap."""

from __future__ import annotations

from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.planner import Decision
from shimopt.reasons.doubts import SUSPECT
from shimopt.reasons.gap_account import Account
from shimopt.reasons.gap_reasons import Length
from shimopt.words.speaker import Speaker, begun, listed, stack_wanted


def what_would_change(account: Account, decision: Decision, say: Speaker) -> list[str]:
    """Which reading or which part would change the answer."""
    found, lines = account.planned, list[str]()
    if found is not None and found.verdict != "outside" and account.serves is not None:
        what = say.stack(account.stack, account.gap.name)
        low, high = account.serves.least, account.serves.most
        alike = _if_alike(account.gap, decision.job, say)
        if account.stack:
            if not account.gap.reading.opens and (wholly := _wholly_in(account.gap, say)):
                lines.append(f"A reading {wholly} would need no shim{alike}.")
            served = _served(account.gap, low, high, say)
            lines.append(f"{what} would serve {served}, by {_its(account.gap)} best estimate{alike}.")
        elif account.gap.effects[0][1] > 0 and (account.place is None or account.place.takes_shims):
            lines += _would_need_one(account.gap, low, say)
        elif high is not None and account.place is not None and account.place.takes_shims:
            more = f"{say.so_much(high)} or less" if high < 0 else f"more than {say.clearance(high, high)}"
            lines.append(f"A reading of {more} would need a shim.")
    elif account.aim is not None and found is not None:
        held = sorted({place for rival in account.rivals if rival.verdict != "outside" for place in rival.used_by})
        span = account.needed or account.aim
        what = f"A part or stack of {say.span(span, ' of shim')} that suits"
        if account.fewest > 1:
            what = f"{begun(stack_wanted(account.fewest, say.span(span, ' of shim')))}, each of which suits,"
        doubted = any(one.place == account.gap.name and isinstance(one.fact, SUSPECT) for one in decision.findings)
        if doubted:
            # nobody is sent for a size that a slip asks for
            wholly = _wholly_in(account.gap, say)
            return [f"A reading {wholly} would do: measure it again before anything else."] if wholly else []
        lines.append(f"{what} would do it.")
        if wholly := _wholly_in(account.gap, say):
            lines.append(f"So would a reading {wholly}: read it again before you buy.")
        if held:
            lines.append(f"So would the pieces that {listed(held, 3)} {'holds' if len(held) == 1 else 'hold'}.")
    return lines


def _if_alike(gap: Gap, job: Job, say: Speaker) -> str:
    """What else has to hold where a gap belongs to places that are to come out alike."""
    asked = [b for b in job.balances if b.within is not None and gap.name in job.gaps_behind(b)]
    alike = [f"{shown(balance.name)} within {say(balance.within or 0)}" for balance in asked]
    return f", if that leaves {listed(alike, 3)}" if alike else ""


def _would_need_one(gap: Gap, low: Length, say: Speaker) -> list[str]:
    """Which reading would need a shim where shims open the gap; none would where it may be as tight as it likes."""
    if gap.window.min is None:
        return []
    if gap.reading.opens:
        return [f"A cover that stands more than {say(-low)} off would need a shim."] if low < 0 else []
    less = f"more than {say.so_much(low)}" if low < 0 else f"less than {say.clearance(low, low)}"
    return [f"A reading of {less} would need a shim."]


def _wholly_in(gap: Gap, say: Speaker) -> str:
    """`wholly within 4 to 12 thou`, `wholly at most 12 thou`: both ends of the bracket, as it is read.

    What may still shift takes its share off both ends. Empty where no reading would do, or any.
    """
    shift, window = gap.reading.shift, gap.window
    if window.max is None:
        return ""
    least = window.stated_min
    low, high = None if least is None else least + shift, window.max - shift
    if low is not None and low > high:
        return ""
    why = f" ({say(shift)} may still shift)" if shift else ""
    return f"wholly {'' if low is None else 'within '}{say.window(low, high)}{why}"


def _served(gap: Gap, low: Length, high: Length | None, say: Speaker) -> str:
    """From which reading to which, as it is read: under a cover the cover's own gap."""
    if gap.reading.opens and high is not None and high <= 0:
        return f"a cover that stands {say.bracket(-high, -low)} off"
    if gap.reading.opens:
        return f"a cover that stands {f'up to {say(-low)}' if high is None else say.from_to(-high, -low)} off"
    return f"readings {f'from {say.clearance(low, low)} up' if high is None else say.from_to(low, high)}"


def _its(gap: Gap) -> str:
    return "its" if gap.reading.opens else "their"
