"""`shimopt new`: an example that works, questions that forgive, and nothing overwritten."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from click.testing import CliRunner

from shimopt.cli import main
from shimopt.cli.new_questions import ask, sizes_of
from shimopt.errors import InputError
from shimopt.job import Job, load_job
from shimopt.planner import decide
from shimopt.starting.new_answers import Answers, drawer_text, job_text
from shimopt.starting.new_examples import EXAMPLES
from shimopt.starting.new_from import Base, base_of
from shimopt.starting.typed_text import pulls_table
from tests.stocks import in_file, shim


def test_the_example_is_accepted_as_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "a" / "job"
    with pytest.raises(SystemExit) as ended:
        main(["new", str(folder), "--yes"])
    out, err = capsys.readouterr()
    assert (ended.value.code, err) == (0, "")
    assert "come inside" in out
    assert (folder / "job.toml").read_text(encoding="utf-8").startswith("#")


@pytest.mark.parametrize("name", ["job.toml", "drawer.csv"])
def test_nothing_is_overwritten_and_nothing_is_half_written(
    tmp_path: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / name).write_text("mine")
    with pytest.raises(SystemExit) as ended:
        main(["new", str(tmp_path), "--yes"])
    assert ended.value.code == 2
    assert "nothing is overwritten" in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text() == "mine"


def test_a_file_in_the_way_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "here").write_text("")
    with pytest.raises(SystemExit) as ended:
        main(["new", str(tmp_path / "here"), "--yes"])
    assert ended.value.code == 2
    assert "there is a file of this name" in capsys.readouterr().err


def test_without_a_terminal_it_points_to_yes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["new", str(tmp_path / "job")])
    assert ended.value.code == 2
    assert "--yes" in capsys.readouterr().err
    assert not (tmp_path / "job").exists()


def _answered(answers: list[str], base: Base | None = None, folder: Path | None = None) -> tuple[tuple[str, str], str]:
    """The texts of job.toml and of the drawer that these answers make, and what was said."""
    import click

    result: list[Answers | None] = []

    @click.command()
    def questions() -> None:
        result.append(ask(base))

    done = CliRunner().invoke(questions, input="\n".join(answers) + "\n", catch_exceptions=False)
    (found,) = result or [None]
    assert found is not None, done.output
    return (job_text(found, folder or Path()), drawer_text(found)), done.output


def _start(unit: str, *window: str) -> list[str]:
    """Title, unit, window and its source."""
    return ["Winch", unit, *window]


def _gap(name: str, *blades: str, were_in: str = "") -> list[str]:
    """Its shims in the gap, read by blades."""
    return [name, "", "", *blades, were_in]


# no more gaps, and nobody knows the shaft
DONE = ("done", "none")


def test_answers_become_a_job(tmp_path: Path) -> None:
    (job, drawer), _ = _answered(
        [
            'The "winch"',
            *_start("thou", "4", "12", "manual, page 3")[1:],
            *_gap("left", "17", "18"),
            *_gap("right", "none", "2"),
            *DONE,
            "2 x 4, 5x1,10",
            "",
        ]
    )
    (tmp_path / "job.toml").write_text(job, encoding="utf-8")
    (tmp_path / "drawer.csv").write_text(drawer, encoding="utf-8")
    loaded = load_job(tmp_path)
    assert loaded.title == 'The "winch"'
    assert [gap.name for gap in loaded.gaps] == ["left", "right"]
    left, right = (gap.reading.bracket for gap in loaded.gaps)
    assert (left.low, left.high) == (17 * 25_400, 18 * 25_400)
    assert (right.low, right.high) == (0, 2 * 25_400)
    assert [(line.part.name, line.on_hand) for line in loaded.stock] == [("2 thou", 4), ("5 thou", 1), ("10 thou", 1)]


def test_wrong_answers_are_asked_again() -> None:
    (job, _), output = _answered(
        [
            *("Winch", "mm", "0,3", "0,1", "none", "none", "0.1", "zero", "0.3", "manual"),
            *_gap("a", "0.35", "0.30", "0.30", "0.35"),
            "a",
            *_gap("b", "none", "0.05"),
            *DONE,
            "many",
            "0 x 3",
            "0.1 x 2",
            "perhaps",
            "",
        ]
    )
    for said in (
        "least is above",
        "One of the two",
        "Please write a number",
        "must be thinner",
        "taken",
        "sizes like",
        "above zero",
    ):
        assert said in output
    assert "min    = 0.1" in job
    assert "feeler = { go = 0.30, no_go = 0.35 }" in job


@pytest.mark.parametrize(("said", "sizes"), [("yes", "1.2,3"), ("no", "1,1\n,2,3")])
def test_a_comma_that_may_be_a_decimal_one_is_asked_about(said: str, sizes: str) -> None:
    (_, drawer), output = _answered(
        [*_start("mm", "0.1", "0.3", "?", "manual"), *_gap("a", "0.35", "0.40"), *DONE, "1,2 x 3", said, ""]
    )
    assert "Is 1,2 one size, 1.2, not 1 and 2? (yes, no)" in output
    assert "who says so" in output
    assert f",{sizes}\n" in drawer


@pytest.mark.parametrize("typed", ["0,2 x 3, 0,25", "0,2 x 3; 0,25", "0.2 x 3; 0.25 x 1", "0.2 x 3, 0.25"])
def test_a_comma_that_can_only_be_a_decimal_one_is_not_asked_about(typed: str) -> None:
    (_, drawer), output = _answered(
        [*_start("mm", "0,1", "0,3", "manual"), *_gap("a", "0,35", "0,40"), *DONE, typed, ""]
    )
    assert "one size" not in output
    assert ",0.2,3\n" in drawer
    assert ",0.25,1\n" in drawer


@pytest.mark.parametrize(
    "typed",
    ["0.41 0.42 0.41", "0.41, 0.42, 0.41", "0.41,0.42,0.41", "0,41 0,42 0,41", "0,41, 0,42, 0,41", "0,41; 0,42;0,41"],
)
def test_pulls_stand_apart_by_spaces_or_commas(typed: str) -> None:
    assert pulls_table(typed, None, "mm") == "{ readings = [0.41, 0.42, 0.41] }"


def test_blades_typed_in_another_unit_are_asked_about() -> None:
    left = ["a", "", "", "0.017", "0.018", "no", "", "17", "18", ""]
    right = ["b", "", "", "0.019", "0.020", "yes", ""]
    answers = [*_start("thou", "4", "12", "manual"), *left, *right, *DONE, "5 x 1", ""]
    (job, _), output = _answered(answers)
    assert "0.017 to 0.018 thou? 17 to 18 thou, or 0.017 to 0.018 in, was probably meant" in output
    assert "feeler = { go = 17, no_go = 18 }\n\n" in job
    assert "feeler = { go = 0.019, no_go = 0.020 }\nchecked = true" in job


def _loaded(folder: Path, written: tuple[str, str]) -> Job:
    for name, text in zip(("job.toml", "drawer.csv"), written, strict=True):
        (folder / name).write_text(text)
    return load_job(folder)


def test_a_window_typed_in_another_unit_is_asked_about(tmp_path: Path) -> None:
    """4 to 12 thou typed as mm: far above the gap of 0.45 mm and the thickest piece; 0.10 to 0.30 mm is right."""
    start = [*_start("mm", "4", "12", "manual"), *_gap("a", "0.40", "0.50"), *DONE, "0.10 x 4, 0.25 x 1"]
    written, output = _answered([*start, "no", "0.10", "0.30", "", ""])
    assert "4 to 12 mm? 0.1016 to 0.3048 mm, or 4 to 12 thou, was probably meant" in output
    job = _loaded(tmp_path, written)
    assert (job.gaps[0].window.min, job.gaps[0].window.max) == (100_000, 300_000)
    written, _ = _answered([*start, "yes", ""])
    assert "checked = true" in written[0]
    assert _loaded(tmp_path, written).gaps[0].window.max == 12_000_000


def test_sizes_typed_in_another_unit_are_asked_about(tmp_path: Path) -> None:
    """10 and 25 for 0.010 and 0.025 in, where the gap reads 17 to 18 thou: all thicker than ten gaps."""
    start = [*_start("in", "0.004", "0.012", "manual"), *_gap("a", "0.017", "0.018"), *DONE, "5 x 2, 10 x 1"]
    written, output = _answered([*start, "no", "0.005 x 2, 0.010 x 1", ""])
    assert "sizes such as 5 in? 5 thou was probably meant" in output
    assert {line.part.thickness.best for line in _loaded(tmp_path, written).stock} == {127_000, 254_000}
    written, _ = _answered([*start, "yes", ""])
    assert "checked = true" in written[0]
    _loaded(tmp_path, written)


def test_a_size_hundreds_of_times_the_others_is_asked_about_and_stands_once_measured(tmp_path: Path) -> None:
    start = [*_start("mm", "0.10", "0.30", "manual"), *_gap("a", "0.40", "0.45"), *DONE, "0.10 x 2, 100 x 1"]
    written, output = _answered([*start, "no", "0.10 x 2, 0.05 x 1", ""])
    assert "100 mm? 100 um (0.1 mm) was probably meant" in output
    assert {line.part.thickness.best for line in _loaded(tmp_path, written).stock} == {50_000, 100_000}
    written, _ = _answered([*start, "yes", ""])
    job = _loaded(tmp_path, written)
    assert {(line.part.thickness.best, line.part.measured) for line in job.stock} == {
        (100_000, False),
        (100_000_000, True),
    }


def test_a_size_longer_than_any_length_is_asked_for_again() -> None:
    (_, drawer), output = _answered(
        [*_start("mm", "0.1", "0.3", "manual"), *_gap("a", "0.35", "0.40"), *DONE, "99999 x 1", "0.1 x 1", ""]
    )
    assert "ordinary sizes" in output
    assert drawer == "part,thickness_mm,on_hand\n,0.1,1\n"


def test_sizes_of_one_size_are_added_up() -> None:
    assert sizes_of("2 x 4, 2.0, 0,5"[:10]) == {Decimal(2): 5}


def test_an_interrupted_dialogue_writes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import click

    def abort(_: Base | None) -> Answers | None:
        raise click.Abort

    monkeypatch.setattr("shimopt.cli.new_questions.ask", abort)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    with pytest.raises(SystemExit) as ended:
        main(["new", str(tmp_path / "job")])
    assert ended.value.code == 130
    assert not (tmp_path / "job").exists()


def test_shims_that_are_in_stand_in_their_place_and_in_the_drawer_as_none(tmp_path: Path) -> None:
    """Reads 0.05 to 0.10 with 0.2 in, window 0.15 to 0.35: without it 0.25 to 0.30, so it comes out."""
    gaps = [*_gap("left", "0.05", "0.10", were_in="0.2"), *_gap("right", "0.20", "0.25")]
    written, output = _answered([*_start("mm", "0.15", "0.35", "manual"), *gaps, *DONE, "0.10 x 2", ""])
    job = _loaded(tmp_path, written)
    assert "left: between the parts, reads 0.05 to 0.10 mm, 0.20 mm in" in output
    assert {line.part.thickness.best: line.on_hand for line in job.stock} == {100_000: 2, 200_000: 0}
    left, right = (job.place[name].installed for name in ("left", "right"))
    assert [job.stock[i].part.thickness.best for i in left] == [200_000]
    assert not right


def test_a_cover_is_read_without_shims_and_what_lay_under_it_came_out(tmp_path: Path) -> None:
    """Stands 27 to 28 off, preload 1 to 3 wanted: 25 under it leaves 2 to 3 of preload."""
    answers = ["Lid", "thou", "preload 1 to 3", "drawing 7", "tail", "cover", "27", "28", "5 + 2 x 10", "done"]
    written, output = _answered([*answers, "none", ""])
    job = _loaded(tmp_path, written)
    assert "without shims the cover stands 27 to 28 thou off" in output
    assert (job.gaps[0].window.min, job.gaps[0].window.max) == (-3 * 25_400, -1 * 25_400)
    assert (job.gaps[0].reading.bracket.low, job.gaps[0].reading.bracket.high) == (-28 * 25_400, -27 * 25_400)
    plan = decide(job)
    assert plan.outcome.gaps["tail"].verdict == "inside"


def test_both_limits_may_be_typed_at_once(tmp_path: Path) -> None:
    answers = ["Lid", "mm", "0,08 to 0,15", "drawing 7", "tail", "", "", "0.2", "0.25", "", *DONE, "none", ""]
    written, _ = _answered(answers)
    window = _loaded(tmp_path, written).gaps[0].window
    assert (window.min, window.max) == (80_000, 150_000)


def test_a_dial_and_dimensions_with_commas(tmp_path: Path) -> None:
    """0.41, 0.42 and 0.41 are 0.41333 in the mean; 42.15 - 42 is 0.15."""
    dial = ["left", "", "dial", "0,41 0.42 0.41", "0,01", ""]
    sizes = ["right", "", "dimensions", "bore 42", "+ bore depth 42,15 ± 0.01", "- bearing width 42 ± 0,012", *DONE, ""]
    written, output = _answered([*_start("mm", "0.15", "0.35", "manual"), *dial, *sizes, *DONE, "none", ""])
    assert "Please write a sign, a name and a size" in output
    left, right = (gap.reading.bracket.best for gap in _loaded(tmp_path, written).gaps)
    assert (left, right) == (Fraction(1_240_000, 3), 150_000)


def test_a_shaft_is_that_of_the_gaps_that_are_named(tmp_path: Path) -> None:
    """The pump's cam shaft is another one: its bores are not checked, and that is said before the job is written."""
    gaps = [*_gap("crank", "0.40", "0.45"), *_gap("cam", "0.40", "0.45"), "done"]
    shaft = ["35", "crunk", "crank", "35.2"]
    written, output = _answered([*_start("mm", "0.15", "0.35", "manual"), *gaps, *shaft, "0.10 x 2", ""])
    assert "there is no 'crunk' among them" in output
    assert "at crank; elsewhere bores are not checked" in output
    assert [gap.seat is not None for gap in _loaded(tmp_path, written).gaps] == [True, False]


