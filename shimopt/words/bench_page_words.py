"""What the bench page says in its own voice: its labels, and the few sentences that no screen has."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from shimopt.arithmetic.clearance import Verdict
from shimopt.errors import shown
from shimopt.planner import Decision
from shimopt.words.short_words import AtPlace
from shimopt.words.speaker import plural

SIGNS: Mapping[str, str] = {
    "inside": "✓",
    "outside": "✗",
    "unproven": "?",
    "again": "✗",
    "mind": "!",
    "assumed": "?",
    "star": "*",
    "do": "→",
}
VERDICTS: Mapping[Verdict, str] = {"inside": "inside", "outside": "outside", "unproven": "not sure"}

# what stands on buttons, over fields and beside them
LABELS: Mapping[str, str] = {
    "jobs": "Jobs",
    "new_job": "New job",
    "no_jobs": "No jobs in this folder yet.",
    "wrong_job": "cannot be planned",
    "answer": "Answer",
    "reading": "Reading",
    "goes": "goes",
    "no_go": "does not go",
    "tight": "tight pull",
    "value": "reads",
    "pulls": "pulls of the dial",
    "pulls_hint": "one after another, spaces between",
    "thinner": "thinner",
    "thicker": "thicker",
    "less": "less",
    "more": "more",
    "none_goes": "none",
    "put_in": "Put in",
    "checked": "Read again, it is as typed",
    "checked_short": "It is so",
    "sent": "✓ sent",
    "kept": "kept here, not sent: {n}",
    "offline": "No way to the computer. Readings are kept here and go out by themselves.",
    "leaving": "Readings are kept here that the computer does not have yet.",
    "shut_out": "This device is not let in any more: pair it again. Its readings are kept here.",
    "planning": "being worked out",
    "not_yet": "not worked out with this reading yet",
    "alone": "this gap alone; the whole plan follows",
    "out": "out",
    "stays": "stays",
    "in": "in",
    "fit": "fit",
    "from": "from",
    "allowed": "allowed",
    "then": "then",
    "now_in": "in now",
    "nothing_in": "nothing",
    "why": "Why",
    "big": "Big",
    "close": "Close",
    "places": "Places",
    "gaps": "Gaps",
    "notes": "Mind and do",
    "differ": "Two benches read this gap differently. Which one counts?",
    "counts": "This one counts",
    "hold": "Hold these pieces",
    "free": "Let go of the pieces",
    "held": "Held for this job",
    "order": "Order",
    "card": "Bench card",
    "sheet": "Sheet",
    "letter": "Letter",
    "record": "Record",
    "customer": "Show the customer",
    "drawer": "Drawer",
    "back": "Back to the job",
    "all_jobs": "All jobs",
    "devices": "Devices",
    "pair": "Pair a phone",
    "pad": "Number pad",
    "take_over": "Take over",
    "delete_one": "delete one digit",
    "another_pull": "Another pull",
    "last_pull_out": "Last pull out",
    "wrong": "This cannot be taken",
    "done": "Done",
    "to_answer": "To the answer",
}


def counted_words(decision: Decision) -> str:
    """What a plan says before its reasons are worked out: how many gaps it brings inside, and that more follows."""
    found = decision.outcome.gaps
    inside = sum(one.verdict == "inside" for one in found.values())
    return f"{inside} of {plural(len(found), 'gap')} inside. Reasons and cautions follow."


def proven_words(decision: Decision) -> str:
    """How far the plan is proven."""
    return "Proven best." if decision.proven else "Not proven best."


def work_rows(at: AtPlace, *, held: bool) -> list[dict[str, str]]:
    """What is done at a place, by the heads of the plan's table: out, stays, in (or fit) and from."""
    if not at.changed:
        text = f"{at.stays} {at.source}".strip() if at.stays else at.into
        return [{"label": "", "text": text}]
    rows = [("out", at.out), ("stays", at.stays), ("in" if held else "fit", at.into), ("from", at.source)]
    return [{"label": label, "text": text} for label, text in rows if text]


def moved_by_words(places: Sequence[str]) -> str:
    """Of a gap that has no place of its own, which places move it."""
    return f"moved by {' and '.join(shown(place) for place in places)}" if places else "no place moves it"


def labels(**more: Any) -> dict[str, Any]:
    """All labels, with more."""
    return {**LABELS, **more}
