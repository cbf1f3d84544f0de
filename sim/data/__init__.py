"""Tables of the published standards and of the trade, as package data: see sim/hardware.py."""
