"""Files on their way: to the disk, gone on with, refused, taken back, swept up."""

from __future__ import annotations

import errno
import io
from collections import namedtuple
from collections.abc import AsyncIterator, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import timedelta
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.errors import (
    AlreadyKeptError,
    InputError,
    NotKeptError,
    StoreError,
    StoreFullError,
)
from cagewise.web.jobs import Jobs, State
from cagewise.web.keeping import Workbench
from cagewise.web.security.refusal import RefusedError
from cagewise.web.uploads import Uploads, shelf, writer
from cagewise.web.uploads.names import LONGEST_BYTES, safe_name
from cagewise.web.uploads.receive import BLOCK_BYTES, pour
from support.workbench import Clock, in_own_loop

CONTENT = bytes(range(256)) * 5000
Usage = namedtuple("Usage", "total used free")  # noqa: PYI024 - as shutil gives it


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Workbench]:
    with Workbench.open(tmp_path) as made:
        yield made


@pytest.fixture
def uploads(bench: Workbench, tmp_path: Path, clock: Clock) -> Uploads:
    return Uploads(bench, tmp_path, clock)


def whole(uploads: Uploads, name: str, content: bytes = CONTENT, batch: str = "") -> str:
    """Send a file at once; return its batch."""
    upload = uploads.begin(1, name, len(content), batch=batch)
    receiving = uploads.write(upload.id, 0)
    receiving.append([content])
    assert receiving.keep().is_whole
    return upload.batch


@pytest.mark.parametrize(
    ("stated", "kept"),
    [
        ("run.dat", "run.dat"),
        ("../../../etc/passwd", "passwd"),
        ("C:\\data\\run 1.cfg", "run 1.cfg"),
        ("/absolute/run.cfg", "run.cfg"),
        ("....run.cfg", "run.cfg"),
        (".hidden", "hidden"),
        ("a\x00b\nc\r.dat", "abc.dat"),
        ("gpj\u202egnp.dat", "gpjgnp.dat"),
        ("<img src=x onerror=alert(1)>.csv", "_img src=x onerror=alert(1)_.csv"),
        ("nul.csv", "_nul.csv"),
        ("e\u0301.csv", "é.csv"),
        ("run.dat. . ", "run.dat"),
    ],
)
def test_names_lose_folders_and_what_nobody_sees(stated: str, kept: str) -> None:
    assert safe_name(stated) == kept


@pytest.mark.parametrize("stated", ["", "..", "/", "a/", "\x00", " . ", "\u202e"])
def test_a_name_of_nothing_is_refused(stated: str) -> None:
    with pytest.raises(InputError, match="needs a name"):
        safe_name(stated)


@pytest.mark.parametrize("stated", ["a.zip", "a.tar.gz", "A.7Z"])
def test_archives_are_not_unpacked(stated: str) -> None:
    with pytest.raises(InputError, match="not unpacked"):
        safe_name(stated)


@given(st.text(max_size=400))
def test_every_name_stays_in_its_folder(stated: str) -> None:
    try:
        name = safe_name(stated)
    except InputError:
        return
    assert Path(name).name == name
    assert not name.startswith(".")
    assert name.isprintable() or " " in name or name.strip()
    assert len(name.encode()) <= LONGEST_BYTES + 1
    assert safe_name(name) == name


def test_the_ending_of_a_long_name_stays() -> None:
    name = safe_name("é" * 300 + ".cfg")
    assert name.endswith("é.cfg")
    assert len(name.encode()) <= LONGEST_BYTES


def test_a_file_is_on_the_disk_with_its_checksum(uploads: Uploads) -> None:
    batch = whole(uploads, "run.dat")
    [kept] = uploads.of_batch(batch)
    assert kept.checksum == sha256(CONTENT).hexdigest()
    assert uploads.path_of(kept).read_bytes() == CONTENT
    assert [path.name for path in uploads.path_of(kept).parent.iterdir()] == ["run.dat"]


def test_a_file_is_gone_on_with_after_a_break(
    uploads: Uploads, bench: Workbench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writer, "SYNC_BYTES", 1000)
    upload = uploads.begin(1, "run.dat", len(CONTENT))
    first = uploads.write(upload.id, 0)
    first.append([CONTENT[:1500]])
    first._stream.write(b"not certain when the server was killed")
    first._stream.close()
    restarted = Uploads(bench, tmp_path)
    assert restarted.get(upload.id).received_bytes == 1500
    with pytest.raises(AlreadyKeptError, match="1500 of"):
        restarted.write(upload.id, 1000)
    second = restarted.write(upload.id, 1500)
    second.append([CONTENT[1500:]])
    done = second.keep()
    assert done.checksum == sha256(CONTENT).hexdigest()
    assert restarted.path_of(done).read_bytes() == CONTENT