def test_a_shaft_and_a_bore_make_a_seat(tmp_path: Path) -> None:
    shaft = ["about 16", "16 h6", "16,1"]
    start = [*_start("mm", "0.15", "0.35", "manual"), *_gap("a", "0.40", "0.45"), "done"]
    written, output = _answered([*start, *shaft, "0.10 x 2", ""])
    assert "sit on 16 h6, their bore is 16.1 mm" in output
    job = _loaded(tmp_path, written)
    shaft = job.gaps[0].seat.shaft
    # ISO 286-2, h6 from 10 to 18 mm: 0 to -11 um
    assert shaft is not None
    assert (shaft.low, shaft.high) == (15_989_000, 16_000_000)
    inner = job.stock[0].part.inner
    assert inner is not None
    assert inner.best == 16_100_000


def test_a_line_is_answered_again() -> None:
    start = [*_start("mm", "0.10", "0.30", "manual"), *_gap("a", "0.40", "0.45"), *DONE, "0.10 x 2"]
    # 1 job, 2 window, 3 gap, 4 shims, 5 drawer; of a gap what was answered is offered again
    (job, drawer), _ = _answered([*start, "3", "b", "", "", "", "0.55", "", "5", "0.20 x 3", "yes"])
    assert 'name   = "b"\nfeeler = { go = 0.40, no_go = 0.55 }' in job
    assert 'name   = "a"' not in job
    assert drawer.endswith(",0.2,3\n")


