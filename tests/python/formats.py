"""Holds what is read and written of recordings against libraries that others wrote: value change dumps against pyvcd and vcdvcd, gauges and
holds against pandas and scipy on recorded sensor series that ship inside packages (seglearn, heartpy), Parquet against pyarrow.

    formats.py HALTPROOF RULES .. -- RECORDING                  RECORDING is CSV of `simulate`, one row a scan
    formats.py --parquet HALTPROOF RULES .. -- RECORDING        Parquet alone, of a program that was built with the feature
"""
import csv
import importlib.metadata
import json
import pathlib
import subprocess
import sys
import tempfile
from decimal import Decimal
from fractions import Fraction

SENSOR = """
station "A sensor alone"
revision 1
scan {scan} ms
output brake-loop on RO-1, off within 30 ms
stop emergency category 0, for emergencies
    releases brake-loop
    bites within 250 ms, slows at 1.0 m/s2 to 1.5 m/s2
key reset-key on DI-01
reset by reset-key pressed and let go, when shaken-1 below 79 m/s2
restart no sooner than 10 s after a stop
hazard H1 "it is shaken"
"""
GAUGE = """
gauge shaken-{n} on AI-0{n}, 4 mA is -200 m/s2, 20 mA is 200 m/s2
    in steps of 0.01 m/s2
guard too-far-{n} "it is shaken"
    hazard H1
    when shaken-{n} above {limit} m/s2
    unbroken for 60 ms
    stop emergency
"""
EXAMPLE = """$timescale 1 ms $end
$scope module st $end
$var wire 1 ! det $end
$var integer 8 " force $end
$upscope $end
$enddefinitions $end
#0
$dumpvars
0!
b0 "
$end
#10
1!
b101 "
#30
0!
#31
x!
b111 "
"""


def replay(program, rules, recording, *more):
    """The JSON of a replay, without what names the recording."""
    done = subprocess.run([program, "replay", *rules, "--recording", recording, "--format", "json", *more], capture_output=True, text=True)
    assert done.returncode < 2, done.stderr
    told = json.loads(done.stdout)
    del told["recording"]
    return told


def cannot(program, rules, recording, *more):
    done = subprocess.run([program, "replay", *rules, "--recording", recording, *more], capture_output=True, text=True)
    assert done.returncode == 2, done.stdout
    return done.stderr


def table(recording):
    """Rows of a recording of one row a scan, by name without unit, and the terminals of names."""
    lines = pathlib.Path(recording).read_text().splitlines()
    assert "# time: ms" in lines
    names = dict(line[9:].split(" is ") for line in lines if line.startswith("# column "))
    rows = list(csv.reader(line for line in lines if not line.startswith("#")))
    titles = [title.partition("[")[0] for title in rows[0]]
    units = {title.partition("[")[0]: title.partition("[")[2].rstrip("]") for title in rows[0]}
    return titles, units, names, rows[1:]


def sampled(dump, scan):
    """What a dump of ours says in each scan, as vcdvcd reads it: a list of values for each variable."""
    from vcdvcd import VCDVCD

    read = VCDVCD(str(dump))
    assert read.timescale["timescale"] == Decimal("0.000001")
    last = read.endtime
    all = {}
    for signal in read.signals:
        changes = read[signal].tv
        values, at = [], 0
        first = read.begintime
        for time in range(first, last, scan):
            while at + 1 < len(changes) and changes[at + 1][0] <= time:
                at += 1
            values.append(changes[at][1])
        all[signal.rpartition(".")[2]] = values
    return first, all


