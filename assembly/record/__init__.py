"""What a run leaves behind: results as plain values, and the JSON file of them. All views are made from these.

The names below are loaded when they are first asked for: who reads a mechanism file needs few of them, and to make all
these classes takes a seventh of a short command.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from assembly.record.by_hand import DriveByHandEntry as DriveByHandEntry
    from assembly.record.by_hand import PartByHandEntry as PartByHandEntry
    from assembly.record.by_hand import PlayRecord as PlayRecord
    from assembly.record.by_hand import RimEntry as RimEntry
    from assembly.record.cable_entries import CableEntry as CableEntry
    from assembly.record.cable_entries import CableRunEntry as CableRunEntry
    from assembly.record.cable_entries import CablesEntry as CablesEntry
    from assembly.record.cable_entries import HoseNearEntry as HoseNearEntry
    from assembly.record.cable_entries import PullEntry as PullEntry
    from assembly.record.cable_entries import SplitterEndEntry as SplitterEndEntry
    from assembly.record.cable_entries import SplitterEntry as SplitterEntry
    from assembly.record.cabled import CablesRecord as CablesRecord
    from assembly.record.checked import AgreesWord as AgreesWord
    from assembly.record.checked import ChecksRecord as ChecksRecord
    from assembly.record.checked import CheckWord as CheckWord
    from assembly.record.checked import PrototypeCheckEntry as PrototypeCheckEntry
    from assembly.record.compared import AboutWord as AboutWord
    from assembly.record.compared import Change as Change
    from assembly.record.compared import Comparison as Comparison
    from assembly.record.compared import FigureChange as FigureChange
    from assembly.record.compared import JointChange as JointChange
    from assembly.record.compared import JointSide as JointSide
    from assembly.record.compared import MeasureChange as MeasureChange
    from assembly.record.compared import MeasureValues as MeasureValues
    from assembly.record.compared import PairChange as PairChange
    from assembly.record.compared import PairSide as PairSide
    from assembly.record.compared import ReachChange as ReachChange
    from assembly.record.compared import RequiredChange as RequiredChange
    from assembly.record.compared import RoundedWord as RoundedWord
    from assembly.record.compared import RunWord as RunWord
    from assembly.record.compared import TurnWord as TurnWord
    from assembly.record.cure_entries import CureEntry as CureEntry
    from assembly.record.cure_entries import NearerEntry as NearerEntry
    from assembly.record.entries import FORMAT as FORMAT
    from assembly.record.entries import LEAST_MISS as LEAST_MISS
    from assembly.record.entries import DimensionEntry as DimensionEntry
    from assembly.record.entries import DriveEntry as DriveEntry
    from assembly.record.entries import FindingEntry as FindingEntry
    from assembly.record.entries import FreedomEntry as FreedomEntry
    from assembly.record.entries import MachineEntry as MachineEntry
    from assembly.record.entries import MovedEntry as MovedEntry
    from assembly.record.entries import NotCheckedEntry as NotCheckedEntry
    from assembly.record.entries import PairEntry as PairEntry
    from assembly.record.entries import ProgramEntry as ProgramEntry
    from assembly.record.entries import Record as Record
    from assembly.record.entries import SolidEntry as SolidEntry
    from assembly.record.entries import TravelStopEntry as TravelStopEntry
    from assembly.record.entries import UnreachableEntry as UnreachableEntry
    from assembly.record.ground import THIN_MM as THIN_MM
    from assembly.record.ground import AddedEntry as AddedEntry
    from assembly.record.ground import GroundPartEntry as GroundPartEntry
    from assembly.record.ground import GroundPlaceEntry as GroundPlaceEntry
    from assembly.record.ground import GroundRecord as GroundRecord
    from assembly.record.helping import AnswerEntry as AnswerEntry
    from assembly.record.helping import FigureEntry as FigureEntry
    from assembly.record.helping import GoverningEntry as GoverningEntry
    from assembly.record.helping import HelpRecord as HelpRecord
    from assembly.record.helping import NoAnswerEntry as NoAnswerEntry
    from assembly.record.helping import NumberEntry as NumberEntry
    from assembly.record.helping import SlopeEntry as SlopeEntry
    from assembly.record.helping import WorseEntry as WorseEntry
    from assembly.record.inspected import EditEntry as EditEntry
    from assembly.record.inspected import InspectRecord as InspectRecord
    from assembly.record.inspected import LoopEntry as LoopEntry
    from assembly.record.inspected import MobilityEntry as MobilityEntry
    from assembly.record.inspected import PartEntry as PartEntry
    from assembly.record.inspected import SeatEntry as SeatEntry
    from assembly.record.inspected import ShapeEntry as ShapeEntry
    from assembly.record.inspected import TieEntry as TieEntry
    from assembly.record.joint_entries import FirstOutEntry as FirstOutEntry
    from assembly.record.joint_entries import HalfEntry as HalfEntry
    from assembly.record.joint_entries import JointEntry as JointEntry
    from assembly.record.joint_entries import RodEntry as RodEntry
    from assembly.record.jsonform import json_text as json_text
    from assembly.record.kept import PairPoint as PairPoint
    from assembly.record.kept import RunEntry as RunEntry
    from assembly.record.loaded import CarriedEntry as CarriedEntry
    from assembly.record.loaded import CaseEntry as CaseEntry
    from assembly.record.loaded import EffortEntry as EffortEntry
    from assembly.record.loaded import JointLoadEntry as JointLoadEntry
    from assembly.record.loaded import LoadsRecord as LoadsRecord
    from assembly.record.loaded import LoadWord as LoadWord
    from assembly.record.loaded import NotToldEntry as NotToldEntry
    from assembly.record.loaded import RatedWord as RatedWord
    from assembly.record.loaded import RatingEntry as RatingEntry
    from assembly.record.loaded import RollEntry as RollEntry
    from assembly.record.loaded import StopLoadEntry as StopLoadEntry
    from assembly.record.loaded import ToggleEntry as ToggleEntry
    from assembly.record.loaded_range import CaseRangeEntry as CaseRangeEntry
    from assembly.record.loaded_range import LargestEffortEntry as LargestEffortEntry
    from assembly.record.loaded_range import LargestEntry as LargestEntry
    from assembly.record.loaded_range import LoadRangeRecord as LoadRangeRecord
    from assembly.record.loaded_range import ToggleRangeEntry as ToggleRangeEntry
    from assembly.record.loaded_range import WorstRatingEntry as WorstRatingEntry
    from assembly.record.mapped import LostEntry as LostEntry
    from assembly.record.mapped import MapCell as MapCell
    from assembly.record.mapped import MapRecord as MapRecord
    from assembly.record.mapped import StillEntry as StillEntry
    from assembly.record.mapped import map_table as map_table
    from assembly.record.measure_entries import MeasureAtEntry as MeasureAtEntry
    from assembly.record.measure_entries import MeasureEntry as MeasureEntry
    from assembly.record.measure_entries import MeasureTermsEntry as MeasureTermsEntry
    from assembly.record.measure_entries import MeasureTrack as MeasureTrack
    from assembly.record.measured import MeasuresRecord as MeasuresRecord
    from assembly.record.moving_machine import DistanceGrid as DistanceGrid
    from assembly.record.moving_machine import MovingMachine as MovingMachine
    from assembly.record.moving_machine import MovingPart as MovingPart
    from assembly.record.moving_machine import OverlapSolid as OverlapSolid
    from assembly.record.moving_machine import PoseGrid as PoseGrid
    from assembly.record.moving_machine import SolvedPose as SolvedPose
    from assembly.record.pair_details import Contact as Contact
    from assembly.record.pair_details import EstimateEntry as EstimateEntry
    from assembly.record.pair_details import OverlapEntry as OverlapEntry
    from assembly.record.pair_details import RegionCell as RegionCell
    from assembly.record.pair_details import RegionEntry as RegionEntry
    from assembly.record.pair_details import TermsEntry as TermsEntry
    from assembly.record.posed import PairAtEntry as PairAtEntry
    from assembly.record.posed import PlaceEntry as PlaceEntry
    from assembly.record.posed import PoseRecord as PoseRecord
    from assembly.record.proposed import AllowedEntry as AllowedEntry
    from assembly.record.proposed import BoundEntry as BoundEntry
    from assembly.record.proposed import ContradictionEntry as ContradictionEntry
    from assembly.record.proposed import MarginEntry as MarginEntry
    from assembly.record.proposed import MendedEntry as MendedEntry
    from assembly.record.proposed import ProposalEntry as ProposalEntry
    from assembly.record.proposed import ProposalRecord as ProposalRecord
    from assembly.record.proposed import ValueEntry as ValueEntry
    from assembly.record.ranged import BreachEntry as BreachEntry
    from assembly.record.ranged import FarthestEntry as FarthestEntry
    from assembly.record.ranged import GovernorEntry as GovernorEntry
    from assembly.record.ranged import RangeCell as RangeCell
    from assembly.record.ranged import RangeRecord as RangeRecord
    from assembly.record.ranged import RuleEntry as RuleEntry
    from assembly.record.ranged import StopsEntry as StopsEntry
    from assembly.record.ranged import StretchEntry as StretchEntry
    from assembly.record.ranged import range_table as range_table
    from assembly.record.record_files import load_record as load_record
    from assembly.record.record_files import prepare_folder as prepare_folder
    from assembly.record.record_files import record_of as record_of
    from assembly.record.record_files import run_name as run_name
    from assembly.record.record_files import save as save
    from assembly.record.record_files import write_whole as write_whole
    from assembly.record.rod_turn_entries import LockEntry as LockEntry
    from assembly.record.rod_turn_entries import RodMeasureEntry as RodMeasureEntry
    from assembly.record.rod_turn_entries import RodStepEntry as RodStepEntry
    from assembly.record.rod_turn_entries import RodsTurnedEntry as RodsTurnedEntry
    from assembly.record.rod_turn_entries import RodTurnEntry as RodTurnEntry
    from assembly.record.rod_turn_entries import RodWayEntry as RodWayEntry
    from assembly.record.rod_turn_entries import TurnedWord as TurnedWord
    from assembly.record.rods import RodsRecord as RodsRecord
    from assembly.record.rods import RodSweepEntry as RodSweepEntry
    from assembly.record.rods import SpannerEntry as SpannerEntry
    from assembly.record.rods import SpannerWord as SpannerWord
    from assembly.record.spread import PlayEntry as PlayEntry
    from assembly.record.spread import SampledEntry as SampledEntry
    from assembly.record.spread import ShareEntry as ShareEntry
    from assembly.record.spread import SpreadFigureEntry as SpreadFigureEntry
    from assembly.record.spread import SpreadRecord as SpreadRecord
    from assembly.record.spread import ToleranceEntry as ToleranceEntry
    from assembly.record.stopped import ActsEntry as ActsEntry
    from assembly.record.stopped import ContactEntry as ContactEntry
    from assembly.record.stopped import DirectionEntry as DirectionEntry
    from assembly.record.stopped import EndEntry as EndEntry
    from assembly.record.stopped import GivenUpEntry as GivenUpEntry
    from assembly.record.stopped import HeldEntry as HeldEntry
    from assembly.record.stopped import LimitEntry as LimitEntry
    from assembly.record.stopped import NearEntry as NearEntry
    from assembly.record.stopped import PasteEntry as PasteEntry
    from assembly.record.stopped import PressEntry as PressEntry
    from assembly.record.stopped import ProofEntry as ProofEntry
    from assembly.record.stopped import StopEntry as StopEntry
    from assembly.record.stopped import StopsRecord as StopsRecord
    from assembly.record.stopped import StopWayEntry as StopWayEntry
    from assembly.record.stopped import StruckEntry as StruckEntry
    from assembly.record.stopped import ThreadEntry as ThreadEntry
    from assembly.record.surveyed import BuiltPairEntry as BuiltPairEntry
    from assembly.record.surveyed import BuiltSweepEntry as BuiltSweepEntry
    from assembly.record.surveyed import FittedEntry as FittedEntry
    from assembly.record.surveyed import KnownWord as KnownWord
    from assembly.record.surveyed import NextReadingEntry as NextReadingEntry
    from assembly.record.surveyed import ObservationEntry as ObservationEntry
    from assembly.record.surveyed import SidesEntry as SidesEntry
    from assembly.record.surveyed import SurveyRecord as SurveyRecord
    from assembly.record.threads import EngagementEntry as EngagementEntry
    from assembly.record.threads import HandWord as HandWord
    from assembly.record.threads import RodThreadEntry as RodThreadEntry
    from assembly.record.threads import ThreadedRodEntry as ThreadedRodEntry
    from assembly.record.tracked import FilmRecord as FilmRecord
    from assembly.record.tracked import LeftOutEntry as LeftOutEntry
    from assembly.record.tracked import ModelRecord as ModelRecord
    from assembly.record.tracked import TrackEntry as TrackEntry
    from assembly.record.values import Point as Point
    from assembly.record.values import Settings as Settings
    from assembly.record.values import UnsettledEntry as UnsettledEntry
    from assembly.record.values import VerdictWord as VerdictWord
    from assembly.record.varied import BestEntry as BestEntry
    from assembly.record.varied import PairLossEntry as PairLossEntry
    from assembly.record.varied import StateWord as StateWord
    from assembly.record.varied import VariantEntry as VariantEntry
    from assembly.record.varied import VariantJointEntry as VariantJointEntry
    from assembly.record.varied import VariantMeasureEntry as VariantMeasureEntry
    from assembly.record.varied import VariantPairEntry as VariantPairEntry
    from assembly.record.varied import VariantsRecord as VariantsRecord
    from assembly.record.varied import VariantStopEntry as VariantStopEntry
    from assembly.record.varied import VariedEntry as VariedEntry
    from assembly.record.weighed import AxisWord as AxisWord
    from assembly.record.weighed import BendEntry as BendEntry
    from assembly.record.weighed import CentreSpanEntry as CentreSpanEntry
    from assembly.record.weighed import LeanEntry as LeanEntry
    from assembly.record.weighed import LeanMomentEntry as LeanMomentEntry
    from assembly.record.weighed import PartWeightEntry as PartWeightEntry
    from assembly.record.weighed import RoadTurnOverEntry as RoadTurnOverEntry
    from assembly.record.weighed import TurnOverEntry as TurnOverEntry
    from assembly.record.weighed import WeightsRecord as WeightsRecord
    from assembly.record.weight_entry import WeightEntry as WeightEntry
    from assembly.record.wheel_entries import FrameLeanEntry as FrameLeanEntry
    from assembly.record.wheel_entries import LowestEntry as LowestEntry
    from assembly.record.wheel_entries import TurningEntry as TurningEntry
    from assembly.record.wheel_entries import WheelEntry as WheelEntry
    from assembly.record.wheel_entries import WheelFigureEntry as WheelFigureEntry
    from assembly.record.wheel_entries import WheelTables as WheelTables
    from assembly.record.wheeled import WheelsRecord as WheelsRecord
    from assembly.record.work_entry import WorkEntry as WorkEntry

_MODULES = (
    "values",
    "entries",
    "compared",
    "cure_entries",
    "ground",
    "helping",
    "inspected",
    "joint_entries",
    "jsonform",
    "kept",
    "loaded",
    "loaded_range",
    "mapped",
    "measure_entries",
    "measured",
    "moving_machine",
    "posed",
    "proposed",
    "ranged",
    "record_files",
    "rods",
    "spread",
    "stopped",
    "surveyed",
    "checked",
    "threads",
    "tracked",
    "varied",
    "weighed",
    "weight_entry",
    "wheel_entries",
    "wheeled",
    "work_entry",
    "cabled",
    "cable_entries",
    "pair_details",
    "rod_turn_entries",
    "by_hand",
)
"""Where a name is looked for, in this order; what is needed most comes first."""


def __getattr__(name: str) -> Any:
    if not name.startswith("_"):
        for module in _MODULES:
            made = import_module(f"{__name__}.{module}")
            if hasattr(made, name):
                globals()[name] = getattr(made, name)
                return globals()[name]
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