def test_another_job_gives_its_window_seats_and_drawer(tmp_path: Path) -> None:
    other, folder = tmp_path / "winch", tmp_path / "second"
    written, _ = _answered(
        [*_start("mm", "0.15", "0.35", "manual"), *_gap("a", "0.40", "0.45"), "done", "16 h6", "", "0.10 x 2", ""]
    )
    other.mkdir()
    _loaded(other, written)
    (job, _), output = _answered(
        ["Second", *_gap("b", "0.30", "0.35", were_in="2 x 0,1"), "done", ""], base_of(other, folder), folder
    )
    assert "Least clearance" not in output
    assert "The drawer, in" not in output
    folder.mkdir()
    (folder / "job.toml").write_text(job, encoding="utf-8")
    loaded = load_job(folder)
    # the drawer's own file, not a copy: two would soon count differently
    assert loaded.drawer is not None
    assert loaded.drawer.samefile(other / "drawer.csv")
    assert loaded.gaps[0].window == load_job(other).gaps[0].window
    assert loaded.seats == load_job(other).seats
    assert [place.seat for place in loaded.places] == list(loaded.seats)
    assert len(loaded.place["b"].installed) == 2


def test_another_job_gives_its_drawer_of_the_stock_where_the_new_one_finds_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("SHIMOPT_STOCK", raising=False)
    in_file(tmp_path, shim("S-10", 0.1, 2)).close()
    other, folder = tmp_path / "winch", tmp_path / "second"
    written, _ = _answered(
        [*_start("mm", "0.15", "0.35", "manual"), *_gap("a", "0.40", "0.45"), "done", "16 h6", "", "0.10 x 2", ""]
    )
    other.mkdir()
    _loaded(other, (written[0].replace('"drawer.csv"', '"stock:main"'), written[1]))
    base = base_of(other, folder)
    (job, _), _ = _answered(["Second", *_gap("b", "0.30", "0.35", were_in="S-10"), "done", ""], base, folder)
    assert 'drawer = "stock:main"' in job
    folder.mkdir()
    (folder / "job.toml").write_text(job, encoding="utf-8")
    assert [line.part.name for line in load_job(folder).stock] == ["S-10"]
    # four folders below the stock, where a job looks no more than three up
    with pytest.raises(InputError, match="a job here would not find that stock"):
        base_of(other, tmp_path / "a" / "b" / "c" / "folder")


