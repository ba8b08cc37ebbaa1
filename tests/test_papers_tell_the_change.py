"""Every screen and paper of a job at a machine that holds pieces says the same changes as the plan's JSON.

The JSON's list is checked against its own stacks; the texts are taken apart here, by no function that wrote them.
"""

from __future__ import annotations

import re
import shutil
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, assume, given, reject, settings

from shimopt.arithmetic.changes import BENCH, DRAWER, ORDER
from shimopt.cli.main import cli
from shimopt.errors import InputError
from shimopt.job import Job, load_job
from shimopt.ordering.order import make_order
from shimopt.planner import Decision, decide
from shimopt.render.json.order_json import order_object
from shimopt.render.json.plan_json import plan_object
from shimopt.render.papers.letter import letter_content
from shimopt.render.papers.sheet import bench_cards, sheet_content
from shimopt.render.screens.layout import UNICODE
from shimopt.render.screens.plan_screen import screen_lines
from shimopt.render.screens.short_screen import short_lines
from shimopt.words.card_first_words import over_rows
from shimopt.words.digits import digits_of
from shimopt.words.speaker import Speaker
from tests.change_texts import (
    Change,
    Moved,
    check_answer,
    check_letters_answer,
    check_short,
    counted,
    listed,
    one_kind,
    pieces,
)
from tests.job_files import write_job
from tests.place_strategies import jobs_of_places

ROOT = Path(__file__).parents[1]
DATA = ROOT / "tests" / "data"
JOBS = [
    ROOT / "demo_data" / "swing-bridge",
    ROOT / "demo_data" / "quarry-tram",
    ROOT / "demo_data" / "slipway-winch",
    ROOT / "demo_data" / "twelve-valve",
    DATA / "installed" / "ring-comes-out",
    DATA / "advice" / "bucket-step",
    DATA / "gears" / "packs-in-both",
    DATA / "gears" / "play-far-over",
    DATA / "crown-wheel",
    DATA / "advice" / "no-shims-allowed",
]


def on_screen(lines: list[str]) -> tuple[dict[str, tuple[Moved, Counter[str], Moved]], dict[str, Counter[str]]]:
    """The section `What changes`, taken apart; and what of the pieces out for the reading stays out."""
    told: dict[str, tuple[Moved, Counter[str], Moved]] = {}
    stays_out: dict[str, Counter[str]] = {}
    if "What changes" not in lines:
        return told, stays_out
    start = lines.index("What changes") + 1
    for line in lines[start : lines.index("", start)]:
        if apart := re.fullmatch(r"  (.+?): (.+), out for the reading, stays? out\.", line):
            stays_out[apart[1]] = pieces(apart[2])
            continue
        found = re.fullmatch(r"  (.+?): (.+)\.", line)
        if found is None:
            assert re.fullmatch(r"  .+ stays? as (it is|they are)\.", line), line
            continue
        out: Moved = Counter()
        into: Moved = Counter()
        stays: Counter[str] = Counter()
        for step in found[2].split("; "):
            if gone := re.fullmatch(r"(.+) out, (?:to the (drawer)(?: \(.*\))?|into (.+))", step):
                name, many = one_kind(gone[1])
                out[name, gone[2] or gone[3]] += many
            elif came := re.fullmatch(
                r"(.+) in, (?:from the (drawer)(?: \(.*\))?|(from the bench,.*)|out of (.+)|to buy)", step
            ):
                name, many = one_kind(came[1])
                into[name, came[2] or (came[3] and BENCH) or came[4] or ORDER] += many
            else:
                left = re.fullmatch(r"(.+) stays? in", step)
                assert left, step
                stays = pieces(left[1])
        told[found[1]] = out, stays, into
    return told, stays_out


def check_json(told: dict[str, Any]) -> dict[str, Change]:
    """The list of changes makes of what was in what the plan fits, and the totals count it."""
    changes = {change["place"]: change for change in told["changes"]}
    for place in told["places"]:
        out, stays, into = listed(changes[place["name"]])
        was, then = counted(place["was_in"]), counted(place["stack"])
        if was or then:
            assert stays + Counter(name for name, _ in out.elements()) == was
            assert stays + Counter(name for name, _ in into.elements()) == then
    totals = told["totals"]
    opened = [c for c in changes.values() if (c["out"] or c["stays"]) and (c["out"] or c["in"])]
    left = [c for c in changes.values() if c["stays"] and not c["out"] and not c["in"]]
    assert (totals["places_opened"], totals["places_left"]) == (len(opened), len(left))
    sources = Counter(came for c in changes.values() for (_, came) in listed(c)[2].elements())
    assert totals["pieces_from_bench"] == sources.pop(BENCH, 0)
    assert totals["pieces_from_drawer"] == sources.pop(DRAWER, 0)
    goes = Counter(to for c in changes.values() for (_, to) in listed(c)[0].elements())
    assert totals["pieces_to_drawer"] == goes[DRAWER]
    assert totals["pieces_to_buy"] == sources.pop(ORDER, 0)
    assert totals["pieces_between_places"] == sum(sources.values())
    return changes