def dumps(program, rules, recording, folder):
    """Our dump, read by vcdvcd, is the recording; a dump that pyvcd writes of the recording replays as it does."""
    from vcd import VCDWriter

    titles, units, names, rows = table(recording)
    scan = 1_000 * (int(rows[1][0]) - int(rows[0][0]))
    subprocess.run([program, "replay", *rules, "--recording", recording, "--vcd", folder / "ours.vcd", "--output", folder / "told.txt"], check=False)
    first, ours = sampled(folder / "ours.vcd", scan)
    assert first == 1_000 * int(rows[0][0])
    compared = 0
    for column, title in enumerate(titles[1:], 1):
        terminal = names.get(title, title).replace("-", "_")
        written = [row[column] for row in rows]
        kind = terminal.partition("_")[0]
        if kind == "DI":
            [read] = [values for name, values in ours.items() if name == terminal or name.endswith("__" + terminal)]
            assert read == written, title
        elif kind == "CI":
            [read] = [values for name, values in ours.items() if name == f"{terminal}__mm" or name.endswith(f"__{terminal}__mm")]
            assert [float(value) for value in read] == [float(value) for value in written], title
        elif kind == "L":
            [fresh] = [values for name, values in ours.items() if name.endswith(f"{terminal}__fresh")]
            assert fresh == ["1" if value else "0" for value in written], title
        else:
            continue
        compared += 1
    with (folder / "theirs.vcd").open("w") as to, VCDWriter(to, timescale="1 us", date="") as writer:
        kinds = {"DI": ("wire", 1), "AI": ("real", 64), "CI": ("integer", 32), "L": ("wire", 8)}
        variables = []
        for title in titles[1:]:
            terminal = names.get(title, title).replace("-", "_")
            kind = terminal.partition("_")[0]
            name = f"{terminal}__{units[title]}" if units[title] else terminal
            variables.append((kind, writer.register_var("station", name, *kinds[kind], init="x" if kind == "L" else 0)))
        for row in rows:
            for (kind, variable), value in zip(variables, row[1:]):
                value = ("x" if value == "" else int(value)) if kind != "AI" else float(value)
                writer.change(variable, 1_000 * int(row[0]), value)
        writer.close(1_000 * int(rows[-1][0]) + scan)
    # Where the recording has a restart or starts at power-up, a dump of others cannot say so: events from then on are what both have.
    theirs = replay(program, rules, folder / "theirs.vcd")
    plain = folder / "running.csv"
    plain.write_text(pathlib.Path(recording).read_text().replace("# starts: power-up", "# starts: running"))
    assert "# power-up" not in plain.read_text()
    assert theirs == replay(program, rules, plain), "a dump that pyvcd wrote replays otherwise"
    print(f"{len(rows)} scans of {compared} inputs: vcdvcd reads our dump as the recording, and a dump of pyvcd replays as the recording does")


def example(program, folder):
    """The example of IEEE 1364-2005, clause 18, is read as vcdvcd reads it, up to where a channel is unknown."""
    from vcdvcd import VCDVCD

    (folder / "example.vcd").write_text(EXAMPLE)
    read = VCDVCD(str(folder / "example.vcd"))
    assert read["st.det"].tv == [(0, "0"), (10, "1"), (30, "0"), (31, "x")]
    assert read["st.force[8:0]" if "st.force[8:0]" in read.signals else "st.force"].tv == [(0, "0"), (10, "101"), (31, "111")]
    (folder / "example.rules").write_text((SENSOR + GAUGE.format(n=1, limit=12)).format(scan=10))
    (folder / "example.mapping").write_text("# haltproof recording 1\n# column det is DI-01\n# column force is AI-01 in m/s2\n")
    rules, mapping = [folder / "example.rules"], ["--mapping", folder / "example.mapping"]
    assert "`det` is unknown here" in cannot(program, rules, folder / "example.vcd", *mapping)
    (folder / "known.vcd").write_text(EXAMPLE.replace("#31\nx!\nb111 \"\n", "#40\n"))
    subprocess.run([program, "replay", *rules, "--recording", folder / "known.vcd", *mapping, "--vcd", folder / "read.vcd", "--output", folder / "read.txt"])
    _, ours = sampled(folder / "read.vcd", 10_000)
    assert ours["reset_key__DI_01"] == ["0", "1", "1", "0"] and [float(v) for v in ours["shaken_1__AI_01__m_per_s2"]] == [0, 5, 5, 5]


def step(raw, times, plus):
    """Hundredths, to the nearest, half upwards, of a decimal number as it is written."""
    return (100 * (Fraction(Decimal(raw)) * times + plus) + Fraction(1, 2)).__floor__()


def judged(program, folder, scan, channels, rules_limit, recording, mapping):
    """What a replay makes of each gauge in each scan, in hundredths, and in which scans its guard trips."""
    rules = folder / "sensor.rules"
    text = SENSOR.format(scan=scan) + "".join(GAUGE.format(n=n + 1, limit=rules_limit) for n in range(channels))
    rules.write_text(text)
    done = subprocess.run([program, "replay", rules, "--recording", recording, "--mapping", mapping, "--vcd", folder / "sensor.vcd", "--output", folder / "sensor.txt"],
                          capture_output=True, text=True)
    assert done.returncode < 2, done.stderr
    first, ours = sampled(folder / "sensor.vcd", 1_000 * scan)
    gauges = [[round(100 * float(value)) for value in ours[f"shaken_{n + 1}__AI_0{n + 1}__m_per_s2"]] for n in range(channels)]
    trips = [[value == "1" for value in ours[f"watch__too_far_{n + 1}"]] for n in range(channels)]
    return first, gauges, trips


