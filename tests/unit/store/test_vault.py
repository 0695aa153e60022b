from __future__ import annotations

from hashlib import sha256
from io import BytesIO
from pathlib import Path

import pytest

from cagewise.errors import DamagedFileError, MissingFileError, StoreError
from cagewise.store.durable import INCOMING, clear_abandoned
from cagewise.store.vault import BLOCK_BYTES, Vault

CONTENT = bytes(range(256)) * (3 * BLOCK_BYTES // 256) + b"and a rest"


def files_in(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file())


def test_a_file_is_kept_under_its_checksum(tmp_path: Path) -> None:
    source = tmp_path / "run.dat"
    source.write_bytes(CONTENT)
    vault = Vault(tmp_path / "originals")
    kept = vault.keep(source)
    assert kept.checksum == sha256(CONTENT).hexdigest()
    assert (kept.name, kept.size_bytes) == ("run.dat", len(CONTENT))
    assert files_in(vault.folder) == [vault.folder / kept.checksum[:2] / kept.checksum]
    with vault.open(kept.checksum) as stream:
        assert stream.read() == CONTENT


def test_the_same_bytes_are_kept_once(tmp_path: Path) -> None:
    vault = Vault(tmp_path)
    first = vault.keep(CONTENT, "a")
    before = vault.path(first.checksum).stat().st_ino
    assert vault.keep(CONTENT, "b").checksum == first.checksum
    assert vault.path(first.checksum).stat().st_ino == before
    assert len(files_in(tmp_path)) == 1


@pytest.mark.parametrize("damage", [b"", CONTENT[:-1], b"X" + CONTENT[1:]])
def test_damage_is_found_and_put_right_by_keeping_it_again(tmp_path: Path, damage: bytes) -> None:
    vault = Vault(tmp_path)
    kept = vault.keep(CONTENT)
    vault.path(kept.checksum).write_bytes(damage)
    with pytest.raises(DamagedFileError, match="checksum differs"):
        vault.verify(kept.checksum)
    vault.keep(CONTENT)
    assert vault.checked(kept.checksum).read_bytes() == CONTENT


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    vault = Vault(tmp_path)
    with pytest.raises(MissingFileError, match="not there any more") as caught:
        vault.verify("ab" * 32)
    assert "ab" * 32 in caught.value.where
    with pytest.raises(StoreError, match="cannot be read"):
        vault.keep(tmp_path / "nothing.dat")


def test_a_file_that_is_still_being_written_is_refused(tmp_path: Path) -> None:
    source = tmp_path / "run.dat"
    source.write_bytes(CONTENT)

    def grow(step: str) -> None:
        if step == "copied":
            with source.open("ab") as stream:
                stream.write(b"more")

    with pytest.raises(StoreError, match="changed while it was read"):
        Vault(tmp_path / "originals", grow).keep(source)


def test_nothing_is_left_of_a_copy_that_failed(tmp_path: Path) -> None:
    class Failing(BytesIO):
        def read(self, size: int | None = -1, /) -> bytes:
            raise OSError(5, "Input/output error", size)

    stream = Failing()
    with pytest.raises(StoreError, match="Input/output error"):
        Vault(tmp_path)._copied(stream, "x")
    assert files_in(tmp_path) == []


def test_only_what_was_abandoned_long_ago_is_cleared(tmp_path: Path) -> None:
    import os
    import time

    old, new, kept = (tmp_path / n for n in (f"{INCOMING}1-a", f"{INCOMING}2-b", "kept"))
    for path in (old, new, kept):
        path.write_bytes(b"x")
    long_ago = time.time() - 2 * 86400
    os.utime(old, (long_ago, long_ago))
    os.utime(kept, (long_ago, long_ago))
    clear_abandoned(tmp_path)
    assert files_in(tmp_path) == sorted([new, kept])
