"""A phone that sits in a model in any way, by scipy's Rotation and nothing of the coach's."""

from __future__ import annotations

import numpy as np
from scipy.spatial.transform import Rotation

from coach.hand.readings import Floats


def up_in_phone(mounting: Rotation, pitch_deg: Floats, bank_deg: Floats) -> Floats:
    """What a perfect sensor reads.

    Args:
        mounting: from the airplane's axes (nose, right wing, down) to the phone's.
        pitch_deg: shape (n,).
        bank_deg: shape (n,).

    Returns:
        Which way is up in the phone's axes, shape (n, 3).
    """
    no_matter = np.linspace(0.0, 400.0, len(pitch_deg))  # the heading
    attitude = Rotation.from_euler(
        "ZYX", np.column_stack([no_matter, pitch_deg, bank_deg]), degrees=True
    )
    return np.asarray(mounting.apply(attitude.inv().apply([0.0, 0.0, -1.0])))
