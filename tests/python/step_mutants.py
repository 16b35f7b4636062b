"""Makes small mistakes in the step function, one at a time, and shows that the suites notice each.

Copies what git tracks into a folder of its own, and there gives every function of `logic-rules/src` in which a mistake
could be made as many bodies as it has mistakes, besides its own: which one runs is asked when the program does. So all are
built once. For each mistake it runs suites, the cheapest first, until one fails, and prints which. Fails if no suite
notices a mistake, if a suite that noticed one fails without any, if one does not compile, or if the place of an edit
is not there exactly once, so that the list cannot grow stale.

    python3 tests/python/step_mutants.py FOLDER [PART OF A NAME]

With `HALTPROOF_HEAVY=2` all mistakes are made; without, those that are marked, one
for each file of the step. FOLDER keeps the copy; what is built lies beside what the workspace builds, and takes its libraries from there.
"""
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import time

# What stands beside the sources is what git tracks, and nothing else.
sys.dont_write_bytecode = True
from mistakes import MISTAKES

# Each body that has a mistake repeats guards of the step, of which a run meets those of one body: a test that wants to meet all cannot pass.
NOT_HERE = ["--skip", "stations_of_every_kind"]
# Test programs and suites of them, the cheapest first.
SUITES = {
    "meaning": ["iec_tables", "sentences", "readings", "skipping", "skipping_proved", "lanes", "requirements"],
    "station": ["demo"],
    "proofs": ["prove"],
}
SECONDS = 900
# What is run for seconds should above all be built soon. What others wrote stays as it is built already. Cargo names what it builds by
# profiles, and not by the folder that the workspace is in: only where no level is that of the workspace do the two not mix.
MEMBERS = ["cross-tests", "host-tools", "logic-rules", "firmware"]
PROFILE = {f"profile.dev.package.{member}.opt-level": "0" for member in MEMBERS}
WHICH = """
/// The number of the mistake that is made; 0, none.
pub(crate) fn mistaken() -> usize {
    static NUMBER: std::sync::OnceLock<usize> = std::sync::OnceLock::new();
    *NUMBER.get_or_init(|| std::env::var("MISTAKE").map_or(0, |number| number.parse().unwrap_or(usize::MAX)))
}
"""
# A function with its body, as rustfmt leaves it: its last line is a brace below the word that begins it.
FUNCTION = re.compile(r"^( *)(?:pub(?:\([a-z]+\))? )?fn \w+.*?\{\n(.*?)^\1\}\n", re.MULTILINE | re.DOTALL)


def with_choices(text, mistakes):
    """A file of the step, in which each function has the bodies that `mistakes`, `(number, mistake)`, make of its own."""
    for _, mistake in mistakes:
        if text.count(mistake.old) != 1:
            raise ValueError(f"{mistake.file} has {text.count(mistake.old)} places like `{mistake.old}`")
    placed = set()

    def chosen(function):
        own = function[2]
        here = [(number, mistake) for number, mistake in mistakes if mistake.old in own]
        if not here:
            return function[0]
        placed.update(number for number, _ in here)
        bodies = "".join(f"{number} => {{\n{own.replace(mistake.old, mistake.new)}}}\n" for number, mistake in here)
        head, tail = (text[slice(*span)] for span in [(function.start(), function.start(2)), (function.end(2), function.end())])
        return f"{head}match crate::mistaken() {{\n{bodies}_ => {{\n{own}}}\n}}\n{tail}"

    made = FUNCTION.sub(chosen, text)
    for number, mistake in mistakes:
        if number not in placed:
            raise ValueError(f"{mistake.file}: `{mistake.old}` is in no function")
    return made


