"""Motors and the versions of their nameplates."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import asdict, fields
from datetime import date
from difflib import get_close_matches
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from sqlalchemy import Select, case, select
from sqlalchemy.orm import Session, aliased

from cagewise.errors import AlreadyKeptError, MotorFileError, NotKeptError
from cagewise.store.context import Context, insert_if_absent
from cagewise.store.records import MotorEntry, NameplateVersion, Sensor, checksum_of
from cagewise.store.tables.motor import MotorRow, NameplateRow, SensorRow
from cagewise.store.tables.plant import SiteRow

if TYPE_CHECKING:
    from cagewise.machine.motor import Motor

_WHERE = "motor file"

FACTS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "motor": ("rotor_bars", "stator_slots", "coil_span_slots", "rotor_slots", "cage"),
        "winding": ("construction", "built_year", "insulation"),
        "criticality": ("spare", "false_pull_cost", "miss_cost"),
    }
)
"""What of a motor file is kept beside it: thousands of files take a second to read, a ranking has
a third of it. Another key needs a revision that fills the old rows."""


class Motors:
    """The motors of a plant."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._database = context.database

    def add(
        self, toml: str, *, site: str = "", tag: str = "", valid_from: date | None = None
    ) -> MotorEntry:
        """Add a motor.

        Parameters
        ----------
        toml
            Its motor file, kept as it is.
        site
            Where it is, when tags repeat between places.
        tag
            Used when the motor file states none.
        valid_from
            First day on which the nameplate was this one; today if None.

        Raises
        ------
        MotorFileError
            If the motor file cannot be used.
        AlreadyKeptError
            If the tag is taken at this site.
        """
        motor = parse(toml, tag)
        with self._database.writing() as session:
            insert_if_absent(session, SiteRow, {"name": site})
            site_id = session.scalars(select(SiteRow.id).where(SiteRow.name == site)).one()
            key = tag_key(motor.tag)
            row = {
                "site_id": site_id,
                "tag": motor.tag,
                "tag_key": key,
                "added_at": self._context.now(),
            }
            if not insert_if_absent(session, MotorRow, row):
                raise AlreadyKeptError(
                    f"there is a motor {motor.tag!r}" + (f" at {site!r}" if site else ""),
                    where=_WHERE,
                    remedy="Edit it, or give this one another tag.",
                )
            motor_id = session.scalars(
                select(MotorRow.id).where(MotorRow.site_id == site_id, MotorRow.tag_key == key)
            ).one()
            session.add(self._version(motor_id, toml, motor, valid_from, ""))
            session.flush()
            return self._entry(session, motor_id)

    def edit(
        self, motor: MotorEntry, toml: str, *, valid_from: date | None = None, note: str = ""
    ) -> NameplateVersion:
        """Add a version of a nameplate; the old ones stay.

        Editing to what is already there keeps one version.

        Parameters
        ----------
        motor
            The motor.
        toml
            Its new motor file.
        valid_from
            First day on which the motor was like this (a repair, a new sensor); today if None. A
            correction of an older version has its day.
        note
            Why.

        Raises
        ------
        MotorFileError
            If the motor file cannot be used, or is of another motor.
        """
        parsed = parse(toml, motor.tag)
        if tag_key(parsed.tag) != tag_key(motor.tag):
            raise MotorFileError(
                f"it is of motor {parsed.tag!r}, not of {motor.tag!r}",
                where=_WHERE,
                remedy="Add it as a new motor, or correct the tag.",
            )
        day = valid_from or self._context.today()
        with self._database.writing() as session:
            valid = session.scalars(_valid_on(day).where(NameplateRow.motor_id == motor.id)).first()
            if valid is not None and valid.toml == toml:
                return _version_of(valid)
            row = self._version(motor.id, toml, parsed, day, note)
            session.add(row)
            session.flush()
            return _version_of(row)

    def find(self, tag: str, *, site: str | None = None) -> MotorEntry:
        """Return the motor with a tag; spaces and letter case do not count.

        Raises
        ------
        NotKeptError
            If there is none, with the tags that are most like it, or several sites have one.
        """
        with self._database.reading() as session:
            found = session.execute(
                select(MotorRow.id, SiteRow.name)
                .join(SiteRow)
                .where(MotorRow.tag_key == tag_key(tag))
            ).all()
            at_site = [row for row in found if site is None or row.name == site]
            if len(at_site) == 1:
                return self._entry(session, at_site[0].id)
            if at_site:
                names = ", ".join(sorted(repr(row.name) for row in at_site))
                raise NotKeptError(
                    f"several sites have a motor {tag!r}", remedy=f"Name the site: {names}."
                )
            tags = session.scalars(select(MotorRow.tag)).all()
        raise NotKeptError(f"there is no motor {tag!r}", remedy=_similar(tag, tags))

    def get(self, motor_id: int) -> MotorEntry:
        """Return the motor of a number that a record holds."""
        with self._database.reading() as session:
            return self._entry(session, motor_id)

    def all(self, *, site: str | None = None, on: date | None = None) -> Sequence[MotorEntry]:
        """Return all motors as they are on a day (today if None), by site and tag."""
        with self._database.reading() as session:
            statement = _entries(on or self._context.today())
            if site is not None:
                statement = statement.where(SiteRow.name == site)
            return [MotorEntry(**row) for row in session.execute(statement).mappings()]

    def sites(self) -> Sequence[str]:
        """Return the names of all sites."""
        with self._database.reading() as session:
            return session.scalars(select(SiteRow.name).order_by(SiteRow.name)).all()

    def nameplate(self, motor: MotorEntry, *, on: date | None = None) -> NameplateVersion:
        """Return the version that counts on a day; before the first, the first."""
        with self._database.reading() as session:
            day = on or self._context.today()
            row = session.scalars(_valid_on(day).where(NameplateRow.motor_id == motor.id)).one()
            return _version_of(row)

    def nameplates(self, motor: MotorEntry) -> Sequence[NameplateVersion]:
        """Return all versions, by the day from which they count, then as they were added."""
        with self._database.reading() as session:
            rows = session.scalars(
                select(NameplateRow)
                .where(NameplateRow.motor_id == motor.id)
                .order_by(NameplateRow.valid_from, NameplateRow.id)
            )
            return [_version_of(row) for row in rows]

    def files(self, motors: Sequence[MotorEntry]) -> Mapping[int, str]:
        """Return the motor files that count for many motors at once, by the motor's number."""
        wanted = {motor.nameplate_id: motor.id for motor in motors}
        chosen = select(NameplateRow.id, NameplateRow.toml)
        if len(wanted) == 1:
            chosen = chosen.where(NameplateRow.id == next(iter(wanted)))
        with self._database.reading() as session:
            return {wanted[n]: toml for n, toml in session.execute(chosen) if n in wanted}

    def add_sensor(self, motor: MotorEntry, sensor: Sensor) -> Sensor:
        """Note a sensor that stays on a motor."""
        with self._database.writing() as session:
            row = SensorRow(motor_id=motor.id, added_at=self._context.now(), **_of_sensor(sensor))
            session.add(row)
            session.flush()
            return _sensor(row)

    def change_sensor(self, sensor: Sensor) -> Sensor:
        """Note a new state of a sensor: calibrated, removed."""
        with self._database.writing() as session:
            row = session.get(SensorRow, sensor.id)
            if row is None:
                raise NotKeptError(f"there is no sensor number {sensor.id}")
            for name, value in _of_sensor(sensor).items():
                setattr(row, name, value)
            return _sensor(row)

    def sensors(self, motor: MotorEntry) -> Sequence[Sensor]:
        """Return the sensors of a motor, removed ones too."""
        with self._database.reading() as session:
            rows = session.scalars(
                select(SensorRow).where(SensorRow.motor_id == motor.id).order_by(SensorRow.id)
            )
            return [_sensor(row) for row in rows]

    def _version(
        self, motor_id: int, toml: str, motor: Motor, valid_from: date | None, note: str
    ) -> NameplateRow:
        outage = motor.criticality.next_outage
        return NameplateRow(
            motor_id=motor_id,
            valid_from=valid_from or self._context.today(),
            toml=toml,
            checksum=checksum_of(toml.encode("utf-8")),
            added_at=self._context.now(),
            note=note,
            description=motor.description,
            criticality=motor.criticality.level,
            rated_power_w=motor.nameplate.rated_power_w,
            next_outage=None if outage is None else date.fromisoformat(outage),
            facts=facts_of(tomllib.loads(toml)),
        )

    def _entry(self, session: Session, motor_id: int) -> MotorEntry:
        statement = _entries(self._context.today()).where(MotorRow.id == motor_id)
        row = session.execute(statement).mappings().first()
        if row is None:
            raise NotKeptError(f"there is no motor number {motor_id}")
        return MotorEntry(**row)


