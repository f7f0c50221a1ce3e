"""Race Oil Bench: from a race engine's oil sample to a call on paper.

Importing the package loads nothing heavy; rooms import what they need where it is first used.
"""

__version__ = "0.1.0"
