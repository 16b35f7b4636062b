"""Gives circuits in AIGER 1.9 to a model checker for hardware: ABC (`berkeley-abc` of Debian; Berkeley's own free licence).

Reads what `cargo run -p cross-tests --example circuits -- FOLDER` writes. Of each circuit ABC is asked whether it ever misses (`pdr`,
of any length), and, where it does not say in a few seconds that it never does, whether it misses within so many scans
(`bmc3`). What was proved here must never miss, what was refuted here must; one that ABC does not decide is no disagreement.
Constraints are folded into the circuit by ABC's `fold`. First, ABC must know a few circuits whose answers are clear.
"""
import collections
import concurrent.futures
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import time

CHECKER = "berkeley-abc"
SCANS = 50
SECONDS = {"pdr": 3, "bmc3": 2}

# Circuits with one answer: text of AIGER 1.9, and whether they miss.
# A latch that follows its input, and what constraints on the input, on the state and on an earlier state exclude.
CLEAR = {
    "a latch may be set": ("aag 2 1 1 0 0 1\n2\n4 2\n4\n", True),
    "its input is constrained": ("aag 2 1 1 0 0 1 1\n2\n4 2\n4\n3\n", False),
    "a constraint that allows it": ("aag 2 1 1 0 0 1 1\n2\n4 2\n4\n2\n", True),
    "a constraint in the same step": ("aag 2 1 1 0 0 1 1\n2\n4 2\n4\n5\n", False),
    "a constraint in an earlier step": ("aag 3 1 2 0 0 1 1\n2\n4 2\n6 4\n6\n5\n", False),
    "it begins with 1": ("aag 2 1 1 0 0 1\n2\n4 2 1\n4\n", True),
    "it stays at 1": ("aag 2 1 1 0 0 1\n2\n4 4 1\n5\n", False),
}


def packed(text):
    """The binary form of such a circuit: it has no gates, so that only the lines of the literals that are known go."""
    head, *lines = text.splitlines()
    inputs, latches = (int(number) for number in head.split()[2:4])
    rest = [line.split(" ", 1)[1] for line in lines[inputs : inputs + latches]] + lines[inputs + latches :]
    return "\n".join(["aig" + head[3:], *rest, ""]).encode("ascii")


def asked(path, engine):
    """True: it misses; False: it never does (or not within the scans); None: not decided."""
    limit = f"pdr -T {SECONDS[engine]}" if engine == "pdr" else f"bmc3 -F {SCANS} -T {SECONDS[engine]}"
    script = f"read_aiger {path}; fold; {limit}; print_status"
    done = subprocess.run([CHECKER, "-q", script], capture_output=True, text=True, timeout=60, check=False)
    status = re.search(r"^Status = (-?\d)\b", done.stdout, re.MULTILINE)
    if done.returncode != 0 or status is None:
        raise RuntimeError(f"{path}: {done.stdout}{done.stderr}")
    if status[1] == "-1" and engine == "bmc3" and re.search(rf"\b{SCANS} frames", done.stdout):
        return False
    return {"0": True, "1": False, "-1": None}[status[1]]


def verdict(path):
    """What ABC says of a circuit, in words."""
    ever = asked(path, "pdr")
    if ever is False:
        return "never missed"
    within = asked(path, "bmc3")
    if ever or within:
        return "missed"
    return "not decided" if within is None else f"not in {SCANS} scans"


def knows_the_clear():
    """What either engine says otherwise than it is."""
    wrong = []
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / "clear.aig"
        for name, (text, misses) in CLEAR.items():
            path.write_bytes(packed(text))
            answers = {engine: asked(path, engine) for engine in SECONDS}
            wrong += [f"{name}: {engine} says {answer}" for engine, answer in answers.items() if answer is not misses]
    return wrong


# What contradicts what is said here.
AGAINST = {"proved": ["missed"], "refuted": ["never missed", f"not in {SCANS} scans"], "open": []}
# What is the same, decided by another.
AGREES = {("proved", "never missed"), ("refuted", "missed")}


def main(folder):
    if shutil.which(CHECKER) is None:
        print(f"{CHECKER} is not installed")
        return 1
    wrong, start = knows_the_clear(), time.monotonic()
    circuits = sorted(pathlib.Path(folder).glob("*/*.aig"), key=lambda path: -path.stat().st_size)
    counts, agreed = collections.Counter(), collections.Counter()
    with concurrent.futures.ThreadPoolExecutor() as pool:
        for path, told in zip(circuits, pool.map(verdict, circuits)):
            # `small.SEED`, or `STATION.REQUIREMENT.PART`.
            said, (of, *_, part) = path.parent.name, path.stem.split(".")
            counts[f"{said} here ({of})" if of == "small" else f"{said} here ({of}, {part})", told] += 1
            agreed[said] += (said, told) in AGREES
            if told in AGAINST[said]:
                wrong.append(f"{path}: {said} here, and {told}")
    for kind in sorted({kind for kind, _ in counts}):
        told = [f"{count} {told}" for (of, told), count in sorted(counts.items()) if of == kind]
        print(f"{kind}: {', '.join(told)}")
    took = time.monotonic() - start
    print(f"{len(circuits)} circuits in {took:.0f} s; decided as here: {agreed['proved']} proved, {agreed['refuted']} refuted")
    for line in wrong:
        print(line)
    if agreed["proved"] < 60 or agreed["refuted"] < 10:
        print("too few are decided")
        return 1
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
