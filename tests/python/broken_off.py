"""A program that is told to end leaves no temporary file, and ends as programs do then; a signal that it was started to ignore stays so.

    python3 tests/python/broken_off.py HALTPROOF RULES ..
"""
import pathlib
import signal
import subprocess
import sys
import tempfile
import time


SIGNALS = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)


def begun(haltproof, rules, folder, ignores):
    """Begins the recording of a day, and waits until its file is there."""
    scenario = folder / "day.scenario"
    scenario.write_text("last 24 h\nrope starts at 5.0 m/s\n")
    words = [haltproof, "simulate", *rules, "-s", scenario, "-o", folder / "day.csv"]

    def starts():
        # Whatever those who called this ignore.
        for one in SIGNALS:
            signal.signal(one, signal.SIG_IGN if one in ignores else signal.SIG_DFL)

    child = subprocess.Popen(words, preexec_fn=starts)
    for _ in range(1_000):
        if len(list(folder.iterdir())) > 1:
            # What waits for signals has begun as well.
            time.sleep(0.2)
            return child
        time.sleep(0.01)
    child.kill()
    sys.exit("no output was begun")


def main(haltproof, *rules):
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        for one in SIGNALS:
            child = begun(haltproof, rules, folder, [])
            child.send_signal(one)
            assert child.wait(10) == -one, (one, child.returncode)
            assert [path.name for path in folder.iterdir()] == ["day.scenario"], one
        child = begun(haltproof, rules, folder, [signal.SIGHUP, signal.SIGINT])
        for one in (signal.SIGHUP, signal.SIGINT):
            child.send_signal(one)
        time.sleep(0.2)
        assert child.poll() is None, "it ended by a signal that it was started to ignore"
        child.terminate()
        assert child.wait(10) == -signal.SIGTERM
        assert [path.name for path in folder.iterdir()] == ["day.scenario"]
    print("ended by three signals, each time without a file; two that were ignored stayed so")


if __name__ == "__main__":
    main(*sys.argv[1:])
