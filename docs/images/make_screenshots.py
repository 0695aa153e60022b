"""Make the screenshots of the README: ``python docs/images/make_screenshots.py``.

Needs the extra ``test``, Chromium and a minute or two: the invented plant is built first, unless
one is named.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
import tempfile
import time
import urllib.request
from contextlib import suppress
from pathlib import Path

from playwright.sync_api import sync_playwright

HERE = Path(__file__).parent
PORT = 8739
LAST = "2031-03-04"
"""Last day of the invented plant: in the future, so that nobody takes it for a real one."""
SHOTS = (
    ("motors", "/", 1180, 860, "light", ()),
    (
        "examination",
        "/examinations/33",
        1180,
        1900,
        "light",
        ("#reading-direct_component summary",),
    ),
    ("case", "/cases/1", 820, 1180, "dark", ()),
)
"""Name, address, width, height, colours, and what is opened before."""
PATIENCE_S = 30.0


def main() -> None:
    """Build the plant, serve it, and take the pictures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--plant", type=Path, help="a plant that was built before")
    given = parser.parse_args().plant
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "plant"
        if given is None:
            cagewise("demo-plant", str(folder), "--until", LAST)
        else:
            shutil.copytree(given, folder)
        command = [sys.executable, "-m", "cagewise", "serve", "--plant", str(folder)]
        server = subprocess.Popen([*command, "--port", str(PORT)])  # noqa: S603 - our own program
        try:
            wait()
            take()
        finally:
            server.terminate()
            server.wait()


def cagewise(*words: str) -> None:
    """Run a command of the program."""
    subprocess.run([sys.executable, "-m", "cagewise", *words], check=True)  # noqa: S603 - our own


def wait() -> None:
    """Wait until the server answers."""
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        with suppress(OSError), urllib.request.urlopen(f"http://127.0.0.1:{PORT}/"):
            return
        time.sleep(0.2)
    message = "the server does not answer"
    raise TimeoutError(message)


def take() -> None:
    """Take every picture."""
    with sync_playwright() as tools:
        program = shutil.which("chromium")
        browser = tools.chromium.launch(executable_path=program, args=["--no-sandbox"])
        for name, address, width, height, colours, opened in SHOTS:
            page = browser.new_page(
                viewport={"width": width, "height": height},
                color_scheme="dark" if colours == "dark" else "light",
            )
            page.goto(f"http://127.0.0.1:{PORT}{address}")
            for each in opened:
                page.click(each)
                page.wait_for_selector(".picture[data-state=shown]")
            page.screenshot(path=HERE / f"{name}.png")
            page.close()
        browser.close()


if __name__ == "__main__":
    main()
