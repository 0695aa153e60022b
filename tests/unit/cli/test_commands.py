"""The command line: wiring, exit statuses, messages. Numbers are proven elsewhere."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from cagewise import __version__
from cagewise.cli import commands
from cagewise.cli.run import main
from cagewise.cli.status import MEANINGS, ExitStatus
from cagewise.decision.examination import Examination
from cagewise.decision.verdict import StateGround
from cagewise.errors import ChannelRoleError, MissingExtraError, RecordingError
from cagewise.evidence.fusion.patterns import Prior
from cagewise.workflows import assess as workflow
from cagewise.workflows.assess import AssessOptions
from support.commands import run, write_motor
from support.examinations import damaged, examination, record, sound, unreadable

STATES = {"sound": sound(), "damaged": damaged(), "unreadable": unreadable()}


@pytest.fixture
def stand_in(monkeypatch: pytest.MonkeyPatch) -> dict[str, object]:
    """Replace the use case by one that returns or raises what the test puts into ``result``."""
    seen: dict[str, object] = {"result": examination(record(sound()))}

    def assess(motor: Path, files: list[Path], options: AssessOptions) -> Examination:
        seen.update(motor=motor, files=files, options=options)
        result = seen["result"]
        if isinstance(result, Exception):
            raise result
        assert isinstance(result, Examination)
        return result

    monkeypatch.setattr(workflow, "assess", assess)
    return seen


def test_arguments_reach_the_use_case(stand_in: dict[str, object]) -> None:
    done = run(
        "assess", "m.toml", "a.cfg", "b.cfg", "--role", "IL1=i_a", "--role", "U=-v_ab*60",
        "--rate", "5000", "--speed", "1487.5", "--select", "run1", "--accept-roles",
        "--prevalence", "0.1",
    )  # fmt: skip

    assert done.status is ExitStatus.EXAMINED
    assert stand_in["motor"] == Path("m.toml")
    assert stand_in["files"] == [Path("a.cfg"), Path("b.cfg")]
    assert stand_in["options"] == AssessOptions(
        roles={"IL1": "i_a", "U": "-v_ab*60"},
        sampling_rate_hz=5000.0,
        speed_rpm=1487.5,
        prevalence=0.1,
        roles_confirmed=True,
        select=("run1",),
    )


def test_a_stated_prevalence_becomes_the_prior() -> None:
    stated = workflow.settings_of(AssessOptions(prevalence=0.1)).study.prior
    assumed = workflow.settings_of(AssessOptions()).study.prior

    assert stated.prevalence == 0.1
    assert stated.source.startswith("prevalence: stated")
    assert stated.shares == assumed.shares
    assert assumed == Prior()


@pytest.mark.parametrize(
    ("state", "status"),
    [
        ("sound", ExitStatus.EXAMINED),
        ("damaged", ExitStatus.NOT_SOUND),
        ("unreadable", ExitStatus.NOT_DECIDABLE),
    ],
)
def test_a_finding_is_an_error_only_behind_the_gate(
    stand_in: dict[str, object], state: str, status: ExitStatus
) -> None:
    stand_in["result"] = examination(record(STATES[state]))

    assert run("assess", "m.toml", "a.cfg").status is ExitStatus.EXAMINED
    assert run("assess", "m.toml", "a.cfg", "--gate").status is status


@pytest.mark.parametrize(
    ("ground", "probability", "status"),
    [
        (StateGround.BOUNDED, 0.01, ExitStatus.EXAMINED),
        (StateGround.BOUNDED_ADJACENT, 0.01, ExitStatus.EXAMINED),
        (StateGround.BOUNDED_PARTED, 0.01, ExitStatus.NOT_DECIDABLE),
        (StateGround.BOUNDED_LEAST, 0.01, ExitStatus.NOT_DECIDABLE),
        (StateGround.BOUNDED, 0.75, ExitStatus.NOT_DECIDABLE),
    ],
)
def test_what_passes_the_gate_is_sound_without_a_reservation(
    stand_in: dict[str, object], ground: StateGround, probability: float, status: ExitStatus
) -> None:
    made = examination(record(STATES["sound"]))
    stand_in["result"] = replace(
        made,
        verdict=replace(made.verdict, ground=ground),
        evidence=replace(made.evidence, probability=probability),
    )

    assert run("assess", "m.toml", "a.cfg", "--gate").status is status


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (RecordingError("the file is empty", where="a.cfg"), ExitStatus.UNREADABLE),
        (ChannelRoleError("which is which?", remedy="--role"), ExitStatus.NEEDS_ANSWER),
        (MissingExtraError("nptdms is not installed"), ExitStatus.MISSING_EXTRA),
        (ZeroDivisionError("a bug"), ExitStatus.INTERNAL),
        (KeyboardInterrupt(), ExitStatus.INTERRUPTED),
    ],
)
def test_every_error_is_one_message_and_its_own_status(
    monkeypatch: pytest.MonkeyPatch, error: BaseException, status: ExitStatus
) -> None:
    def assess(*_: object) -> Examination:
        raise error

    monkeypatch.setattr(workflow, "assess", assess)
    done = run("assess", "m.toml", "a.cfg")

    assert done.status is status
    assert done.out == ""
    assert done.err.startswith("cagewise: ")
    assert "Traceback" not in done.err


def command_line(*arguments: str, **streams: int) -> subprocess.Popen[bytes]:
    """Start the command line as a process of its own."""
    code = "from cagewise.cli import entry_point; entry_point()"
    return subprocess.Popen([sys.executable, "-c", code, *arguments], **streams)  # type: ignore[call-overload, no-any-return]  # noqa: S603 # our own interpreter


def test_a_reader_that_goes_away_is_no_fault_and_passes_no_gate() -> None:
    read, write = os.pipe()
    os.close(read)
    process = command_line("formats", stdout=write, stderr=subprocess.PIPE)
    os.close(write)

    assert process.communicate()[1] == b""
    assert process.returncode == ExitStatus.READER_GONE


@pytest.mark.skipif(not Path("/dev/full").is_char_device(), reason="no device that is full")
def test_a_full_disk_is_one_message_and_no_fault_of_the_program() -> None:
    with Path("/dev/full").open("wb") as full:
        process = command_line("formats", stdout=full.fileno(), stderr=subprocess.PIPE)
        said = process.communicate()[1].decode()

    assert process.returncode == ExitStatus.NOT_WRITTEN
    assert said.startswith("cagewise: the output cannot be written")
    assert said.count("\n") == 1


def test_a_process_without_streams_ends_with_its_status(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdout", None)
    monkeypatch.setattr(sys, "stderr", None)

    assert main(["formats"]) is ExitStatus.EXAMINED
    assert main(["plan", "no.toml"]) is ExitStatus.UNREADABLE


def test_a_message_cannot_control_the_terminal(stand_in: dict[str, object]) -> None:
    stand_in["result"] = RecordingError("\x1b[31mred\x07", where="a\rb")

    assert not {"\x1b", "\x07", "\r"} & set(run("assess", "m.toml", "a.cfg").err)


@pytest.mark.parametrize(
    "arguments",
    [
        ("assess",),
        ("assess", "m.toml"),
        ("assess", "m.toml", "a.cfg", "--no-such-option"),
        ("assess", "m.toml", "a.cfg", "--rate", "fast"),
        ("assess", "m.toml", "a.cfg", "--role", "nonsense"),
        ("assess", "m.toml", "a.cfg", "--role", "IL1=i_z"),
        ("no-such-command",),
        ("demo", "no-such-recording"),
        ("demo", "--json", "x.json"),
        ("plan",),
        ("plan", "m.toml", "n.toml"),
        ("assess", "m.toml", "a.cfg", "--rate", "0"),
        ("assess", "m.toml", "a.cfg", "--rate", "nan"),
        ("assess", "m.toml", "a.cfg", "--speed", "-1480"),
        ("assess", "m.toml", "a.cfg", "--prevalence", "0"),
        ("assess", "m.toml", "a.cfg", "--prevalence", "0.6"),
        ("assess", "m.toml", "a.cfg", "--prevalence", "nan"),
        ("assess", "m.toml", "a.cfg", "--prevalence", "2%"),
    ],
)
def test_wrong_calls_are_usage_errors(arguments: tuple[str, ...]) -> None:
    done = run(*arguments)

    assert done.status is ExitStatus.USAGE
    assert done.err.startswith("cagewise: ")
    assert done.err.count("\n") == 1


def test_files_are_written_and_never_replaced_without_force(
    stand_in: dict[str, object], tmp_path: Path
) -> None:
    json_path, html_path = tmp_path / "x.json", tmp_path / "x.html"
    call = ("assess", "m.toml", "a.cfg", "--json", json_path, "--html", html_path)

    assert run(*call).status is ExitStatus.EXAMINED
    assert json.loads(json_path.read_text(encoding="utf-8"))["state"] == "sound"
    assert html_path.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")

    html_path.write_text("mine", encoding="utf-8")
    stand_in.pop("motor")
    refused = run(*call)
    assert refused.status is ExitStatus.NOT_WRITTEN
    assert "--force" in refused.err
    assert html_path.read_text(encoding="utf-8") == "mine"
    assert "motor" not in stand_in  # refused before any work was done

    assert run(*call, "--force").status is ExitStatus.EXAMINED
    assert html_path.read_text(encoding="utf-8") != "mine"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["x.html", "x.json"]


@pytest.mark.usefixtures("stand_in")
def test_one_file_for_two_results_and_a_missing_folder_are_refused(tmp_path: Path) -> None:
    same = tmp_path / "x"
    twice = run("assess", "m.toml", "a.cfg", "--json", same, "--html", same)
    nowhere = run("assess", "m.toml", "a.cfg", "--json", tmp_path / "no" / "x.json")

    assert twice.status is ExitStatus.NOT_WRITTEN
    assert nowhere.status is ExitStatus.NOT_WRITTEN
    assert list(tmp_path.iterdir()) == []


@pytest.mark.usefixtures("stand_in")
@pytest.mark.parametrize("name", ["m.toml", "a.cfg", "a.dat", "a.cfg.toml", "link.json"])
def test_what_was_read_is_never_replaced(tmp_path: Path, name: str) -> None:
    for known in ("m.toml", "a.cfg", "a.dat", "a.cfg.toml"):
        (tmp_path / known).write_text("mine", encoding="utf-8")
    (tmp_path / "link.json").symlink_to(tmp_path / "m.toml")
    motor, record = tmp_path / "m.toml", tmp_path / "a.cfg"
    done = run("assess", motor, record, "--json", tmp_path / name, "--force")

    assert done.status is ExitStatus.NOT_WRITTEN
    assert "made from" in done.err
    assert (tmp_path / name).read_text(encoding="utf-8") == "mine"


@pytest.mark.usefixtures("stand_in")
def test_json_on_the_screen_is_nothing_but_json() -> None:
    done = run("assess", "m.toml", "a.cfg", "--json", "-")

    assert json.loads(done.out)["state"] == "sound"


@pytest.mark.usefixtures("stand_in")
def test_page_has_the_width_and_the_shapes_that_were_asked_for() -> None:
    narrow = run("assess", "m.toml", "a.cfg", "--width", "50", "--ascii").out

    assert narrow.isascii()
    assert max(len(line) for line in narrow.splitlines()) <= 50


@pytest.mark.usefixtures("stand_in")
def test_an_output_that_cannot_show_unicode_gets_ascii() -> None:
    raw = io.BytesIO()
    out = io.TextIOWrapper(raw, encoding="latin-1")
    main(["assess", "m.toml", "a.cfg"], out=out, err=io.StringIO())
    out.flush()

    assert raw.getvalue().isascii()


def test_every_status_is_explained_in_the_help() -> None:
    text = " ".join(run("--help").out.split())

    assert set(MEANINGS) == set(ExitStatus)
    assert len(set(ExitStatus)) == len({int(s) for s in ExitStatus})
    for status, words in MEANINGS.items():
        assert f"{int(status)} {words}" in text


def test_version_and_help_need_no_files() -> None:
    assert run("--version").out.strip() == __version__
    assert run().out == run("--help").out
    for command in ("assess", "demo", "plan", "formats"):
        assert run(command, "--help").status is ExitStatus.EXAMINED


def test_formats_lists_every_reader() -> None:
    from cagewise.readers import formats

    done = run("formats")

    assert done.status is ExitStatus.EXAMINED
    for form in formats():
        assert f"{form.name}: " in done.out


def test_plan_says_what_to_record(tmp_path: Path) -> None:
    done = run("plan", write_motor(tmp_path))

    assert done.status is ExitStatus.EXAMINED
    assert "WHAT TO RECORD" in done.out
    assert "Cautions" in done.out


def test_plan_shows_one_occasion(tmp_path: Path) -> None:
    motor = write_motor(tmp_path)
    alone = run("plan", motor, "--only", "start")

    assert alone.status is ExitStatus.EXAMINED
    assert "Next start" in alone.out
    assert "Next stop" not in alone.out
    assert run("plan", motor, "--only", "lunch").status is ExitStatus.USAGE


@pytest.mark.parametrize(
    "text", ["", "nonsense", "[motor]\nrated_power_kw = -5\n", "[motor]\nsurprise = 1\n"]
)
def test_an_unusable_motor_file_is_one_message(tmp_path: Path, text: str) -> None:
    done = run("plan", write_motor(tmp_path, text))

    assert done.status is ExitStatus.UNREADABLE
    assert "motor.toml" in done.err


def test_help_imports_nothing_heavy() -> None:
    """``--help`` must stay under half a second: no arrays, no drawing, no file formats."""
    code = (
        "import sys; from cagewise.cli.run import main; main(['--help'], out=sys.stderr);"
        "heavy = {'numpy', 'scipy', 'matplotlib', 'pyarrow', 'h5py', 'pydantic', 'jinja2'};"
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run(  # noqa: S603  # our own interpreter
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )

    assert done.stdout.strip() == "[]"


def test_the_commands_are_those_of_the_module() -> None:
    assert {"assess", "demo", "plan", "formats"} <= set(vars(commands))
