"""Fixtures that several files ask for: the command line, called as a user calls it."""

from __future__ import annotations

import gc
import os
import shutil
import sys
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

from shimopt.cli import main
from tests.command import Run
from tests.faults.harness import Faults

# others may compute beside the tests: how long one example takes tells nothing
settings.register_profile("beside others", deadline=None)
settings.load_profile("beside others")

# the hundreds of processes that tests start would each compile all of the package anew
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
# and pytest would rewrite the asserts of all tests anew at every run, in every worker
sys.dont_write_bytecode = False


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """All that is loaded stays to the end: while it comes nothing is garbage, and later it is not looked through."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.enable()


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Call shimopt with these arguments: exit code, standard output, standard error."""

    def call(*arguments: str | Path) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as ended:
            main([str(argument) for argument in arguments])
        out, err = capsys.readouterr()
        assert isinstance(ended.value.code, int)
        return ended.value.code, out, err

    return call


@pytest.fixture
def run_unfolded(run: Run) -> Run:
    """The same, standard output as one line, however the screen folds its sentences."""

    def call(*arguments: str | Path) -> tuple[int, str, str]:
        code, out, err = run(*arguments)
        return code, " ".join(out.split()), err

    return call


@pytest.fixture(scope="session")
def faults() -> Iterator[Faults]:
    """The one process from which commands are forked that are cut off, or run many at once."""
    started = Faults()
    yield started
    started.close()


MAPPED_HOST = "bench.test"


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """A headless browser, once for all that look at pages."""
    why = "needs headless Chromium on the path, and playwright and axe: pip install shimopt[pages]"
    play = pytest.importorskip("playwright.sync_api", reason=why)
    pytest.importorskip("axe_playwright_python", reason=why)
    # the first has no windows of its own to draw, and is at work for half as long
    names = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")
    found = next(filter(None, map(shutil.which, names)), None)
    if found is None:
        pytest.skip(why)
    with play.sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=found,
            # a name that is this computer to the browser alone: by http it is no secure context, as localhost is
            args=[
                "--no-sandbox",
                "--disable-gpu",
                "--disable-dev-shm-usage",
                f"--host-resolver-rules=MAP {MAPPED_HOST} 127.0.0.1",
            ],
        )
        yield browser
        browser.close()
