"""The commands of the workbench: serve it, and manage who may come in. Nothing heavy before."""

from __future__ import annotations

import getpass
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import App, Parameter

from cagewise.cli.serve_options import RemoteOptions, ServedPlant, ServeOptions
from cagewise.cli.status import ExitStatus
from cagewise.cli.streams import Streams
from cagewise.errors import MissingExtraError, UsageError

if TYPE_CHECKING:
    from cagewise.web.keeping import Workbench
    from cagewise.web.settings import WebSettings

Injected = Annotated[Streams, Parameter(parse=False)]
_NOT_ENCRYPTED = (
    "cagewise: what is sent is not encrypted: passwords and measurements can be read on the way. "
    "Give --certificate and --key, or put a proxy before it (docs/workbench.md).\n"
)


def add_serve_commands(app: App) -> None:
    """Give a command line the commands of the workbench."""
    accounts = App(
        name="account",
        help="Who may use the workbench from elsewhere: add, list, remove, password.",
    )
    for name, command in (
        ("add", account_add),
        ("list", account_list),
        ("remove", account_remove),
        ("password", account_password),
    ):
        accounts.command(command, name=name)
    app.command(serve)
    app.command(accounts)


def serve(
    *,
    options: ServeOptions | None = None,
    remote: RemoteOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Serve the plant in a browser, on this machine, until Ctrl-C."""
    _require_extra()
    from cagewise.web.server import serve as run

    settings = _settings(options or ServeOptions(), remote or RemoteOptions())
    if settings.allow_remote and settings.certificate is None and not settings.behind_proxy:
        streams.err.write(_NOT_ENCRYPTED)

    def say(address: str) -> None:
        streams.out.write(f"{settings.plant}: {address}\nCtrl-C ends it.\n")
        streams.out.flush()

    run(settings, say, browse=(options or ServeOptions()).browse)
    streams.out.write("ended\n")
    return ExitStatus.EXAMINED


def account_add(
    name: str,
    /,
    *,
    right: Literal["read", "write", "admin"] = "write",
    plant: ServedPlant | None = None,
    streams: Injected,
) -> ExitStatus:
    """Add an account; its password is asked for, or read from the input.

    Parameters
    ----------
    name
        It signs what is decided.
    right
        read: look at everything; write: measure, examine, decide; admin: also manage accounts.
    """
    _require_extra()
    from cagewise.web.security.accounts import Accounts
    from cagewise.web.security.rights import Right

    with _workbench(plant) as workbench:
        account = Accounts(workbench).add(name, _password(streams), Right.of(right))
    streams.out.write(f"{account.name} may {account.right.word}.\n")
    return ExitStatus.EXAMINED


def account_list(*, plant: ServedPlant | None = None, streams: Injected) -> ExitStatus:
    """List the accounts."""
    _require_extra()
    from cagewise.web.security.accounts import Accounts

    with _workbench(plant) as workbench:
        accounts = Accounts(workbench).all()
    for account in accounts:
        streams.out.write(f"{account.right.word:<6} {account.name}\n")
    if not accounts:
        streams.out.write(
            "There are no accounts: whoever sits at this machine may do everything.\n"
        )
    return ExitStatus.EXAMINED


def account_remove(
    name: str, /, *, plant: ServedPlant | None = None, streams: Injected
) -> ExitStatus:
    """Remove an account, its sessions and its tokens; without the last one, nobody logs in.

    Parameters
    ----------
    name
        Of the account.
    """
    _require_extra()
    from cagewise.web.security.accounts import Accounts

    with _workbench(plant) as workbench:
        accounts = Accounts(workbench)
        account = accounts.named(name)
        accounts.remove(account.id, last=True)
    streams.out.write(f"{account.name} is removed.\n")
    return ExitStatus.EXAMINED


def account_password(
    name: str, /, *, plant: ServedPlant | None = None, streams: Injected
) -> ExitStatus:
    """Give an account another password; its browsers and programs have to log in again.

    Parameters
    ----------
    name
        Of the account.
    """
    _require_extra()
    from cagewise.web.security.accounts import Accounts

    with _workbench(plant) as workbench:
        accounts = Accounts(workbench)
        account = accounts.named(name)
        accounts.set_password(account.id, _password(streams))
    streams.out.write(f"{account.name} has another password.\n")
    return ExitStatus.EXAMINED


def _settings(options: ServeOptions, remote: RemoteOptions) -> WebSettings:
    """Return what the workbench is started with."""
    from cagewise.web.settings import WebSettings
    from cagewise.workflows.plant_folder import plant_folder

    if (remote.certificate is None) != (remote.key is None):
        raise UsageError("--certificate and --key belong together", where="--certificate")
    return WebSettings(
        plant=plant_folder(options.plant),
        host=options.host,
        port=_port(options.port),
        allow_remote=remote.allow_remote,
        names=tuple(remote.name),
        certificate=_file(remote.certificate, "--certificate"),
        key=_file(remote.key, "--key"),
        behind_proxy=remote.behind_proxy,
    )


def _port(stated: int) -> int:
    """Return a port that can be one."""
    if not 0 <= stated <= 0xFFFF:
        raise UsageError(f"must be between 0 and 65535, got {stated}", where="--port")
    return stated


def _file(stated: Path | None, option: str) -> Path | None:
    """Return a file that is there."""
    if stated is not None and not stated.is_file():
        raise UsageError(f"there is no file {stated}", where=option)
    return stated


def _workbench(plant: ServedPlant | None) -> Workbench:
    """Return what the workbench of a plant keeps, open."""
    from cagewise.web.keeping import Workbench
    from cagewise.workflows.plant_folder import plant_folder

    return Workbench.open(plant_folder((plant or ServedPlant()).plant))


def _password(streams: Streams) -> str:
    """Return a password: asked for twice at a terminal, else the first line of the input.

    It is never an argument: those can be read by everybody on the machine.
    """
    if sys.stdin is None:
        raise UsageError("there is no input to read the password from", where="password")
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    password = getpass.getpass("Password (12 characters or more): ", streams.err)
    if getpass.getpass("Once more: ", streams.err) != password:
        raise UsageError("the two are not the same", where="password", remedy="Do it again.")
    return password


def _require_extra() -> None:
    """Raise if the libraries of the workbench are not installed."""
    from importlib.util import find_spec

    missing = [name for name in ("argon2", "fastapi", "uvicorn") if find_spec(name) is None]
    if missing:
        raise MissingExtraError(
            f"the workbench needs {', '.join(missing)}", remedy="pip install 'cagewise[web]'"
        )
