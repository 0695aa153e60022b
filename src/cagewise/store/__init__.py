"""What is kept of a plant: motors, visits, measurements, examinations, cases, outcomes.

No opinion and no computing: what goes in comes out, unchanged. See docs/history.md.
"""

from cagewise.store.archive import Exported, Restored, Verified, export, restore, verify
from cagewise.store.arrival import Decoded
from cagewise.store.examination_keys import ExaminationKeys
from cagewise.store.inspection import Inspection, inspect
from cagewise.store.outbox import UnsentMessage
from cagewise.store.plant import Plant
from cagewise.store.records import (
    Attachment,
    BarDamage,
    BarPlace,
    Case,
    Decision,
    Event,
    ExaminationDocument,
    ExaminationInput,
    Found,
    FoundBar,
    Imported,
    KeptExamination,
    KeptReading,
    KeptRecording,
    KeptSheet,
    Message,
    MotorEntry,
    NameplateVersion,
    NewExamination,
    Note,
    Original,
    Outcome,
    Repair,
    Sensor,
    SourceFile,
    Visit,
    Waveform,
)

__all__ = [
    "Attachment",
    "BarDamage",
    "BarPlace",
    "Case",
    "Decision",
    "Decoded",
    "Event",
    "ExaminationDocument",
    "ExaminationInput",
    "ExaminationKeys",
    "Exported",
    "Found",
    "FoundBar",
    "Imported",
    "Inspection",
    "KeptExamination",
    "KeptReading",
    "KeptRecording",
    "KeptSheet",
    "Message",
    "MotorEntry",
    "NameplateVersion",
    "NewExamination",
    "Note",
    "Original",
    "Outcome",
    "Plant",
    "Repair",
    "Restored",
    "Sensor",
    "SourceFile",
    "UnsentMessage",
    "Verified",
    "Visit",
    "Waveform",
    "export",
    "inspect",
    "restore",
    "verify",
]
