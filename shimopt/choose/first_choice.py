"""A choice to start from: quickly made, mostly good, never taken for proven."""

from __future__ import annotations

from collections.abc import Sequence

from shimopt.choose.whole_model import Model


def greedy_start(model: Model, levels: Sequence[str]) -> tuple[int, ...]:
    """One column per place: places with few options first, each its best option that the supply still allows."""
    left = dict(model.supply)
    chosen = {}

    def merit(column: int) -> tuple[object, ...]:
        option = model.columns[column]
        return (*(option.share.get(level, 0) for level in levels), option.stack)

    for at, group in sorted(enumerate(model.groups), key=lambda numbered: (len(numbered[1]), numbered[0])):
        for column in sorted(group, key=merit):
            stack = model.columns[column].stack
            if all(left[i] >= stack.count(i) for i in stack):
                break
        for i in stack:
            left[i] -= 1
        chosen[at] = column
    return tuple(chosen[at] for at in range(len(model.groups)))
