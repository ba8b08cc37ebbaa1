"""What a plan advises, read as a mechanic would: jobs on which it once said something false or unsafe."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from shimopt.cli import main
from shimopt.job import load_job
from shimopt.planner import decide
from shimopt.render.papers.letter import letter_content
from shimopt.render.papers.sheet import sheet_content
from tests.command import Run
from tests.job_files import write_job
from tests.test_said_as_it_is import paper

HERE = Path(__file__).parent / "data" / "advice"
Say = Callable[..., str]


@pytest.fixture
def said(capsys: pytest.CaptureFixture[str]) -> Say:
    """What a command prints of one of the jobs, with its lines joined."""

    def call(command: str, job: str, *more: str) -> str:
        with pytest.raises(SystemExit):
            main([command, str(HERE / job), *more])
        return " ".join(capsys.readouterr().out.split())

    return call


def test_the_hard_washer_is_listed_last_against_the_gear_that_turns(said: Say) -> None:
    screen = said("plan", "thin-against-gear", "--full")
    assert "fit shim 0,05 + TW B, in this order from the fixed face" in screen
    short = said("plan", "thin-against-gear")
    assert "shim 0,05 + TW B" in short
    assert "Pieces of one place in the order written, from the fixed face." in short
    assert "is soft, and the face turns: only with a hard piece between" in screen
    assert "hard or thick against what turns, thin or soft at the fixed face (common practice)" in screen


def test_a_soft_shim_with_a_hard_washer_between_is_no_caution_in_plan_and_order(said: Say, tmp_path: Path) -> None:
    """TW B, 700 HV, lies between the soft shim and the gear; `fit` knows no stack, and goes on cautioning."""
    told = "is soft, and the face turns: only with a hard piece between"
    plan = said("plan", "thin-against-gear", "--full")
    assert f"note: shim 0,05 on layshaft: {told}, as TW B is here." in plan
    assert "caution: shim 0,05" not in plan
    assert told not in said("order", "thin-against-gear")
    assert f"caution: {told}" in said("fit", "thin-against-gear")
    grades = [f["grade"] for f in json.loads(said("plan", "thin-against-gear", "--json"))["findings"] if f["part"]]
    assert grades == ["note"]
    # with a washer as soft as the shim nothing hard lies between
    soft = (HERE / "thin-against-gear" / "drawer.csv").read_text().replace("700 HV", "soft")
    (tmp_path / "drawer.csv").write_text(soft)
    drawer = ("--drawer", str(tmp_path / "drawer.csv"))
    assert f"! shim 0,05 on layshaft: {told}." in said("plan", "thin-against-gear", *drawer)
    assert f"layshaft: shim 0,05 {told}." in said("order", "thin-against-gear", *drawer)


def test_plan_order_and_card_give_one_answer_where_only_one_pair_of_blades_can_be_served(
    said: Say, tmp_path: Path
) -> None:
    # preload of 2 to 3 thou out of 27 to 28 under the cover: 25 thou of shim, and no thou more or less
    assert "preload 2 to 3 ✓" in said("plan", "cover-no-row-serves")
    card = tmp_path / "card.txt"
    order = said("order", "cover-no-row-serves", "--card", str(card), "--card", str(tmp_path / "card.pdf"))
    assert "the drawer serves every gap" in order
    assert "what lies between two readings is not asked for" in order
    assert "27 goes, 28 does not  fit 10 thou + 5 thou + 10 thou" in card.read_text()


def test_a_card_without_a_row_that_can_be_served_says_so(said: Say, tmp_path: Path) -> None:
    drawer = tmp_path / "drawer.csv"
    drawer.write_text("part,thickness_thou,on_hand\n,2,4\n,3,2\n")
    files = [tmp_path / name for name in ("card.txt", "card.pdf", "card.html")]
    more = [word for file in files for word in ("--card", str(file))]
    assert "not covered: stop" in said("order", "cover-no-row-serves", "--drawer", str(drawer), *more)
    for file in (files[0], files[2]):
        text = " ".join(file.read_text().split()).casefold()
        assert "no row can be served by the drawer: stop, and plan again from the reading" in text
    sheet = tmp_path / "sheet.pdf"
    said("sheet", "cover-no-row-serves", "--drawer", str(drawer), "--card", "-o", str(sheet))
    assert sheet.exists()
    assert files[1].exists()


@pytest.mark.parametrize("job", ["no-shims-allowed", "why-fewest-pieces"])
def test_nobody_is_sent_to_the_bench_with_a_card_that_fits_nothing(said: Say, job: str) -> None:
    steps = said("order", job).split(" Next ")[1]
    assert "Take the card" not in steps
    assert "No row of a card fits anything: see above what would close what is not covered." in steps
    # one that has rows to fit is still taken along
    assert "Take the card to the bench" in said("order", "thin-against-gear")


def test_nothing_asks_for_a_shim_where_the_seat_takes_none(said: Say) -> None:
    """Read 15 to 16, window 4 to 12 thou: by hand it has to come down by 16 - 12 to 15 - 4 thou."""
    for told in (said("plan", "no-shims-allowed"), said("why", "no-shims-allowed", "idler")):
        assert "3.5 thou too loose, and its seat takes no shims: the thrust washer thickness is fixed" in told
        assert "It has to come down by 4 to 11 thou: restore the dimension that sets it" in told
    why = said("why", "no-shims-allowed", "idler")
    assert "of shim" not in why
    assert "suits would do it" not in why


def test_no_stack_can_be_sure_is_never_said_beside_one_that_is(said: Say) -> None:
    screen = said("plan", "gauge-says-none", "--full")
    assert "✓ inside" in screen
    assert "no stack can be" not in screen
    assert "good enough for this reading, not for every one" in screen


def test_sizes_step_from_piece_to_piece_where_one_has_to_be_in(said: Say) -> None:
    """By hand: 1.45 and 1.50 are the two that come nearest to 1.439 to 1.443 mm; nothing in is no choice."""
    screen = said("plan", "bucket-step", "--full")
    assert "step by 0.05 mm here" in screen
    assert "1.45 mm here" not in screen


def test_the_error_of_the_piece_that_comes_out_counts_in_the_gauge(said: Say) -> None:
    """By hand: read 0.00 to 0.05, ±0.025; 1.666 ±0.003 comes out for a size as marked: ±0.028 in all.

    A window 0.06 wide leaves 0.06 - 2 x 0.028 = 0.004. With sizes 0.05 apart u may be (0.06 - 0.05) / 2 = 0.005, and
    0.003 of it is the piece's. The 1.55 ±0.003 at ex left counts where it comes out, and cancels where it stays.
    """
    screen = said("plan", "bucket-step", "--full")
    for bucket in ("ex left", "ex right"):
        told = screen.split(f"{bucket}: the sizes are too far apart: ")[1].split(f"{bucket}: ")[0]
        assert told.startswith(
            "they step by 0.05 mm here, and reading and pieces are known to ±0.028 mm, which leaves 0.004 mm of a "
            "window 0.06 mm wide. To be sure, read it to ±0.002 mm (if its middle is the same then); "
            "or have a stack of "
        )


def test_the_seats_least_number_is_the_reason_where_it_decides(said: Say) -> None:
    why = said("why", "why-fewest-pieces")
    assert "S-30 would make it 0.10 mm, but its seat takes at least 2 pieces." in why
    assert "0.09 to 0.11 inside, too few pieces" in why
    assert "So would a reading wholly within 0.05 to 0.15 mm" in why


def test_the_thickest_stack_is_told_with_what_it_would_leave_though_it_went_elsewhere(said: Say) -> None:
    """Read 28 to 33, window 4 to 12 thou: by hand 30.5 - 12 = 18.5 are needed, and 10 + 5 leave 30.5 - 15 - 12 = 3.5.

    It is not for want of these two that the north end gets nothing: alone in the job it gets nothing either.
    """
    told = (
        "needs at least 18.5 thou of shim by its best estimate; the thickest stack in the drawer (S-10 + S-05) is 15 "
        "thou and would leave it 3.5 thou too loose. What does not bring it inside is not fitted."
    )
    demo = str(Path(__file__).parents[1] / "demo_data" / "fulling-mill")
    for screen in (said("plan", demo, "--full"), said("why", demo, "north end")):
        assert f"{told[0].upper()}{told[1:]}" in screen or f"north end: {told}" in screen
        assert "The nearest (nothing)" not in screen


def test_the_nearest_is_told_as_the_nearest_that_is_left(said: Say, tmp_path: Path) -> None:
    """By hand: a (0.62 mm) takes 0.47 to 0.57, b (0.70 mm) 0.55 to 0.65. S-60, nearer to a than S-30, goes to b."""
    head = 'unit = "mm"\ndrawer = "drawer.csv"\n[window]\nmin = 0.05\nmax = 0.15\nsource = "invented"\n'
    gaps = [f'[[gap]]\nname = "{name}"\nvalue = "{read} mm"\n' for name, read in (("a", "0.62"), ("b", "0.70"))]
    (tmp_path / "job.toml").write_text(head + "".join(gaps))
    (tmp_path / "drawer.csv").write_text("part,thickness_mm,on_hand\nS-30,0.30,1\nS-60,0.60,1\n")
    told = "Of what is left the nearest (S-30) would make it 0.32 mm, 0.17 mm outside."
    assert f"a: no stack that may go in falls into its window. {told}" in said("plan", str(tmp_path), "--full")
    said("letter", str(tmp_path), "-o", str(tmp_path / "letter.html"))
    letter = (tmp_path / "letter.html").read_text()
    assert "Nothing that may go in brings it inside; of what is left the nearest would leave 0.32 mm" in letter


def test_a_seat_of_at_least_two_pieces_is_told_what_stack_it_needs_not_what_shim(said: Say, tmp_path: Path) -> None:
    """By hand: 0.41 - 0.15 = 0.26 to 0.39 - 0.05 = 0.34 mm in all; one shim of that size must not go in alone."""
    stack = "stack of at least two pieces, 0.26 to 0.34 mm"
    plan, why = said("plan", "why-fewest-pieces"), said("why", "why-fewest-pieces")
    assert f"needs a {stack} in all." in plan
    step = f"left needs a {stack} in all to be sure; each piece has to suit."
    assert step in said("plan", "why-fewest-pieces", "--full").split("Next")[1]
    assert f"A {stack} of shim in all, each of which suits, would do it." in why
    said("letter", "why-fewest-pieces", "-o", str(tmp_path / "letter.html"))
    letter = (tmp_path / "letter.html").read_text()
    assert "What is needed is a stack of at least two pieces, 0.26 to 0.34 mm in all" in letter
    assert not any("a shim of 0.26" in told for told in (plan, why, letter))


JOB = """title = "Drum"
unit = "mm"
drawer = "drawer.csv"
[window]
min = 0.10
max = 0.20
source = "invented"
[[seat]]
name = "end"
{seat}
[[gap]]
name = "drum"
seat = "end"
value = "{read}"
"""


@pytest.fixture
def drum(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Say:
    """The plan's screen of one gap with this reading, seat and drawer, its lines joined."""

    def call(read: str, drawer: str, seat: str = "") -> str:
        (tmp_path / "job.toml").write_text(JOB.format(read=read, seat=seat), encoding="utf-8")
        (tmp_path / "drawer.csv").write_text(drawer)
        with pytest.raises(SystemExit):
            main(["plan", str(tmp_path)])
        return " ".join(capsys.readouterr().out.split())

    return call


