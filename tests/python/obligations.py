"""Has other solvers decide what the proofs of the demo stations rest on: z3 (MIT) and cvc5 (BSD-3).

Reads the scripts in SMT-LIB 2.6 that `cargo run -p cross-tests --example obligations -- FOLDER` writes,
as text and nothing else. Each question of a proof must be answered `unsat` by both solvers; no answer
in time is no answer. Of the controls, proofs that lack one of their lemmas, both solvers must refute
some, and they must never contradict each other.
"""
import concurrent.futures
import pathlib
import sys
import time

import cvc5
import z3

MILLISECONDS = 60_000


def with_z3(text):
    """Answers to all questions of a script, in their order, as lines of output."""
    context = z3.Context()
    z3.Z3_eval_smtlib2_string(context.ref(), f"(set-option :timeout {MILLISECONDS})")
    return z3.Z3_eval_smtlib2_string(context.ref(), text).splitlines()


def with_cvc5(text):
    terms = cvc5.TermManager()
    solver = cvc5.Solver(terms)
    solver.setOption("incremental", "true")
    solver.setOption("tlimit-per", str(MILLISECONDS))
    parser = cvc5.InputParser(solver)
    parser.setStringInput(cvc5.InputLanguage.SMT_LIB_2_6, text, "obligations")
    symbols, out = parser.getSymbolManager(), []
    while not (command := parser.nextCommand()).isNull():
        out.extend(command.invoke(solver, symbols).splitlines())
    return out


SOLVERS = {"z3": with_z3, "cvc5": with_cvc5}


def decide(solve, text):
    """Name of each question, and its answer; anything else that a solver says is an error of the script."""
    asked = [line[7:-2] for line in text.splitlines() if line.startswith('(echo "')]
    lines = [line.strip() for line in solve(text) if line.strip()]
    # A solver may or may not repeat the quotes of what it echoes.
    names, answers = [line.strip('"') for line in lines[0::2]], lines[1::2]
    if names != asked or len(answers) != len(asked) or text.count("(check-sat)") != len(asked):
        strange = [line for line in lines if line not in asked and line not in ("sat", "unsat", "unknown")]
        raise ValueError(f"{len(asked)} questions, {len(lines)} lines of answer: {strange[:3]}")
    return list(zip(names, answers))


def timed(task):
    name, script = task
    start = time.monotonic()
    answers = decide(SOLVERS[name], script.read_text(encoding="ascii"))
    return name, script.stem, answers, time.monotonic() - start


def decide_all(folder):
    """For each solver: answers by script and question. Says how many there are, and seconds of work."""
    scripts = sorted(folder.glob("*.smt2"), key=lambda script: -script.stat().st_size)
    answers, seconds = {name: {} for name in SOLVERS}, dict.fromkeys(SOLVERS, 0.0)
    with concurrent.futures.ProcessPoolExecutor() as pool:
        for name, script, told, took in pool.map(timed, [(name, script) for script in scripts for name in SOLVERS]):
            answers[name].update({(script, question): answer for question, answer in told})
            seconds[name] += took
    for name, of in answers.items():
        counts = {answer: list(of.values()).count(answer) for answer in sorted(set(of.values()))}
        told = ", ".join(f"{count} {answer}" for answer, count in counts.items())
        print(f"{folder.name}: {name} on {len(of)} questions of {len(scripts)} scripts: {told}, {seconds[name]:.1f} s")
    return answers


def main(path):
    folder, failed = pathlib.Path(path), False
    for name, of in decide_all(folder / "proofs").items():
        failed |= not of
        for (script, question), answer in of.items():
            if answer != "unsat":
                print(f"{script}: {question}: {name} says {answer}")
                failed = True
    controls = decide_all(folder / "controls")
    for name, of in controls.items():
        refuted = {script for (script, _), answer in of.items() if answer == "sat"}
        print(f"controls: {name} refutes {len(refuted)} of {len({script for script, _ in of})} proofs without a lemma")
        failed |= not refuted
    for key, answer in controls["z3"].items():
        if {answer, controls["cvc5"][key]} == {"sat", "unsat"}:
            print(f"{key[0]}: {key[1]}: z3 says {answer}, cvc5 {controls['cvc5'][key]}")
            failed = True
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