class Copy:
    """A copy of the workspace, in which any of the mistakes can be made."""

    def __init__(self, folder):
        root = pathlib.Path(__file__).resolve().parents[2]
        self.source = folder / "source"
        self.target = str(pathlib.Path(os.environ.get("CARGO_TARGET_DIR") or root / "target").absolute())
        profiles = (root / "Cargo.toml").read_text(encoding="utf-8")
        if not all(f"[profile.dev.package.{member}]\nopt-level = 2\n" in profiles for member in MEMBERS):
            sys.exit("a package of the workspace is built for tests as it would be here: give it another level here")
        shutil.rmtree(self.source, ignore_errors=True)
        tracked = subprocess.run(["git", "ls-files", "-z"], cwd=root, check=True, capture_output=True, text=True).stdout
        for name in tracked.split("\0"):
            if name and (root / name).is_file():
                (self.source / name).parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(root / name, self.source / name)
        self.make_choices()
        self.programs = {}

    def make_choices(self):
        rules = self.source / "logic-rules/src"
        for file in sorted({mistake.file for mistake in MISTAKES}):
            text = (rules / file).read_text(encoding="utf-8")
            of = [(number, mistake) for number, mistake in enumerate(MISTAKES, 1) if mistake.file == file]
            (rules / file).write_text(with_choices(text, of), encoding="utf-8")
        whole = (rules / "lib.rs").read_text(encoding="utf-8")
        # Here the crate may ask what is in its environment.
        bare = "#![cfg_attr(not(test), no_std)]\n"
        assert bare in whole, "the rules crate is not `no_std` as it was"
        (rules / "lib.rs").write_text(whole.replace(bare, "") + WHICH, encoding="utf-8")

    def program(self, name):
        """A test program, built when it is first asked for: one build has all mistakes."""
        if name not in self.programs:
            command = ["cargo", *(word for level in PROFILE.items() for word in ("--config", "=".join(level)))]
            # All of the workspace is asked for, or libraries would be built with other features.
            command += ["test", "--locked", "--quiet", "--workspace", "--test", name, "--no-run", "--message-format", "json-render-diagnostics"]
            # Colours or wrappers that the caller asked for are none of ours.
            told = dict(os.environ, CARGO_TARGET_DIR=self.target, CARGO_TERM_COLOR="never")
            built = subprocess.run(command, cwd=self.source, env=told, capture_output=True, text=True)
            if built.returncode:
                sys.exit(f"with the mistakes it does not compile:\n{built.stderr[-3000:]}")
            [self.programs[name]] = [path for line in built.stdout.splitlines() if (path := json.loads(line).get("executable"))]
        return self.programs[name]

    def suite(self, program, suite, mistake=0):
        """Whether a suite passes, with a mistake or without, and what it said."""
        folder = self.source / "tests"
        told = dict(os.environ, CARGO_MANIFEST_DIR=str(folder), MISTAKE=str(mistake))
        told.pop("HALTPROOF_HEAVY", None)
        command = [self.program(program), f"{suite}::", *NOT_HERE]
        try:
            done = subprocess.run(command, cwd=folder, env=told, capture_output=True, text=True, timeout=SECONDS)
        except subprocess.TimeoutExpired:
            raise ValueError(f"{suite} is not done within {SECONDS} s") from None
        said = done.stdout + done.stderr
        if "test result: " not in said or " 0 passed; 0 failed" in said:
            raise ValueError(f"{suite} neither passes nor fails:\n{said[-3000:]}")
        return done.returncode == 0, said

    def notices(self, mistake):
        """The first suite that fails with a mistake."""
        for program, suites in SUITES.items():
            for suite in suites:
                if not self.suite(program, suite, mistake)[0]:
                    return suite
        return None

    def is_sound(self, noticing):
        """Without any mistake the suites that noticed one pass."""
        for program, suites in SUITES.items():
            for suite in (suite for suite in suites if suite in noticing):
                passed, said = self.suite(program, suite)
                if not passed:
                    print(f"{suite} fails without any mistake:\n{said[-3000:]}")
                    return False
        return True


def main(folder, part=""):
    begin = time.monotonic()
    copy, failed, noticing = Copy(pathlib.Path(folder).resolve()), [], set()
    copy.program(next(iter(SUITES)))
    print(f"built, {time.monotonic() - begin:.0f} s", flush=True)
    every = os.environ.get("HALTPROOF_HEAVY") == "2" or bool(part)
    wanted = [(number, mistake) for number, mistake in enumerate(MISTAKES, 1) if (every or mistake.often) and part in mistake.name]
    for number, mistake in wanted:
        start = time.monotonic()
        try:
            suite = copy.notices(number)
        except ValueError as error:
            suite = f"! {error}"
        if suite is None or suite.startswith("!"):
            failed.append(mistake.name)
        else:
            noticing.add(suite)
        took = time.monotonic() - start
        print(f"{mistake.file:20} {mistake.name:58} {suite or '! nobody notices':14} {took:5.1f} s", flush=True)
    print(f"{len(wanted) - len(failed)} of {len(wanted)} mistakes noticed, {time.monotonic() - begin:.0f} s")
    return 1 if failed or not wanted or not copy.is_sound(noticing) else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
