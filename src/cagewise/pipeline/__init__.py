"""The whole examination as one readable recipe; no input, no output.

Whatever cannot be read becomes a result with its reason. The only exception that leaves here on
purpose is :class:`~cagewise.errors.ChannelRoleError`: a wrong channel is asked about, never used.
"""

from __future__ import annotations

from cagewise.pipeline.visit import Earlier, examine, examine_visit

__all__ = ["Earlier", "examine", "examine_visit"]
