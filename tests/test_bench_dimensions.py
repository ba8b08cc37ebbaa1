"""A gap that is built up of dimensions, measured anew on the page: what was not typed stays as it was written."""

from __future__ import annotations

from pathlib import Path

import pytest

from shimopt.bench.gap_as_written import GapAsWritten
from shimopt.bench.in_hand import InHand
from shimopt.bench.reading_said import said_in
from shimopt.bench.reading_written import ToWrite, write_readings
from shimopt.errors import InputError
from shimopt.words.button_words import refused_here
from tests.bench_server import WINDOW, laid_job

BUILT_UP = """built_up = [
  { name = "bore depth", add = "42.15 mm ± 0.01 mm" },   # from the case's face
  { name = "gasket", add = "0.30 mm", crush = "20 % ± 3 %" },
  # both bearings together
  { name = "width", take = "41.80 mm ± 0.01 mm" },
]"""
JOB = f"""title = "Pump"
unit = "mm"
drawer = "drawer.csv"
window = {{ min = 0.1, max = 0.3, source = "sheet 7" }}

[[gap]]
name = "east"
{BUILT_UP}
"""
DRAWER = "part,thickness_mm,on_hand\nS-10,0.1,4\nS-20,0.2,4\n"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    return laid_job(tmp_path, JOB, DRAWER)


def test_every_dimension_is_shown_with_what_it_is_and_what_it_may_be_off_by(job: Path) -> None:
    rows = InHand.read(job).gaps["east"].dimensions()
    assert [(row["sign"], row["name"], row["number"], row["unit"], row["half"]) for row in rows] == [
        ("+", "bore depth", "42.15", "mm", "0.01 mm"),
        ("+", "gasket", "0.30", "mm", ""),
        ("−", "width", "41.80", "mm", "0.01 mm"),
    ]
    assert rows[1]["crush"] == "20 % ± 3"


def test_a_dimension_measured_anew_changes_the_gap_and_the_rest_of_the_file_stays(job: Path) -> None:
    said = said_in({"dimension.1": "42.20", "dimension.2": "0.30", "dimension.3": "41.80", "gap": "east"})
    one = InHand.read(job).with_said("east", said).alone("east")
    # 42.20 + 0.30 less a fifth - 41.80
    assert one.gap.reading.bracket.best == 640_000
    # no less closely known than before, when its middle was 0.05 less
    before = InHand.read(job).alone("east").gap.reading.bracket
    assert one.gap.reading.bracket.high - before.high == 50_000
    before_text = job.read_text(encoding="utf-8")
    assert write_readings(job, [ToWrite(1, "east", said, None)]).written == (1,)
    assert job.read_text(encoding="utf-8") == before_text.replace("42.15 mm ± 0.01 mm", "42.20 mm ± 0.01 mm")


@pytest.mark.parametrize(
    ("was", "typed", "stands"),
    [
        ("42.15 mm ± 0.01 mm", "42.2", "42.2 mm ± 0.01 mm"),
        ("42.15 ± 0.01 mm", "42.2", "42.2 mm ± 0.01 mm"),
        ("42.15 mm ± 0.01", "42.2", "42.2 mm ± 0.01 mm"),
        ("42.15 mm +/- 0.01 mm", "42.2 mm ± 0.02 mm", "42.2 mm ± 0.02 mm"),
        # in another unit, what it may be off by stays what it was
        ("42.15 mm ± 0.01", "1.66 in", "1.66 in ± 0.01 mm"),
        ("42.15 mm", "42.2 ± 0.02", "42.2 mm ± 0.02 mm"),
        ("42.15 mm", "42.2", "42.2 mm"),
        ("1659", "1660", "1660"),
    ],
)
def test_what_is_not_typed_stays(was: str, typed: str, stands: str) -> None:
    gap = GapAsWritten("east", "built_up", [{"name": "depth", "add": was}])
    assert gap.with_said(said_in({"dimensions": [typed]})).told() == [{"name": "depth", "add": stands}]


