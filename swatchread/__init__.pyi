from .archive.store import Archive as Archive
from .chart.definition import ChartDefinition as ChartDefinition
from .chart.definition import load_chart as load_chart
from .comparison.comparison_result import Comparison as Comparison
from .comparison.comparison_result import Series as Series
from .comparison.fusion import fuse as fuse
from .comparison.pair import compare as compare
from .comparison.pair import follow as follow
from .note.model import Note as Note
from .note.model import Swatch as Swatch
from .note.model import load_note as load_note
from .note.model import parse_note as parse_note
from .palette.answer_records import Correction as Correction
from .palette.answer_records import Matches as Matches
from .palette.answer_records import Prediction as Prediction
from .palette.answers import match as match
from .palette.answers import nudge as nudge
from .palette.answers import predict as predict
from .palette.card_sources import learn as learn
from .palette.fitted_palette import FittedPalette as FittedPalette
from .palette.plan_answer import plan as plan
from .palette.plan_records import Plan as Plan
from .reading import Reading as Reading
from .reading import read_card as read_card
from .reading import read_cards as read_cards
from .reading import read_photo as read_photo

__version__: str
