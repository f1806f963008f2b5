"""SQLModel tables, one file per noun. Importing the room registers every table and the full-text index."""

from app.records.audition import Audition
from app.records.blend import Blend
from app.records.blind_choice import BlindChoice, HearingTest
from app.records.gear import Control, ControlLayout, Gear
from app.records.hook_up_plan import HookUpPlan
from app.records.keeper_mark import KeeperMark
from app.records.measurement import Measurement
from app.records.mic_placement import MicPlacement
from app.records.passes import ChainStep, Pass, Setting
from app.records.photo import Photo
from app.records.prints import Print
from app.records.project import Project
from app.records.sound_level import SoundLevel
from app.records.source_track import SourceTrack
from app.records.stored_file import StoredFile
from app.records.written_words import PLACES, WRITTEN, WrittenField, entry_of, rebuild

__all__ = [
    "PLACES",
    "WRITTEN",
    "Audition",
    "Blend",
    "BlindChoice",
    "ChainStep",
    "Control",
    "ControlLayout",
    "Gear",
    "HearingTest",
    "HookUpPlan",
    "KeeperMark",
    "Measurement",
    "MicPlacement",
    "Pass",
    "Photo",
    "Print",
    "Project",
    "Setting",
    "SoundLevel",
    "SourceTrack",
    "StoredFile",
    "WrittenField",
    "entry_of",
    "rebuild",
]
