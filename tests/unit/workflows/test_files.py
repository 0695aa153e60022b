"""Results are written whole or not at all, and never over an existing file."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from cagewise.errors import OutputError
from cagewise.workflows.files import write_text_file


def test_text_is_written_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "x.txt"
    write_text_file(path, "größer\n", overwrite=False)

    assert path.read_bytes() == "größer\n".encode()


def test_an_existing_file_stays(tmp_path: Path) -> None:
    path = tmp_path / "x.txt"
    path.write_text("mine", encoding="utf-8")

    with pytest.raises(OutputError, match="left as it is"):
        write_text_file(path, "other", overwrite=False)
    assert path.read_text(encoding="utf-8") == "mine"


def test_a_folder_is_never_replaced(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="folder"):
        write_text_file(tmp_path, "x", overwrite=True)


@pytest.mark.skipif(os.name != "posix", reason="named pipes")
def test_what_is_no_file_is_never_replaced(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)

    with pytest.raises(OutputError, match="device"):
        write_text_file(pipe, "x", overwrite=True)
    assert pipe.is_fifo()


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "old").write_text("old", encoding="utf-8")
    (tmp_path / "link").symlink_to(tmp_path / "old")
    write_text_file(tmp_path / "link", "new", overwrite=True)

    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "old").read_text(encoding="utf-8") == "new"


def test_a_failure_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(OutputError, match="No space left"):
        write_text_file(tmp_path / "x.txt", "text", overwrite=False)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(os.name != "posix", reason="file modes")
def test_the_file_is_readable_by_others(tmp_path: Path) -> None:
    path = tmp_path / "x.txt"
    write_text_file(path, "x", overwrite=False)

    assert path.stat().st_mode & 0o777 == 0o644
