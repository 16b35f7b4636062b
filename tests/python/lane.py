"""Holds a carrier's run on random lanes against SciPy 1.17.1 (BSD-3), which integrates its speed.

Reads the lines that `cargo run -p cross-tests --example lanes` prints. On a stretch the square of the
share of the rope speed is linear in the place: that is all that is taken from the program. The run is
the integral of one over the share (`quad`), and the time at a steady rope the end of the motion
dx/dt = share(x) times the rope's speed (`solve_ivp`).
"""
import json
import math
import sys

from scipy.integrate import quad, solve_ivp

CLOSE = 1e-6


def share(stretch, at, off):
    start, end, first, last = stretch
    square = first**2 + (last**2 - first**2) * (at - start) / (end - start)
    rope = first == last == 1_000_000
    return math.sqrt(square) / 1e6 * (1 if rope else 1 + off)


def pieces(case):
    for stretch in case["stretches"]:
        start, end = max(case["from"], stretch[0]), min(case["to"], stretch[1])
        if start < end:
            yield stretch, start, end


def run(case, off):
    """Rope in mm."""
    return sum(quad(lambda x: 1 / share(s, x, off), a, b, epsabs=0, epsrel=1e-12)[0] for s, a, b in pieces(case))


def time(case, off):
    """Seconds at a steady rope, stretch by stretch."""
    rope, total = case["rope_mm_a_second"], 0.0
    for stretch, start, end in pieces(case):
        def speed(_, x):
            return [share(stretch, min(max(x[0], stretch[0]), stretch[1]), off) * rope]

        def there(_, x):
            return x[0] - end

        there.terminal = True
        slowest = min(share(stretch, stretch[0], off), share(stretch, stretch[1], off)) * rope
        most = 2 * (end - start) / slowest
        solved = solve_ivp(speed, (0, most), [start], events=there, rtol=1e-10, atol=1e-9)
        total += solved.t_events[0][0]
    return total


def main(path):
    worst = {"run": 0.0, "time": 0.0}
    count = 0
    for line in open(path, encoding="utf-8"):
        case = json.loads(line)
        count += 1
        for name, off in [("nominal_nm", 0), ("faster_nm", case["ppm"] / 1e6), ("slower_nm", -case["ppm"] / 1e6)]:
            least, most = (nm / 1e6 for nm in case[name])
            assert most - least <= 1e-3, (case, name)
            want = run(case, off)
            wrong = max(abs(least - want), abs(most - want)) / want
            worst["run"] = max(worst["run"], wrong)
            assert wrong <= CLOSE, (case, name, want)
            if name == "nominal_nm":
                want = time(case, off)
                wrong = abs(least / case["rope_mm_a_second"] - want) / want
                worst["time"] = max(worst["time"], wrong)
                assert wrong <= CLOSE, (case, name, want)
    assert count == 200, count
    print(f"{count} lanes; at the worst a run is off by {worst['run']:.1e}, a time by {worst['time']:.1e}")


if __name__ == "__main__":
    main(sys.argv[1])
