"""Reading a motor file: TOML with units in the keys, every fault reported at once."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from cagewise.errors import MotorFileError
from cagewise.machine.crosscheck import Fault, crosscheck
from cagewise.machine.motor import Bearing, Motor
from cagewise.machine.motor_toml import motor_to_toml
from cagewise.machine.nameplate import Nameplate

if TYPE_CHECKING:
    from cagewise.machine.motor_faults import SectionType
    from cagewise.machine.motor_schema import MotorSection

__all__ = ["load_motor", "motor_from_mapping", "motor_to_toml"]

LARGEST_FILE_BYTES = 1_000_000
"""A motor file is a page of text; anything larger is another kind of file."""


def load_motor(path: str | Path) -> Motor:
    """Return the motor that a TOML file describes.

    Raises
    ------
    MotorFileError
        If the file cannot be read, is not TOML, has unknown or missing keys, or describes an
        impossible motor. All faults of the file are in one message.
    """
    path = Path(path)
    text = _read(path)
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise MotorFileError(
            f"this is not TOML: {error}",
            where=str(path),
            remedy='Write one "key = value" per line, text in quotes, decimals with a point.',
        ) from error
    if "sheet" in content and "motor" not in content:
        raise MotorFileError(
            "this is a test sheet, not a motor file",
            where=str(path),
            remedy="The motor file comes first; sheets and recordings follow it.",
        )
    return motor_from_mapping(content, where=str(path), default_tag=_tag_of(path))


def _tag_of(path: Path) -> str:
    """Return the file name as a tag; bytes that are no text become question marks."""
    return path.stem.encode("utf-8", "replace").decode("utf-8")


def motor_from_mapping(
    content: Mapping[str, object], *, where: str = "motor", default_tag: str = "motor"
) -> Motor:
    """Return the motor that the parsed content of a motor file describes.

    Parameters
    ----------
    content
        Sections of the file as nested mappings.
    where
        Named in the error message.
    default_tag
        Tag of the motor when ``[motor]`` states none.

    Raises
    ------
    MotorFileError
        As :func:`load_motor`.
    """
    faults: list[Fault] = []
    motor = _assembled(content, default_tag, faults)
    if motor is not None and not faults:
        return motor
    if len(faults) == 1:
        raise MotorFileError(str(faults[0]).removesuffix("."), where=where)
    listing = "".join(f"\n  - {fault}" for fault in faults)
    raise MotorFileError(f"{len(faults)} faults:{listing}", where=where)


def _read(path: Path) -> str:
    """Return the text of a file."""
    try:
        size = path.stat().st_size
        raw = path.read_bytes() if size <= LARGEST_FILE_BYTES else b""
    except OSError as error:
        raise MotorFileError(
            f"cannot be read ({error.strerror or error})",
            where=str(path),
            remedy="Give the path of a motor file.",
        ) from error
    if size > LARGEST_FILE_BYTES:
        raise MotorFileError(
            f"has {size / 1e6:.3g} MB; a motor file is a page of text",
            where=str(path),
            remedy="Is this a recording? The motor file comes first.",
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise MotorFileError(
            f"is not UTF-8 text (byte {error.start})",
            where=str(path),
            remedy="Save it as UTF-8 text.",
        ) from error
    if not text.strip():
        raise MotorFileError(
            "is empty", where=str(path), remedy="Start from docs/motor-file.md or an example."
        )
    return text


def _assembled(
    content: Mapping[str, object], default_tag: str, faults: list[Fault]
) -> Motor | None:
    """Return the motor, or None after adding all faults of the content to ``faults``.

    Every section is looked at even when another is at fault: one message tells all.
    """
    from cagewise.machine import motor_build as build
    from cagewise.machine import motor_schema as schema
    from cagewise.machine.motor_faults import unknown_sections, validated

    def section(model: type[SectionType], name: str) -> SectionType | None:
        return validated(model, content.get(name, {}), f"[{name}]", faults)

    faults += unknown_sections(content)
    if "motor" not in content and faults:
        return None  # the same keys would be reported again as missing
    plate = section(schema.MotorSection, "motor")
    sensors = section(schema.SensorsSection, "sensors")
    winding = section(schema.WindingSection, "winding")
    criticality = section(schema.CriticalitySection, "criticality")
    drive_train = section(schema.DriveTrainSection, "drive_train")
    given = section(schema.CircuitSection, "circuit") if "circuit" in content else None
    bearings = _bearings(content.get("bearings", []), faults)

    warnings: list[Fault] = []
    nameplate = None if plate is None else _nameplate(plate, faults, warnings)
    rated_hz = None if nameplate is None else nameplate.rated_frequency_hz
    circuit = None if given is None else build.circuit(given, rated_hz, faults)
    if nameplate is not None and "circuit" not in content and not faults:
        _require_circuit(nameplate, faults)
    if plate is None or nameplate is None or sensors is None or winding is None:
        return None
    if criticality is None or drive_train is None:
        return None
    return Motor(
        tag=plate.tag or default_tag,
        description=plate.description,
        nameplate=nameplate,
        cage=build.cage(plate),
        winding=build.winding(winding),
        circuit=circuit,
        circuit_uncertainty=build.circuit_uncertainty(given),
        sensors=build.sensors(sensors),
        criticality=build.criticality(criticality),
        bearings=bearings,
        drive_train=build.drive_train(drive_train),
        warnings=tuple(str(warning) for warning in warnings),
    )


def _nameplate(
    section: MotorSection, faults: list[Fault], warnings: list[Fault]
) -> Nameplate | None:
    """Return the nameplate after its cross-checks, or None when it has no power or poles."""
    from cagewise.machine import motor_build as build

    nameplate = build.nameplate(section, faults, warnings)
    if nameplate is not None:
        result = crosscheck(nameplate, build.cage(section))
        faults += result.errors
        warnings += result.warnings
    return nameplate


def _require_circuit(nameplate: Nameplate, faults: list[Fault]) -> None:
    """Add a fault when no equivalent circuit at all can have this nameplate."""
    from cagewise.machine.nameplate_draws import machine_draws

    try:
        machine_draws(nameplate)
    except MotorFileError as error:
        faults.append(Fault(error.where, error.what, error.remedy))


def _bearings(entries: object, faults: list[Fault]) -> tuple[Bearing, ...]:
    """Return the bearings, adding faults of each entry."""
    from cagewise.machine import motor_build as build
    from cagewise.machine.motor_faults import validated
    from cagewise.machine.motor_schema import BearingSection

    if not isinstance(entries, list):
        remedy = "Write [[bearings]], in double brackets, once per bearing."
        faults.append(Fault("[bearings]", "must be a list of tables", remedy))
        return ()
    sections = [
        validated(BearingSection, entry, f"[[bearings]] no. {number}", faults)
        for number, entry in enumerate(entries, start=1)
    ]
    return tuple(build.bearing(section) for section in sections if section is not None)
