"""From the codes of a car in stock to the fixes worth trying, in order.

The texts of the codes give a first belief, past repairs correct it, a noisy-OR
weighs which parts together explain what was seen, and the order follows chance
per euro until handing the car over is cheaper.
"""

from analysis.diagnosis.decision.shortlist import list_cars, shortlist
from analysis.diagnosis.inputs.frames import Costs, DiagnosisFrames, Shortlist

__all__ = ["Costs", "DiagnosisFrames", "Shortlist", "list_cars", "shortlist"]