def unbroken(series, limit, scan):
    """Scans in which a series has been above a limit for 60 ms, by pandas; and how often, by scipy."""
    from scipy import ndimage

    above = series > limit
    length = 60 // scan + 1
    trips = above.astype(int).rolling(length).sum() == length
    runs, count = ndimage.label(above.to_numpy())
    times = sum(int((runs == run + 1).sum() >= length) for run in range(count))
    return trips.to_list(), times


def data(package, name):
    return next(file.locate() for file in importlib.metadata.files(package) if str(file).endswith(name))


def series(program, folder):
    import numpy
    import pandas

    # 140 recordings of a watch on a wrist, six channels at 50 Hz: the accelerations, in g, are gauges in m/s2.
    recordings = numpy.load(data("seglearn", "data/watch_dataset.npy"), allow_pickle=True).item()["X"]
    mapping = folder / "watch.mapping"
    mapping.write_text("# haltproof recording 1\n# rows: scan\n# time: ms\n# starts: power-up\n# column n is time\n# column key is DI-01\n"
                       + "".join(f"# column a{n} is AI-0{n + 1} in m/s2 times 9.80665\n" for n in range(3)))
    scans = trips = 0
    for number, recording in enumerate(recordings):
        texts = [[f"{value:.6f}" for value in row[:3]] for row in recording]
        path = folder / "watch.csv"
        path.write_text("n,key,a0,a1,a2\n" + "".join(f"{20 * n},0,{','.join(row)}\n" for n, row in enumerate(texts)))
        first, gauges, tripped = judged(program, folder, 20, 3, 12, path, mapping)
        for channel in range(3):
            expected = [step(row[channel], Fraction("9.80665"), 0) for row in texts]
            assert gauges[channel] == expected, (number, channel)
            by_pandas, times = unbroken(pandas.Series(expected), 1_200, 20)
            assert tripped[channel] == by_pandas, (number, channel)
            assert sum(now and not before for before, now in zip([False] + by_pandas, by_pandas)) == times
            trips += times
        scans += len(texts)
    assert trips > 100, trips
    print(f"{len(recordings)} recordings of a wrist, {scans} scans of 3 gauges: every step is that of exact fractions, and a guard trips when "
          f"pandas and scipy say, {trips} times")

    # A pulse with dates of uneven distance, several to a millisecond: what is said last holds until something else is said.
    table = pandas.read_csv(data("heartpy", "data/data3.csv"))
    table["datetime"] = pandas.to_datetime(table["datetime"], format="ISO8601")
    table = table.set_index("datetime")["hr"]
    # Of several values before one scan the last is kept, as the program asks for.
    table = table[~((table.index - table.index[0]) / pandas.Timedelta("10ms")).to_series().apply(numpy.ceil).duplicated(keep="last").to_numpy()]
    mapping = folder / "pulse.mapping"
    mapping.write_text("# haltproof recording 1\n# rows: change\n# time: date\n# zone: Europe/Vienna\n# starts: power-up\n"
                       "# column hr is AI-01 in m/s2 times 1/10 minus 50\n")
    path = folder / "pulse.csv"
    begin = table.index[0]
    path.write_text(f"time,signal,value\n{begin},DI-01,0\n" + "".join(f"{at.isoformat()},hr,{value}\n" for at, value in table.items()))
    first, gauges, tripped = judged(program, folder, 10, 1, 12, path, mapping)
    assert first == begin.tz_localize("Europe/Vienna").value // 1_000
    grid = pandas.date_range(begin, periods=len(gauges[0]), freq="10ms")
    held = table.reindex(grid, method="ffill")
    assert grid[-1] >= table.index[-1] > grid[-2], "every row is seen"
    expected = [step(str(value), Fraction(1, 10), -50) for value in held]
    by_pandas, times = unbroken(pandas.Series(expected), 1_200, 10)
    assert gauges[0] == expected and tripped[0] == by_pandas and times > 100
    steps = sorted(set((table.index[1:] - table.index[:-1]).total_seconds()))
    print(f"{len(table)} values {steps[0]} s to {steps[-1]} s apart, dated: held over {len(expected)} scans as pandas holds them, {times} trips")


