"""`shimopt new`: an example that works, questions that forgive, and nothing overwritten."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner

from shimopt.cli import main
from shimopt.cli.new_questions import ask, sizes_of
from shimopt.job import Job, load_job


def test_the_example_is_accepted_as_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "a" / "job"
    with pytest.raises(SystemExit) as ended:
        main(["new", str(folder), "--yes"])
    out, err = capsys.readouterr()
    assert (ended.value.code, err) == (0, "")
    assert "The drawer can do this job" in out
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


def _answered(answers: list[str]) -> tuple[tuple[str, str], str]:
    import click

    result: list[tuple[str, str]] = []

    @click.command()
    def questions() -> None:
        result.append(ask())

    done = CliRunner().invoke(questions, input="\n".join(answers) + "\n", catch_exceptions=False)
    assert result, done.output
    return result[0], done.output


def test_answers_become_a_job(tmp_path: Path) -> None:
    (job, drawer), _ = _answered(
        [
            'The "winch"',
            "thou",
            "4",
            "12",
            "manual, page 3",
            "left",
            "17",
            "18",
            "right",
            "none",
            "2",
            "done",
            "2 x 4, 5x1,10",
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
            "Winch",
            "mm",
            "0,3",
            "0,1",
            "none",
            "none",
            "0.1",
            "zero",
            "0.3",
            "manual",
            "a",
            "0.35",
            "0.30",
            "0.30",
            "0.35",
            "a",
            "b",
            "none",
            "0.05",
            "done",
            "many",
            "0 x 3",
            "0.1 x 2",
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
        ["Winch", "mm", "0.1", "0.3", "?", "manual", "a", "0.35", "0.40", "done", "1,2 x 3", said]
    )
    assert "Is 1,2 one size, 1.2? (no: 1 and 2)" in output
    assert "who says so" in output
    assert f",{sizes}\n" in drawer


def test_blades_typed_in_another_unit_are_asked_about() -> None:
    answers = [
        "Winch",
        "thou",
        "4",
        "12",
        "manual",
        "a",
        "0.017",
        "0.018",
        "no",
        "17",
        "18",
        "b",
        "0.019",
        "0.020",
        "yes",
    ]
    (job, _), output = _answered([*answers, "done", "5 x 1"])
    assert "0.017 to 0.018 thou? 17 to 18 thou, or 0.017 to 0.018 in, was probably meant" in output
    assert "feeler = { go = 17, no_go = 18 }\n\n" in job
    assert "feeler = { go = 0.019, no_go = 0.020 }\nchecked = true" in job


def _loaded(folder: Path, written: tuple[str, str]) -> Job:
    for name, text in zip(("job.toml", "drawer.csv"), written, strict=True):
        (folder / name).write_text(text)
    return load_job(folder)


def test_a_window_typed_in_another_unit_is_asked_about(tmp_path: Path) -> None:
    """4 to 12 thou typed as mm: far above the gap of 0.45 mm and the thickest piece; 0.10 to 0.30 mm is right."""
    start = ["Winch", "mm", "4", "12", "manual", "a", "0.40", "0.50", "done", "0.10 x 4, 0.25 x 1"]
    written, output = _answered([*start, "no", "0.10", "0.30"])
    assert "4 to 12 mm? 0.1016 to 0.3048 mm, or 4 to 12 thou, was probably meant" in output
    job = _loaded(tmp_path, written)
    assert (job.gaps[0].window.min, job.gaps[0].window.max) == (100_000, 300_000)
    written, _ = _answered([*start, "yes"])
    assert "checked = true" in written[0]
    assert _loaded(tmp_path, written).gaps[0].window.max == 12_000_000


def test_sizes_typed_in_another_unit_are_asked_about(tmp_path: Path) -> None:
    """10 and 25 for 0.010 and 0.025 in, where the gap reads 17 to 18 thou: all thicker than ten gaps."""
    start = ["Winch", "in", "0.004", "0.012", "manual", "a", "0.017", "0.018", "done", "5 x 2, 10 x 1"]
    written, output = _answered([*start, "no", "0.005 x 2, 0.010 x 1"])
    assert "sizes such as 5 in? 5 thou was probably meant" in output
    assert {line.part.thickness.best for line in _loaded(tmp_path, written).stock} == {127_000, 254_000}
    written, _ = _answered([*start, "yes"])
    assert "checked = true" in written[0]
    _loaded(tmp_path, written)


def test_a_size_hundreds_of_times_the_others_is_asked_about_and_stands_once_measured(tmp_path: Path) -> None:
    start = ["Winch", "mm", "0.10", "0.30", "manual", "a", "0.40", "0.45", "done", "0.10 x 2, 100 x 1"]
    written, output = _answered([*start, "no", "0.10 x 2, 0.05 x 1"])
    assert "100 mm? 100 um was probably meant" in output
    assert {line.part.thickness.best for line in _loaded(tmp_path, written).stock} == {50_000, 100_000}
    written, _ = _answered([*start, "yes"])
    job = _loaded(tmp_path, written)
    assert {(line.part.thickness.best, line.part.measured) for line in job.stock} == {
        (100_000, False),
        (100_000_000, True),
    }


def test_a_size_longer_than_any_length_is_asked_for_again() -> None:
    (_, drawer), output = _answered(
        ["Winch", "mm", "0.1", "0.3", "manual", "a", "0.35", "0.40", "done", "99999 x 1", "0.1 x 1"]
    )
    assert "ordinary sizes" in output
    assert drawer == "part,thickness_mm,on_hand\n,0.1,1\n"


def test_sizes_of_one_size_are_added_up() -> None:
    assert sizes_of("2 x 4, 2.0, 0,5"[:10]) == {Decimal(2): 5}


def test_an_interrupted_dialogue_writes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import click

    def abort() -> tuple[str, str]:
        raise click.Abort

    monkeypatch.setattr("shimopt.cli.new_questions.ask", abort)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    with pytest.raises(SystemExit) as ended:
        main(["new", str(tmp_path / "job")])
    assert ended.value.code == 130
    assert not (tmp_path / "job").exists()
