"""SQLModel tables, one file per noun. Importing the room registers every table and the full-text index."""

from app.records.audition import Audition
from app.records.blend import SOURCE_LANE, Blend
from app.records.blind_choice import BlindChoice, HearingTest
from app.records.device import Device
from app.records.draft import Draft, DraftPhoto, DraftState, ReceivedJotting
from app.records.examination import Examination
from app.records.gear import Control, ControlLayout, Gear
from app.records.hook_up_plan import HookUpPlan
from app.records.keeper_mark import KeeperMark
from app.records.measurement import MeasuredFinding, Measurement
from app.records.mic_placement import MicPlacement
from app.records.note import Note
from app.records.panel_photo import PanelPhoto
from app.records.passes import ChainStep, Pass, PassTag, Setting
from app.records.photo import Photo
from app.records.photo_pin import PhotoPin
from app.records.prints import Print, PrintRepeat
from app.records.project import Project
from app.records.recall import Recall, RecallMark, RecallPhoto, RecallSubstitute, RecallTry
from app.records.reference_signal import ReferencePrint, ReferenceSignal
from app.records.referred_file import ReferredFile
from app.records.setting_crop import DraftCrop, SettingCrop
from app.records.shared_row import SharedRow
from app.records.sound_level import SoundLevel
from app.records.sound_shape import SoundShape
from app.records.source_track import SourceTrack
from app.records.stored_file import StoredFile
from app.records.watched_folder import Arrival, WatchedFolder
from app.records.work_state import WorkState
from app.records.written_words import PLACES, WRITTEN, WrittenField, entry_of

__all__ = [
    "PLACES",
    "SOURCE_LANE",
    "WRITTEN",
    "Arrival",
    "Audition",
    "Blend",
    "BlindChoice",
    "ChainStep",
    "Control",
    "ControlLayout",
    "Device",
    "Draft",
    "DraftCrop",
    "DraftPhoto",
    "DraftState",
    "Examination",
    "Gear",
    "HearingTest",
    "HookUpPlan",
    "KeeperMark",
    "MeasuredFinding",
    "Measurement",
    "MicPlacement",
    "Note",
    "PanelPhoto",
    "Pass",
    "PassTag",
    "Photo",
    "PhotoPin",
    "Print",
    "PrintRepeat",
    "Project",
    "Recall",
    "RecallMark",
    "RecallPhoto",
    "RecallSubstitute",
    "RecallTry",
    "ReceivedJotting",
    "ReferencePrint",
    "ReferenceSignal",
    "ReferredFile",
    "Setting",
    "SettingCrop",
    "SharedRow",
    "SoundLevel",
    "SoundShape",
    "SourceTrack",
    "StoredFile",
    "WatchedFolder",
    "WorkState",
    "WrittenField",
    "entry_of",
]
