"""Which jobs a folder holds: ids come from a scan, and no id is a path."""

from __future__ import annotations

from pathlib import Path

import pytest

from shimopt.bench.folder_scan import job_id, jobs_below
from shimopt.errors import InputError


def laid(folder: Path, *names: str) -> Path:
    for name in names:
        (folder / name).mkdir(parents=True)
        (folder / name / "job.toml").write_text("", encoding="utf-8")
    return folder


def test_every_job_of_the_folder_and_three_levels_below_is_found_in_natural_order(tmp_path: Path) -> None:
    laid(tmp_path, "winch 10", "winch 9", "yard/east/mill", "yard/east/mill/too/deep")
    (tmp_path / "job.toml").write_text("", encoding="utf-8")
    found = [path.parent.relative_to(tmp_path).as_posix() for path in jobs_below(tmp_path).values()]
    assert found == [".", "winch 9", "winch 10", "yard/east/mill"]


def test_hidden_folders_and_links_out_of_the_folder_are_passed_over(tmp_path: Path) -> None:
    outside = laid(tmp_path / "outside", "secret")
    shop = laid(tmp_path / "shop", "seen", ".hidden")
    (shop / "linked").mkdir()
    (shop / "linked" / "job.toml").symlink_to(outside / "secret" / "job.toml")
    (shop / "folder").symlink_to(outside / "secret")
    assert [path.parent.name for path in jobs_below(shop).values()] == ["seen"]


@pytest.mark.parametrize("name", ["../../etc/passwd", "a b", "Ünïcode 駅", "<b>", ".", "x" * 300])
def test_an_id_is_made_of_plain_letters_whatever_the_folder_is_called(name: str) -> None:
    assert set(job_id(name)) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    assert 8 <= len(job_id(name)) <= 47


def test_folders_of_one_name_have_different_ids(tmp_path: Path) -> None:
    found = jobs_below(laid(tmp_path, "east/mill", "west/mill"))
    assert len(found) == 2
    assert all(name.startswith("mill-") for name in found)


def test_a_folder_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such folder"):
        jobs_below(tmp_path / "gone")
