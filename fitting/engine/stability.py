"""Which way a body can still move freely: soundness of stiffnesses, and what a leaning load leaves.

Stiffnesses are symmetric, (P, M, M), one for each of P problems.
"""

from __future__ import annotations

import numpy as np

from .laws import Array

SINGULAR = 1e-12  # of the mean stiffness: a direction that resists with nothing


def is_sound(stiffness: Array) -> bool:
    """Whether every one of the matrices resists in all directions: ten times cheaper than how."""
    count = stiffness.shape[1]
    floor = SINGULAR * np.trace(stiffness, axis1=1, axis2=2)[:, None, None] * np.eye(count)
    try:
        np.linalg.cholesky(stiffness - floor)
    except np.linalg.LinAlgError:
        return False
    return True


def resisting_part(geometric: Array) -> Array:
    """Return the part of a pose stiffness that resists, its positive eigenvalues, (P, M, M)."""
    own = geometric[:1] if geometric.strides[0] == 0 else geometric  # one for all: ask it once
    values, vectors = np.linalg.eigh(own)
    weighted = vectors * np.maximum(values, 0.0)[:, None, :]
    resisting = np.matmul(weighted, np.swapaxes(vectors, 1, 2))
    return np.asarray(np.broadcast_to(resisting, geometric.shape), float)


def stability_margin(contact: Array, geometric: Array | None) -> Array:
    """Share of the stiffness that the leaning load leaves; zero if some direction has none.

    Least eigenvalue of (K + G) x = lambda (K + G+) x, with G+ the part of G that resists.
    """
    if geometric is None:
        mean = np.trace(contact, axis1=1, axis2=2) / contact.shape[1]
        mean = np.maximum(mean, np.finfo(float).tiny)
        return np.where(np.linalg.det(contact / mean[:, None, None]) > SINGULAR, 1.0, 0.0)
    resisting = contact + resisting_part(geometric)
    lean = np.max(np.abs(contact + geometric - resisting))
    if lean <= SINGULAR * np.max(np.abs(geometric)) and is_sound(resisting):
        return np.ones(len(contact))
    values, vectors = np.linalg.eigh(resisting)
    leaning = contact + geometric - resisting
    # Next to what leans, a body that touches nothing resists with nothing, not with a rounding.
    size = np.maximum(values[:, -1], np.max(np.abs(leaning), axis=(1, 2)))
    floor = SINGULAR * np.maximum(size, np.finfo(float).tiny)
    sound = values[:, 0] > floor
    root = vectors / np.sqrt(np.maximum(values, floor[:, None]))[:, None, :]
    inside = np.matmul(root.transpose(0, 2, 1), np.matmul(leaning, root))
    least = 1.0 + np.linalg.eigvalsh(inside)[:, 0]
    return np.where(sound, least, np.minimum(least, 0.0))
