"""`python -m host_sim.campaign`: fly every fault in every phase, and print what came of it.

Exit code 0; 1 if a number that must be 0 is not; 2 for bad arguments.
"""

import argparse
import json
import os
import sys
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

from host_sim.campaign.flights import fly_cases
from host_sim.campaign.judge import Outcome, Reference
from host_sim.campaign.page import page
from host_sim.campaign.plan import SEEDS, Case, cases, thin
from host_sim.campaign.table import as_json, failing, must_be_zero, summary, text_table
from host_sim.errors import UsageError
from host_sim.output.progress import Progress
from host_sim.output.whole_file import check_targets, whole_file
from host_sim.runtimes.paths import ROOT
from host_sim.world.faults import FAULTS

PAGE = ROOT / "hardware_notes" / "fault_campaign.md"
_QUICK = 240
_CHUNK = 80


def main(words: list[str] | None = None) -> int:
    """Run the campaign."""
    try:
        arguments = _parse(words)
        planned = _planned(arguments)
        check_targets({"--json": arguments.json}, [])
        references, outcomes = run(planned, arguments.jobs)
    except UsageError as error:
        print(f"campaign: {error}", file=sys.stderr)
        return 2
    print("\n".join([*text_table(outcomes), "", *failing(outcomes), "",
                     *summary(outcomes, references)]))
    if arguments.json:
        with whole_file(arguments.json) as temporary:
            temporary.write_text(json.dumps(as_json(outcomes, references)) + "\n")
    if arguments.page:
        with whole_file(PAGE) as temporary:
            temporary.write_text(page(outcomes, references))
    return 1 if any(must_be_zero(outcomes, references).values()) else 0


def _parse(words: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m host_sim.campaign", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a few hundred flights")
    parser.add_argument("--count", type=int, help="so many flights, spread evenly")
    parser.add_argument("--seeds", type=int, default=len(SEEDS),
                        help="of noise and turbulence (default: %(default)s)")
    parser.add_argument("--fault", action="append", default=[], metavar="NAME",
                        help="only this fault, or faults whose names begin so; may be repeated")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1,
                        help="processes (default: one a core)")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write every flight's outcome")
    parser.add_argument("--page", action="store_true",
                        help="write hardware_notes/fault_campaign.md")
    return parser.parse_args(words)


def _planned(arguments: argparse.Namespace) -> list[Case]:
    for name in arguments.fault:
        if not any(fault.startswith(name) for fault in FAULTS):
            raise UsageError(f"--fault {name}: no such fault; there are {', '.join(FAULTS)}")
    if min(arguments.seeds, arguments.jobs, 1 if arguments.count is None else arguments.count) < 1:
        raise UsageError("--seeds, --jobs and --count must be 1 or more")
    if arguments.page and (arguments.quick or arguments.count or arguments.fault):
        raise UsageError("--page is made from a whole run: leave out --quick, --count and --fault")
    seeds = (1,) if arguments.quick else tuple(range(1, arguments.seeds + 1))
    every = [case for case in cases(seeds)
             if not arguments.fault or case.fault.startswith(tuple(arguments.fault))]
    count = arguments.count or (_QUICK if arguments.quick else 0)
    return thin(every, count) if count else every


def _groups(planned: list[Case]) -> Iterator[list[Case]]:
    """Cases over one base flight, in parts of a size that keeps every core busy."""
    by_base: dict[tuple[str, str, int], list[Case]] = {}
    for case in planned:
        by_base.setdefault(case.base, []).append(case)
    for group in by_base.values():
        for start in range(0, len(group), _CHUNK):
            yield group[start:start + _CHUNK]


def run(planned: list[Case], jobs: int = 1) -> tuple[list[Reference], list[Outcome]]:
    """Fly all; the result does not depend on `jobs`, nor on who is done first."""
    groups = sorted(_groups(planned), key=len, reverse=True)
    if jobs == 1:
        done = {number: fly_cases(group) for number, group in enumerate(groups)}
    else:
        done, flown = {}, 0
        with ProcessPoolExecutor(jobs) as pool, Progress("campaign", len(planned)) as bar:
            numbers = {pool.submit(fly_cases, group): n for n, group in enumerate(groups)}
            for future in as_completed(numbers):
                done[numbers[future]] = future.result()
                flown += len(groups[numbers[future]])
                bar.to(flown)
    results = [done[number] for number in range(len(groups))]
    references = {reference.replay: reference for reference, _ in results}
    return list(references.values()), [one for _, group in results for one in group]


if __name__ == "__main__":
    sys.exit(main())
