"""Benchmarks run only when asked for: `pytest tests/speed --benchmark-enable`."""

from __future__ import annotations

import pytest


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("benchmark_enable"):
        return
    timed = [item for item in items if "tests/speed" in item.path.as_posix()]
    items[:] = [item for item in items if item not in timed]
    config.hook.pytest_deselected(items=timed)
