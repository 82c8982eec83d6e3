"""Fits the engine's layer defaults to published experiments: `python -m fitting.calibration`.

The experiments and assumptions are in `data/*.toml`, the generic back and saddles in `subjects`,
what the model says of each experiment in `experiments`, the fit in `fit`. What comes out is written
to `data/result.json`, which the app shows, and to `docs/calibration.md`.
"""
