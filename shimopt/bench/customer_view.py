"""What a customer sees of a job, as plain data: the letter, as it stands today."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from shimopt.planner import Decision
from shimopt.render.papers.letter import letter_content


def customer_data(decision: Decision) -> dict[str, Any]:
    """The letter's content, with the day and the hour."""
    now = datetime.now(UTC).astimezone()
    content = letter_content(decision, decision.job.unit, now.isoformat(timespec="minutes"))
    return content | {"date": f"{now:%Y-%m-%d, %H:%M}"}
