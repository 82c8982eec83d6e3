"""Fit, write the data and the page, print the page."""

import os
import sys

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from fitting.calibration.report import page, write

sys.stdout.write(page(write()))
