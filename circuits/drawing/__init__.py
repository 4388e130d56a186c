"""Draw a circuit: a sheet goes in, SVG comes out. No Django here, and nothing is stored.

The way: `plan` makes cells of parts, `rows` and `ranks` put them in rows, `channels` leads the
wires, `measures` judges, `symbols` and `svg` draw; `state` asks the engine what a phase does.
"""

from circuits.drawing.face import FacePicture, draw_face, face_pictures, rows_of
from circuits.drawing.flow import heights
from circuits.drawing.layout import Nudges
from circuits.drawing.measures import Measures
from circuits.drawing.picture import Drawing, draw
from circuits.drawing.state import BANDS, LOOSE_BAND, Band, PhaseState, band_of, states_of
from circuits.drawing.stripes import Leg, Marks

__all__ = [
    "BANDS",
    "LOOSE_BAND",
    "Band",
    "Drawing",
    "FacePicture",
    "Leg",
    "Marks",
    "Measures",
    "Nudges",
    "PhaseState",
    "band_of",
    "draw",
    "draw_face",
    "face_pictures",
    "heights",
    "rows_of",
    "states_of",
]
