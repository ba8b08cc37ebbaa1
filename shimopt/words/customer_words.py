"""Why a shim goes in or not, as one would tell it over the counter: reasons and findings without jargon."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from shimopt.errors import shown
from shimopt.reasons import gap_reasons as gap
from shimopt.reasons import job_facts as facts
from shimopt.reasons import shared_reasons as shared
from shimopt.reasons.gap_reasons import Length, MayBeTight, Reason
from shimopt.reasons.job_facts import GearShareAsked, GearWayAsked
from shimopt.seats import Finding
from shimopt.seats.part_facts import BoreTooLarge, BoreTooSmall
from shimopt.words.finding_words import finding_words
from shimopt.words.found_words import how_far_off
from shimopt.words.outside_words import as_found, done_for
from shimopt.words.read_steps import find_out
from shimopt.words.reading_words import both_clearance, both_units, far_in_both
from shimopt.words.reason_words import got_text, too_few_for_all
from shimopt.words.size_words import at_most_pieces
from shimopt.words.speaker import Speaker, listed, loose_or_tight, not_all_right, probably, would_do
from shimopt.words.trial_words import state_clause
from shimopt.words.ways_out_words import way_out_told

_LONGEST_NAMES = 60


def unfit(finding: Finding, say: Speaker) -> str:
    """Why a part does not suit, as one would tell it over the counter."""

    def told(length: Length) -> str:
        return both_units(length, length, say)

    fact = finding.fact
    match fact:
        case BoreTooLarge():
            return (
                f"its bore, {told(fact.bore)}, is too wide for the shaft, {told(fact.shaft)}: it would hang off centre"
            )
        case BoreTooSmall():
            return f"its bore, {told(fact.least_bore)}, does not go over the shaft, {told(fact.largest_shaft)}"
    return finding_words(finding, say)


def to_settle(finding: Finding) -> str:
    """What the job leaves open and the answer hangs on; empty where it is no such question."""
    match finding.fact:
        case GearShareAsked() as fact:
            return (
                f"whether the packs at {listed(fact.places)} hold the {fact.on} between them. If they do, "
                f"{shown(finding.place)} changes by only half as much as is told here"
            )
        case GearWayAsked() as fact:
            return f"which of the packs at {listed(fact.places)} pushes the {fact.on} into mesh"
    return ""


def to_clear_up(finding: Finding, say: Speaker) -> str:
    """What stands against a reading, as a sentence about the gap; how the job is written is the shop's business."""
    match finding.fact:
        case facts.NotAsInService() as fact:
            return f"it was {state_clause(fact)}{'' if fact.nipped else ': read it as in service'}"
        case facts.ReadWithPlay():
            return f"it was {finding_words(finding, say)}"
        case facts.NotAsPredicted(likely="clamp_or_seating") as fact:
            # how the shop looks for it is the shop's business too
            return f"it is {how_far_off(fact, say)}"
        case facts.NoPreloadAssumed() | facts.NotAsPredicted():
            return f"it is {finding_words(finding, say)}"
    return finding_words(finding, say)


def fought(reason: shared.TogetherOutside, fight: Sequence[str], say: Speaker) -> str:
    """That a gap was nearer as found, where it is one of those whose windows cannot all hold."""
    still = f"{far_in_both(reason.still, say)} {loose_or_tight(reason.side_after)}"
    return f"It was {as_found(reason)}, and will be {still}: {not_all_right(fight)}, whatever goes in."


