"""How far the list can be trusted: the list held against the past visits, and its calibration."""
