"""Start of the unit: board, stored records, unit, loop; nothing else."""

import gc

import assembly
import records


def start(board) -> None:
    """Run the unit on a board, for ever."""
    found = []
    stored = []
    for path in (records.SETTINGS, records.CALIBRATION, records.ZERO):
        value, problem = records.read(path)
        stored.append(value)
        if problem:
            found.append(problem)
    unit, settings, remarks = assembly.make_unit(stored[0], stored[1], stored[2])
    loop = assembly.make_loop(board, unit, settings)
    for line in found + remarks:
        print(line)
    gc.collect()
    loop.run()


if __name__ == "__main__":
    from boards.rpi_pico import Board

    start(Board())
