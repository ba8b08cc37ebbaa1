"""What the bench page says, and what is said of it on the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from shimopt.errors import Problem, shown
from shimopt.job.record import Record
from shimopt.words.bench_page_words import LABELS
from shimopt.words.speaker import plural


def served_words(jobs: int, address: str) -> str:
    """Where the page is, and how it is stopped."""
    return f"{plural(jobs, 'job')} at {address} (Ctrl-C ends it)"


def join_words(address: str, code: str, minutes: int, *, secure: bool) -> list[str]:
    """How a device on the network joins, and what it risks."""
    lines = [f"Other devices join at {address}pair with the code {code}, within {plural(minutes, 'minute')}."]
    if not secure:
        lines.append(
            "Who listens in on the Wi-Fi can read along, and use what a device was given: --tls keeps it shut."
        )
    return lines


RECORDED = "what was fitted is recorded: what this gap reads now belongs on the job's record page"


def by_words(form: str) -> str:
    """By what a gap is read, by the key that its reading has in the job's file."""
    return {"built_up": "dimensions", "cover_gap": "a cover's gap", "indicator": "a dial"}.get(form, form)


AGAIN = "two readings of this gap differ: one must be chosen"
CHOOSE_FIRST = "choose one on the job's page first"
# a customer is told no more of it
LOOKED_AT_TITLE, LOOKED_AT_AGAIN = "A clearance is being measured again", "Please look here a little later."
CHOOSE, CHOOSE_ONE = "to be chosen", "choose a reading"


def differ_words(readings: Sequence[str] = ()) -> tuple[str, str]:
    """Two benches differ on a gap, and what to do about it; away from their page with what they read."""
    if not readings:
        return "two readings differ", "choose one before anything is fitted"
    return f"two readings differ ({'; '.join(readings)})", "choose one on the bench page before anything is fitted"


def choose_first_words(gap: str) -> str:
    """In place of an answer, while two benches differ on a gap."""
    return str(Problem("", gap, "", *differ_words()))


WAITS, FIT_NOTHING_YET = "waits", "fit nothing before that is settled"
EARLIER, NOT_PLANNED = "read again since", "not planned yet: by the reading before it nothing is to be fitted"


def not_planned_words(waiting: Problem) -> str:
    """In place of an answer, while a reading that was taken cannot be written."""
    return f"{shown(waiting.where)}: {waiting.rule}. Nothing is to be fitted before."


def when_words(at: datetime, now: datetime) -> str:
    """When something was read, by the clock on the wall; with its day where that is not today."""
    return f"{at:%H:%M}" if at.date() == now.date() else f"{at:%Y-%m-%d %H:%M}"


def the_file_words() -> str:
    """Who says what stands in the job's file."""
    return "the job's file"


def said_words(said: object) -> str:
    """A reading as it was said: `17 goes, 18 does not`."""
    if isinstance(said, list):
        return "; ".join(said_words(one) for one in said)
    told = said if isinstance(said, dict) else {}
    match told:
        case {"go": go, "no_go": no_go}:
            words = f"{go} goes, {no_go} does not"
        case {"no_go": no_go}:
            words = f"{no_go} does not go"
        case {"snug": snug, "step": step}:
            words = f"{snug} pulls tight, blades {step} apart"
        case {"low": low, "high": high}:
            words = f"{low} to {high}"
        case {"readings": [*readings]}:
            words = f"dial {', '.join(str(one) for one in readings)}"
        case {"dimensions": [*lengths]}:
            words = f"dimensions {', '.join(str(one) for one in lengths)}"
        case {"value": value}:
            words = f"{value}"
        case _:
            words = "a reading of another kind"
    return words + (f" (spot {told['spot']})" if "spot" in told else "")


LOAD_AGAIN = (
    "What came was sent before, lay open too long, or is from before the page was started anew: nothing was done now. "
    "Look at the page as it is now, and send it then if it is still to be done."
)
NO_FIELDS = "What came is no form of this page. Load the page again."
NO_PAGE = "It may have been taken back, or its job was renamed or moved. Begin at the list of jobs."
NO_CUSTOMERS_PAGE = "It was taken back, or its time is over. Ask who sent you the address."
NOT_DONE = "This was not done"
NOT_SHOWN = "This cannot be shown now"
WRONG_TITLES = {
    404: "There is no such page",
    405: "There is no such page",
    421: "Another name",
    429: "Too much at once",
    500: "A fault of our own",
    503: NOT_SHOWN,
}
NOT_HERE = "Pages are only read, and forms only sent."
NO_NAME = "This page goes by another name: open it under the address that the computer shows."
FOREIGN = "This came from another page. Load the page again, and send it from there."
NOT_JOINED = "This device has not joined. Join at /pair."
TOO_LARGE = "This is more than a page sends."
BUSY = "Too much was asked for at once. Wait a moment, then load the page again."
TOO_SLOW = "What was sent did not come whole. Send it again."
OUR_FAULT = "A fault of our own: what was asked was not done. What was read is kept."


