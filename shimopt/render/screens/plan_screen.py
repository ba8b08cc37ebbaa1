"""The plan on a terminal: the answer first, then one block per gap, then what it rests on and what comes next."""

from __future__ import annotations

from shimopt.errors import shown
from shimopt.job.levels import Level
from shimopt.planner import Decision
from shimopt.proof.proven import Proof
from shimopt.reasons import Gauge
from shimopt.reasons.doubts import SUSPECT
from shimopt.render.screens.gap_screen import change_list, gap_lines, places_list
from shimopt.render.screens.layout import Line, Marks, bold, plain, section, spaced
from shimopt.words.assembly_words import heat_words, state_words, tightening_words
from shimopt.words.choice_words import choice_words, cost_text, purchase_words
from shimopt.words.even_words import cleared_up_first, settled_before
from shimopt.words.exact_words import exactness
from shimopt.words.finding_words import finding_words
from shimopt.words.findings_list import findings_list
from shimopt.words.gauge_words import gauge_words, guard_words
from shimopt.words.headline import headline, start_words
from shimopt.words.level_words import LEVEL_WORDS
from shimopt.words.next_steps import next_steps
from shimopt.words.reading_words import assumption_words, reading_words
from shimopt.words.reason_words import about_reason, reason_words, scarce_words, way_words
from shimopt.words.speaker import (
    Speaker,
    ended,
    listed,
    unit_name,
)

_MOST_FINDINGS = 8
_MOST_EXPLAINED = 30
_MOST_REASONS = 60


def screen_lines(decision: Decision, unit: str, width: int, marks: Marks) -> list[Line]:
    """All lines of the screen, each with whether it is bold."""
    say = Speaker.of(decision.job, unit, buys=decision.buy)
    return spaced(
        (
            _answer(decision, say, width, marks),
            section("What holds the job back", [scarce_words(one, say) for one in decision.scarce], width),
            gap_lines(decision, say, width, marks),
            section("Places", places_list(decision, say), width),
            change_list(decision, say, width),
            section("Buy", purchase_words(decision, say), width),
            _balances(decision, say, width),
            section("Why", _reasons(decision, say), width),
            section("Choices", [choice_words(row, decision.job, say) for row in decision.choices], width),
            _readings(decision, say, width),
            section("Is the gauge good enough?", _gauges(decision, say), width),
            section(
                "Hot",
                [
                    f"{shown(gap.name)}: {heat_words(gap, gap.heat, decision.outcome.gaps[gap.name].after, say)}"
                    for gap in decision.job.gaps
                    if gap.heat is not None
                ],
                width,
            ),
            section("Trial assembly", state_words(decision.job), width),
            section("Tightening", [tightening_words(entry) for entry in decision.job.tightening], width),
            section("Assumed", _assumptions(decision, say), width),
            section("Findings", findings_list(decision, say), width),
            _proof(decision, say, width),
            section("Next", next_steps(decision, say), width),
        )
    )


def _answer(decision: Decision, say: Speaker, width: int, marks: Marks) -> list[Line]:
    lines: list[Line] = bold(headline(decision, say), width)
    lines += plain(f"{ended(decision.job.title)} All lengths in {unit_name(say.unit)}.", width)
    if start := start_words(decision.job):
        lines += plain(start, width)
    if exact := exactness(decision):
        lines += plain(exact, width)
    suspect = [finding for finding in decision.findings if isinstance(finding.fact, SUSPECT)]
    for finding in suspect[:_MOST_FINDINGS]:
        text = f"{marks.outside} {shown(finding.place)} {finding_words(finding, say)}."
        lines += bold(text, width, rest="  ")
    if len(suspect) > _MOST_FINDINGS:
        more = f"{len(suspect) - _MOST_FINDINGS} more readings look wrong: see --json."
        lines += bold(more, width, rest="  ")
    return lines


def _reasons(decision: Decision, say: Speaker) -> list[str]:
    texts = [reason_words(r, about_reason(decision.job, r, say)) for r in decision.reasons[:_MOST_REASONS]]
    more = len(decision.reasons) - len(texts)
    return [*texts, f"{more} more reasons: see shimopt why JOB GAP, or --json."] if more else texts


def _readings(decision: Decision, say: Speaker, width: int) -> list[Line]:
    """What the readings are built of, term by term, for those that are more than a bracket."""
    lines: list[Line] = []
    for gap in decision.job.gaps[:_MOST_EXPLAINED]:
        for text in reading_words(gap, say):
            deep = len(text) - len(text.lstrip())
            lines += plain(text.lstrip(), width, "  " + " " * deep, "    " + " " * deep)
    return [("How sure are the readings?", True), *lines] if lines else []