@pytest.mark.parametrize(
    ("lengths", "asked"),
    [
        (["4215", "0.3", "41.8"], "bore depth 4215.00 mm? It was 42.15 mm before"),
        # its digits without the unit that stands in the file
        (["42.15", "30", "41.8"], "gasket 30.00 mm? It was 0.30 mm before"),
        (["42.15", "0.2", "41.8"], ""),
    ],
)
def test_a_dimension_of_another_order_than_before_is_asked_about(job: Path, lengths: list[str], asked: str) -> None:
    hand = InHand.read(job)
    if asked:
        with pytest.raises(InputError) as refused:
            hand.with_said("east", said_in({"dimensions": lengths}))
        assert asked in str(refused.value)
    # who looked again is not asked
    hand.with_said("east", said_in({"dimensions": lengths, "checked": "1" if asked else ""}))


@pytest.mark.parametrize("lengths", [["42.2"], ["42.2", "", "41.8"], ["42.2", "0.3", "41.8", "1"], []])
def test_no_dimension_is_left_out_or_made_up(job: Path, lengths: list[str]) -> None:
    with pytest.raises(InputError):
        InHand.read(job).with_said("east", said_in({"dimensions": lengths}))


@pytest.mark.parametrize("said", [{"go": "17", "no_go": "18"}, {"value": "0.3"}, {"readings": "0.3 0.31 0.3"}])
def test_what_is_built_up_is_not_overwritten_by_a_reading_of_another_form(job: Path, said: dict[str, str]) -> None:
    with pytest.raises(InputError, match="read by dimensions"):
        InHand.read(job).with_said("east", said_in(said))


def test_a_gap_that_is_read_takes_no_dimensions(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="read by feeler"):
        InHand.read(laid_job(tmp_path)).with_said("east", said_in({"dimensions": ["1"]}))


def test_a_wrong_length_is_refused_by_its_name(job: Path) -> None:
    with pytest.raises(InputError) as refused:
        InHand.read(job).with_said("east", said_in({"dimensions": ["42,2,1", "0.3", "41.8"]}))
    assert "east" in str(refused.value)


@pytest.mark.parametrize(
    ("was", "typed", "stands"),
    [
        ('"0.07 mm ± 0.005 mm"', "0.03", '"0.03 mm ± 0.005 mm"'),
        ('"0.07 ± 0.005 mm"', "0.03 mm", '"0.03 mm ± 0.005 mm"'),
        ('"0.07 mm ± 0.005 mm"', "0.03 ± 0.01", '"0.03 ± 0.01 mm"'),
        ('"0.07 mm ± 0.005 mm"', "preload 0.03", '"-0.03 mm ± 0.005 mm"'),
        ("0.07", "play 0.03", "0.03"),
        ("0.07", "0.03", "0.03"),
        # the field says mm, whatever the file was written in: 0.35 mm, not 0.35 thou
        ('"14 thou ± 0.2 thou"', "0.35", '"0.35 mm ± 0.2 thou"'),
        ('"14 thou"', "0.35", '"0.35 mm"'),
        ('"14 thou ± 0.2 thou"', "preload 0.06", '"-0.06 mm ± 0.2 thou"'),
        ('"14 thou ± 0.2 thou"', "13 thou", '"13 thou ± 0.2 thou"'),
        ('"14 thou ± 0.2 thou"', "0.35 ± 0.01", '"0.35 ± 0.01 mm"'),
    ],
)
def test_a_bare_number_over_a_value_keeps_what_that_may_be_off_by(
    was: str, typed: str, stands: str, tmp_path: Path
) -> None:
    """Else a reading would be exact from then on, and pieces be chosen by it that leave it outside."""
    text = f'unit = "mm"\ndrawer = "drawer.csv"\n\n{WINDOW}\n[[gap]]\nname = "east"\nvalue = {was}\n'
    file = laid_job(tmp_path, text)
    typed_as = said_in({"value": typed})
    said = typed_as.in_unit("mm", was)
    # a page that has had no answer sends again what was typed
    assert said.was_typed_as(typed_as)
    assert write_readings(file, [ToWrite(1, "east", said, None)]).written == (1,)
    assert f"value = {stands}\n" in file.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("was", "window", "typed", "asked"),
    [
        # over a reading of preload, and beside a window of preload
        ("-0.03 mm ± 0.005 mm", "min = -0.1, max = 0.3", "0.04", True),
        ("0.07 mm ± 0.005 mm", "preload = [0.01, 0.07]", "0.04", True),
        ("0.07 mm ± 0.005 mm", "preload = [0.01, 0.07]", "0.04 mm ± 0.01 mm", True),
        ("0.07 mm ± 0.005 mm", "preload = [0.01, 0.07]", "play 0.04", False),
        ("0.07 mm ± 0.005 mm", "preload = [0.01, 0.07]", "preload 0.04", False),
        ("0.07 mm ± 0.005 mm", "preload = [0.01, 0.07]", "0", False),
        ("0.07 mm ± 0.005 mm", "min = 0.1, max = 0.3", "0.04", False),
    ],
)
@pytest.mark.parametrize("checked", ["", "1"])
def test_beside_a_preload_a_bare_number_is_asked_about(
    was: str, window: str, typed: str, asked: bool, checked: str, tmp_path: Path
) -> None:
    """It would be taken as play, and pieces be chosen that leave the gap far outside."""
    text = f'unit = "mm"\ndrawer = "drawer.csv"\nwindow = {{ {window}, source = "sheet 12" }}\n'
    hand = InHand.read(laid_job(tmp_path, f'{text}\n[[gap]]\nname = "east"\nvalue = "{was}"\n'))
    said = said_in({"value": typed, "checked": checked})
    if not asked:
        hand.with_new("east", said)
        return
    with pytest.raises(InputError) as refused:
        hand.with_new("east", said)
    told = refused_here(refused.value.problems[0].to_dict(), "east")["text"]
    assert told == f"East: {typed} by itself may be play or preload. Write preload {typed}, or play {typed}."


