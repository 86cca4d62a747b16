#!/usr/bin/env python3
"""Speed of one slice of the model here and in Python at three levels, in one run, and whether the answers agree.

    python3 benches/reference/compare.py [--trials 200000] [--repeats 5] [--json FILE]

Makes an environment with the packages of requirements.txt below the target folder, builds `benches/slice.rs`, lets all
take turns, prints a table and exits with 1 where an answer differs by four standard errors or more. README.md beside
this file says what is compared. Nothing else needs it.
"""

import argparse
import json
import math
import os
import platform
import statistics
import subprocess
import sys
import time
import venv
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
ENVIRONMENT = Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")).resolve() / "reference"
PYTHON = ENVIRONMENT / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
# Answers may differ by less than this many standard errors of their difference. Each comparison of a right answer exceeds
# it once in 16,000, so that a whole run (25 comparisons) raises a false alarm once in 600.
MOST_ERRORS = 4.0
# Energy that may be lost by rounding within a trial, in double precision [Wh].
MOST_IMBALANCE_WH = 1e-6


def prepare():
    """Installs what is pinned, once; returns the built program."""
    wanted = (HERE / "requirements.txt").read_text()
    stamp = ENVIRONMENT / "installed.txt"
    if not stamp.exists() or stamp.read_text() != wanted:
        print(f"installing numpy and numba into {ENVIRONMENT}", file=sys.stderr)
        venv.create(ENVIRONMENT, with_pip=True, clear=True)
        subprocess.run([PYTHON, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "-r",
                        HERE / "requirements.txt"], check=True)
        stamp.write_text(wanted)
    command = ["cargo", "bench", "--bench", "slice", "--no-run", "--message-format=json"]
    built = subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True).stdout
    messages = [json.loads(line) for line in built.splitlines() if line.startswith("{")]
    return next(m["executable"] for m in messages if m.get("target", {}).get("name") == "slice" and m.get("executable"))


class Sums:
    """Trials, survivors, and for each energy the sums of values and squares [Wh, Wh²]."""

    ENERGIES = ("missed_wh", "vital_missed_wh", "solar_wh", "curtailed_wh")

    def __init__(self):
        self.trials, self.survived, self.sums = 0, 0, {name: [0.0, 0.0] for name in self.ENERGIES}

    def add(self, trials, survived, sums):
        self.trials += trials
        self.survived += survived
        for name, pair in self.sums.items():
            pair[0] += sums[name][0]
            pair[1] += sums[name][1]

    def figures(self):
        """Mean and squared standard error of each figure."""
        n, p = self.trials, self.survived / self.trials
        out = {"survival": (p, p * (1.0 - p) / n)}
        for name, (total, squares) in self.sums.items():
            mean = total / n
            out[name] = (mean, (squares / n - mean * mean) / n)
        return out


class Contender:
    """One row of the table."""

    def __init__(self, name, numbers):
        self.name, self.numbers, self.ns, self.answers = name, numbers, {}, Sums()

    def median(self, threads):
        return statistics.median(self.ns[threads])


class Ours(Contender):
    """This program, weather and balance alone; `whole` is the same with all that a run counts."""

    def __init__(self, program):
        super().__init__("ours, weather and balance", "weather f64, energy f64")
        self.program, self.whole = program, Contender("ours, all that a run counts", self.numbers)

    def turn(self, trials, seed, threads, keep):
        command = [self.program, "--trials", trials, "--seed", seed, "--threads", threads]
        told = json.loads(subprocess.run([str(word) for word in command], check=True, stdout=subprocess.PIPE).stdout)
        self.ns.setdefault(threads, []).append(told["slice_ns"])
        self.whole.ns.setdefault(threads, []).append(told["run_ns"])
        if keep:
            self.answers.add(told["trials"], told["survived"], told)


class Level(Contender):
    """One of the levels in Python."""

    def __init__(self, name, numbers, simulate, tables):
        super().__init__(name, numbers)
        self.simulate, self.tables, self.imbalance_wh = simulate, tables, 0.0
        simulate(tables, 1000, 0, 1)  # compiles; not counted

    def turn(self, trials, seed, threads, keep):
        import slice_tables as at
        before = time.process_time()
        results = self.simulate(self.tables, trials, seed, threads)
        spent = time.process_time() - before
        self.ns.setdefault(threads, []).append(1e9 * spent / (trials * self.tables.hours))
        if keep:
            # Rounding in the shares is not a failure: a billionth of a watt-hour is forgiven.
            survived = int((results[:, at.VITAL] <= self.tables.plain[at.ALLOWED] + 1e-9).sum())
            columns = (at.MISSED, at.VITAL, at.SOLAR, at.CURTAILED)
            sums = {name: (results[:, c].sum(), (results[:, c] ** 2).sum()) for name, c in zip(Sums.ENERGIES, columns)}
            self.answers.add(trials, survived, sums)
            self.imbalance_wh = max(self.imbalance_wh, float(abs(results[:, at.IMBALANCE]).max()))


def processor():
    """Name of the processor and its vectors."""
    try:
        text = Path("/proc/cpuinfo").read_text()
    except OSError:
        return platform.processor() or "unknown processor"
    fields = dict(line.split(":", 1) for line in text.splitlines() if ":" in line)
    fields = {key.strip(): value.strip() for key, value in fields.items()}
    vectors = [name for name, flag in (("AVX2", "avx2"), ("AVX-512", "avx512f")) if flag in fields.get("flags", "").split()]
    return f"{fields.get('model name', 'unknown processor')} ({', '.join(vectors) or 'no AVX2'})"


