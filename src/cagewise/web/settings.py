"""What the workbench is started with."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

MEBIBYTE = 1 << 20
PORT = 8730


@dataclass(frozen=True, slots=True, kw_only=True)
class WebSettings:
    """Where the workbench serves which plant, to whom."""

    plant: Path
    """Folder of the plant."""
    host: str = "127.0.0.1"
    port: int = PORT
    allow_remote: bool = False
    """Serve other machines; then everybody has an account."""
    names: tuple[str, ...] = ()
    """Host names under which others reach it, beside :attr:`host` and the name of the machine."""
    certificate: Path | None = None
    """PEM file with the certificate and what it was signed with; then the connection is
    encrypted."""
    key: Path | None = None
    """PEM file with its private key."""
    behind_proxy: bool = False
    """A proxy on this machine ends the encryption and says who asks (X-Forwarded-*)."""
    largest_upload_bytes: int = 2048 * MEBIBYTE
    largest_form_bytes: int = 2 * MEBIBYTE
    processes: int = 1
    """Jobs that run at the same time."""
    show_style: bool = False
    """Serve ``/style``, the page of all parts of the style sheet."""
