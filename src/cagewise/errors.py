"""The exception tree: what went wrong, where, and what to do about it.

A finding about a motor is never an exception, and neither is "cannot tell": both are results.
Exceptions are for input that cannot be used at all.
"""


class CagewiseError(Exception):
    """Base of all errors raised on purpose.

    Parameters
    ----------
    what
        What is wrong, as a clause: ``"the file is empty"``.
    where
        The file, line, key or channel in question; empty when there is no place to name.
    remedy
        What the reader of the message can do about it; empty when nothing can be said.
    """

    def __init__(self, what: str, *, where: str = "", remedy: str = "") -> None:
        self.what = what
        self.where = where
        self.remedy = remedy
        super().__init__(what, where, remedy)

    def __str__(self) -> str:
        head = f"{self.where}: {self.what}" if self.where else self.what
        return f"{head}. {self.remedy}" if self.remedy else head


class InputError(CagewiseError, ValueError):
    """Input from outside (a file, an option) cannot be used."""


class MotorFileError(InputError):
    """The motor file is unreadable, has unknown keys, or describes an impossible motor."""


class RecordingError(InputError):
    """A recording cannot be read: missing, truncated, empty, or not what it claims to be."""


class SheetError(InputError):
    """A test sheet cannot be used: unreadable, unknown headings, or a reading out of all range."""


class ChannelRoleError(InputError):
    """It is not certain which channel is which, and the user has to say."""


class SimulationError(CagewiseError, RuntimeError):
    """A simulated machine stalled, ran away, or could not be computed accurately enough."""


class MissingExtraError(CagewiseError, ImportError):
    """An optional part of the installation is needed for this."""


class OutputError(CagewiseError):
    """A result cannot be written, or would replace a file that nobody allowed to be replaced."""


class StoreError(CagewiseError):
    """Something that a plant keeps cannot be written, read or found; nothing kept was changed."""


class PlantFolderError(StoreError):
    """A folder is no plant, is half a plant of somebody else, or is one already."""


class NotKeptError(StoreError, LookupError):
    """The plant knows nothing of that name: a motor, a case, a recording."""


class AlreadyKeptError(StoreError):
    """The plant has one of that name, and it says something else."""


class StoreFullError(StoreError):
    """No space is left where the plant is kept."""


class StoreReadOnlyError(StoreError):
    """The plant may be read, not written."""


class StoreLockedError(StoreError):
    """Somebody else is writing and did not end within the patience of this program."""


class StoreUnreachableError(StoreError):
    """The database server, or the place of the waveforms, does not answer."""


class NewerSchemaError(StoreError):
    """The plant was written by a later version of the program."""


class MissingFileError(StoreError):
    """A file that the plant should hold is not there."""


class DamagedFileError(StoreError):
    """A file that the plant holds is not what was put into it."""


class ArchiveError(StoreError):
    """An archive of a plant cannot be restored: damaged, incomplete, or made to do harm."""


class UsageError(CagewiseError):
    """The command line was called in a way it does not know."""
