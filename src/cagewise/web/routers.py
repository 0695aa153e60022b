"""Which pages and interfaces there are. Every module has a ``router``."""

from __future__ import annotations

from collections.abc import Iterator
from importlib import import_module

from fastapi import APIRouter

from cagewise.web.settings import WebSettings

PAGES: tuple[str, ...] = (
    "new_motor",
    "plant",
    "due",
    "motor",
    "trend",
    "cases",
    "calls",
    "find",
    "door",
    "account",
    "accounts",
    "examination",
    "reports",
    "shop",
    "jobs",
    "scripts",
    "plan",
    "expect",
    "visit",
    "sheet",
)
"""Modules of ``cagewise.web.pages``."""
INTERFACES: tuple[str, ...] = (
    "about",
    "accounts",
    "plant",
    "motors",
    "cases",
    "examinations",
    "jobs",
    "pictures",
    "reports",
    "shop",
    "uploads",
    "visits",
    "recordings",
    "sheets",
    "plans",
    "exports",
)
"""Modules of ``cagewise.web.api``, served under ``/api/v1``."""
API = "/api/v1"


def routers(settings: WebSettings) -> Iterator[tuple[str, APIRouter]]:
    """Yield every router with the prefix under which it is served."""
    for name in (*PAGES, *(("style",) if settings.show_style else ())):
        yield "", import_module(f"cagewise.web.pages.{name}").router
    for name in INTERFACES:
        yield API, import_module(f"cagewise.web.api.{name}").router