def test_killed_between_the_name_and_the_note(uploads: Uploads) -> None:
    upload = uploads.begin(1, "run.dat", len(CONTENT))
    receiving = uploads.write(upload.id, 0)
    receiving.append([CONTENT[:100]])
    part = receiving.keep()
    assert part.received_bytes == 100
    uploads.path_of(part, whole=False).write_bytes(CONTENT)
    uploads.path_of(part, whole=False).rename(uploads.path_of(part))
    again = uploads.write(upload.id, 100)
    again.append([CONTENT[100:]])
    assert again.keep().checksum == sha256(CONTENT).hexdigest()


def test_who_goes_on_shuts_out_who_was_before(uploads: Uploads) -> None:
    upload = uploads.begin(1, "run.dat", len(CONTENT))
    stale = uploads.write(upload.id, 0)
    stale.append([CONTENT[:10]])
    fresh = uploads.write(upload.id, 0)
    with pytest.raises(AlreadyKeptError, match="another request"):
        stale.append([b"stale"])
    with pytest.raises(AlreadyKeptError):
        stale.keep()
    fresh.append([CONTENT])
    assert fresh.keep().is_whole


def test_more_than_announced_is_refused(uploads: Uploads) -> None:
    upload = uploads.begin(1, "run.dat", 10)
    receiving = uploads.write(upload.id, 0)
    receiving.append([b"12345678"])
    with pytest.raises(RefusedError, match="more than the announced 10"):
        receiving.append([b"901"])
    assert receiving.keep().received_bytes == 8


def test_files_of_a_batch_stay_together(uploads: Uploads) -> None:
    batch = whole(uploads, "run.cfg", b"a")
    whole(uploads, "run.dat", b"b", batch)
    names = [each.name for each in uploads.hand_over(batch, 1)]
    assert names == ["run.cfg", "run.dat"]
    with pytest.raises(AlreadyKeptError, match="of this name"):
        uploads.begin(1, "x/RUN.cfg", 5, batch=batch)
    with pytest.raises(NotKeptError):
        uploads.begin(2, "other.cfg", 5, batch=batch)
    with pytest.raises(NotKeptError):
        uploads.hand_over(batch, 2)
    uploads.begin(1, "more.cfg", 5, batch=batch)
    with pytest.raises(AlreadyKeptError, match=r"more\.cfg"):
        uploads.hand_over(batch, 1)


def test_the_same_file_twice_is_two_batches(uploads: Uploads) -> None:
    assert whole(uploads, "run.dat") != whole(uploads, "run.dat")


