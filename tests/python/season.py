"""Tries what the manual says of seasons: its ways to hand out parts give the results that one run keeps.

`python3 tests/python/season.py [--ray] HALTPROOF RULES .. -- RECORDING ..` makes a list of parts, a recording each, given twice under two names, and runs
the examples of `host-tools/manual/season.md` on it; that of Ray only with `--ray` before all else, and a Python that has it. Then a result is cut short and a recording is changed: those parts alone may be done again.
"""
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

MANUAL = pathlib.Path(__file__).parents[2] / "host-tools/manual/season.md"


def main(haltproof, rules, recordings, with_ray):
    folder = pathlib.Path(tempfile.mkdtemp(prefix="haltproof-season-"))
    try:
        (folder / "haltproof").symlink_to(pathlib.Path(haltproof).resolve())
        parts = []
        for turn in "ab":
            for i, recording in enumerate(recordings):
                own = folder / f"{turn}{i}.csv"
                shutil.copy(recording, own)
                parts.append({"name": f"{turn}-{i}", "rules": [str(pathlib.Path(rule).resolve()) for rule in rules], "recordings": [str(own)]})
        (folder / "parts.jsonl").write_text("".join(json.dumps(part) + "\n" for part in parts))
        # Ray would tell its makers that it is used.
        env = os.environ | {"PATH": f"{folder}:{os.environ['PATH']}", "RAY_USAGE_STATS_ENABLED": "0"}

        def run(*words, text=None):
            return subprocess.run(words, cwd=folder, env=env, capture_output=True, text=True, input=text)

        def season():
            done = run("haltproof", "season", "parts.jsonl", "--into", "kept", "--format", "json")
            assert done.returncode < 2, done.stderr
            return json.loads(done.stdout)

        first = season()
        assert (first["parts"], first["stood"], first["broken"]) == (len(parts), 0, 0), first
        kept = {part["name"]: (folder / "kept" / f"{part['name']}.json").read_text() for part in parts}
        again = season()
        assert again == first | {"stood": len(parts)}, again

        text = MANUAL.read_text()
        shell = re.search(r"^\$ (xargs .*)$", text, re.M).group(1)
        # A part that has something to report has status 1, which xargs tells as 123.
        assert run("sh", "-c", shell).returncode in (0, 123)
        lines = (folder / "results.jsonl").read_text().splitlines(keepends=True)
        assert {json.loads(line)["name"]: line for line in lines} == kept, "xargs gives other results"
        examples = re.findall(r"```python\n(.*?)```", text, re.S)
        plain = [example for example in examples if "import ray" not in example]
        assert len(plain) == len(examples) - 1 == 1, "the manual has an example of Python alone and one of Ray"
        tried = examples if with_ray else plain
        for example in tried:
            # What an engine does not tell is seen too: the results themselves.
            (folder / "example.py").write_text(example + "\njson.dump(results, open('results.json', 'w'))\n")
            done = run(sys.executable, "example.py")
            assert done.stdout.strip().splitlines()[-1:] == [str(first["stops"])], done.stderr + done.stdout
            results = json.loads((folder / "results.json").read_text())
            assert {result["name"]: result for result in results} == {name: json.loads(line) for name, line in kept.items()}

        broken = folder / "kept/a-0.json"
        broken.write_text(kept["a-0"][:-40])
        with (folder / "b0.csv").open("a") as recording:
            recording.write("\n")
        assert season()["stood"] == len(parts) - 2, "a result that was cut short and one of other bytes are done again"
        assert broken.read_text() == kept["a-0"]

        (folder / "a0.csv").rename(folder / "away.csv")
        def cannot(name):
            return {"name": name, "status": 2} in [{"name": told["name"], "status": told["status"]} for told in season()["told"]]

        assert cannot("a-0") and broken.read_text() == kept["a-0"], "a result is lost to a file that is not there just now"
        (folder / "away.csv").rename(folder / "a0.csv")
        broken.write_text("somebody's notes")
        assert cannot("a-0") and broken.read_text() == "somebody's notes", "a file that is no result is replaced"
        ways = "xargs, Python and Ray" if with_ray else "xargs and Python (Ray was not run)"
        print(f"{len(parts)} parts: one run, {ways} give the same results; what was cut short or changed was done again, nothing else")
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    words = sys.argv[1:]
    with_ray = words[0] == "--ray"
    words = words[with_ray:]
    at = words.index("--")
    main(words[0], words[1:at], words[at + 1:], with_ray)