def check_screen(decision: Decision, changes: dict[str, Change]) -> None:
    lines = [text for text, _ in screen_lines(decision, decision.job.unit, 5000, UNICODE)]
    first, (told, stays_out) = lines[0], on_screen(lines)
    changed = {name: listed(c) for name, c in changes.items() if c["out"] or c["in"]}
    held = any(c["out"] or c["stays"] or c["stays_out"] for c in changes.values()) and bool(changed)
    assert told == (changed if held else {})
    bench = {name: counted(c["stays_out"]) for name, c in changes.items() if c["stays_out"]}
    assert stays_out == (bench if held else {})
    assert first.startswith("Nothing to fit") <= (not changed)
    check_answer(first, changes, plan_object(decision)["totals"])
    short = [text for text, _ in short_lines(decision, decision.job.unit, 5000, UNICODE)]
    check_short(short, changes, [place.name for place in decision.job.places if place.came_out])
    said_to_leave = any(line.lstrip().startswith("Leave it as it is;") for line in lines)
    assert said_to_leave <= (not changed)
    # the row of a gap with a place of its own
    own = {gap.name for gap in decision.job.gaps if [place for place, _ in gap.effects] == [gap.name]}
    for at, line in enumerate(lines):
        name = next((n for n in own if line.startswith(f"{n} ") and at + 1 < len(lines)), None)
        if name is None or not lines[at + 1].startswith(("  take ", "  leave ", "  leave; ", "  fit ")):
            continue
        row, (out, stays, _) = lines[at + 1].strip(), listed(changes[name])
        taken = re.search(r"take (.+?) out", row)
        assert pieces(taken[1] if taken else "nothing") == Counter(piece for piece, _ in out.elements())
        stay = re.search(r"leave (.+?) in\b", row)
        assert pieces(stay[1] if stay else "nothing") == stays
        nothing = "fit nothing" in row or row.startswith("leave; up to ")
        assert nothing == (not stays and not changes[name]["in"])


def check_sheet(decision: Decision, changes: dict[str, Change]) -> None:
    content = sheet_content(decision, decision.job.unit, "2026-05-03")
    out: dict[str, Moved] = {name: Counter() for name in changes}
    for told in content["places"]:
        for step in told["out"]:
            gone = re.fullmatch(r"(.+?) \([^()]+\), (?:to the (drawer)(?: \(.*\))?|into (.+))", step)
            assert gone, step
            name, many = one_kind(gone[1])
            out[told["name"]][name, gone[2] or gone[3]] += many
    assert out == {name: listed(change)[0] for name, change in changes.items()}
    for place in content["places"]:
        if place["name"] not in changes:
            # a gap that no place moves
            assert (place["out"], place["pieces"]) == ([], [])
            continue
        change = changes[place["name"]]
        _, stays, into = listed(change)
        if not change["out"] and not change["in"]:
            assert place["pieces"] == []
            assert ("leave" in place["nothing"] and " in" in place["nothing"]) or not stays
            continue
        assert Counter(p["name"] for p in place["pieces"] if p["at"] == "stays in") == stays
        new = [p for p in place["pieces"] if p["at"] != "stays in"]
        assert Counter(p["name"] for p in new) == Counter(name for name, _ in into.elements())
        for piece in new:
            came = re.fullmatch(
                r"out of (.+)|(from the bench), (?:out of .+|came out here)|(to buy)|from the drawer(?: \(.*\))?",
                piece["at"],
            )
            source = DRAWER if came is None else came[1] or (came[2] and BENCH) or (came[3] and ORDER) or DRAWER
            assert (piece["name"], source) in into
        if not place["pieces"]:
            assert place["nothing"].startswith("take ")
    check_answer(content["answer"], changes, plan_object(decision)["totals"])
    if any(c["out"] or c["in"] for c in changes.values()):
        assert not content["answer"].startswith("Nothing")


