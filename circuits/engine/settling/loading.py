"""What a meter's own current does to diodes: a microamp is enough to make one conduct.

A voltmeter draws so little that it only divides the volts it reads (see `Stage.meter_share`), but
for one case: what hangs behind a diode that blocks, such as a tell-tale's, is a way for the meter's
current all the same, and a regulated supply that nothing draws from takes no current in. There the
meter is drawn in and these valves settle with it; the reading is taken in the pieces that they
come to. Most readings need none of this, as one product tells: by how many volts the current of
the meter lifts each valve.

Not followed is a fan at rest, whose law has no slope there: with k volts at rated speed, a winding
of c amps then and a drive of d, a microamp i leaves k sqrt(i / (d**3 c)) across it, 4 mV at 10 A.
That is less than a common meter is sure of.
"""

from dataclasses import replace

import numpy as np

from circuits.engine.equations.crowd import Stances
from circuits.engine.equations.factors import islands_of
from circuits.engine.equations.moves import BoolArray, Moved
from circuits.engine.equations.stage import Crowded, Stage, Trials
from circuits.engine.equations.wiring import IntArray, Situation
from circuits.engine.instruments import Load
from circuits.engine.laws import FloatArray
from circuits.engine.readings import Place
from circuits.engine.settling.settle import Loaded, Settled, settle_unread
from circuits.engine.settling.watching import bounds_of, thresholds

#: A meter that takes less of the volts than this turns nothing that its reading would show.
LEAST_TAKEN = 1e-4
# More than 60 V leave in the ten megohms of a meter.
MOST_METER_AMPS = 1e-5
# Less is on no display.
SAME_VOLTS = 1e-5
# What is no further beyond its threshold may stay as it is.
GAP_VOLTS = 1e-12


def with_meter(situation: Situation, place: Place, meter_ohms: float) -> Situation:
    """Return a situation with the meter at a place drawn in."""
    meter = Load(red=place.red, black=place.black, meter_ohms=meter_ohms)
    return replace(situation, load=meter)


def with_meters(stage: Stage, trials: Trials, settled: Settled) -> Settled:
    """Return where trials came to rest, with readings as the meters show them that turn diodes.

    A meter is one more path, between the leads of its place.
    """
    if stage.is_loaded or not (stage.valves.size and stage.places and len(trials)):
        return settled
    own, seat = np.nonzero(_may_turn(stage, trials, settled))
    if not own.size:
        return settled
    few, meters = trials.take(own), stage.moves.between_leads[seat]
    drawn_in = stage.moved(few).with_path(meters, stage.input_ohms[seat])
    rest = settle_unread(stage, drawn_in, settled.pieces[own])
    read = stage.read(few, rest.pieces, rest.bend, is_bent=True)
    values, loose = (each[np.arange(len(own)), seat] for each in read)
    # What idles may stand either way; that alone is no other reading.
    differs = np.abs(values - settled.low[own, seat]) > SAME_VOLTS
    differs |= loose != settled.floating[own, seat]
    turned = np.flatnonzero(differs & ~rest.chatters)
    if not turned.size:
        return settled
    own, seat = own[turned], seat[turned]
    low, high, floating = settled.low.copy(), settled.high.copy(), settled.floating.copy()
    low[own, seat] = high[own, seat] = values[turned]
    floating[own, seat] = loose[turned]
    loaded = []
    for number in np.unique(seat).tolist():
        there = seat == number
        stood = turned[there]
        loaded.append(Loaded(number, own[there], rest.pieces[stood], rest.bend[stood]))
    return replace(settled, low=low, high=high, floating=floating, loaded=tuple(loaded))