def test_one_piece_more_than_allowed_is_told_where_it_would_do(drum: Say) -> None:
    """By hand: 0.55 less three of 0.13 is 0.16, inside 0.10 to 0.20; two leave 0.29."""
    drawer = "part,thickness_mm,on_hand\nS-13,0.13,3\n"
    said = drum("0.55 mm", drawer, "most_pieces = 2")
    assert "One piece more than the 2 allowed there would do: 3 x S-13 would make it 0.16 mm" in said
    # and so it is not said that nothing is thick enough
    assert "No 2 pieces in the drawer that suit are thick enough" in said
    assert "piece more" not in drum("0.55 mm", drawer.replace(",3\n", ",2\n"), "most_pieces = 2")


def test_two_pieces_more_than_allowed_are_not_one_piece_more(drum: Say) -> None:
    """By hand: 0.50 less two of 0.13 is 0.24, outside 0.10 to 0.20; three leave 0.11, and one is allowed."""
    said = drum("0.50 mm", "part,thickness_mm,on_hand\nS-13,0.13,3\n", "most_pieces = 1")
    assert "0.30 too loose" in said
    assert "piece more" not in said
    assert "S-13" not in said.partition("0.30 too loose")[2]


def test_a_stack_with_a_piece_that_the_seat_keeps_out_is_told_with_why(drum: Say) -> None:
    """By hand: 0.65 less 0.30 and 0.20 is 0.15, inside; the slotted piece alone leaves 0.45."""
    drawer = "part,thickness_mm,on_hand,form\nR-30,0.30,1,ring\nC-20,0.20,1,slotted\n"
    said = drum("0.65 mm", drawer, 'forms = "ring"')
    assert "would be of the right thickness, but C-20 is slotted, and this seat takes only: ring" in said