def measure(options):
    """Lets all take turns; returns ours, the levels, and the numbers of threads."""
    import level_careful
    import level_numpy
    import level_ordinary
    import numpy as np
    import slice_tables

    exported = subprocess.run([options.ours, "--tables"], check=True, stdout=subprocess.PIPE, text=True).stdout
    tables = slice_tables.load(exported)
    careful = [("weather f64, energy f64", np.float64, np.float64), ("weather f32, energy f64", np.float32, np.float64),
               ("weather f32, energy f32", np.float32, np.float32)]
    ours = Ours(options.ours)
    levels = [
        Level("NumPy across trials", "weather f64, energy f64", level_numpy.simulate, tables),
        Level("ordinary numba", "weather f64, energy f64", level_ordinary.simulate, tables),
        *(Level("careful numba", numbers, level_careful.build(w, e), tables) for numbers, w, e in careful)]
    threads = [1, 2] if (os.cpu_count() or 1) > 1 else [1]
    everyone = [ours, *levels]
    for repeat in range(options.repeats):
        for count in threads:
            # Another one begins each time: what else the machine does hits all alike.
            first = repeat % len(everyone)
            for contender in everyone[first:] + everyone[:first]:
                contender.turn(options.trials, repeat + 1, count, count == threads[0])
    return ours, levels, threads, tables


def show(ours, levels, threads, tables, options):
    """Prints the speeds; returns them."""
    import numba
    import numpy as np

    print(f"{processor()}; Python {platform.python_version()}, NumPy {np.__version__}, numba {numba.__version__}")
    print(f"{options.trials:,} trials of {tables.hours} h; medians of {options.repeats} turns (least to most); processor time")
    print("in ns for one hour of one trial, summed over threads; compiling is not counted")
    print()
    heads = "".join(f"  {f'ns, {count} thread' + ('s' if count > 1 else ''):>22}" for count in threads)
    print(f"{'':29} {'numbers':24}{heads}  over ours")
    rows = []
    for one in [ours, ours.whole, *levels]:
        ratio = one.median(1) / ours.median(1)
        cells = "".join(f"  {one.median(c):7.2f} ({min(one.ns[c]):5.2f}-{max(one.ns[c]):5.2f})".ljust(24) for c in threads)
        print(f"{one.name:29} {one.numbers:24}{cells}  {ratio:8.2f}")
        rows.append({"name": one.name, "numbers": one.numbers, "over_ours": ratio,
                     "ns_a_trial_hour": {str(c): {"median": one.median(c), "all": one.ns[c]} for c in threads}})
    return rows


def agree(ours, levels):
    """Prints the answers and how far they are apart; returns what disagrees."""
    wrong = []
    own = ours.answers.figures()
    print()
    print(f"{'':29} {'numbers':24} {'survival (95 % interval)':>24} {'unmet':>9} {'vital unmet':>12} {'sun':>10} {'unused':>10}"
          "   most standard errors from ours")
    for one in [ours, *levels]:
        figures = one.answers.figures()
        mean, variance = figures["survival"]
        apart = {name: (figures[name][0] - own[name][0]) / math.sqrt(figures[name][1] + own[name][1]) for name in own}
        worst = max(apart, key=lambda name: abs(apart[name]))
        survival = f"{100 * mean:.2f} % ± {196 * math.sqrt(variance):.2f}"
        energies = [figures[name][0] for name in Sums.ENERGIES]
        print(f"{one.name:29} {one.numbers:24} {survival:>24} {energies[0]:6.2f} Wh {energies[1]:9.2f} Wh {energies[2]:7.0f} Wh"
              f" {energies[3]:7.0f} Wh" + ("" if one is ours else f"   {apart[worst]:+.1f} ({worst})"))
        if one is ours:
            continue
        wrong += [f"{one.name} ({one.numbers}): {name} differs by {z:+.1f} standard errors (allowed: below {MOST_ERRORS:g})"
                  for name, z in apart.items() if not abs(z) < MOST_ERRORS]
        if one.numbers.endswith("energy f64") and not one.imbalance_wh < MOST_IMBALANCE_WH:
            wrong.append(f"{one.name} ({one.numbers}): {one.imbalance_wh:g} Wh are lost or made in a trial")
    print(f"each from {ours.answers.trials:,} trials; energies are means of a trial")
    return wrong


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trials", type=int, default=200_000, help="trials a turn (default: 200000)")
    parser.add_argument("--repeats", type=int, default=5, help="turns (default: 5)")
    parser.add_argument("--json", type=Path, help="write the speeds here too")
    parser.add_argument("--ours", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.trials < 1000 or options.repeats < 1:
        parser.error("at least 1,000 trials and one turn")
    if options.ours is None:
        # Threads that wait must sleep, or their waiting would count.
        environment = {**os.environ, "OMP_WAIT_POLICY": "passive"}
        command = [PYTHON, str(HERE / "compare.py"), *sys.argv[1:], "--ours", prepare()]
        return subprocess.run(command, env=environment).returncode
    ours, levels, threads, tables = measure(options)
    rows = show(ours, levels, threads, tables, options)
    wrong = agree(ours, levels)
    if options.json:
        options.json.write_text(json.dumps({"processor": processor(), "trials": options.trials, "rows": rows}, indent=1))
    for line in wrong:
        print(f"error: {line}", file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