def test_a_disk_that_is_too_small_is_told_before(
    uploads: Uploads, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shutil.disk_usage", lambda _: Usage(10**9, 0, 299_000_000))
    uploads.begin(1, "run.dat", 99_000_000)
    with pytest.raises(StoreFullError, match="299 MB left"):
        uploads.begin(1, "run.dat", 100_000_000)


def test_a_disk_that_becomes_full_leaves_what_can_be_gone_on_with(
    uploads: Uploads, monkeypatch: pytest.MonkeyPatch
) -> None:
    upload = uploads.begin(1, "run.dat", len(CONTENT))
    receiving = uploads.write(upload.id, 0)
    receiving.append([CONTENT[:100]])

    def full(stream: io.RawIOBase, block: bytes) -> None:
        stream.write(block[:7])
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(writer, "_write_all", full)
        with pytest.raises(StoreFullError):
            receiving.append([CONTENT[100:]])
    assert receiving.keep().received_bytes == 100
    again = uploads.write(upload.id, 100)
    again.append([CONTENT[100:]])
    assert again.keep().checksum == sha256(CONTENT).hexdigest()


def test_bytes_that_vanished_are_told(uploads: Uploads) -> None:
    upload = uploads.begin(1, "run.dat", len(CONTENT))
    receiving = uploads.write(upload.id, 0)
    receiving.append([CONTENT[:100]])
    part = receiving.keep()
    uploads.path_of(part, whole=False).unlink()
    with pytest.raises(StoreError, match="not there any more"):
        uploads.write(upload.id, 100)


async def pieces(content: bytes, size: int, *, breaks: bool = False) -> AsyncIterator[bytes]:
    for start in range(0, len(content), size):
        yield content[start : start + size]
    if breaks:
        raise ConnectionResetError


@pytest.mark.parametrize("size", [1, 1000, BLOCK_BYTES - 1, BLOCK_BYTES * 3])
def test_a_stream_of_any_pieces_is_the_file(uploads: Uploads, size: int) -> None:
    content = CONTENT * 3 if size > 1 else CONTENT[:3000]
    upload = uploads.begin(1, "run.dat", len(content))
    done = in_own_loop(pour(pieces(content, size), uploads.write(upload.id, 0)))
    assert done.checksum == sha256(content).hexdigest()


def test_a_stream_that_breaks_is_kept_as_far_as_it_came(uploads: Uploads) -> None:
    content = CONTENT * 3
    upload = uploads.begin(1, "run.dat", len(content))
    half = pieces(content[: len(content) // 2], 65536, breaks=True)
    with pytest.raises(ConnectionResetError):
        in_own_loop(pour(half, uploads.write(upload.id, 0)))
    known = uploads.get(upload.id)
    assert BLOCK_BYTES <= known.received_bytes <= len(content) // 2
    rest = pieces(content[known.received_bytes :], 65536)
    done = in_own_loop(pour(rest, uploads.write(upload.id, known.received_bytes)))
    assert done.checksum == sha256(content).hexdigest()


def test_files_are_received_at_the_same_time(uploads: Uploads) -> None:
    contents = {f"{n}.dat": bytes([n]) * 200_000 for n in range(8)}
    with ThreadPoolExecutor(8) as pool:
        batches = dict(
            zip(contents, pool.map(lambda n: whole(uploads, n, contents[n]), contents), strict=True)
        )
    for name, batch in batches.items():
        [kept] = uploads.of_batch(batch)
        assert uploads.path_of(kept).read_bytes() == contents[name]


def test_a_file_is_taken_back(uploads: Uploads, tmp_path: Path) -> None:
    upload = uploads.begin(1, "run.dat", 100)
    receiving = uploads.write(upload.id, 0)
    receiving.append([b"abc"])
    uploads.remove(upload.id)
    with pytest.raises(AlreadyKeptError):
        receiving.append([b"def"])
    with pytest.raises(NotKeptError):
        uploads.get(upload.id)
    assert not any((tmp_path / "uploads").iterdir())


def test_what_is_imported_cannot_be_taken_back(uploads: Uploads, bench: Workbench) -> None:
    batch = whole(uploads, "run.dat")
    [kept] = uploads.of_batch(batch)
    jobs = Jobs(bench)
    job = jobs.submit("import", {"motor_id": 1, "batch": batch}, title="", by="")
    uploads.assign(batch, job)
    with pytest.raises(AlreadyKeptError, match="being imported"):
        uploads.remove(kept.id)
    with pytest.raises(AlreadyKeptError, match="imported already"):
        uploads.begin(1, "late.dat", 10, batch=batch)
    jobs.cancel(job.id)
    uploads.remove(kept.id)


def test_what_is_imported_is_removed_and_what_was_refused_stays(
    uploads: Uploads, bench: Workbench, tmp_path: Path
) -> None:
    batch = whole(uploads, "good.dat")
    for name in ("bad.cfg", "bad.dat"):
        whole(uploads, name, batch=batch)
    jobs = Jobs(bench)
    job = jobs.submit("import", {"motor_id": 1, "batch": batch}, title="", by="")
    uploads.assign(batch, job)
    fates = [{"name": "good.dat", "fate": "imported"}, {"name": "bad.cfg", "fate": "refused"}]
    uploads.imported(replace(job, state=State.FAILED, result=None))
    assert len(uploads.of_batch(batch)) == 3
    uploads.imported(replace(job, state=State.DONE, result={"files": fates}))
    assert [each.name for each in uploads.of_batch(batch)] == ["bad.cfg", "bad.dat"]
    fates[1]["fate"] = "imported"
    uploads.imported(replace(job, state=State.DONE, result={"files": fates}))
    assert uploads.of_batch(batch) == []
    assert not any((tmp_path / "uploads").iterdir())


def test_what_nobody_goes_on_with_is_swept_up(
    uploads: Uploads, bench: Workbench, clock: Clock, tmp_path: Path
) -> None:
    stale, needed = whole(uploads, "stale.dat"), whole(uploads, "needed.dat")
    job = Jobs(bench).submit("import", {"motor_id": 1, "batch": needed}, title="", by="")
    uploads.assign(needed, job)
    unknown = tmp_path / "uploads" / "0123456789abcdef"
    unknown.mkdir()
    clock.now = clock.now.replace(year=2099) + timedelta(days=3)
    fresh = whole(uploads, "fresh.dat")
    uploads.clear()
    assert uploads.of_batch(stale) == []
    names = {path.name for path in (tmp_path / "uploads").iterdir()}
    assert names == {needed, fresh}


def test_not_too_many_are_on_their_way(uploads: Uploads, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shelf, "MOST_OPEN", 3)
    for n in range(3):
        uploads.begin(1, f"{n}.dat", 10)
    with pytest.raises(InputError, match="on their way already"):
        uploads.begin(1, "one too many.dat", 10)
