"""The browser of the tests: the Chromium of the system."""

from __future__ import annotations

import shutil
from typing import Any

import pytest


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    chromium = shutil.which("chromium")
    if chromium is None:
        pytest.skip("no Chromium on this machine")
    sandbox = {"executable_path": chromium, "args": ["--no-sandbox", "--disable-gpu"]}
    return browser_type_launch_args | sandbox