@pytest.mark.parametrize(
    ("thickness", "hardness", "seat", "told"),
    [
        # 0.65 read: 0.45 to 0.55 would do; four fifths of 0.60 are 0.48, of 0.70 they are 0.56
        ("0.60", "soft", "moving_face = false", True),
        ("0.60", "180 HV", "moving_face = false", True),
        ("0.70", "soft", "moving_face = false", False),
        # whether something turns against it nobody said
        ("0.60", "soft", "", False),
        # how deep a hard skin goes, or how hard it is, nobody said
        ("0.60", "700 HV", "moving_face = false", False),
        ("0.60", "", "moving_face = false", False),
        # the seat wants it hard, or thicker than it would be
        ("0.60", "soft", "moving_face = true", False),
        ("0.60", "soft", "moving_face = false\nthinnest = 0.55", False),
    ],
)
def test_a_piece_is_made_thinner_only_within_what_seat_and_hardness_allow(
    drum: Say, thickness: str, hardness: str, seat: str, told: bool
) -> None:
    said = drum("0.65 mm", f"part,thickness_mm,on_hand,hardness\nT,{thickness},1,{hardness}\n", seat)
    assert ("making T thinner, to 0.48 to 0.55 mm" in said) is told
    if told:
        assert "both faces parallel, burr off, then measured again; never through a hardened skin" in said