def parquet(program, rules, recording, folder):
    """What pyarrow writes of a recording is replayed as the recording, and read back it is the recording."""
    import datetime
    import pyarrow
    import pyarrow.parquet

    titles, units, names, rows = table(recording)
    lines = [line for line in pathlib.Path(recording).read_text().splitlines() if line.startswith("#")]
    told = replay(program, rules, recording)
    mapping = folder / "parquet.mapping"
    mapping.write_text("\n".join(lines) + "\n")
    (folder / "dated.mapping").write_text("\n".join(line.replace("# time: ms", "# time: date") for line in lines) + "\n")
    columns = {}
    for column, title in enumerate(titles):
        kind = names.get(title, title).partition("-")[0]
        written = [row[column] for row in rows]
        name = f"{title}[{units[title]}]" if units[title] else title
        if kind == "time":
            columns[name] = pyarrow.array([int(value) for value in written], pyarrow.int64())
        elif kind == "DI":
            columns[name] = pyarrow.array([value == "1" for value in written], pyarrow.bool_())
        elif kind == "AI":
            columns[name] = pyarrow.array([float(value) for value in written], pyarrow.float64())
        elif kind == "CI":
            columns[name] = pyarrow.array([int(value) for value in written], pyarrow.int32())
        else:
            columns[name] = pyarrow.array([None if value == "" else int(value) for value in written], pyarrow.uint8())
    whole = pyarrow.table(columns)
    at = folder / "recording.parquet"
    for style in [
        {"compression": "none", "use_dictionary": False}, {"compression": "snappy"}, {"compression": "gzip", "row_group_size": 1_000, "write_page_checksum": True},
        {"compression": "zstd", "data_page_version": "2.0", "data_page_size": 4_096, "write_page_checksum": True}, {"compression": "snappy", "data_page_version": "2.0", "use_dictionary": False},
        {"compression": "zstd", "use_dictionary": False, "column_encoding": {"time": "DELTA_BINARY_PACKED"}},
    ]:
        pyarrow.parquet.write_table(whole, at, **style)
        assert pyarrow.parquet.read_table(at).equals(whole)
        assert replay(program, rules, at, "--mapping", mapping) == told, style
    # The lines may lie in the file.
    pyarrow.parquet.write_table(whole.replace_schema_metadata({"haltproof": "\n".join(lines)}), at)
    assert replay(program, rules, at) == told
    # Time stamps are dates.
    epoch = datetime.datetime(2026, 3, 29, tzinfo=datetime.timezone.utc)
    moments = pyarrow.array([epoch + datetime.timedelta(milliseconds=int(row[0])) for row in rows], pyarrow.timestamp("us", tz="UTC"))
    pyarrow.parquet.write_table(whole.set_column(0, "time", moments), at)
    dated = replay(program, rules, at, "--mapping", folder / "dated.mapping")
    path = folder / "dated.csv"
    path.write_text("\n".join(",".join(row) for row in [whole.column_names] + [
        [f"{(epoch + datetime.timedelta(milliseconds=int(row[0]))).isoformat(timespec='microseconds')}"] + row[1:] for row in rows]) + "\n")
    assert dated == replay(program, rules, path, "--mapping", folder / "dated.mapping")
    # What is wrong is an error as in rows, and a page that unpacks to too much is not unpacked.
    gap = pyarrow.concat_tables([whole.slice(0, 100), whole.slice(150)])
    pyarrow.parquet.write_table(gap, at)
    assert "a gap" in cannot(program, rules, at, "--mapping", mapping)
    assert replay(program, rules, at, "--mapping", mapping, "--over-gaps")["summary"]["gaps"] == 1
    lists = whole.append_column("more", pyarrow.array([[1]] * len(rows)))
    pyarrow.parquet.write_table(lists, at)
    assert "is a list" in cannot(program, rules, at, "--mapping", mapping)
    mapping.write_text(mapping.read_text() + "# ignore more\n")
    bomb = whole.slice(0, 1).append_column("more", pyarrow.array(["0" * (1 << 26)]))
    pyarrow.parquet.write_table(bomb, at, compression="zstd", use_dictionary=False, write_statistics=False)
    assert at.stat().st_size < 1 << 16 and "write it with smaller pages" in cannot(program, rules, at, "--mapping", mapping)
    whole_bytes = at.read_bytes()
    at.write_bytes(whole_bytes[:-9])
    assert "does not end so" in cannot(program, rules, at, "--mapping", mapping)
    print(f"{len(rows)} scans of {len(titles) - 1} inputs: pyarrow writes and reads them in six styles, and each replays as the rows do")


def main(words):
    of_parquet = words[0] == "--parquet"
    program, *words = words[1:] if of_parquet else words
    at = words.index("--")
    rules, [recording] = words[:at], words[at + 1:]
    with tempfile.TemporaryDirectory(prefix="haltproof-formats-") as folder:
        folder = pathlib.Path(folder)
        if of_parquet:
            parquet(program, rules, recording, folder)
        else:
            example(program, folder)
            dumps(program, rules, recording, folder)
            series(program, folder)


if __name__ == "__main__":
    main(sys.argv[1:])
