"""After fitting: readings compared with what was predicted, the job's record, the drawer's counts."""

from shimopt.recording.compare import Compared, compare
from shimopt.recording.job_file import JobChangedError, as_table, drawer_as_csv
from shimopt.recording.readings import readings_after
from shimopt.recording.session import Recorded, record_job, settle_drawer

__all__ = [
    "Compared",
    "JobChangedError",
    "Recorded",
    "as_table",
    "compare",
    "drawer_as_csv",
    "readings_after",
    "record_job",
    "settle_drawer",
]
