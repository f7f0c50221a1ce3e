"""Race Oil Bench: from a race engine's oil sample to a call on paper.

Importing the package loads nothing heavy; rooms import what they need where it is first used.
"""

import os

# The matrices here are small (some 20 elements by 20 sources): threads inside one product cost far more than they give
# (measured: 58 samples judged on a busy two-core laptop 10 times slower with the library's own threads).
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.1.0"
