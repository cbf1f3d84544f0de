"""The checks of a stage, one module for each family of findings.

The law: a check is one function, Evidence in, findings (or what it could not check) out; none knows
another. The visible tuple of all of them is sim/checks/every.py.
"""
