"""The options of the commands that serve the workbench."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class ServedPlant:
    """Which plant."""

    plant: Path | None = None
    """Folder of the plant; else the environment variable CAGEWISE_PLANT, else ./plant."""


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class ServeOptions(ServedPlant):
    """Where, and for whom."""

    host: str = "127.0.0.1"
    """Address to serve at; this machine only if left out."""
    port: int = 8730
    """Port to serve at; 0 takes any that is free."""
    browse: Annotated[bool, Parameter(name="--open")] = False
    """Open the workbench in the browser of this machine."""


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class RemoteOptions:
    """What serving other machines needs."""

    allow_remote: bool = False
    """Serve other machines too. Everybody then needs an account ("cagewise account add")."""
    name: list[str] = field(default_factory=list)
    """Name under which others reach this machine, as motors.plant.example. Repeatable."""
    certificate: Path | None = None
    """PEM file of a certificate: what is sent is then encrypted."""
    key: Path | None = None
    """PEM file of its private key."""
    behind_proxy: bool = False
    """A proxy on this machine encrypts, and says who asks (X-Forwarded-For, -Proto)."""