def _may_turn(stage: Stage, trials: Trials, settled: Settled) -> BoolArray:
    """Return where (E, R) a meter might turn what stands as it does without one."""
    metered = stage.reads_volts & np.isfinite(stage.input_ohms)
    taken = (settled.meter_share < 1 - LEAST_TAKEN) & metered
    may_turn = settled.floating & metered
    loose = np.flatnonzero(may_turn.any(axis=1))
    may_turn[loose] &= _way_by_valves(stage, trials.take(loose), settled.pieces[loose])
    moved, steady = stage.moved(trials), np.flatnonzero(~settled.chatters)
    crowded = _crowded(stage, moved, settled, steady)
    may_turn[steady[crowded.odd]] |= metered
    for plain, stances in crowded.plain:
        own = steady[plain]
        valves = _Valves(stage, moved.take(own), settled.pieces[own], stances)
        blocked = valves.blocks & taken[own].any(axis=1)[:, None]
        close = own[(blocked | valves.idle).any(axis=1)]
        for again, few in _crowded(stage, moved, settled, close).plain:
            trial = close[again]
            amps = settled.low[trial] / stage.input_ohms
            valves = _Valves(stage, moved.take(trial), settled.pieces[trial], few)
            may_turn[trial] |= valves.turned_by(amps)
    return np.asarray(may_turn & metered & ~settled.chatters[:, None])


def _way_by_valves(stage: Stage, trials: Trials, pieces: IntArray) -> BoolArray:
    """Return where (E, R) the leads of a place are joined, if all valves would conduct."""
    wiring, moved = stage.wiring, stage.moved(trials)
    first, second = stage.lead_nodes.T
    paths = stage.moves.is_path[moved.move] & (moved.share > 0)
    joined = np.repeat(paths.any(axis=1, keepdims=True), len(stage.places), axis=1)
    known: dict[bytes, BoolArray] = {}
    for trial, row in enumerate(pieces):
        ties = wiring.laws[np.arange(len(wiring.branches)), stage.piece_of_branches(row), 0] != 0.0
        ties[wiring.controlled[stage.valves]] = True
        opens = moved.move[trial][moved.rest[trial] == 0]
        ties[stage.moves.branch[opens[stage.moves.opens[opens]]]] = False
        key = ties.tobytes()
        if key not in known:
            island = islands_of(wiring, ties[:, None].astype(float))
            known[key] = island[first] == island[second]
        joined[trial] |= known[key]
    return joined


def _crowded(stage: Stage, moved: Moved, settled: Settled, trials: IntArray) -> Crowded:
    return stage.crowded(
        moved.take(trials), settled.pieces[trials], settled.bend[trials], is_bent=True
    )


class _Valves:
    """The V valves of a stage in plain trials: how near each is to turning."""

    def __init__(self, stage: Stage, moved: Moved, pieces: IntArray, stances: Stances) -> None:
        self._stage, self._stances = stage, stances
        wiring, valves = stage.wiring, stage.valves
        piece = pieces[:, valves]
        # Without memory a threshold is the same both ways.
        rising, _ = thresholds(stage, moved)
        self._least, self._most = bounds_of(rising[:, :, valves], piece)
        laws = wiring.laws[wiring.controlled[valves], piece]  # (E, V, 3)
        self._amps_ohms = laws[:, :, 1]
        self._volts = stances.values(stage.crowd.watched)[:, valves]
        #: Which let no current through (E, V), and which of the others have next to none.
        self.blocks = (laws[:, :, 0] == 0.0) & (laws[:, :, 2] == 0.0)
        slack = np.minimum(self._volts - self._least, self._most - self._volts)
        self.idle = ~self.blocks & (slack < self._amps_ohms * MOST_METER_AMPS)

    def turned_by(self, amps: FloatArray) -> BoolArray:
        """Return at which places (E, R) the amps of a meter turn one.

        Volts put into a branch are amps by its ohms, the other way; by reciprocity the place's
        answer to an amp at the valve is the valve's answer to an amp at the place.
        """
        crowd, valves = self._stage.crowd, self._stage.valves
        gains = crowd.control_gains.of(self._stances, crowd.places)[:, :, valves]
        gains *= self._amps_ohms[:, None]
        volts = self._volts[:, None] - gains * amps[:, :, None]
        turns = volts > self._most[:, None] + GAP_VOLTS
        turns |= volts < self._least[:, None] - GAP_VOLTS
        return np.asarray(turns.any(axis=2))
