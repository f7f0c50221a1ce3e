"""Fleets made up with known ground truth, and the score of a judge on them.

Nothing here shares physics with the code it scores: of `benchapp` only the record types are used, and of the
resources only the public alloy compositions. Generators a, b, c and d are written in four different ways.
"""
