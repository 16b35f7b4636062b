"""Measures replays of a seeded day beside other programs that read the same file, and a season of such days; by CPU time, in one call.

    python day.py --haltproof HALTPROOF [--records RECORDS] [--polars PYTHON [--parquet HALTPROOF]] [--minutes 1440] [--turns 3] [--season] [--output FILE.json]

`RECORDS` is the example `records` (`cargo build --release -p cross-tests --features examples --example records`), which counts with the csv crate and reads
alone, `PYTHON` one that has polars; without one of them it is not run, and that is said. The simulator makes the recordings of the drive terminal: with gauges that lie still, and with noisy ones as rows a scan,
as rows a change and as a value change dump. Incidents break four rules now and then; polars must find the same ones at the same times as `replay`, or
the measurement fails. `--parquet` names a program that was built with that feature: both then read the day as Parquet too. Every program runs in turn, `--turns` times, and its least CPU time (user and system, of all its threads) counts. Times depend on the
machine: compare ratios of one call. A day takes 4.2 GB for a while.

`--season` measures `haltproof season` instead: `--days` days of both stations. So many days do not fit a disk; `--made` recordings of `--minutes` are
made of each, and each stands for several days. A part begins by itself and takes its times from its own first row, so that a shift of them changes nothing.
"""
import argparse
import itertools
import json
import os
import pathlib
import platform
import shutil
import subprocess
import sys
import tempfile
import time

import day_rules

HERE = pathlib.Path(__file__).parent
DEMO = HERE.parents[1] / "host-tools/demo"
FOUR = ["slow-down", "shut-force", "rope-low-out", "brake-1-sets"]
# Left out, thirty watches remain; the others stay as they are.
NOT_OF_THIRTY = ["rope-shaken", "tension-off", "storm"]

STILL = {"force": "0 N", "height": "0 mm", "tension": "0 kN", "wind": "0 m/s"}
NOISY = {"force": "20 N", "height": "1.5 mm", "tension": "0.5 kN", "wind": "0.6 m/s"}

# Every so often, minutes: what breaks a rule, and what just does not.
PERIOD = 26
INCIDENTS = [
    (2, ["next carrier early by 0.6 m from 1.0 m"]),
    (6, ["next carrier presses close-force with 5400 N"]),
    (10, ["gauge rope-height-out at -24 mm for 2 s"]),
    (14, ["next carrier early by 0.6 m from 1.0 m", "contact brake-1-set stuck low for 1 min"]),
    (18, ["next carrier late by 0.6 m from 1.0 m"]),
    (22, ["contact rope-fork-out opens for 60 ms"]),
]
CLOSE_ONES = [(4, "contact rope-fork-out opens for 20 ms"), (8, "next carrier presses close-force with 6250 N")]


