"""Requests that are not served, before anything was done."""

from __future__ import annotations

from http import HTTPStatus

from cagewise.errors import CagewiseError


class RefusedError(CagewiseError):
    """A request is not served.

    Parameters
    ----------
    status
        Of the answer.
    what, remedy
        As of every error.
    retry_after_s
        After which it may be tried again, seconds.
    bare
        Say nothing about the plant: it is not even certain that the visitor knows where they are.
    """

    def __init__(
        self,
        status: HTTPStatus,
        what: str,
        *,
        remedy: str = "",
        retry_after_s: int | None = None,
        bare: bool = False,
    ) -> None:
        super().__init__(what, remedy=remedy)
        self.status = status
        self.retry_after_s = retry_after_s
        self.bare = bare
