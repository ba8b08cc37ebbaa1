"""Does a part suit a seat? One function per rule, each finding with its numbers."""

from shimopt.fit.finding import Finding
from shimopt.fit.screen import Screening, screen

__all__ = ["Finding", "Screening", "screen"]
