"""What is said of a part on a seat, one sentence a finding, and what is said where a dimension is missing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from shimopt.errors import shown
from shimopt.seats import part_facts as part
from shimopt.seats import stack_facts as stack
from shimopt.seats.finding import Fact, Lack
from shimopt.words.speaker import Speaker, listed

# what a rule lacked, as a person would name it
_MISSING = {
    Lack.NO_SEAT: "seat",
    Lack.NO_SHAFT_DIAMETER: "shaft diameter",
    Lack.NO_COUNTERBORE: "counterbore",
    Lack.NO_FACE: "face",
    Lack.NO_GROOVE: "groove",
    Lack.NO_FILLET: "fillet",
    Lack.NO_NEXT_RING: "next ring",
    Lack.NO_LIMIT_PRESSURE: "limit pressure",
    Lack.NO_KEYWAY: "keyway or tab",
    Lack.NO_MOVING_FACE: "whether the face turns",
    Lack.NO_BORE: "bore of the part",
    Lack.NO_OUTSIDE: "outer diameter of the part",
    Lack.NO_EDGE: "edge (chamfer) of the part",
    Lack.NO_FORM: "form of the part",
    Lack.NO_MATERIAL: "material of the part",
    Lack.NO_HARDNESS: "hardness of the part",
    Lack.OTHER_HARDNESS_SCALE: "hardness in one scale for seat and part",
}
_FORMS = {
    "ring": "a plain ring",
    "slotted": "slotted",
    "tabbed": "tabbed",
    "spacer": "a spacer",
    "wavy": "a wavy washer",
    "spring": "a spring washer",
    "disc spring": "a disc spring",
}


def share_text(share: Fraction) -> str:
    """A share in per cent; never all or nothing where it is not."""
    percent = round(float(share) * 100)
    if 0 < share < 1:
        percent = min(99, max(1, percent))
    return f"{percent} %"


def number_text(number: Fraction) -> str:
    """A number with three figures or so, without an exponent."""
    value = float(number)
    return f"{value:,.0f}" if value >= 100 else f"{value:.3g}"


def provenance_word(provenance: str) -> str:
    """Where figures are from, as people read it: from memory is unconfirmed; what is second hand says so itself."""
    return "unconfirmed" if provenance.casefold().startswith("memory") else shown(provenance)


def missing_words(lack: Lack) -> str:
    """What is missing, as a few words."""
    return _MISSING[lack]


def counted_words(counts: Mapping[str, int]) -> str:
    """How many parts of a large drawer suit a seat; `counts` by "suits", "caution" and "stop"."""
    suits, cautions, stops = (f"{counts[verdict]:,}" for verdict in ("suits", "caution", "stop"))
    return f"{sum(counts.values()):,} parts: {suits} suit, {cautions} with a caution, {stops} with a stop."


def wanting(facts: Iterable[Fact], *, seats: bool = True, most: int = len(Lack)) -> str:
    """All that rules lacked, in one sentence; without `seats` not that there is no seat, which is told elsewhere.

    Parameter: most, how many are named.
    """
    lacked = {one.what for fact in facts if isinstance(fact, stack.NotChecked) for one in fact.missing}
    lacked -= set() if seats else {Lack.NO_SEAT}
    if not lacked:
        return ""
    named = listed([_MISSING[lack] for lack in Lack if lack in lacked], most)
    return f"Not checked, not given: {named}. See: shimopt {'help seats' if lacked == {Lack.NO_SEAT} else 'fit JOB'}."


def _not_checked(fact: stack.NotChecked) -> str:
    """All that could not be checked at one place."""
    count = {one.what: one.parts for one in fact.missing}
    lacked = [lack for lack in Lack if lack in count]
    named = [_of_parts(_MISSING[lack], count[lack]) if lack.of_part else _MISSING[lack] for lack in lacked]
    return f"not checked, not given: {', '.join(named)}"


def _of_parts(lacking: str, parts: int) -> str:
    """`bore of the part` of one, `bore of 3 parts` of several."""
    return lacking if parts == 1 else lacking.replace("of the part", f"of {parts} parts")


def part_words(fact: Fact, say: Speaker) -> str:
    """Of one part on a seat; empty for other kinds."""
    match fact:
        case part.BoreTooLarge():
            return (
                f"hangs off centre: bore {say(fact.bore)} on shaft {say(fact.shaft)} leaves at least "
                f"{say(fact.least_play)} of play, "
                f"allowed are {say(fact.allowed)}"
            )
        case part.RubsNextRing():
            return (
                f"can rub on the next ring: outer diameter {say(fact.outside)}, next ring {say(fact.next_ring)}; "
                f"pushed to one side by {say(fact.shift)} it reaches {say(fact.over)} too far"
            )
        case part.StackOverGroove():
            return (
                f"comes to stand over a groove in this stack: {share_text(fact.share)} of its width is not carried, "
                f"from {say(fact.start)} "
                f"to {say(fact.end)} from the face"
            )
        case part.DropsIntoGroove():
            return (
                f"drops into the groove: over its whole width ({say(fact.start)} to {say(fact.end)} from the face) "
                "the shaft is only "
                f"{say(fact.groove)}, which leaves {say(fact.play)} of play, allowed are {say(fact.allowed)}"
            )
        case part.StandsOnFillet():
            return (
                f"stands on the fillet: radius {say(fact.fillet)} under an edge broken by only {say(fact.edge)} lifts "
                f"it {say(fact.lift)} off "
                "the face, even in the middle; it would tilt and read falsely tight"
            )
        case part.OffCentreUneven():
            return (
                f"bears unevenly: pushed {say(fact.shift)} to one side, {say(fact.width)} of the {say(fact.centred)} "
                "wide contact is left "
                f"opposite; at least {share_text(fact.allowed_share)} is wanted"
            )
        case part.CarriesNothing():
            return "does not meet the face that it should bear on"
        case part.PressureTooHigh():
            return (
                f"presses too hard: {number_text(fact.load)} N on {number_text(fact.area)} mm² is "
                f"{number_text(fact.pressure)} N/mm², allowed "
                f"are {number_text(fact.limit)} N/mm² ({shown(fact.source)})"
            )
        case part.BoreTooSmall():
            return (
                f"does not go on: its bore can be as small as {say(fact.least_bore)}, the shaft as large as "
                f"{say(fact.largest_shaft)}"
            )
        case part.BoreMayBeTooLarge():
            return (
                f"may hang off centre: bore {say(fact.bore)} on shaft {say(fact.shaft)} can leave "
                f"{say(fact.most_play)} of play, "
                f"allowed are {say(fact.allowed)}; measure the bore"
            )
        case part.OutsideTooLarge():
            return (
                f"does not go into its counterbore: its outer diameter can be {say(fact.largest_outside)}, "
                f"the counterbore as small as {say(fact.least_bore)}"
            )
        case part.NearNextRing():
            return (
                f"comes within {say(fact.clear)} of the next ring when pushed {say(fact.shift)} to one side; keep "
                f"{say(fact.allowed)} clear"
            )
        case part.StandsOverGroove():
            return (
                f"stands over a groove: {share_text(fact.share)} of its width is not carried, from {say(fact.start)} "
                f"to {say(fact.end)} from the "
                f"face; at most {share_text(fact.allowed_share)} is allowed"
            )
        case part.MayStandOnFillet():
            return (
                f"can stand on the fillet: radius {say(fact.fillet)} under an edge broken by only {say(fact.edge)} "
                "lifts it up to "
                f"{say(fact.lift)} off the face when it hangs to one side"
            )
        case part.OffCentreUncovered():
            return (
                f"leaves one side of the face bare: pushed {say(fact.shift)} to one side, nothing of the "
                f"{say(fact.centred)} wide "
                "contact is left opposite"
            )
        case part.CarriesTooLittle():
            return (
                f"carries only {share_text(fact.share)} of the face at its worst; at least "
                f"{share_text(fact.allowed_share)} is wanted"
            )
        case part.PressureLimitFromMemory():
            return (
                f"bears {number_text(fact.pressure)} N/mm² ({number_text(fact.load)} N on {number_text(fact.area)} "
                f"mm²) under a limit of {number_text(fact.limit)} N/mm² that is unconfirmed ({shown(fact.source)}, "
                "from memory): look it up before you rely on it"
            )
        case part.PressureMayBeTooHigh():
            return (
                f"can press too hard when it hangs to one side: {number_text(fact.load)} N on "
                f"{number_text(fact.area)} mm² is "
                f"{number_text(fact.pressure)} N/mm², allowed are {number_text(fact.limit)} N/mm² "
                f"({shown(fact.source)})"
            )
        case part.ThinWall():
            return (
                f"has a narrow wall: {say(fact.wall)} wide and {say(fact.thickness)} thick; the wall should be at "
                "least "
                f"{number_text(fact.times)} times the thickness"
            )
        case part.TooThin():
            return f"is thinner ({say(fact.thickness)}) than this seat allows ({say(fact.allowed)})"
        case part.VeryThin():
            return (
                f"is thinner ({say(fact.thickness)}) than {say(fact.folds)}: such pieces fold and cut unless they lie "
                "in a sealed pack"
            )
        case part.PartNotTaken():
            return f"is none of the parts that this {fact.by} takes: {shown(', '.join(fact.taken))}"
        case part.TakesUpPlay():
            by_name = " by its name or note" if fact.by_name else ""
            springs = f"is {form_words(shown(fact.form))}{by_name}: it takes up play and sets none"
            if fact.named:
                return f"{springs}; this seat names it, and its thickness counts only where it lies pressed flat"
            but = "; if it is none, write its `form`" if fact.by_name else ""
            return f"{springs}, so it is never planned as a shim{but}"
        case part.GivesWay():
            what = "is a gasket" if fact.material == "gasket" else f"is of {shown(fact.material)}"
            return f"{what}, which is crushed where it is clamped: the clearance that it sets does not stay"
        case part.FormNotAllowed():
            return f"is {form_words(shown(fact.form))}, and this seat takes only: {shown(', '.join(fact.allowed))}"
        case part.SlottedOnMovingFace():
            return "is slotted, and the face turns: it can work its way out"
        case part.NeedsTab():
            return f"has no tab (it is a {shown(fact.form)}), and this seat holds its shims by one"
        case part.TabHasNoRoom():
            return "has a tab, and the seat has neither a keyway nor a notch for it"
        case part.MaterialNotAllowed():
            return f"is of {shown(fact.material)}, and this seat takes only: {shown(', '.join(fact.allowed))}"
        case part.SoftOnMovingFace() if fact.alone and fact.asked:
            return f"is {shown(fact.hardness)}, and against what turns this seat wants at least {shown(fact.least)}"
        case part.SoftOnMovingFace() if fact.alone:
            only = "as one like it ran there, it is taken to be" if fact.meant else "right only if it is"
            return f"is {shown(fact.hardness)}, and the face turns: {only} a washer made to run against it"
        case part.SoftOnMovingFace():
            between = f"a piece of at least {shown(fact.least)}" if fact.least else "a hard piece"
            here = f", as {shown(fact.between)} is here" if fact.between else ""
            return f"is {shown(fact.hardness)}, and the face turns: only with {between} between{here}"
    return ""


def stack_words(fact: Fact, say: Speaker) -> str:
    """Of a stack, a place, or a piece in hand; empty for other kinds."""
    match fact:
        case stack.SeatTakesNoShims():
            return f"this seat takes no shims: {shown(fact.why)}"
        case stack.NotChecked():
            return _not_checked(fact)
        case stack.MixedBores():
            return (
                f"the bores in this stack differ, {say(fact.smallest)} and {say(fact.largest)}: the pieces do not lie "
                "on one another"
            )
        case stack.StackOrder():
            why = "as the seat asks" if fact.stated else "common practice"
            return f"fit the pieces in the order listed, {shown(fact.order)} ({why})"
        case stack.LiesOtherwise():
            lies, right = (shown(" + ".join(names)) for names in (fact.lies, fact.right))
            from_face = ", from the fixed face" if fact.rubs else ""
            return f"{lies} was said to lie so, and should lie as {right}{from_face}: turn it round, and record it so"
        case stack.PacksMeasureApart():
            return (
                f"pieces match by their names; as measured, {shown(fact.thicker)} gets {say(fact.apart)} more than "
                f"{shown(fact.thinner)}. Is that too much? Write a balance of these places with `within`"
            )
        case stack.WornGoesIn():
            return f"is {say(fact.under)} thinner than marked: worn? Measure it all round before it goes in"
        case stack.FromMemory():
            note = f" ({shown(fact.note)})" if fact.note else ""
            return f"its catalogue figures are not all from a document{note}: measure it before it is fitted"
        case stack.Burr():
            return f"has a burr of {say(fact.burr)}: take it off, flat on a stone, and measure again"
        case stack.UnevenThickness():
            return (
                f"is uneven: its spots differ by {say(fact.apart)}, allowed are {say(fact.allowed)}; a wedge, dished, "
                "or dirty"
            )
        case stack.NoMeasuringError():
            return "its measuring error is not stated, so the reading is taken as exact"
        case stack.CoarseInstrument():
            return (
                f"was measured to only ±{say(fact.error)}: a calliper is not good enough for a shim, take a micrometer"
            )
        case stack.LabelNotKnown():
            return "no drawer or catalogue of the job knows its label, so that was not checked"
        case stack.LabelUnconfirmed():
            return (
                f"the figures of its catalogue are no document's ({provenance_word(fact.provenance)}), so whether it "
                "is what its label says was not checked: measure it and go by that"
            )
        case stack.LabelHasNoTolerance():
            return (
                f"its label ({say(fact.thickness)}) states no tolerance, so whether it is what it says was not checked"
            )
        case stack.NotAsLabelled():
            what = {"thickness": "thick", "inner": "in the bore", "outer": "in outer diameter"}[fact.what]
            other = f"; it looks like {shown(fact.other)}" if fact.other else ""
            means = f"{say(fact.least)} to {say(fact.most)}"
            means += f" ({fact.source})" if fact.source else ""
            return f"is not what its label says: {say(fact.is_now)} {what}, the label means {means}{other}"
    return ""


def form_words(word: str) -> str:
    """What a part of a form is called."""
    return _FORMS.get(word, word)