def check_letter(decision: Decision, changes: dict[str, Change]) -> None:
    content = letter_content(decision, decision.job.unit, "2026-05-03")
    # a customer is told no tags of pieces
    changes = {
        place: {key: [{**piece, "piece": None} for piece in change[key]] for key in ("out", "stays", "in", "stays_out")}
        for place, change in changes.items()
    }
    # after a record with nothing left to do it tells of the visit
    if not decision.changes.nothing or not decision.job.records:
        wrong = [name for name, found in decision.outcome.gaps.items() if found.verdict == "outside"]
        check_letters_answer(content["answer"], changes, plan_object(decision)["moves"], wrong)
    nothing_done = not any(c["out"] or c["in"] for c in changes.values())
    assert ("nothing is fitted" in content["answer"]) <= nothing_done
    for told in content["gaps"]:
        movers = [place for place, _ in decision.job.gap[told["name"]].effects]
        at_once = [changes[place] for place in movers]
        touched = any(c["out"] or c["in"] for c in at_once)
        if told["verdict"] != "outside":
            # where windows of its group are looked at first, nothing is fitted in any of them
            untouched = (
                "left as it is",
                "got a shim",
                "to be settled",
                "nothing is fitted yet",
                "measured again first",
            )
            assert told["status"].startswith(untouched) >= (not touched)
        after = decision.outcome.gaps[told["name"]].after
        _, _, done, *_, then = told["row"]
        if same := re.search(r"the same packs as (.+)$", done):
            # told once, in a row above
            done = next(one["row"][2] for one in content["gaps"] if one["name"] == same[1])
        if told["status"] in ("measured again first", "nothing is fitted yet"):
            # nothing is told of what is done, as if the reading or the windows held
            assert done == told["status"]
            assert decision.changes.nothing or not then or then == "as found"
            continue
        say = Speaker.of(decision.job).about(decision.job.gap[told["name"]])
        if content["columns"][-1] in ("now", "then"):
            there = after if after.exact else after.outward(say.unit, digits_of(decision, say.unit)[1])
            assert then == say.clearance(there.low, there.high)
        text = " ".join(told["sentences"])
        if text and touched:
            moved = after != decision.job.gap[told["name"]].reading.bracket
            assert ("brings it to" in text or "bring it to" in text) == moved
            assert bool(re.search(r"it stays at|leaves? it at", text)) == (not moved)
            assert bool(re.search(r"\bcomes? out\b", text)) == any(c["out"] for c in at_once)
        # the row and the picture: what goes in for what; what was in, and what is in then. What stays as it was though
        # packs change has them in the row of the gap that they are changed for
        as_it_was = after == decision.job.gap[told["name"]].reading.bracket
        kept = as_it_was and done in ("stays as it was", "cannot be put right yet", told["status"])
        if touched and not kept:
            assert worked(done, told["name"], movers) == {
                place: (counted(changes[place]["in"]), counted(changes[place]["out"]))
                for place in movers
                if changes[place]["in"] or changes[place]["out"]
            }
            stay = Counter[str]()
            for words in re.findall(r"([^,;:]+?) stays?(?:;|,|$)", done):
                stay += pieces(words.strip())
            opened = [changes[place] for place in movers if changes[place]["in"] or changes[place]["out"]]
            assert stay == sum((counted(c["stays"]) for c in opened), Counter[str]())
        for label, keys in (("found", ("out", "stays")), ("then", ("in", "stays"))):
            for place in movers:
                where = "" if place == told["name"] else f" at {place}"
                shims = counted(piece for key in keys for piece in changes[place][key])
                if touched and any(c["out"] or c["stays"] for c in at_once):
                    alts = [one for chart in content["charts"] for one in chart["alt"].split("; ")]
                    mine = next(one for one in alts if one.startswith(f"{told['name']}: "))
                    bar = re.search(rf"{label} .*? with (.*?) in(?:,|;|$)", mine)
                    assert bar, alts
                    parts = [part for part in bar[1].split(", ") if part.endswith(where)]
                    assert shims in [pieces(part.removesuffix(where)) for part in parts]


