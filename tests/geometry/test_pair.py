"""One pair in plain numbers against many in arrays: the same angles, whoever works them out."""

import math

import numpy as np
import pytest

from geometry import meeting
from geometry.ground import ground_of
from geometry.pair import Pair
from geometry.patch import Patch
from geometry.sectors import sectors_of
from geometry.settings import Settings
from geometry.visibility import see
from tests.outside.shapes import counties
from tests.zoo.patches import ZOO

STEP = 1e-9
"""mm. Where an outer end stands may differ by what the gap is solved to, where both keep the gap."""


def _meetings(seed: int) -> tuple[meeting.Meetings, np.ndarray, np.ndarray, np.ndarray] | None:
    """The sectors of an animal of the zoo, a county or spikes from a place drawn in it, each with one after
    it, and the angle between, often with some sectors left out."""
    chance = np.random.default_rng([seed, 7])
    if seed % 3 == 2:  # spikes in each span, of which the anchor sees every side
        turn = np.linspace(0, 2 * math.pi, 48, endpoint=False)
        far = chance.uniform(60, 100, len(turn))
        patch = Patch(np.column_stack([far * np.cos(turn), far * np.sin(turn)]))
        settings = Settings(edge_margin=0, corner_angle=179)
    elif seed % 3:
        ragged = counties()
        patch, settings = Patch(*ragged[int(chance.integers(len(ragged)))]), Settings()
    else:
        animal = ZOO[int(chance.integers(len(ZOO)))]
        patch, settings = Patch(animal.outline, animal.holes), Settings(**animal.settings)
    ground = ground_of(patch, settings)
    if not ground.parts:
        return None
    x0, y0, x1, y1 = ground.parts[0].bounds
    anchor = (float(chance.uniform(x0, x1)), float(chance.uniform(y0, y1)))
    if seed % 3 == 2:
        anchor = (anchor[0] / 20, anchor[1] / 20)
    sectors = sectors_of(see(anchor, ground.edges[0]), ground.marked[0])
    if sectors is None or not 2 < len(sectors.span) < 60:
        return None
    keep = np.flatnonzero(chance.random(len(sectors.span)) < chance.choice([0.5, 1.0]))
    if len(keep) < 2:
        return None
    left, right = keep, np.roll(keep, -1)
    clear = sectors.start[right] - sectors.stop[left] + np.where(right <= left, 2 * math.pi, 0.0)
    gap = float(chance.choice([0.5, 6.35, 25.0, 80.0]))
    return meeting.Meetings(sectors, gap), left, right, np.maximum(clear, 0.0)


def _disagreeing(monkeypatch: pytest.MonkeyPatch) -> tuple[list[str], int, int]:
    """Where the two disagree; how many pairs there were, and how many turn back and are not used up."""
    wrong, pairs, turned = [], 0, 0
    for seed in range(400):
        found = _meetings(seed)
        if found is None:
            continue
        many, left, right, clear = found
        with monkeypatch.context() as patched:
            patched.setattr(meeting, "_FEW", 0)
            arrays = many.solve(left, right, clear)
            patched.setattr(meeting, "_FEW", math.inf)
            patched.setattr(meeting, "_FEW_PIECES", math.inf)
            plain = many.solve(left, right, clear)
        for i in range(len(left)):
            one, other = (many.width[left[i]] - stop[i] for stop in (arrays[0], plain[0]))
            off = max(abs(a[i] - p[i]) for a, p in zip(arrays, plain, strict=True))
            far = max(many.farthest[left[i]], many.farthest[right[i]])
            if off * far > STEP and not _both_keep(many, left[i], right[i], clear[i], arrays, plain, i):
                wrong.append(f"{seed}, pair {i}: {one} and {other} rad are left of {many.width[left[i]]}")
            pairs += 1
            turned += bool(arrays[0][i] > 0 and one > 1e-9)
    return wrong, pairs, turned


def _both_keep(many, left, right, clear, arrays, plain, i) -> bool:
    """Whether both angles are the least at which the gap is kept, as far as ``GAP_SOLVED`` tells."""
    pair = many._pair(int(left), int(right), float(clear))
    one, other = ((stop[i] + start[i]) for stop, start in (arrays, plain))
    between = np.linspace(min(one, other), max(one, other), 9)
    return all(abs(v) * pair.gap <= 2e-9 * c for v, _, c in map(pair._state, between.tolist()))


def test_plain_numbers_and_arrays_turn_back_alike(monkeypatch):
    wrong, pairs, turned = _disagreeing(monkeypatch)
    assert wrong == []
    assert pairs > 2000
    assert turned > 1000


@pytest.mark.parametrize("step", ["_newton", "_search", "_bend_before", "_may_meet"])
def test_a_fault_in_any_step_is_found(step, monkeypatch):
    faults = {
        "_newton": lambda pair: None if pair.clear > 0.3 else 0.9 * pair.most,
        "_search": lambda pair: pair.most * 0.5,
        "_bend_before": lambda pair, x: None,
        "_may_meet": lambda pair: pair.clear < 0.1,
    }
    monkeypatch.setattr(Pair, step, faults[step])
    assert _disagreeing(monkeypatch)[0]