def because(reason: Reason, say: Speaker, *, held: bool = False) -> str:
    """A reason without jargon; empty where another sentence says it. `held`: whether something was in there already."""
    nothing = "" if held else " Nothing is fitted."

    def told(length: Length) -> str:
        return both_clearance(length, length, say)

    def length(nm: Length) -> str:
        return far_in_both(nm, say)

    pieces = partial(say.stack, at=reason.about)
    match reason:
        case gap.InsideWithThinnest():
            return (
                f"That is right, so nothing is fitted. Even the thinnest shim that suits "
                f"would only take it to {told(reason.after)}, and there is no need."
            )
        case gap.AlreadyInside():
            return "That is right, so nothing is fitted."
        case gap.NoThinner():
            return (
                f"That is right, so nothing is fitted. Even the thinnest shim that suits "
                f"would leave only {told(reason.after)}: too tight."
            )
        case gap.FittedToBeSurer():
            return "It was inside before by its best estimate, but not surely."
        case gap.FittedToMatch():
            right = "right by itself" if reason.sure else "right by itself by its best estimate"
            return f"It was {right}; the shim makes it match the others ({listed(reason.names)})."
        case MayBeTight():
            return (
                "It reads as nothing, so it may be tight enough already, or too tight: that has to be found out first."
            )
        case gap.Unproven():
            ends = ((reason.tight, "tight"), (reason.loose, "loose"))
            out = " or ".join(f"{length(amount)} too {how}" for amount, how in ends if amount)
            likely = probably(reason.chance)
            return f"It is {likely} inside. As far as is known, it may still be {out or 'just outside'}."
        case gap.BelowWindow():
            return (
                f"That is {length(reason.off)} too tight. A shim would only make it tighter: the measurement and "
                "its seating have to be looked at first; where they are right, metal has to come off what sets it."
            )
        case gap.AboveWindow():
            return (
                f"That is {length(reason.off)} too loose. A shim would only open it further: the seating of the cover "
                "has to be looked at, or metal has to come off what sets it."
            )
        case gap.SetByTorque():
            how = "tight" if reason.tight else "loose"
            return f"It is set too {how} by how it turns: that counts, not its length, by which nothing is changed."
        case gap.ReadAgainFirst():
            return "The measurement itself looks wrong and has to be repeated before anything is done."
        case gap.ReadsAsNothing():
            return (
                f"It reads as nothing, which may hide more: {find_out(cover=reason.cover, opened_by=reason.opened_by)}."
            )
        case gap.NothingSuits() | gap.NothingOnHand():
            return f"That is {length(reason.off)} {loose_or_tight(reason.side)}, and there is no shim that suits."
        case gap.TooFewPieces():
            suit = f"{reason.there} {say.had} {'suits' if reason.there == 1 else 'suit'}"
            return f"At least {reason.fewest} pieces have to go in there, and only {suit}."
        case gap.TooFewForAll():
            return f"{too_few_for_all(reason, say)}."
        case gap.PreloadNotStated():
            return "A thicker one would preload it, and nothing states how much preload it may have."
        case gap.LeftByPriority():
            return "Shims on hand would put it right; what was asked for first leaves none for it."
        case gap.LeftTogetherByPriority():
            return "It could be put right; what was asked for first leaves it."
        case gap.LeftBySearch():
            return "Shims on hand would put it right; the plan was cut off before that."
        case gap.ChanceTooLow():
            return f"It is {probably(reason.chance)} inside, but not as surely as was asked."
        case shared.StaysOutside():
            return f"That is {length(reason.off)} {loose_or_tight(reason.side)}."
        case shared.NoPlaceMoves():
            outside = (
                f"That is {length(reason.off)} {loose_or_tight(reason.side)}, and no place for a shim is named there."
            )
            return outside if reason.off else "That is right."
        case shared.TogetherOutside() if reason.still > reason.off:
            makes = f"makes it {length(reason.still)} {loose_or_tight(reason.side_after)}"
            return f"It was {as_found(reason)}; {done_for(reason)} {makes}."
        case shared.TogetherOutside():
            return f"With that it is {length(reason.still)} {loose_or_tight(reason.side_after)}."
        case shared.TogetherLeft():
            how = loose_or_tight(reason.side)
            return f"That is {length(reason.off)} {how}, and nothing is changed there." if reason.off else ""
        case shared.TogetherNearest():
            would = f"would leave it {length(reason.still)} {loose_or_tight(reason.side_after)}"
            return f"The nearest that could go in {would}; that is not fitted."
        case shared.WindowsFight() if len(reason.names) > 1:
            return f"{not_all_right(reason.names)}, whatever goes in."
        case shared.NoStacksForAll() if len(reason.names) > 1:
            return f"{not_all_right(reason.names)} with the shims {say.had}."
        case shared.WindowsFight() | shared.NoStacksForAll():
            return f"Nothing {say.had} brings {listed(reason.names)} inside."
        case gap.AllElsewhere():
            return f"Every shim that suits is in {listed(reason.names, 4)} and stays there.{nothing}"
        case gap.NotThickEnough() if reason.in_now:
            return f"What is in, {length(reason.thickest)}, is too thin.{nothing}"
        case gap.NotThickEnough():
            whose = f"{at_most_pieces(reason.pieces)}{'that is left' if reason.left else say.had}"
            return f"Even the thickest stack {whose}, {length(reason.thickest)}, is too thin.{nothing}"
        case gap.TooLooseWithThinnest():
            return f"The thinnest shim that suits would make it {told(reason.after)}: too loose.{nothing}"
        case gap.TooTightWithThinnest():
            return f"The thinnest shim that suits would leave only {told(reason.after)}: too tight.{nothing}" + (
                " So little is needed that the measurement has to be repeated first." if reason.doubtful else ""
            )
        case gap.NoSizeBetween() if reason.in_now:
            return "Nothing that may go in brings it inside, and nothing that is left brings it nearer than it is now."
        case gap.NoSizeBetween() if not reason.stack:
            return f"Nothing that may go in brings it inside, and of what is left nothing brings it nearer.{nothing}"
        case gap.NoSizeBetween():
            return (
                f"Nothing that may go in brings it inside; of what is left the nearest would "
                f"leave {told(reason.after)}, {length(reason.off)} outside.{nothing}"
            )
        case gap.DrawerRanOut():
            would = f"{pieces(reason.stack)} {would_do(sure=reason.sure)}, but"
            if reason.kept and set(reason.kept) == set(reason.got):
                lies = "that is" if len(reason.stack) == 1 else "pieces of it are"
                stay = "stays" if len(reason.stack) == 1 else "stay"
                return f"{would} {lies} in {listed(reason.kept)} and {stay} there."
            got = got_text(reason)
            where = f": it is used at {got}" if 0 < len(got) <= _LONGEST_NAMES else ""
            what = "A shim that would do" if len(reason.stack) == 1 else "What would do"
            what += "" if reason.sure else " by best estimate"
            if not where:
                return f"{what} is used elsewhere, and there is no second one. Nothing is fitted until it is bought."
            return f"{what} is used at {got}, and there is no second one. Nothing is fitted until it is bought."
        case shared.SplitNotStated():
            kept = (
                ""
                if isinstance(reason, shared.SplitByName)
                else "; as few places are changed as can be, with as few pieces"
            )
            return f"Nothing says how {listed(reason.names)} share the thickness{kept}."
        case gap.BeyondParts():
            if not reason.searched:
                return "No part known here is that thick: check the measurement before a thicker one is bought."
            return "No part known here is that thick: the measurement has to be checked before anything is bought."
    return way_out_told(reason, lambda low, high: both_units(low, high, say), say)