def test_a_remedy_is_offered_only_where_it_was_tried_and_helps(drum: Say) -> None:
    """By hand: 0.45 ± 0.01 less 0.28 ± 0.045 leaves 0.115 to 0.225: the piece alone decides, 0.17 ± 0.01 is inside."""
    said = drum("0.45 mm ± 0.01 mm", "part,thickness_mm,tolerance_mm,on_hand\nS-28,0.28,0.045,1\n")
    # ±0.01 and ±0.045, each evenly: their sum is spread evenly within ±0.035, one ninetieth of it per 0.001; from the
    # best estimate 0.17 down all is inside, and up to 0.20, 0.03 of it: 1/2 + 0.03/0.09 are 83.3 %
    assert "0.115 to 0.225 ? 83.3 %" in said
    assert "Measure the pieces of drum with a micrometer." in said
    assert "finer gauge" not in said


def papers(folder: Path) -> tuple[dict[str, object], dict[str, object]]:
    """Letter and sheet of a job as their templates get them."""
    found = decide(load_job(folder))
    return letter_content(found, "mm", "2026-05-03"), sheet_content(found, "mm", "2026-05-03")


def test_letter_and_sheet_warn_first_where_the_trial_was_not_as_in_service(said: Say) -> None:
    # the case was held finger tight without its gasket: what closes at the real clamping is not in the figures
    assert "But layshaft was not read as in service" in said("plan", "finger-tight")
    assert "Read layshaft again as in service, or state how far it may move (`shift`)." in said("plan", "finger-tight")
    for sheet in papers(HERE / "finger-tight"):
        assert sheet["warnings"] == [
            "layshaft was not read as in service (clamped: finger tight; gasket: none; old hardware): "
            "read again before you rely on it."
        ]
    assert papers(HERE / "finger-tight")[1]["answer"] == (
        "Once that is settled, if today's figures stand: fit 1 shim. Else plan again: nothing of this goes in."
    )