def worked(done: str, gap: str, movers: list[str]) -> dict[str, tuple[Counter[str], Counter[str]]]:
    """What a row of the letter says goes in and comes out, by place: `gets another shim: B for A`, `left: A out`."""
    into: dict[str, Counter[str]] = {place: Counter() for place in movers}
    out: dict[str, Counter[str]] = {place: Counter() for place in movers}
    said = re.sub(r" \([^()]*\)", "", re.sub(r"(^|, |: )[^,;:]+ stays?(?=;|,|$)", r"\1", done))
    for step in said.split("; "):
        if moved := re.search(r"([^:]+) from (.+) to (.+)", step):
            what = pieces(moved[1].strip())
            out[moved[2]] += what
            into[moved[3]] += what
            continue
        place = next((one for one in movers if f"{one}: " in step and one != gap), gap if gap in movers else "")
        words = step.rpartition(": ")[2].rstrip(", ")
        if not place or not words:
            continue
        if words.endswith(" out"):
            out[place] += pieces(words.removesuffix(" out"))
        else:
            come, _, gone = words.partition(" for ")
            into[place] += pieces(come)
            out[place] += pieces(gone or "nothing")
    return {place: (into[place], out[place]) for place in movers if into[place] or out[place]}


def check_cards(job: Job) -> None:
    """Every row of a bench card says what it does to what is in."""
    order = make_order([job])
    say = Speaker.of(job)
    # after them come the tables of places that act together
    told_of = order_object(order)["cards"]
    for card, told in zip(bench_cards(order, over_rows(order, say), say)[: len(told_of)], told_of, strict=True):
        place = next(place for place, _ in job.gap[told["gap"]].effects)
        was = Counter(say.named(i) for i in job.place[place].installed)
        rows = told.get("blades") or told["bands"]
        made = [counted(row["stack"]) for row in rows if row["stack"] is not None]
        for row in card["rows"]:
            if row["hole"]:
                continue
            fit = re.sub(r" \((?:not )?measured[^()]*\)", "", row["fit"])
            taken, stay = re.search(r"take (.+?) out", fit), re.search(r"leave (.+?) in\b", fit)
            out, stays = pieces(taken[1] if taken else "nothing"), pieces(stay[1] if stay else "nothing")
            assert out + stays == was
            assert any(stack & was == stays for stack in made)


def check(decision: Decision) -> None:
    changes = check_json(plan_object(decision))
    check_screen(decision, changes)
    check_sheet(decision, changes)
    check_letter(decision, changes)


@pytest.mark.parametrize("folder", JOBS, ids=lambda folder: folder.name)
def test_every_paper_tells_the_change(folder: Path) -> None:
    job = load_job(folder)
    check(decide(job))
    if any(place.installed for place in job.places):
        check_cards(job)


def test_every_paper_tells_the_change_after_a_record(tmp_path: Path) -> None:
    bridge = shutil.copytree(ROOT / "demo_data" / "swing-bridge", tmp_path / "bridge")
    after = ["--after", "upper 1=10 to 11 thou", "--after", "lower 2=6.5 thou", "--person", "M. Hale"]
    after += ["--instrument", "feeler gauge no. 3", "--date", "2026-05-03T14:20+02:00", "--update-drawer"]
    assert CliRunner().invoke(cli, ["record", str(bridge), *after]).exit_code == 0
    check(decide(load_job(bridge)))


# a reads 0.02 with S-10 in, and 0.12 without; b reads 0.40 without its S-30, and 0.10 with it again; c reads 0.35
# without its K-20, which would leave 0.15, the edge: S-25 of the drawer leaves 0.10, the middle
CAME_OUT = """unit = "mm"
drawer = "drawer.csv"
[window]
min = 0.05
max = 0.15
source = "sheet"
[[place]]
name = "a"
installed = ["S-10"]
[[place]]
name = "b"
came_out = ["S-30"]
[[place]]
name = "c"
came_out = ["K-20"]
[[gap]]
name = "a"
value = "0.02 mm"
[[gap]]
name = "b"
value = "0.40 mm"
[[gap]]
name = "c"
value = "0.35 mm"
"""


def test_every_paper_tells_what_came_out_for_the_reading(tmp_path: Path) -> None:
    drawer = "part,thickness_mm,on_hand\nS-10,0.10,0\nS-25,0.25,1\nS-30,0.30,0\nK-20,0.20,0\n"
    found = decide(load_job(write_job(tmp_path, CAME_OUT, drawer)))
    totals = plan_object(found)["totals"]
    assert (totals["pieces_from_bench"], totals["pieces_from_drawer"], totals["pieces_to_drawer"]) == (1, 1, 1)
    check(found)


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(jobs_of_places(buying=True))
def test_every_paper_tells_the_change_of_any_job(job: Job) -> None:
    assume(any(place.installed for place in job.places))
    try:
        found = decide(job)
    except InputError:  # equal packs on seats that no part suits both of
        reject()
    check(found)
