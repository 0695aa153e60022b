"""Exit statuses: what a script may rely on."""

from __future__ import annotations

from enum import IntEnum


class ExitStatus(IntEnum):
    """Exit status of the command line, documented in the README and in ``--help``."""

    EXAMINED = 0
    """The work was done. A finding about the motor is no error."""
    USAGE = 2
    """Unknown option, missing argument."""
    UNREADABLE = 3
    """A motor file, a recording or a test sheet cannot be used."""
    NEEDS_ANSWER = 4
    """It is not certain which channel is which; the message prints the option that says it."""
    NOT_SOUND = 5
    """With ``--gate``: cage, winding or insulation is suspect or defective."""
    NOT_DECIDABLE = 6
    """With ``--gate``: what was measured cannot answer, or answers with a reservation: sound of
    open bars only, or sound although a defect (a crack) is more probable than not."""
    NOT_WRITTEN = 7
    """A result could not be written; existing files are left as they are without ``--force``. Or a
    finding could not be posted; it is kept and waits."""
    MISSING_EXTRA = 8
    """A file format needs an optional part of the installation."""
    PLANT = 9
    """The plant cannot be used: not there, locked, full, damaged; or it knows nothing of that
    name."""
    INTERNAL = 70
    """A fault of the program itself."""
    INTERRUPTED = 130
    """Stopped from the keyboard."""
    READER_GONE = 141
    """Whatever read the output closed it (as shells count a closed pipe); no gate was passed."""


MEANINGS = {
    ExitStatus.EXAMINED: "done; a finding about the motor is no error",
    ExitStatus.USAGE: "unknown option or missing argument",
    ExitStatus.UNREADABLE: "a motor file, a recording or a test sheet cannot be used",
    ExitStatus.NEEDS_ANSWER: "it is not certain which channel is which",
    ExitStatus.NOT_SOUND: "with --gate: cage, winding or insulation is suspect or defective",
    ExitStatus.NOT_DECIDABLE: "with --gate: what was measured cannot answer, or only for open bars",
    ExitStatus.NOT_WRITTEN: "a result was not written, or a finding not posted",
    ExitStatus.MISSING_EXTRA: "an optional part of the installation is needed",
    ExitStatus.PLANT: "the plant cannot be used, or has nothing of that name",
    ExitStatus.INTERNAL: "a fault of the program",
    ExitStatus.INTERRUPTED: "stopped from the keyboard",
    ExitStatus.READER_GONE: "the reader of the output closed it",
}
"""Every status in words, for ``--help``."""
