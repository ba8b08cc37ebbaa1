"""The one process from which all commands of these tests are forked."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.faults.harness import Faults


@pytest.fixture(scope="session")
def faults() -> Iterator[Faults]:
    started = Faults()
    yield started
    started.close()
