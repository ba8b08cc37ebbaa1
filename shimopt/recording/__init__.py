"""After fitting: readings compared with what was predicted, the job's record, the drawer's counts."""

from shimopt.arithmetic.agreement import Compared, compare
from shimopt.recording.fitted import Fitted, fitted_by_default, fitted_otherwise
from shimopt.recording.job_file import JobChangedError, as_table
from shimopt.recording.readings_after import (
    blades_after,
    machined_after,
    pulls_after,
    readings_after,
    refuse_slips,
    running_after,
    slip_after,
)
from shimopt.recording.recorded_once import Recorded, Visit, drawer_as_csv, record_job, settle_drawer

__all__ = [
    "Compared",
    "Fitted",
    "JobChangedError",
    "Recorded",
    "Visit",
    "as_table",
    "blades_after",
    "compare",
    "drawer_as_csv",
    "fitted_by_default",
    "fitted_otherwise",
    "machined_after",
    "pulls_after",
    "readings_after",
    "record_job",
    "refuse_slips",
    "running_after",
    "settle_drawer",
    "slip_after",
]
