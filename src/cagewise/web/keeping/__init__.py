"""What the workbench itself keeps: accounts, sessions, jobs, uploads; nothing of the history.

All of it lies in ``workbench.sqlite`` in the folder of the plant. It goes into no archive; whoever
removes it loses accounts and the list of jobs, and nothing that was measured or decided.
"""

from cagewise.web.keeping.tables import (
    AccountRow,
    Base,
    JobRow,
    SecretRow,
    SessionRow,
    TokenRow,
    UploadRow,
)
from cagewise.web.keeping.workbench import NAME, SCHEMA, Workbench

__all__ = [
    "NAME",
    "SCHEMA",
    "AccountRow",
    "Base",
    "JobRow",
    "SecretRow",
    "SessionRow",
    "TokenRow",
    "UploadRow",
    "Workbench",
]
