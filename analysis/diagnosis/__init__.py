"""From the codes of a car in stock to the fixes worth trying, in order.

The texts of the codes give a first belief, past repairs correct it, a noisy-OR
weighs which parts together explain what was seen, and the order follows chance
per euro until handing the car over is cheaper.

Rooms, each importing only those before it: ``inputs`` (what comes in), ``model`` (parameters and noisy-OR),
``learning`` (fitting them), ``inference`` (one car's posterior), ``decision`` (the order of work); on them stand
``engine`` (fit, diagnose, explain) and ``shortlist``, and last ``evaluation``.
"""

from analysis.diagnosis.engine import CarDiagnosis, DiagnosisModel, Explanation, fit, stored_calibration
from analysis.diagnosis.inputs.frames import Costs, DiagnosisFrames, PastElsewhere, Shortlist
from analysis.diagnosis.learning.elsewhere import Elsewhere, learn_elsewhere
from analysis.diagnosis.shortlist import list_cars, shortlist

__all__ = [
    "CarDiagnosis",
    "Costs",
    "DiagnosisFrames",
    "DiagnosisModel",
    "Elsewhere",
    "Explanation",
    "PastElsewhere",
    "Shortlist",
    "fit",
    "learn_elsewhere",
    "list_cars",
    "shortlist",
    "stored_calibration",
]