@pytest.mark.parametrize("typed", ["preload 0.01 to 0.03", "abc", "preload abc"])
def test_a_refusal_quotes_what_was_typed(typed: str, tmp_path: Path) -> None:
    text = JOB.replace(BUILT_UP, 'value = "0.2 mm ± 0.005 mm"')
    with pytest.raises(InputError) as refused:
        InHand.read(laid_job(tmp_path, text)).with_said("east", said_in({"value": typed}))
    assert f"({typed})" in refused_here(refused.value.problems[0].to_dict(), "east")["text"]


def test_a_window_of_preload_is_quoted_as_preload(tmp_path: Path) -> None:
    text = JOB.replace(BUILT_UP, 'value = "-0.03 mm ± 0.005 mm"').replace(
        "min = 0.1, max = 0.3", "preload = [0.01, 0.07]"
    )
    with pytest.raises(InputError, match=r"far above the window \(preload 0\.01 to 0\.07 mm\)"):
        InHand.read(laid_job(tmp_path, text, DRAWER)).with_said("east", said_in({"value": "play 50"}))


def test_a_dimension_of_nothing_is_refused_by_name_and_length(job: Path) -> None:
    """It is typed without a sign, and no page has shown the table that the job's file makes of it."""
    with pytest.raises(InputError) as refused:
        InHand.read(job).with_said("east", said_in({"dimensions": ["0", "0.3", "41.8"], "checked": "1"}))
    text = refused_here(refused.value.problems[0].to_dict(), "east")["text"]
    assert text == (
        "East: a dimension is not less than nothing by its ± (bore depth 0 mm ± 0.01 mm). Measure it again."
    )


@pytest.mark.parametrize(
    ("was", "said", "stands"),
    [
        (
            "indicator = { readings = [17, 17.5, 17], resolution = 0.5, lever_angle = 10 }",
            {"readings": "18 18.5 18"},
            "indicator = { readings = [18, 18.5, 18], resolution = 0.5, lever_angle = 10 }",
        ),
        (
            "cover_gap = { go = 2, no_go = 3, shims_in = true }",
            {"go": "3", "no_go": "4"},
            "cover_gap = { go = 3, no_go = 4, shims_in = true }",
        ),
        (
            "feeler = [{ go = 17, no_go = 18 }, { go = 16, no_go = 17, blade_error = 0.1 }]  # left, right",
            {"go": "15", "no_go": "16", "spot": "2"},
            "feeler = [{ go = 17, no_go = 18 }, { go = 15, no_go = 16, blade_error = 0.1 }]  # left, right",
        ),
    ],
)
def test_what_is_known_of_the_instrument_stays_where_it_is_read_again(
    was: str, said: dict[str, str], stands: str, tmp_path: Path
) -> None:
    text = f'unit = "thou"\ndrawer = "drawer.csv"\n\n{WINDOW}\n[[gap]]\nname = "east"\n{was}\n'
    file = laid_job(tmp_path, text)
    assert write_readings(file, [ToWrite(1, "east", said_in(said), None)]).written == (1,)
    assert file.read_text(encoding="utf-8") == text.replace(was, stands)
