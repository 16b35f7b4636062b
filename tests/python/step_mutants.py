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

# Test programs and suites of them, the cheapest first.
SUITES = {
    "meaning": ["iec_tables", "sentences", "readings", "skipping", "skipping_proved", "lanes", "requirements"],
    "station": ["demo"],
    "proofs": ["prove"],
}
SECONDS = 900
# What is run for seconds should above all be built soon. What others wrote stays as it is built already.
PROFILE = {
    "profile.dev.package.cross-tests.opt-level": "0",
    "profile.dev.package.host-tools.opt-level": "0",
    "profile.dev.package.logic-rules.opt-level": "0",
    "profile.dev.package.firmware.opt-level": "0",
}
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
        self.target = os.environ.get("CARGO_TARGET_DIR") or str(root / "target")
        shutil.rmtree(self.source, ignore_errors=True)
        tracked = subprocess.run(["git", "ls-files", "-z"], cwd=root, check=True, capture_output=True, text=True).stdout
        for name in tracked.split("\0"):
            if name and (root / name).is_file():
                (self.source / name).parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(root / name, self.source / name)
        self.make_choices()

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

    def cargo(self, program, *more, mistake=0):
        """Whether cargo did it, and what it said."""
        command = ["cargo"]
        for key, value in PROFILE.items():
            command += ["--config", f"{key}={value}"]
        # All of the workspace is asked for, or libraries would be built with other features.
        command += ["test", "--locked", "--quiet", "--workspace", "--test", program, *more]
        # Colours or wrappers that the caller asked for are none of ours.
        told = dict(os.environ, CARGO_TARGET_DIR=self.target, CARGO_TERM_COLOR="never", MISTAKE=str(mistake))
        told.pop("HALTPROOF_HEAVY", None)
        try:
            done = subprocess.run(command, cwd=self.source, env=told, capture_output=True, text=True, timeout=SECONDS)
        except subprocess.TimeoutExpired:
            return False, f"not done within {SECONDS} s"
        return done.returncode == 0, done.stdout + done.stderr

    def build(self, program):
        built, told = self.cargo(program, "--no-run")
        if not built:
            sys.exit(f"with the mistakes it does not compile:\n{told[-3000:]}")

    def notices(self, mistake):
        """The first suite that fails with a mistake."""
        for program, suites in SUITES.items():
            self.build(program)
            for suite in suites:
                passed, told = self.cargo(program, "--", f"{suite}::", mistake=mistake)
                if not passed:
                    if "test result: FAILED" not in told:
                        raise ValueError(f"{suite} neither passes nor fails:\n{told[-3000:]}")
                    return suite
        return None

    def is_sound(self, noticing):
        """Without any mistake the suites that noticed one pass."""
        for program, suites in SUITES.items():
            for suite in (suite for suite in suites if suite in noticing):
                passed, told = self.cargo(program, "--", f"{suite}::")
                if not passed or " 0 passed" in told:
                    print(f"{suite} fails without any mistake, or tests nothing:\n{told[-3000:]}")
                    return False
        return True


def main(folder, part=""):
    begin = time.monotonic()
    copy, failed, noticing = Copy(pathlib.Path(folder).resolve()), [], set()
    copy.build(next(iter(SUITES)))
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
