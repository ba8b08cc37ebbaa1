"""Benchmarks run only when asked for: `pytest tests/speed --benchmark-enable`."""

from __future__ import annotations

import pytest


def pytest_ignore_collect(config: pytest.Config) -> bool | None:
    """Their jobs are made as they are loaded, which takes a while."""
    return None if config.getoption("benchmark_enable") else True
