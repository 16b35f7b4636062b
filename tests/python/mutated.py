"""Holds the project's checker of proofs against z3 (MIT), on certificates that were changed.

Reads what `cargo run -p cross-tests --example mutated -- FOLDER` writes, as text and nothing else. A certificate
must be accepted by the checker if and only if z3 answers `unsat` to all of its questions. Where the
checker refused, it said which lemma or requirement fails: one of those questions must be `sat`.
Certificates that say what cannot be read (no such cell, a depth out of range) are counted apart.
"""
import collections
import concurrent.futures
import json
import pathlib
import sys
import time

import z3

MILLISECONDS = 60_000


class Asked:
    """A script that a solver has read once, and answers under some of its switches."""

    def __init__(self, text):
        self.solver = z3.SolverFor("QF_FD")
        self.solver.set("timeout", MILLISECONDS)
        self.solver.from_string(text)
        self.switches = {}
        self.answers = {}

    def switch(self, number):
        if number not in self.switches:
            self.switches[number] = z3.Bool(f"switch {number}")
        return self.switches[number]

    def ask(self, known, asked):
        """The answer under these switches; the same is not asked twice."""
        key = (frozenset(known), asked)
        if key not in self.answers:
            on = [self.switch(number) for number in sorted(key[0] | {asked})]
            self.answers[key] = str(self.solver.check(*on))
        return self.answers[key]


def decide(asked, told):
    """Whether all questions of a certificate are answered `unsat`, and what is wrong with it, if anything."""
    questions = [(name, known, one) for known, of in told["groups"] for name, one in of]
    reasons = [question for question in questions if question[0] in (told["because"] or [])]
    if told["because"] is not None:
        # One `sat` is enough to refuse; the checker says where to look for it.
        answers = [asked.ask(known, one) for _, known, one in reasons]
        if "sat" in answers:
            return False, None
    others = {name: asked.ask(known, one) for name, known, one in questions}
    accepted = set(others.values()) == {"unsat"}
    if accepted == told["accepted"] and told["accepted"]:
        return accepted, None
    strange = [f"{name}: {answer}" for name, answer in others.items() if answer != "unsat"]
    return accepted, f"checker {told['accepted']}, because of {told['because']}; z3: {strange[:4] or 'all unsat'}"


def decide_all(script):
    start = time.monotonic()
    asked = Asked(script.read_text(encoding="ascii"))
    out = []
    for line in script.with_suffix(".jsonl").read_text(encoding="utf-8").splitlines():
        told = json.loads(line)
        accepted, wrong = decide(asked, told)
        out.append((told["name"], accepted, wrong))
    return script.name, out, len(asked.answers), time.monotonic() - start


def main(path):
    folder = pathlib.Path(path)
    formal = [
        json.loads(line)["formal"]
        for file in sorted(folder.glob("*.formal.jsonl"))
        for line in file.read_text(encoding="utf-8").splitlines()
        if line
    ]
    counts, failed, seconds, questions = collections.Counter(), False, 0.0, 0
    scripts = sorted(folder.glob("*.smt2"), key=lambda script: -script.with_suffix(".jsonl").stat().st_size)
    with concurrent.futures.ProcessPoolExecutor() as pool:
        for script, of, asked, took in pool.map(decide_all, scripts):
            questions, seconds = questions + asked, seconds + took
            print(f"{script}: {len(of)} certificates, {asked} questions, {took:.1f} s")
            for name, accepted, wrong in of:
                counts["accepted" if accepted else "refused"] += 1
                if wrong:
                    print(f"{name}: {wrong}")
                    failed = True
    decided = counts["accepted"] + counts["refused"]
    print(
        f"{decided + len(formal)} changed certificates: {len(formal)} cannot be read; of {decided} that z3 decided "
        f"{counts['accepted']} accepted, {counts['refused']} refused, {questions} questions, {seconds:.1f} s"
    )
    # Too few of a kind would show little.
    if decided < 4 * len(formal) or 10 * counts["accepted"] < decided or 10 * counts["refused"] < decided:
        print("too few were decided, or accepted, or refused")
        failed = True
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