def drive_scenario(minutes, noise):
    period = max(PERIOD, minutes // 12)
    lines = [
        f"last {minutes} min", "rope starts at 5.0 m/s", "carriers come round after 60", "carriers spread by 0.3 m",
        f"gauge close-force pressed from 27.6 m to 29.4 m, rated 7300 N, spread 150 N, noise {noise['force']}",
        f"gauge rope-height-in lies at 0 mm, noise {noise['height']}", f"gauge rope-height-out lies at 0 mm, noise {noise['height']}",
        f"gauge rope-tension lies at 220 kN, noise {noise['tension']}", f"gauge wind lies at 4 m/s, noise {noise['wind']}",
        "contact brake-1-set closed while brake-1 off, after 150 ms",
    ]
    # An incident, the reset and the start behind it are in the run whole, or not at all.
    for at, what in ((at, what) for at, what in INCIDENTS if at + 2 < minutes):
        lines += [f"every {period} min from {at} min {one}" for one in what]
        lines.append(f"every {period} min from {at + 1} min 20 s key reset-key pressed for 500 ms")
        lines.append(f"every {period} min from {at + 1} min 40 s rope to 5.0 m/s")
    lines += [f"every {period} min from {at} min {what}" for at, what in CLOSE_ONES if at < minutes]
    return "\n".join(lines) + "\n"


def return_scenario(minutes):
    return f"""last {minutes} min
rope starts at 4.5 m/s
carriers come round after 60
carriers spread by 0.3 m
gauge spring-force pressed from 19.8 m to 21.2 m, rated 6150 N, spread 250 N, noise 20 N
gauge rope-height lies at 0 mm, noise 1.5 mm
gauge deck-height lies at 0 mm, noise 1.0 mm
gauge carriage lies at 3000 mm, noise 4 mm
every 60 min from 5 min contact platform-stop opens for 4 s
every 60 min from 6 min key reset-key pressed for 500 ms
every 60 min from 6 min 20 s rope to 4.5 m/s
"""


def held(process):
    """The most memory that a process has held, MiB; 0 while it is not there."""
    try:
        status = pathlib.Path(f"/proc/{process}/status").read_text()
    except OSError:
        return 0.0
    line = next((line for line in status.splitlines() if line.startswith("VmHWM:")), "VmHWM: 0 kB")
    return int(line.split()[1]) / 1024


class Ran:
    """A program that was run: its CPU time and time, s, and the most memory that it held, MiB.

    The memory that wait4 tells includes that of the process it was forked from, so the system's own high-water mark is read every 10 ms."""

    def __init__(self, words, allowed=(0,), folder=None):
        with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as said:
            began = time.monotonic()
            child = subprocess.Popen([str(word) for word in words], stdout=out, stderr=said, cwd=folder)
            done, self.peak = 0, 0.0
            while not done:
                done, status, used = os.wait4(child.pid, os.WNOHANG)
                if not done:
                    self.peak = max(self.peak, held(child.pid))
                    time.sleep(0.01)
            child.returncode = os.waitstatus_to_exitcode(status)
            self.wall = time.monotonic() - began
            self.cpu = used.ru_utime + used.ru_stime
            out.seek(0), said.seek(0)
            self.out = out.read()
            if child.returncode not in allowed:
                sys.exit(f"{' '.join(map(str, words))}: status {child.returncode}\n{said.read().decode(errors='replace')[-2000:]}")


def simulated(haltproof, rules, text, seed, to, *more):
    scenario = to.with_suffix(".scenario")
    scenario.write_text(text)
    Ran([haltproof, "simulate", *rules, "--scenario", scenario, "--seed", str(seed), "--output", to, *more])


def found_by_replay(haltproof, rules, recording):
    told = json.loads(Ran([haltproof, "replay", *rules, "--recording", recording, "--format", "json"], (0, 1)).out)
    found = {name: [] for name in FOUR}
    for event in told["events"]:
        for cause in event.get("causes") or []:
            if cause["source"] == "watch" and cause["name"] in found:
                found[cause["name"]].append(event["at_us"] // 1000)
    return found, told["summary"]


def day(of, folder):
    rules, asked = (DEMO / f"drive-terminal.{ending}" for ending in ("rules", "requirements.rules"))
    texts = rules.read_text(), asked.read_text()
    every = day_rules.watches(texts[0])
    kept = {1: FOUR[:1], 4: FOUR, 30: [name for name in every if name not in NOT_OF_THIRTY]}
    assert len(kept[30]) == 30, "the drive terminal has other watches now: choose again"
    files = {}
    for count, names in kept.items():
        files[count] = folder / f"{count}.rules"
        files[count].write_text(day_rules.with_watches(*texts, names))
    recordings = {}
    for name, noise, more in (("still", STILL, ()), ("noisy", NOISY, ()), ("noisy changes", NOISY, ("--rows", "change"))):
        recordings[name] = folder / f"{name.replace(' ', '-')}.csv"
        simulated(of.haltproof, [files[4]], drive_scenario(of.minutes, noise), of.seed, recordings[name], *more)
    recordings["noisy dump"] = folder / "noisy.vcd"
    Ran([of.haltproof, "replay", files[4], "--recording", recordings["noisy"], "--vcd", recordings["noisy dump"], "--output", folder / "told"], (0, 1))

    mapping = folder / "parquet.mapping"
    if of.parquet:
        with open(recordings["still"]) as still:
            mapping.write_text("".join(line for line in itertools.takewhile(lambda line: line.startswith("#"), still)))
        for name in ("still", "noisy"):
            recordings[f"{name} parquet"] = folder / f"{name}.parquet"
            Ran([of.polars, HERE / "day_polars.py", recordings[name], recordings[f"{name} parquet"]])

    def replay(recording, *rules):
        words = [of.haltproof, "replay"] if recording.suffix != ".parquet" else [of.parquet, "replay", "--mapping", mapping]
        return [*words, *rules, "--recording", recording, "--output", folder / "told"]

    rows = []
    for name, path in recordings.items():
        text, wide = path.suffix == ".csv", name not in ("noisy changes", "noisy dump")
        rows += [(name, "wc -l", ["wc", "-l", path])] if text else []
        rows += [(name, "csv crate, counting", [of.records, "count", path])] if text and of.records else []
        rows += [(name, "read alone", [of.records, "read", path, files[4]])] if path.suffix != ".parquet" and of.records else []
        rows += [(name, f"replay, {count} rule{'s' if count > 1 else ''}", replay(path, files[count])) for count in ((1, 4, 30) if wide else (4, 30))]
        rows += [(name, f"replay, {len(every)} rules and requirements", replay(path, rules, asked))]
        if of.polars and wide:
            rows += [(name, f"polars, 4 rules ({engine})", [of.polars, HERE / "day_polars.py", path, engine]) for engine in ("in-memory", "streaming")]
    least, same = {}, {}
    for turn in range(of.turns):
        for name, what, words in rows:
            ran = Ran(words, (0, 1))
            before = least.setdefault((name, what), ran)
            if ran.cpu < before.cpu:
                least[name, what] = ran
            if what.startswith("polars"):
                same.setdefault((name, what), json.loads(ran.out))
        print(f"turn {turn + 1} of {of.turns} is done", file=sys.stderr)
    violations = {}
    for name, path in recordings.items():
        if name in ("noisy changes", "noisy dump"):
            continue
        words = (of.parquet, ["--mapping", mapping, files[4]]) if path.suffix == ".parquet" else (of.haltproof, [files[4]])
        found, summary = found_by_replay(*words, path)
        violations[name] = {rule: len(times) for rule, times in found.items()}
        if not all(found.values()) and of.minutes >= 24:
            sys.exit(f"{name}: not every rule is broken in it, so that nothing would be compared: {violations[name]}")
        for (of_name, what), other in same.items():
            if of_name == name and other != found:
                sys.exit(f"{name}: {what} finds other violations than replay\n{other}\n{found}")
    ten = Ran(replay(recordings["noisy"], files[4]) + ["--recording", recordings["noisy"]] * 9, (0, 1))
    return recordings, least, violations, ten


# Whose aim it is, against what it is held, at most; of the issue that asked for it.
AIMS = [
    ("still", "replay, 4 rules", "still", "csv crate, counting", 0.25),
    ("still", "replay, 4 rules", "still", "wc -l", 3.5),
    ("still", "replay, 4 rules", "still", "polars, 4 rules (in-memory)", 0.1),
    ("still", "replay, 4 rules", "still", "polars, 4 rules (streaming)", 0.1),
    ("noisy", "replay, 4 rules", "still", "replay, 4 rules", 1.3),
    ("still", "replay, 30 rules", "still", "read alone", 1.15),
    ("still parquet", "replay, 4 rules", "still parquet", "polars, 4 rules (in-memory)", 1),
    ("still parquet", "replay, 4 rules", "still parquet", "polars, 4 rules (streaming)", 1),
    ("noisy parquet", "replay, 4 rules", "noisy parquet", "polars, 4 rules (in-memory)", 1),
    ("noisy parquet", "replay, 4 rules", "noisy parquet", "polars, 4 rules (streaming)", 1),
    ("noisy changes", "replay, 4 rules", "noisy changes", "csv crate, counting", 0.8),
    ("noisy dump", "replay, 4 rules", "noisy changes", "csv crate, counting", 0.8),
]


def told_day(of, recordings, least, violations, ten):
    scans = of.minutes * 6000
    lines = [f"{of.minutes} min of the drive terminal, {scans} scans, seed {of.seed}; least CPU time of {of.turns} turns. {platform.machine()}, {os.cpu_count()} cores", ""]
    lines.append(f"{'recording':<15}{'MB':>8}  {'what':<38}{'CPU s':>8}{'wall s':>8}{'ns/scan':>9}{'to csv':>8}{'to wc':>8}{'MiB':>7}")
    table = []
    for (name, what), ran in least.items():
        ratios = [ran.cpu / max(least[name, other].cpu, 1e-9) if (name, other) in least else None for other in ("csv crate, counting", "wc -l")]
        megabytes = recordings[name].stat().st_size / 1e6
        csv, wc = (f"{ratio:.2f}" if ratio is not None else "-" for ratio in ratios)
        lines.append(f"{name:<15}{megabytes:>8.1f}  {what:<38}{ran.cpu:>8.2f}{ran.wall:>8.2f}{ran.cpu / scans * 1e9:>9.0f}{csv:>8}{wc:>8}{ran.peak:>7.1f}")
        table.append({"recording": name, "megabytes": megabytes, "what": what, "cpu_s": ran.cpu, "wall_s": ran.wall, "to_csv": ratios[0], "to_wc": ratios[1], "peak_mib": ran.peak})
    lines += ["", "Aims, CPU time:"]
    for name, what, beside, other, most in AIMS:
        if (beside, other) not in least or (name, what) not in least:
            lines.append(f"  not run    {name}: {what} to {other}")
            continue
        ratio = least[name, what].cpu / max(least[beside, other].cpu, 1e-9)
        held = "" if beside == name else f" of {beside}"
        lines.append(f"  {'met' if ratio <= most else 'MISSED':<10} {name}: {what} to {other}{held}: {ratio:.3f}, wanted at most {most}")
    text = [ran.peak for (name, what), ran in least.items() if what.startswith("replay") and not name.endswith("parquet")]
    peaks = {"of one recording (CSV, VCD)": max(text), "of ten, one after the other": ten.peak}
    for what, peak in peaks.items():
        lines.append(f"  {'met' if peak <= 16 else 'MISSED':<10} peak memory of a replay {what}: {peak:.1f} MiB, wanted at most 16")
    lines.append("")
    for name, counts in violations.items():
        beside = ", the same as polars finds, at the same times" if of.polars else "; polars was not run"
        lines.append(f"{name}: " + ", ".join(f"{rule} broken {count} times" for rule, count in counts.items()) + beside)
    return "\n".join(lines), {"minutes": of.minutes, "seed": of.seed, "turns": of.turns, "rows": table, "violations": violations, "peak_of_ten_mib": ten.peak}


def season(of, folder):
    parts, bytes_made = [], 0
    stations = {"drive": drive_scenario(of.minutes, NOISY), "return": return_scenario(of.minutes)}
    for station, text in stations.items():
        rules = [DEMO / f"{station}-terminal.rules", DEMO / f"{station}-terminal.requirements.rules"]
        for made in range(of.made):
            path = folder / f"{station}-{made}.csv"
            simulated(of.haltproof, rules, text, of.seed + made, path)
            bytes_made += path.stat().st_size
        for number in range(of.days):
            recording = folder / f"{station}-{number % of.made}.csv"
            parts.append({"name": f"{station}-{number + 1:03}", "rules": [str(path) for path in rules], "recordings": [str(recording)]})
    (folder / "parts.jsonl").write_text("".join(json.dumps(part) + "\n" for part in parts))
    words = [of.haltproof, "season", folder / "parts.jsonl", "--into", folder / "results", "--threads", str(of.threads), "--format", "json"]
    first = Ran(words, (0, 1))
    account = json.loads(first.out)
    again = Ran(words, (0, 1))
    assert json.loads(again.out)["stood"] == len(parts) and account["broken"] == 0, account
    read = bytes_made * of.days / of.made / 1e9
    lines = [
        f"A season: {of.days} days of {of.minutes} min at 2 stations, {len(parts)} parts, {of.threads} threads; {of.made} recordings made of each station, {bytes_made / 1e9:.2f} GB, each read {of.days / of.made:g} times",
        f"  {account['scans']} scans judged, {read:.1f} GB read, {account['stops']} stops, {account['not_made']} of which not made, {account['missed']} requirements missed",
        f"  wall {first.wall:.1f} s, CPU {first.cpu:.1f} s, peak memory {first.peak:.1f} MiB; asked again, with all results there: {again.wall:.1f} s",
    ]
    if of.minutes < 1440:
        lines.append(f"  days of 24 h would be {1440 / of.minutes:g} times as much: about {first.wall * 1440 / of.minutes / 60:.0f} min, if it goes on so (not run)")
    return "\n".join(lines), {"days": of.days, "minutes": of.minutes, "made": of.made, "threads": of.threads, "gigabytes": read, "wall_s": first.wall, "cpu_s": first.cpu, "peak_mib": first.peak, "again_s": again.wall} | account


def main():
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--haltproof", type=pathlib.Path, required=True)
    words.add_argument("--records", type=pathlib.Path)
    words.add_argument("--polars", type=pathlib.Path, metavar="PYTHON")
    words.add_argument("--parquet", type=pathlib.Path, metavar="HALTPROOF", help="a program that was built with the feature `parquet`")
    words.add_argument("--minutes", type=int, default=1440, help="length of a recording, at least 10 (24 h)")
    words.add_argument("--turns", type=int, default=3)
    words.add_argument("--seed", type=int, default=7)
    words.add_argument("--season", action="store_true")
    words.add_argument("--days", type=int, default=150)
    words.add_argument("--made", type=int, default=10)
    words.add_argument("--threads", type=int, default=os.cpu_count())
    words.add_argument("--output", type=pathlib.Path, help="the figures as JSON")
    of = words.parse_args()
    if of.minutes < 10 or of.made < 1 or of.days < 1:
        words.error("a recording is 10 minutes or more, and there is at least one of it and one day")
    if of.parquet and not of.polars:
        words.error("--parquet is held against polars: give --polars as well")
    for program in ("haltproof", "records", "parquet"):
        if getattr(of, program):
            setattr(of, program, getattr(of, program).resolve())
    if of.polars:
        # A link to another interpreter is what makes an environment: it is not followed.
        of.polars = of.polars.absolute()
    folder = pathlib.Path(tempfile.mkdtemp(prefix="haltproof-day-"))
    try:
        text, figures = season(of, folder) if of.season else told_day(of, *day(of, folder))
    finally:
        shutil.rmtree(folder)
    print(text)
    if of.output:
        of.output.write_text(json.dumps(figures, indent=1) + "\n")


if __name__ == "__main__":
    main()
