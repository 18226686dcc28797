"""Clearance of the string, a few pieces of it at a time."""

import numpy as np

from bowfem.bow import string_path


def test_the_same_however_many_pieces_are_taken_at_once(monkeypatch):
    rng = np.random.default_rng(3)
    surface, line = rng.normal(size=(4, 31, 2)), rng.normal(size=(4, 23, 2))
    line[:, -3:] = line[:, -4:-3]  # padded at the end, as lines of unlike length are
    whole = string_path.clearance(surface, line)
    for pairs in (1, 4 * 31 * 5, 4 * 31 * 22):
        monkeypatch.setattr(string_path, "AT_ONCE", pairs)
        np.testing.assert_array_equal(string_path.clearance(surface, line), whole)
    # the nearest of the line's own points is never nearer than the line
    points = np.min(np.linalg.norm(surface[:, :, None] - line[:, None], axis=-1), axis=-1)
    assert np.all(whole <= points + 1e-15)