def _gauges(decision: Decision, say: Speaker) -> list[str]:
    """Where the gauge is not good enough, and why; the others in one sentence; then guard bands of a stated chance."""
    good = [name for name, gauge in decision.gauges.items() if gauge.good]

    def told(gauge: Gauge) -> str:
        return f"{shown(gauge.gap)}: {gauge_words(gauge, say, decision.remedies)}"

    bad = [told(gauge) for gauge in decision.gauges.values() if not gauge.good]
    texts = bad[:_MOST_FINDINGS]
    if len(bad) > len(texts):
        texts.append(f"{len(bad) - len(texts)} more are not: see --json.")
    if len(good) == 1:
        texts.append(told(decision.gauges[good[0]]))
    elif good:
        # what is inside as read, say, is good enough whatever the sizes
        by_step = all(decision.gauges[name].code == "good" for name in good)
        why = "step of the sizes and twice the uncertainty fit into their windows"
        texts.append(
            f"Good enough for {listed(good)}: {why if by_step else 'nothing has to be measured or sized more finely'}."
        )
    guards = [
        f"{shown(gap.name)}: {guard_words(gap, say)}" for gap in decision.job.gaps if gap.least_chance is not None
    ]
    return texts + guards[:_MOST_FINDINGS]


def _assumptions(decision: Decision, say: Speaker) -> list[str]:
    texts = list(dict.fromkeys(assumption_words(reason, say) for reason in decision.assumptions))
    if len(texts) > _MOST_FINDINGS:
        texts = [*texts[:_MOST_FINDINGS], f"{len(texts) - _MOST_FINDINGS} more assumptions: see --json."]
    return texts


def _balances(decision: Decision, say: Speaker, width: int) -> list[Line]:
    texts, waits = list[str](), cleared_up_first(decision)
    for balance in decision.job.balances:
        if why := settled_before(decision.job, balance, waits):
            texts.append(f"{shown(balance.name)} ({listed(balance.members)}): not compared: {why}.")
            continue
        found = decision.outcome.balances[balance.name]
        before, after = say(found.spread_before), say(found.spread_after)
        asked = "no limit asked" if balance.within is None else f"at most {say(balance.within)} asked"
        state = {True: "" if balance.within is None else ": met", False: ": not met", None: ": set aside"}[found.met]
        if balance.within is not None and (worst := found.beyond(balance.within)):
            state = f": met by best estimate, but up to {say(worst)} can be"
        more, start = ("thicker", "as it was") if balance.places else ("larger", "as read")
        offset = "".join(
            f"; {shown(name)} is meant {say(larger)} {more}" for name, larger in balance.offset.items() if larger
        )
        compared = f"{listed(balance.members)}{offset}"
        kind = "packs uneven" if balance.places else "uneven"
        texts.append(f"{shown(balance.name)} ({compared}): {kind} by {before} {start}, {after} after; {asked}{state}.")
    return section("Balance", texts, width)


def _proof(decision: Decision, say: Speaker, width: int) -> list[Line]:
    seconds = f"{decision.seconds:.2f} s"
    if decision.proven:
        start = f"Proven best at every level, in {seconds}; checked again by plain arithmetic."
    else:
        start = f"Not proven best at every level, after {seconds}; checked again by plain arithmetic."
    start = f"{start} {way_words(decision)}".rstrip()
    levels = []
    for level in decision.levels:
        length = Level(level.name).is_length
        value = say(level.value) if length else f"{float(level.value):g}"
        value = cost_text(decision, say) if level.name == "cost" else value
        text = f"{LEVEL_WORDS[level.name].called} {value}"
        if level.proof == Proof.TWO_SOLVERS:
            text += " (two solvers agree)"
        elif level.proof == Proof.ONE_SOLVER:
            text += " (one solver says so)"
        elif not level.proven and level.value == level.bound:
            text += " (none better, given those above)"
        elif not level.proven:
            text += " (not proven"
            if level.bound is not None:
                text += f", at least {say(level.bound) if length else f'{float(level.bound):g}'}"
            text += ")"
        if level.seconds >= 1:
            text += f" in {level.seconds:.1f} s"
        levels.append(text)
    return section("Proof", [start, ", ".join(levels) + "."], width)
