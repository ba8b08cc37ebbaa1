"""Cautions that stand on every paper: short, and never a word that a machine is safe to run."""

from __future__ import annotations

__all__ = ["BENCH_CAUTIONS", "LETTER_CAUTIONS", "LICENSED"]

LICENSED = (
    "On aircraft, pressure equipment, lifting gear and road vehicles a licensed person decides and signs; "
    "these figures only prepare that decision."
)
LETTER_CAUTIONS = (
    "The machine maker's service data come first.",
    "Switch the machine off, lock it and secure it before anyone reaches into it. Shims have sharp edges.",
    "This letter is about the clearances listed here. It does not say that the machine is safe to run.",
)
BENCH_CAUTIONS = (
    "Isolate and lock the machine before you reach into it.",
    "Shims cut. Springs, circlips and heavy parts: restrain and support them.",
    "Blowing dry: under 2 bar (30 psi), guard and eye protection, never at people; never spin a bearing with air.",
    "Solvents burn: ventilate.",
    "The machine maker's service data come first.",
)
