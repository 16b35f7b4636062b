"""Four rules of the drive terminal asked of a recording with a dataframe engine, as a person would who has no rules: a window in rope, bounds of a gauge,
a debounced guard and a response in time.

`python day_polars.py RECORDING.csv|RECORDING.parquet [ENGINE]` prints one JSON object: what broke a rule, and when (ms). `day.py` holds it against what `replay` says.
With a second file, `python day_polars.py RECORDING.csv RECORDING.parquet`, it only writes the one as the other.
The limits are those of `host-tools/demo/drive-terminal.rules`, rounded to scans, steps and millimetres as its manual says.
"""
import json
import sys

import polars as pl

SCAN = 10
# slow-down: 4.60 m to 5.188 m, less and more by the rope of a scan at 5.5 m/s.
EARLIEST, LATEST = 4600 + 55, 5188 - 55


def settled(name, scans):
    """A level changes when its new value has stood for so many scans more than one."""
    raw = pl.col(name)
    all_on = raw.rolling_min(scans + 1, min_samples=1)
    any_on = raw.rolling_max(scans + 1, min_samples=1)
    return pl.when(all_on == 1).then(True).when(any_on == 0).then(False).forward_fill()


def rises(level):
    return level & ~level.shift(1, fill_value=True)


def broken(path):
    raw = pl.scan_parquet(path) if path.endswith(".parquet") else pl.scan_csv(path, comment_prefix="#")
    rows = raw.select(
        pl.col("time").alias("at"),
        pl.col("CI-01[mm]").cum_sum().alias("rope"),
        rises(settled("DI-01", 1)).alias("enter"),
        rises(settled("DI-02", 1)).alias("mid_slow"),
        rises(pl.col("DI-09") == 1).alias("force_point"),
        (((pl.col("AI-01[mA]") - 4) * 75 + 0.5).floor() * 10).alias("force"),
        (((pl.col("AI-03[mA]") - 4) * 7.5 + 0.5).floor() - 60).alias("height"),
        (~settled("DI-12", 1)).alias("fork_open"),
        settled("DI-16", 2).alias("brake_set"),
    )
    low = (pl.col("height") < -18) | pl.col("fork_open")
    rows = rows.with_columns(
        low=low.cast(pl.UInt8).rolling_sum(3, min_samples=3).fill_null(0) == 3,
        since=pl.col("at") - pl.when("force_point").then("at").forward_fill(),
        passing=pl.col("force_point").cast(pl.UInt32).cum_sum(),
    )
    enters = rows.filter("enter").select("at", "rope")
    mids = rows.filter("mid_slow").select("at", pl.col("rope").alias("rope_then"), pl.col("at").alias("came"))
    window = enters.join_asof(mids, on="at", strategy="forward", allow_exact_matches=False)
    window = window.with_columns(ran=pl.col("rope_then") - pl.col("rope"))
    early = window.filter(pl.col("ran") < EARLIEST).select(pl.col("came").alias("at"))
    bounds = rows.filter((pl.col("since") <= 60) & ~pl.col("force").is_between(6200, 8400)).group_by("passing").agg(pl.col("at").min())
    debounced = rows.filter(rises(pl.col("low"))).select("at")
    closed = rows.filter("brake_set").select("at", pl.col("at").alias("closed"))
    answered = early.sort("at").join_asof(closed, on="at", strategy="forward", allow_exact_matches=False)
    response = answered.filter((pl.col("closed") - pl.col("at") > 400 + SCAN) | pl.col("closed").is_null()).select(pl.col("at") + 400 + SCAN)
    # One that is late is so in the first scan in which the rope has run too far.
    late = window.filter((pl.col("ran") > LATEST) | pl.col("ran").is_null()).select(far=pl.col("rope") + LATEST + 1)
    runs = rows.select("at", far=pl.col("rope").cum_max())
    late = late.sort("far").join_asof(runs, on="far", strategy="forward").select(pl.col("at").drop_nulls())
    early, bounds, debounced, response, late = pl.collect_all([early, bounds, debounced, response, late], engine=ENGINE)
    return {
        "slow-down": sorted(early["at"].to_list() + late["at"].to_list()),
        "shut-force": sorted(bounds["at"].to_list()),
        "rope-low-out": sorted(debounced["at"].to_list()),
        "brake-1-sets": sorted(response["at"].to_list()),
    }


ENGINE = sys.argv[2] if len(sys.argv) > 2 else "auto"
if ENGINE.endswith(".parquet"):
    pl.scan_csv(sys.argv[1], comment_prefix="#").sink_parquet(ENGINE)
else:
    print(json.dumps(broken(sys.argv[1])))