def parse(toml: str, tag: str) -> Motor:
    """Return the motor of a motor file.

    Raises
    ------
    MotorFileError
        If it cannot be used, or neither it nor ``tag`` says which motor it is.
    """
    from cagewise.machine.motor_file import motor_from_mapping

    try:
        content = tomllib.loads(toml)
    except (ValueError, RecursionError) as error:
        raise MotorFileError(
            f"this is not TOML: {str(error)[:200]}",
            where=_WHERE,
            remedy='Write one "key = value" per line, text in quotes, decimals with a point.',
        ) from error
    motor = motor_from_mapping(content, where=_WHERE, default_tag=tag)
    if not tag_key(motor.tag):
        raise MotorFileError(
            "it does not say which motor it is", where=_WHERE, remedy="State `tag` in [motor]."
        )
    return motor


def facts_of(content: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    """Return what a parsed motor file states of :data:`FACTS`."""
    sections = {section: content.get(section, {}) for section in FACTS}
    return {
        section: {name: sections[section][name] for name in names if name in sections[section]}
        for section, names in FACTS.items()
    }


def tag_key(tag: str) -> str:
    """Return a tag as it is compared."""
    return "".join(tag.split()).casefold()


def _valid_on(day: date) -> Select[NameplateRow]:
    """Select the nameplate that counts on a day."""
    return select(NameplateRow).order_by(*_counting(NameplateRow, day)).limit(1)


def _counting(table: type[NameplateRow], day: date) -> tuple[Any, ...]:
    """Return the order of nameplates: begun before not, nearest to the day, last added."""
    begun = table.valid_from <= day
    return (
        case((begun, 0), else_=1),
        case((begun, table.valid_from)).desc(),
        table.valid_from,
        table.id.desc(),
    )


def _entries(day: date) -> Select[*tuple[Any, ...]]:
    """Select motors with the nameplate that counts on a day."""
    other = aliased(NameplateRow)
    counts = (
        select(other.id)
        .where(other.motor_id == MotorRow.id)
        .order_by(*_counting(other, day))
        .limit(1)
        .scalar_subquery()
    )
    return (
        select(
            MotorRow.id,
            SiteRow.name.label("site"),
            MotorRow.tag,
            NameplateRow.description,
            NameplateRow.criticality,
            NameplateRow.rated_power_w,
            NameplateRow.next_outage,
            NameplateRow.id.label("nameplate_id"),
            NameplateRow.valid_from,
            NameplateRow.facts,
        )
        .join(SiteRow, SiteRow.id == MotorRow.site_id)
        .join(NameplateRow, NameplateRow.id == counts)
        .order_by(SiteRow.name, MotorRow.tag_key)
    )


def _version_of(row: NameplateRow) -> NameplateVersion:
    """Return a row as a record."""
    return NameplateVersion(
        id=row.id,
        motor_id=row.motor_id,
        valid_from=row.valid_from,
        toml=row.toml,
        checksum=row.checksum,
        added_at=row.added_at,
        note=row.note,
    )


def _of_sensor(sensor: Sensor) -> dict[str, Any]:
    """Return the columns of a sensor."""
    values = asdict(sensor)
    del values["id"]
    return values


def _sensor(row: SensorRow) -> Sensor:
    """Return a row as a record."""
    return Sensor(**{each.name: getattr(row, each.name) for each in fields(Sensor)})


def _similar(tag: str, tags: Sequence[str]) -> str:
    """Return what somebody may have meant."""
    keys = {tag_key(each): each for each in tags}
    close = get_close_matches(tag_key(tag), keys, n=3)
    if not close:
        return f"There are {len(tags)} motors; list them." if tags else "Add it first."
    return f"Did you mean {', '.join(repr(keys[key]) for key in close)}?"