def test_a_piece_that_the_other_drawer_does_not_know_is_asked_for_again() -> None:
    base = base_of(Path("demo_data/swing-bridge"), Path("demo_data/second"))
    (job, _), output = _answered(
        ["Second", "a", "", *([""] if len(base.seats) > 1 else []), "", "14", "15", "R-0", "R-07", "done", ""], base
    )
    assert "The drawer has no R-0: did you mean R-0" in output
    assert 'installed = ["R-07"]' in job


def test_what_is_not_to_be_written_is_not(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    answers = [*_start("mm", "0.10", "0.30", "manual"), *_gap("a", "0.40", "0.45"), *DONE, "none", "no", "yes"]
    monkeypatch.setattr("shimopt.cli.new_command.sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("shimopt.cli.new_questions.asked", lambda *_, **how: answers.pop(0) or how["default"])
    monkeypatch.setattr("shimopt.cli.new_readings.asked", lambda *_, **how: answers.pop(0) or how["default"])
    monkeypatch.setattr("shimopt.cli.terminal.asked", lambda *_, **how: answers.pop(0) or how["default"])
    with pytest.raises(SystemExit) as ended:
        main(["new", str(tmp_path / "job")])
    assert ended.value.code == 0
    assert not (tmp_path / "job").exists()


def test_an_example_takes_nothing_of_another_job(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["new", str(tmp_path / "job"), "--yes", "--from", "demo_data/swing-bridge"])
    assert ended.value.code == 2
    assert "leave out --yes" in capsys.readouterr().err


def test_an_empty_answer_is_told_what_is_wanted() -> None:
    start = ["Winch", "mm", "", "0.10", "0.30", "", "manual"]
    (job, _), output = _answered([*start, *_gap("a", "", "0.40", "0.45"), *DONE, "", "none", ""])
    assert output.count("Please write a number, such as 4 or 0.35.") == 2
    assert "Please write a few words." in output
    assert "Please write sizes like 2 x 4" in output
    assert "min    = 0.10" in job


def test_a_gap_under_a_cover_stands_beside_one_between_the_parts(tmp_path: Path) -> None:
    """Cover 0.35 to 0.40 off, 0.25 lay under it: 0.6 in all makes 0.2 to 0.25. Idler less 0.2: the same."""
    answers = [*_start("mm", "0.1", "0.3", "manual"), "input", "cover", "0.35", "0.40", "0.25"]
    # the last answer is offered for the next gap
    answers += ["idler", "gap", "", "0.40", "0.45", "", "done", "16 h6", "16.1", "0.1 x 5, 0.2 x 5", ""]
    written, output = _answered(answers)
    assert "the blade goes between cover and case" in output
    assert "input: without shims the cover stands 0.35 to 0.40 mm off, 0.25 mm came out" in output
    assert "idler: between the parts, reads 0.40 to 0.45 mm, nothing in" in output
    job = _loaded(tmp_path, written)
    # a flat pack under a cover sits on no shaft
    assert [(place.seat.name if place.seat else None) for place in job.places] == [None, "seat"]
    outcome = decide(job).outcome
    assert [outcome.gaps[name].verdict for name in ("input", "idler")] == ["inside", "inside"]


def test_a_gap_is_added_when_all_was_understood(tmp_path: Path) -> None:
    """What is in the machine alone stands in the drawer as none, whenever it is told."""
    start = [*_start("mm", "0.10", "0.30", "manual"), *_gap("a", "0.40", "0.45"), *DONE, "0.10 x 2"]
    written, _ = _answered([*start, "gap", *_gap("b", "0.05", "0.10", were_in="0.5 x 2"), "yes"])
    job = _loaded(tmp_path, written)
    assert [gap.name for gap in job.gaps] == ["a", "b"]
    assert {line.part.thickness.best: line.on_hand for line in job.stock} == {100_000: 2, 500_000: 0}
    assert len(job.place["b"].installed) == 2


def test_what_was_answered_is_not_thrown_away_at_a_word() -> None:
    start = [*_start("mm", "0.10", "0.30", "manual"), *_gap("a", "0.40", "0.45"), *DONE, "0.10 x 2"]
    (job, _), output = _answered([*start, "no", "", "yes"])
    assert "Throw away all that was answered?" in output
    assert 'name   = "a"' in job


def test_blades_held_together_are_one_gap(tmp_path: Path) -> None:
    """0.2 and 0.25 together go, 0.2 and 0.3 do not: 0.45 to 0.50."""
    start = [*_start("mm", "0.10", "0.30", "manual"), *_gap("a", "0,2 + 0,25", "0.2 + 0.3"), *DONE, "0.10 x 2", ""]
    bracket = _loaded(tmp_path, _answered(start)[0]).gaps[0].reading.bracket
    assert (bracket.low, bracket.high) == (450_000, 500_000)


@pytest.mark.parametrize("unit", list(EXAMPLES))
def test_every_example_is_an_answer_in_its_unit(unit: str) -> None:
    """What somebody types as it is shown is taken, and is of the size of a machine's gap."""
    like, play = EXAMPLES[unit], {"mm": "0.01", "thou": "0.4", "in": "0.0004", "um": "10"}[unit]
    for shaft in like.shaft.split(", "):
        blades = (like.blades, f"{like.blades} + {play}")
        start = ["Winch", unit, f"preload {like.preload}", "manual", *_gap("a", *blades, were_in=like.pieces)]
        (job, drawer), output = _answered([*start, "done", shaft, "none", like.sizes, ""])
        assert "Please write" not in output
        assert "probably meant" not in output
        assert "shaft =" in job
        assert drawer.count("\n") >= 3


def test_what_was_understood_has_the_digits_that_the_plan_shows() -> None:
    """Pulls of 2 to 5 thou: 2.18 to 4.82 of which the plan shows 2.1 to 4.9."""
    dial = ["arm", "", "dial", "3.1 3.9 3.5", "0.5", ""]
    _, output = _answered([*_start("thou", "4", "12", "manual"), *dial, *DONE, "5 x 1", ""])
    understood = output[output.index("Understood:") :]
    found = re.search(r"reads ([0-9.]+) to ([0-9.]+) thou", understood)
    assert found
    assert all(len(end.partition(".")[2]) <= 1 for end in found.groups())


@pytest.mark.parametrize(
    ("unit", "typed", "reads"),
    [
        ("in", ('1/64"', "1/32"), (Fraction(254, 640), Fraction(254, 320))),
        ("thou", ("0.017 in", "18 thou"), (Fraction("0.4318"), Fraction("0.4572"))),
        ("mm", ("430 um", "0,45 mm"), (Fraction("0.43"), Fraction("0.45"))),
    ],
)
def test_a_fraction_of_an_inch_and_a_unit_of_the_same_system_are_taken(
    tmp_path: Path, unit: str, typed: tuple[str, str], reads: tuple[Fraction, Fraction]
) -> None:
    """By hand, in mm: an inch is 25.4."""
    window = {"in": ("0.004", "0.012"), "thou": ("4", "12"), "mm": ("0.1", "0.3")}[unit]
    written, output = _answered([*_start(unit, *window, "manual"), *_gap("a", *typed), *DONE, "none", ""])
    assert "Please" not in output
    bracket = _loaded(tmp_path, written).gaps[0].reading.bracket
    assert (bracket.low, bracket.high) == tuple(round(mm * 1_000_000) for mm in reads)


def test_a_unit_of_the_other_system_is_asked_for_in_the_jobs_own() -> None:
    start = [*_start("thou", "4", "12", "manual"), "a", "", "", "0.43 mm", "17", "1/3", "18", "", *DONE, "5 x 1", ""]
    (job, _), output = _answered(start)
    assert "Please write it in thou." in output
    assert "such as 4 or 10.5, or a fraction as on a rule: 10 1/2 (halves to 128ths)." in output
    assert "feeler = { go = 17, no_go = 18 }" in job


def test_in_inches_a_shaft_may_be_a_fraction_and_questions_read_well(tmp_path: Path) -> None:
    """An inch and a quarter is 31.75 mm."""
    start = [*_start("in", "0.004", "0.012", "manual"), *_gap("a", "0.025", "0.026"), "done", "1 1/4", "", "0.01 x 2"]
    written, output = _answered([*start, ""])
    shaft = _loaded(tmp_path, written).gaps[0].seat.shaft
    assert shaft is not None
    assert shaft.best == 31_750_000
    assert not re.search(r"\bin in\b", output)


def test_a_bore_that_does_not_go_on_its_shaft_is_asked_again() -> None:
    """A shaft of 16 h6 is at most 16 mm: ISO 286-2."""
    start = _start("mm", "0.10", "0.30", "manual")
    _, output = _answered([*start, *_gap("a", "0.40", "0.45"), "done", "16 h6", "0.005", "16.2", "none", ""])
    assert "A bore of 0.005 mm does not go on a shaft of 16 h6: write it again, or none." in output
    assert "sit on 16 h6, their bore is 16.2 mm" in output


@pytest.mark.parametrize("typed", ["0,1x3 0,2x2 0,5", "0.1 x 3 0.2 x 2 0.5", "0,1x3; 0,2x2; 0,5"])
def test_sizes_may_have_blanks_between(typed: str) -> None:
    (_, drawer), output = _answered(
        [*_start("mm", "0,1", "0,3", "manual"), *_gap("a", "0,35", "0,40"), *DONE, typed, ""]
    )
    assert "one size" not in output
    assert all(f",{row}\n" in drawer for row in ("0.1,3", "0.2,2", "0.5,1"))


def test_few_pulls_and_a_division_as_large_as_a_pull_are_asked_about() -> None:
    """0.38 is a pull typed for the division; asked again, what was typed before stands there to be taken."""
    start = _start("mm", "0.10", "0.30", "manual")
    first = ["a", "", "dial", "0,38 0,39 0,38", "0,38", "no", "", "0,01", ""]
    (job, _), output = _answered([*start, *first, *DONE, "none", ""])
    assert "One division is 0.38, and the pulls are hardly more. Keep it so?" in output
    assert "readings = [0.38, 0.39, 0.38], resolution = 0.01" in job
    (job, _), output = _answered([*start, "a", "", "dial", "0,31", "none", "yes", "", *DONE, "none", ""])
    assert "So few pulls say nothing of how well it repeats. Keep it so?" in output
    assert "readings = [0.31]" in job


def test_pulls_and_division_stand_there_when_a_line_is_mended() -> None:
    start = _start("mm", "0.10", "0.30", "manual")
    typed = ["a", "", "dial", "0.41 0.42 0.41", "0.01", ""]
    mended = ["3", "b", "", "", "", "", ""]
    (job, _), _ = _answered([*start, *typed, *DONE, "none", *mended, ""])
    assert 'name   = "b"' in job
    assert "readings = [0.41, 0.42, 0.41], resolution = 0.01" in job


def test_pulls_of_a_dial_are_asked_until_there_are_some() -> None:
    start = _start("mm", "0.10", "0.30", "manual")
    typed = ["a", "", "dial", "", "0.41 0.42 0.41", "none", ""]
    (job, _), output = _answered([*start, *typed, *DONE, "none", ""])
    assert "Please write the pulls, such as 0.41 0.42 0.41." in output
    assert "readings = [0.41, 0.42, 0.41]" in job
