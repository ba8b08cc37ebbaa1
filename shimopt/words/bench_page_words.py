"""What the bench page says in its own voice: its labels, and the few sentences that no screen has."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from shimopt.arithmetic.clearance import Verdict
from shimopt.errors import shown
from shimopt.job import Seat
from shimopt.job.record import Record
from shimopt.parts import StockLine
from shimopt.parts.drawer import Change
from shimopt.planner import Decision
from shimopt.words.short_words import AtPlace
from shimopt.words.speaker import pieces_text, plural

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
VERDICTS: Mapping[Verdict, str] = {"inside": "inside", "outside": "outside", "unproven": "not surely inside"}

NOTHING_IN = "nothing"

# what stands on buttons, over fields and beside them
LABELS: Mapping[str, str] = {
    "jobs": "Jobs",
    "new_job": "New job",
    "no_jobs": "No jobs in this folder yet.",
    "wrong_job": "cannot be planned",
    "broken": "This job cannot be planned",
    "answer": "Answer",
    "reading": "Reading",
    "goes": "goes",
    "no_go": "does not go",
    "tight": "tight pull",
    "goes_cover": "goes, cover to case",
    "tight_cover": "tight pull, cover to case",
    "value": "reads",
    "stands_off": "cover stands off",
    "spot": "spot",
    "crushed": "crushed",
    "pulls": "pulls of the dial",
    "pulls_hint": "one after another, spaces between",
    "thinner": "thinner",
    "thicker": "thicker",
    "more": "more",
    "none_goes": "none",
    "put_in": "Send this reading",
    "checked": "Read again, it is as typed",
    "measured_again": "Measured again, it is as typed",
    "sent": "✓ sent",
    "kept": "kept here, not sent: {n}",
    "offline": "No way to the computer. Readings are kept here and go out by themselves.",
    "waits": "The computer cannot take it at this moment. It is kept here and goes out by itself.",
    "unsent": "Readings of this job are still on their way. Once they are sent, look at the plan, then press again.",
    "not_taken": "✗ not taken: {what}",
    "refused": "✗ {n} not taken: {what}. Open its job to see why.",
    "no_way": "No way to the computer at this moment. What is typed stays here. Press again once there is one.",
    "drafted": "As it was typed here before. It is not written yet.",
    "drafted_changed": "As it was typed here before; the job changed meanwhile: look again. It is not written yet.",
    "leaving": "Readings are kept here that the computer does not have yet.",
    "shut_out": "This device is not let in any more: pair it again. Its readings are kept here.",
    "gone": "The computer does not know their job any more.",
    "planning": "being worked out",
    "load_again": "Load the page again",
    "newer": "A newer reading is in. This page follows.",
    "earlier": "by earlier readings",
    "earlier_one": "by an earlier reading",
    "alone": "this gap alone; the whole plan follows",
    "out": "out",
    "in": "in",
    "fit": "fit",
    "allowed": "allowed",
    "then": "then",
    "now_in": "in now",
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
    "not_held": "not held",
    "order": "Order",
    "card": "Bench card",
    "sheet": "Sheet",
    "letter": "Letter",
    "sheet_pdf": "Sheet (PDF)",
    "letter_pdf": "Letter (PDF)",
    "card_pdf": "Bench card (PDF)",
    "record": "Record",
    "customer": "Show the customer",
    "drawer": "Drawer",
    "history": "History",
    "history_of": "What the records of these jobs tell.",
    "history_without": "Left out, since their files hold something wrong",
    "back": "Back to the job",
    "all_jobs": "All jobs",
    "devices": "Devices",
    "pair": "Pair a phone",
    "pad": "Number pad",
    "take_over": "Use it",
    "delete_one": "delete one digit",
    "point": "point",
    "another_pull": "Another pull",
    "wrong": "This cannot be taken",
    "done": "Done",
    "what_could_be": "What could be in, from thin to thick",
    "on_seat": "On its seat",
    "planned": "planned",
    "planned_in": "by the plan it holds",
    "after_fitting": "What it reads after fitting",
    "expected": "should read",
    "reads_now": "reads now",
    "reads_like": "9 to 10: 9 goes, 10 does not; or one number",
    "reads_preload": "say which: preload 0.03, or play 0.03",
    "no_half": "± not stated",
    "otherwise": "Something else was fitted",
    "all_in": "all that is in it now",
    "otherwise_like": "part + 2 x part, or nothing; empty: as planned",
    "person": "Who read it",
    "instrument": "With what",
    "instrument_like": "blades, a dial",
    "update_drawer": "Take the pieces out of the drawer's counts",
    "write_record": "Write the record",
    "recorded": "Recorded before",
    "found": "found",
    "read_again": "Read it again",
    "after_record": "What was recorded",
    "same_again": "The same was recorded before: nothing was written.",
    "counts_heading": "In the drawer",
    "as_text": "Read otherwise, torque, machined",
    "beside_readings": "Torque, or machined",
    "running_torque": "What it takes to turn it",
    "running_like": "running torque, and how it was taken, such as: 1.2 N·m, without oil",
    "machined": "What was done to it without a shim",
    "machined_like": "such as: shoulder faced 0.25 mm",
    "another_record": "Record again",
    "predicted": "predicted",
    "not_read": "not read",
    "in_since": "in since",
    "to_check": "Check before you write it:",
    "settle_first": "Before you record, settle first:",
    "size": "size",
    "lies": "lies in",
    "count": "there",
    "held_by": "Held",
    "add_piece": "Add a measured piece",
    "part_name": "Name",
    "part_name_like": "as it is marked; empty: called by its thickness",
    "thickness_measured": "Thickness as measured",
    "at": "Where it lies",
    "how_many": "How many",
    "add": "Add it",
    "no_drawer": "This job has no drawer.",
    "buy": "Buy",
    "buy_what": "what",
    "buy_cost": "cost",
    "buy_arrives": "arrives in",
    "buy_more": "to fill the smallest order",
    "no_supplier": "no supplier named",
    "worth": "What is it worth?",
    "worth_way": "way to order",
    "card_heading": "Bench card: what goes in, by the final reading",
    "reads": "read",
    "then_fit": "fit",
    "pair_here": "On the phone, open this address and type the code",
    "pair_scan": "or let its camera read the square",
    "pair_code": "Six digits from the computer's screen",
    "pair_name": "What this device is called",
    "pair_like": "bench 2, Hale's phone",
    "pair_minutes": "The code is good for {n} minutes and one device.",
    "pair_not_here": "Only this computer sees the page now. To let phones in, start it with: shimopt bench --network",
    "let_in": "Pair",
    "since": "since",
    "last_seen": "last seen",
    "shut_device": "Shut out",
    "its_address": "The customer's address",
    "copy_it": "Copy it",
    "copied": "Copied",
    "mine": "this device",
    "open_address": "Open the customer's page",
    "square": "The customer's address as a square for a camera",
    "customers_see": "Customers' pages",
    "until": "until",
    "take_back": "Take back",
    "no_devices": "No phone or tablet is paired.",
    "new_title": "What is it called?",
    "new_title_like": "such as: winch, upper shafts",
    "new_unit": "Unit of your blades and shims",
    "new_window": "What is allowed",
    "new_min": "Least clearance",
    "new_max": "Largest clearance",
    "new_none": "empty: none",
    "new_source": "Who states this window?",
    "new_source_like": "such as: manual and page, drawing, letter",
    "new_gap": "Gap",
    "new_gap_name": "Name of the gap",
    "new_kind": "How is it read?",
    "new_feeler": "Blades in the gap",
    "new_cover": "Under a cover",
    "new_dial": "A dial",
    "new_dimensions": "Dimensions",
    "how_feeler": "Add blades until one does not go: the thickest that goes, the thinnest that does not.",
    "how_cover": "Without shims, the cover nipped down evenly: the blade goes between cover and case.",
    "how_dimensions": "Measure each by itself: + what adds to the gap, - what takes from it.",
    "new_lengths": "Dimensions, each with its sign and name",
    "new_lengths_like": "such as: + bore depth 42.15 ± 0.01 - width 41.80 (+- is ±)",
    "how_dial": "Push, set to nothing, pull; three pulls or more.",
    "new_division": "One division of the dial",
    "new_division_like": "empty: not known",
    "new_was_in": "Shims in it while it was read",
    "new_was_in_like": "with + between; under a cover: what lay there before; empty: none",
    "new_shaft": "Shaft that the shims sit on",
    "new_shaft_like": "with its unit, such as 15.98 mm, or as drawn, such as 16 h6 (in mm); empty: not measured",
    "new_shims": "Shims, and what they sit on",
    "new_sizes": "Shims in the drawer",
    "new_sizes_like": "size x count, commas between, such as 2 x 4, 5; empty: none",
    "new_bore": "Bore of these shims",
    "new_bore_like": "empty: not measured",
    "new_not_read": "its reading is missing",
    "new_read_it": "write what was read",
    "new_again": "write it again",
    "new_sure": "It is as typed: measured, and looked at again",
    "new_more": "Another gap",
    "new_next": "Next",
    "new_write": "Write the job",
    "new_back": "Back",
    "new_empty": "Begin with nothing typed",
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
    """What is done at a place, by the heads of the plan's table: out, leave, in (or fit) and from."""
    if not at.changed:
        text = f"leave {at.stays}" if at.stays else at.into
        return [{"label": "fit" if text == NOTHING_IN else "", "text": text}]
    rows = [("out", at.out), ("leave", at.stays), ("in" if held else "fit", at.into), ("from", at.source)]
    return [{"label": label, "text": text} for label, text in rows if text]