def refused_words(gap: str, rule: str, remedy: str) -> str:
    """Why a reading of a gap was not taken, and what to do."""
    said = [text for text in (f"{gap}: {rule}" if gap else rule, remedy) if text]
    return ". ".join(f"{text[:1].upper()}{text[1:]}" for text in said) + "."


NO_BENCH = "A reading says which bench gave it, under which number, and of which gap. Load the page again."
OTHERWISE = "This bench gave another reading under this number. Give it the next number."
NO_CHOICE = "There is nothing to choose here any more. Look at the page again."
NO_CODE = "This code does not hold: it is another one by now, or was used. Look at the computer's page again."
TOO_MANY_CODES = "Too many codes were wrong. Wait a minute, then try again."
TOO_MANY_DEVICES = (
    "as many devices have joined as the page lets in",
    "shut one out under /devices on the computer that serves the page, then join again",
)
NOT_FROM_HERE = "Who is let in and shut out is decided on the computer that serves the page."
UNNAMED = "a device"
TOO_FAST = "Others are faster: three times a piece went while it was planned. Nothing is held; try again."
CHANGED_SINCE = ("somebody changed the job since this page was shown", "look at it again, then send it once more")
STOCK_SINCE = (
    "the job's drawer or tables changed since this page was shown, or others hold pieces now: its plan is another",
    "look at it again, then send it once more",
)
OTHERWISE_NOW = (
    "the plan was not worked out to its end, and comes out otherwise now",
    "look at it again; `shimopt record` and `shimopt hold` work it out to its end",
)
NO_VERSION = ("this does not say which plan it goes by", "load the page again, look at it, then send it once more")


def not_in_plan_words(said: str, *, differs: bool) -> tuple[str, str]:
    """A reading that was taken and is not in the plan yet, and what to do about it."""
    if differs:
        return AGAIN, "choose one on the job's page, then send this once more"
    return f"{said} was read, and does not stand in the job's file yet", "send this once more when the page shows it"


THERE_ALREADY = "This piece is there already."


def measured_like(unit: str) -> str:
    """How the thickness of a piece is written."""
    return f"write a number in {unit}, or one with its unit; of several spots one after another, spaces between"


def piece_slip_words(typed: str, meant: str, unit: str) -> tuple[str, str]:
    """A measured piece that was probably read in another unit, and what to do about it."""
    rule = f"{typed} is far from all pieces of this drawer: {meant} was probably meant"
    return rule, f"write it again in {unit}, or tick: {LABELS['measured_again']}"


def dimension_slip_words(name: str, typed: str, before: str) -> tuple[str, str]:
    """A dimension that was measured anew and is of another order than it was, and what to do about it."""
    rule = f"{shown(name)} {typed}? It was {before} before"
    return rule, "measure it again; if it is so, add checked = true to the gap"


def bare_words(typed: str) -> tuple[str, str]:
    """A number that may be play or preload, and what to do about it."""
    return f"{typed} by itself may be play or preload", f"write preload {typed}, or play {typed}"


def far_apart_words(comes_to: str, allowed: str) -> str:
    """Dimensions that leave a gap of another order than is allowed."""
    return f"the dimensions come to {comes_to}, far above the window ({allowed}) and all that shims fill"


def added_words(mark: str, pieces: str) -> str:
    """That a piece lies in the drawer, and what is to be written on it."""
    what = "Mark it" if pieces == "1" else "Mark each"
    return f"The piece lies in the drawer. {what} {mark}: by that the plan tells it from others of its name."


FORMULA = ("a spreadsheet would take this for a formula", "begin with a letter or a number")
NONE_COUNTED = ("none was counted", "count one at least")


def best_so_far_words(seconds: float) -> str:
    """What is said of a plan that the page's clock ended."""
    return f"This is the best plan so far: it was ended after {seconds:g} s. `shimopt plan` works it out to its end."


def invited_words(address: str, until: str, *, here_only: bool) -> list[str]:
    """A customer's address, which is told once, and who can open it."""
    lines = [
        f"The customer sees this job until {until} at {address} (copy it now: it is not shown again).",
        "It opens where this computer can be reached, as on the shop's own network.",
    ]
    if here_only:
        lines = [
            f"Only this computer can open {address} now: the customer sees nothing of it.",
            "To let others see it, start the page with: shimopt bench --network. Then make a new address.",
        ]
    return lines


def recorded_words(record: Record, agree: int, read: int) -> str:
    """What was recorded."""
    as_planned = f"; {agree} of {plural(read, 'gap')} as predicted" if read else ""
    return f"Recorded on {record.date[:10]} by {shown(record.person)}{as_planned}."
