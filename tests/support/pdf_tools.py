"""Programs that look at a PDF and had no part in making it; tests skip where they are absent."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from numpy.typing import NDArray

POINTS_PER_MM = 72 / 25.4


def _run(tool: str, *arguments: str, pdf: bytes) -> bytes:
    """Return what a program says of a PDF."""
    found = shutil.which(tool)
    if found is None:
        pytest.skip(f"{tool} is not installed (Debian: qpdf, poppler-utils)")
    done = subprocess.run([found, *arguments], input=pdf, capture_output=True, check=False)  # noqa: S603  # found above
    assert done.returncode == 0, done.stderr.decode(errors="replace")
    return done.stdout


def text_of(pdf: bytes, *, layout: bool = False) -> str:
    """Return the text of all pages, each ended by a form feed."""
    more = ("-layout",) if layout else ()
    return _run("pdftotext", "-enc", "UTF-8", *more, "-", "-", pdf=pdf).decode()


def words_of(pdf: bytes) -> list[list[tuple[str, float, float, float, float]]]:
    """Return the words of each page with left, top, right and bottom, in points."""
    said = _run("pdftotext", "-bbox", "-", "-", pdf=pdf).decode()
    root = ET.fromstring(re.sub(r'xmlns="[^"]*"', "", said))  # noqa: S314  # of a tool, of our own file
    return [
        [
            (each.text or "", *(float(each.attrib[k]) for k in ("xMin", "yMin", "xMax", "yMax")))  # type: ignore[misc]  # four
            for each in page.iter("word")
        ]
        for page in root.iter("page")
    ]


def facts_of(pdf: bytes) -> dict[str, str]:
    """Return what stands in the head of a PDF."""
    lines = _run("pdfinfo", "-isodates", "-", pdf=pdf).decode().splitlines()
    return {
        name.strip(): value.strip() for name, _, value in (line.partition(":") for line in lines)
    }


def metadata_of(pdf: bytes) -> str:
    """Return the embedded description."""
    return _run("pdfinfo", "-meta", "-", pdf=pdf).decode()


def objects_of(pdf: bytes, folder: Path) -> list[dict[str, Any]]:
    """Return all dictionaries in a PDF, after its structure was checked."""
    file = folder / "checked.pdf"
    file.write_bytes(pdf)
    _run("qpdf", "--check", str(file), pdf=b"")
    said = json.loads(_run("qpdf", "--json=2", str(file), pdf=b""))
    values = (
        each.get("value", each.get("stream", {}).get("dict")) for each in said["qpdf"][1].values()
    )
    return [value for value in values if isinstance(value, dict)]


def pixels_of(pdf: bytes, dots_per_inch: int = 72, page: int = 1) -> NDArray[np.uint8]:
    """Return a page in red, green and blue, shape (rows, columns, 3)."""
    place = str(page)
    said = _run("pdftoppm", "-r", str(dots_per_inch), "-f", place, "-l", place, "-", pdf=pdf)
    head = re.match(rb"P6\s(\d+) (\d+)\s255\s", said)
    assert head is not None
    columns, rows = int(head[1]), int(head[2])
    return np.frombuffer(said, np.uint8, offset=head.end()).reshape(rows, columns, 3)


def made_elsewhere(code: str, **environment: str) -> bytes:
    """Return what a program writes to its output in a process of its own."""
    done = subprocess.run(  # noqa: S603  # our own program
        [sys.executable, "-c", code],
        capture_output=True,
        check=True,
        env={"PYTHONPATH": ":".join(sys.path), **environment},
    )
    return done.stdout
