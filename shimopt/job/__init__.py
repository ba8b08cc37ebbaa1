"""A rebuild as its files describe it: windows, seats, places, gaps, balances."""

from shimopt.job.loading import built_in_catalogues, load_job
from shimopt.job.model import Balance, Gap, Job, Place, Window
from shimopt.job.seat import Seat

__all__ = ["Balance", "Gap", "Job", "Place", "Seat", "Window", "built_in_catalogues", "load_job"]