def test_under_a_cover_why_speaks_of_the_reading_as_it_is_read(said: Say) -> None:
    # blades between cover and case say nothing of play: 25 thou of shim leaves 2 to 3 thou of preload at 27 to 28
    why = said("why", "cover-no-row-serves")
    assert "would serve a cover that stands 27 to 28 thou off, by its best estimate." in why
    assert "of play, by their best estimate" not in why


def test_an_order_of_a_ring_that_comes_out_names_no_empty_list(said: Say) -> None:
    order = said("order", "../installed/ring-comes-out")
    assert "arm: inside at every reading with nothing in it." in order
    assert "()" not in order


def test_what_ends_further_out_than_it_was_read_does_not_stay(said: Say) -> None:
    # 0.20 mm as read is 0.14 over its window; the packs that serve the play bring it to 0.5122, 0.4522 over
    assert "backlash will be 0.452 mm too loose" in said("plan", "../gears/play-far-over")


def test_no_part_is_said_to_suit_a_seat_that_takes_no_shims(said: Say) -> None:
    fixed, ball = said("fit", "no-shims-allowed").split("ball end:")
    assert "takes no shims: the thrust washer thickness is fixed (works sheet 3)" in fixed
    assert "suits" not in fixed
    assert "N15 (15 thou) suits." in ball


WASHER = (
    'title = "Crank"\nunit = "mm"\ndrawer = "drawer.csv"\n[[seat]]\nname = "thrust"\nmoving_face = true\n'
    'most_pieces = 1\n[[gap]]\nname = "float"\nvalue = "0.46 mm ± 0.01 mm"\n'
    'window = {{ min = 0.12, max = 0.28, source = "book" }}\n{}'
)
WASHERS = "part,thickness_mm,on_hand,material,hardness\nT-240,2.40,1,bronze,soft\nT-217,2.17,0,{},soft\n"


@pytest.mark.parametrize(("was", "meant"), [("bronze", True), ("brass", False)])
def test_a_soft_washer_that_alone_goes_in_is_not_sent_behind_a_hard_one(
    run_unfolded: Run, tmp_path: Path, was: str, meant: bool
) -> None:
    # T-240 for T-217 takes 0.23 off 0.46: one piece is all that goes in, so nothing can lie between
    place = '[[place]]\nname = "float"\nseat = "thrust"\ninstalled = ["T-217"]\n'
    job = write_job(tmp_path, WASHER.format(place), WASHERS.format(was))
    told = run_unfolded("plan", job)[1] + paper(run_unfolded, job, "letter") + paper(run_unfolded, job, "sheet")
    assert "hard piece between" not in told
    assert "Put a piece that is hard" not in told
    assert ("Do not run it like this" in told) is not meant
    assert ("right only if it is a washer made to run against it" in told) is not meant
    run_unfolded("record", job, "--after", "float=0.23 mm ± 0.01 mm", "--person", "A", "--instrument", "dial")
    assert ("Do not run it like this" in paper(run_unfolded, job, "letter")) is not meant


def test_a_seat_that_states_its_hardness_is_heard_wherever_a_softer_piece_goes_in_alone(
    run_unfolded: Run, tmp_path: Path
) -> None:
    """150 is less than 600, one like it ran there or not; and where one piece goes in, none lies between."""
    seat = WASHER.replace("moving_face = true", 'moving_face = true\nleast_hardness = "600 HV"')
    place = '[[place]]\nname = "float"\nseat = "thrust"\ninstalled = ["T-217"]\n'
    job = write_job(tmp_path, seat.format(place), WASHERS.replace("soft", "150 HV").format("bronze"))
    for told in (run_unfolded("plan", job)[1], run_unfolded("fit", job)[1]):
        assert "is 150 HV, and against what turns this seat wants at least 600 HV" in told
        assert "made to run" not in told
        assert "between" not in told
    assert "Put a piece that is hard against what turns at float first." in run_unfolded("plan", job)[1]
