"""Case reports at the addresses of pages, as people pass them on."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from cagewise.web.api.reports import report

router = APIRouter(include_in_schema=False)
router.add_api_route("/{subject}/{number}/report.{form}", report, response_class=Response)
