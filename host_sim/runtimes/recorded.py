"""A recorded flight through the firmware, session by session, in flat memory."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from host_sim.output.kept import Kept
from host_sim.reading.csv_survey import Session
from host_sim.reading.flight_csv import Flight
from host_sim.runtimes.run import Stream, run_blocks

PAUSE_MS = 1000  # between two sessions that are shown or heard one after another
Take = Callable[[np.ndarray, Session], None]


@dataclass(frozen=True)
class Played:
    """One session as the firmware decided it, as far as it is kept."""

    session: Session
    kept: Kept


def play(flight: Flight, stream: Stream, runtime: str, progress: Callable[[float], None],
         takes: Sequence[Take]) -> list[Played]:
    """Run the chosen sessions, each with a fresh unit. takes: each gets every block of decisions
    with its session. progress: called with the ticks done."""
    done, played = 0, []
    for session in flight.sessions:
        kept = Kept()
        for out in _decisions(flight, session, stream, runtime):
            kept.add(out)
            for take in takes:
                take(out, session)
            done += len(out)
            progress(done)
        played.append(Played(session, kept))
    return played


def _decisions(flight: Flight, session: Session, stream: Stream,
               runtime: str) -> Iterator[np.ndarray]:
    return run_blocks(flight.blocks(session), stream, runtime)


def end_to_end(out: np.ndarray, session: Session, sessions: list[Session]) -> np.ndarray:
    """The same rows with the time that they have when all sessions follow each other."""
    before = sessions[:sessions.index(session)]
    shift_ms = sum(one.last_ms - one.first_ms + PAUSE_MS for one in before)
    shifted = out.astype(np.int64)
    shifted[:, 0] += shift_ms
    return shifted
