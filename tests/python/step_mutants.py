"""Makes small mistakes in the step function, one at a time, and shows that the suites notice each.

Copies what git tracks into a folder of its own, and for each mistake edits one place of `logic-rules/src`, builds, and
runs suites, the cheapest first, until one fails. Prints which. Fails if no suite notices a mistake, if one that did fails
without any, if one does not compile, or if the place of an edit is not there exactly once, so that the list cannot grow stale.

    python3 tests/python/step_mutants.py FOLDER [PART OF A NAME]

With `HALTPROOF_MUTANTS=1` all mistakes are made; without, those that are marked, one
for each file of the step. FOLDER keeps the copy and what is built of it.
"""
import os
import pathlib
import shutil
import subprocess
import sys
import time

# What stands beside the sources is what git tracks, and nothing else.
sys.dont_write_bytecode = True
from mistakes import MISTAKES

# Test programs and suites of them, the cheapest first; the later programs are built only for what got past the first.
SUITES = {
    "meaning": ["iec_tables", "sentences", "readings", "skipping", "skipping_proved", "lanes", "requirements"],
    "station": ["demo"],
    "proofs": ["prove"],
}
SECONDS = 900
# What is built once and run for a second should above all be built soon.
PROFILE = {
    "profile.dev.debug": "0",
    "profile.dev.opt-level": "1",
    "profile.dev.codegen-units": "256",
    "profile.dev.package.host-tools.opt-level": "0",
    "profile.dev.package.logic-rules.opt-level": "1",
}


class Copy:
    """A copy of the workspace, to make mistakes in."""

    def __init__(self, folder):
        self.source, self.target = folder / "source", folder / "target"
        root = pathlib.Path(__file__).resolve().parents[2]
        shutil.rmtree(self.source, ignore_errors=True)
        tracked = subprocess.run(["git", "ls-files", "-z"], cwd=root, check=True, capture_output=True, text=True).stdout
        for name in tracked.split("\0"):
            if name and (root / name).is_file():
                (self.source / name).parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(root / name, self.source / name)

    def cargo(self, programs, *more):
        """Whether cargo did it, and what it said."""
        command = ["cargo"]
        for key, value in PROFILE.items():
            command += ["--config", f"{key}={value}"]
        command += ["test", "--locked", "--quiet", "-p", "cross-tests"]
        for program in programs:
            command += ["--test", program]
        command += more
        # Colours or wrappers that the caller asked for are none of ours. After each mistake little is built anew.
        told = dict(os.environ, CARGO_TARGET_DIR=str(self.target), CARGO_TERM_COLOR="never", CARGO_INCREMENTAL="1")
        told.pop("HALTPROOF_HEAVY", None)
        try:
            done = subprocess.run(command, cwd=self.source, env=told, capture_output=True, text=True, timeout=SECONDS)
        except subprocess.TimeoutExpired:
            return False, f"not done within {SECONDS} s"
        return done.returncode == 0, done.stdout + done.stderr

    def build(self, *programs):
        built, told = self.cargo(programs, "--no-run")
        if not built:
            raise ValueError(f"it does not compile:\n{told[-3000:]}")

    def suite(self, program, suite):
        return self.cargo([program], "--", f"{suite}::")

    def notices(self):
        """The first suite that fails."""
        for program, suites in SUITES.items():
            self.build(program)
            for suite in suites:
                passed, told = self.suite(program, suite)
                if not passed:
                    if "test result: FAILED" not in told:
                        raise ValueError(f"{suite} neither passes nor fails:\n{told[-3000:]}")
                    return suite
        return None

    def is_sound(self, noticing):
        """Without any mistake the suites that noticed one pass."""
        for program, suites in SUITES.items():
            for suite in (suite for suite in suites if suite in noticing):
                passed, told = self.suite(program, suite)
                if not passed or " 0 passed" in told:
                    print(f"{suite} fails without any mistake, or tests nothing:\n{told[-3000:]}")
                    return False
        return True

    def place(self, mistake):
        """The file of a mistake and its text, in which its place stands once."""
        path = self.source / "logic-rules/src" / mistake.file
        text = path.read_text(encoding="utf-8")
        if text.count(mistake.old) != 1:
            raise ValueError(f"{mistake.file} has {text.count(mistake.old)} places like `{mistake.old}`")
        return path, text

    def with_mistake(self, mistake):
        """The first suite that notices a mistake."""
        path, text = self.place(mistake)
        path.write_text(text.replace(mistake.old, mistake.new), encoding="utf-8")
        try:
            return self.notices()
        finally:
            path.write_text(text, encoding="utf-8")


def main(folder, part=""):
    copy, failed = Copy(pathlib.Path(folder).resolve()), []
    every = bool(os.environ.get("HALTPROOF_MUTANTS")) or bool(part)
    wanted = [mistake for mistake in MISTAKES if (every or mistake.often) and part in mistake.name]
    for mistake in MISTAKES:
        # Those that are not made today must still have their place.
        copy.place(mistake)
    noticing = set()
    begin = time.monotonic()
    for mistake in wanted:
        start = time.monotonic()
        try:
            suite = copy.with_mistake(mistake)
        except ValueError as error:
            suite = f"! {error}"
        if suite is None or suite.startswith("!"):
            failed.append(mistake.name)
        else:
            noticing.add(suite)
        took = time.monotonic() - start
        print(f"{mistake.file:20} {mistake.name:58} {suite or '! nobody notices':14} {took:5.1f} s", flush=True)
    took = time.monotonic() - begin
    print(f"{len(wanted) - len(failed)} of {len(wanted)} mistakes noticed, {took:.0f} s")
    return 1 if failed or not wanted or not copy.is_sound(noticing) else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
