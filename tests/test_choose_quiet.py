"""Nothing but our own words reaches standard output, whatever a solver prints."""

from __future__ import annotations

import ctypes
import os

import pytest

from shimopt.choose.quiet import quiet_stdout


def c_prints(text: bytes) -> None:
    """As the solver does: into the C library's buffer, to come out some time later."""
    ctypes.CDLL("ucrtbase" if os.name == "nt" else None).printf(text)


def test_lines_that_a_solver_prints_are_dropped_and_ours_are_kept(capfd: pytest.CaptureFixture[str]) -> None:
    print("before")
    c_prints(b"ours through C\n")
    with quiet_stdout():
        c_prints(b"noise\n")
    print("after")
    ctypes.CDLL("ucrtbase" if os.name == "nt" else None).fflush(None)
    assert capfd.readouterr().out.split("\n") == ["before", "ours through C", "after", ""]


def test_an_error_inside_leaves_standard_output_as_it_was(capfd: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(RuntimeError), quiet_stdout():
        raise RuntimeError
    print("after")
    assert capfd.readouterr().out == "after\n"
