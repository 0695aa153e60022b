"""Long work: asked for by requests, kept in the workbench, done by processes of its own."""

from cagewise.web.jobs.queue import Jobs
from cagewise.web.jobs.records import Job, JobFault, State

__all__ = ["Job", "JobFault", "Jobs", "State"]
