"""Holds the program's traces against rtamt 0.4.10, a reference library for temporal logic (BSD-3).

Reads the lines that `cargo run -p cross-tests --example traces` prints. Windows are closed and cut
at the beginning of a trace. There the program differs on purpose: a hold needs all its scans, so
that the first n scans are compared only where the library's cut window says nothing else.
"""
import json
import sys

import rtamt


def evaluate(formula, **traces):
    """Truth of a formula in each scan of a trace, offline."""
    spec = rtamt.StlDiscreteTimeSpecification()
    for name in traces:
        spec.declare_var(name, "float")
    spec.declare_var("out", "float")
    spec.spec = "out = " + formula
    spec.parse()
    length = len(next(iter(traces.values())))
    data = {"time": list(range(length))}
    data.update({name: [1.0 if v else 0.0 for v in values] for name, values in traces.items()})
    return [value > 0 for _, value in spec.evaluate(data)]


def main(path):
    compared = {}
    for number, line in enumerate(open(path, encoding="utf-8"), 1):
        case = json.loads(line)
        kind, n = case["formula"], case["n"]
        if kind == "historically":
            got = evaluate(f"historically[0:{n}](p >= 0.5)", p=case["p"])[n:]
            want = case["out"][n:]
        elif kind == "once":
            got = evaluate(f"once[0:{n}](p >= 0.5)", p=case["p"])[n:]
            want = case["out"][n:]
        elif kind == "response":
            holds = evaluate(f"(p >= 0.5) implies (eventually[0:{n}](q >= 0.5))", p=case["p"], q=case["q"])
            # What is still pending at the end of the trace counts as violated there, and says nothing.
            wrong = [t for t, good in enumerate(holds) if not good and t + n < len(holds)]
            got, want = (wrong[0] + n if wrong else None), case["missed"]
        else:
            got = evaluate("(q < 0.5) since ((p >= 0.5) and (q < 0.5))", p=case["p"], q=case["q"])
            want = case["out"]
        if got != want:
            print(f"line {number}: {kind}, n = {n}\n  library {got}\n  program {want}")
            return 1
        compared[kind] = compared.get(kind, 0) + 1
    print("agree with rtamt:", ", ".join(f"{kind} on {count} traces" for kind, count in sorted(compared.items())))
    return 0 if len(compared) == 4 and min(compared.values()) >= 100 else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