def moved_by_words(places: Sequence[str]) -> str:
    """Of a gap that has no place of its own, which places move it."""
    return f"moved by {' and '.join(shown(place) for place in places)}" if places else "no place moves it"


def drawn_words(name: str, seat: Seat, *, suits: bool) -> str:
    """What a picture of a part on its seat shows."""
    return f"{name} on {shown(seat.name)}: {'suits' if suits else 'does not suit'}"


def sure_remedy() -> str:
    """What is done about a figure that looks like another unit's."""
    return f"write it again, or tick: {LABELS['new_sure']}"


def recorded_words(record: Record) -> str:
    """Who recorded what was read, when, and with what."""
    said = [shown(text) for text in (record.date, record.person, record.instrument) if text]
    return ", ".join(said)


def as_predicted_words(gaps: int, agree: int) -> str:
    """How many of the gaps that were read agree with what was predicted."""
    if agree == gaps:
        if gaps < 3:
            return "Reads as predicted." if gaps == 1 else "Both gaps read as predicted."
        return f"All {gaps} gaps read as predicted."
    return f"{gaps - agree} of {plural(gaps, 'gap')} not as predicted."


def counts_words(drawer: str, *, any_drawer: bool, changes: int) -> str:
    """What became of the drawer's counts."""
    if not any_drawer:
        return "The job names no drawer: there are no counts to change."
    if drawer == "by hand":
        return "The drawer is a workbook: it is only read. Change in it by hand:"
    if drawer == "done":
        return "Changed in the drawer:" if changes else "There was nothing to change in the drawer."
    return "The drawer's counts were not changed."


def count_words(change: Change) -> str:
    """How many of a piece are left: `S-10: 4 in the drawer, now 3`."""
    now = change.count + change.by
    return f"{pieces_text([change.piece])}: {change.count or 'none'} in the drawer, now {now or 'none'}"


def free_words(line: StockLine, job: str) -> str:
    """How many of a kind of piece are free, and what is held for a job or on order."""
    said = [f"{line.on_hand} free"]
    if line.held:
        said.append(f"{line.held} of them held for {job}")
    if line.coming:
        said.append(f"{line.coming} on order")
    return ", ".join(said)
