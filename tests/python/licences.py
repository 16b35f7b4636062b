"""Reads what `cargo metadata --all-features` tells, and fails if a crate that anything here is built of cannot be had under a permissive
licence. Each is an SPDX expression; an old crate writes `/` for `OR`.

    cargo metadata --format-version 1 --all-features --locked | python3 tests/python/licences.py
"""
import json
import re
import sys

# CC0-1.0 waives all rights: nothing binds.
PERMISSIVE = {"0BSD", "Apache-2.0", "BSD-2-Clause", "BSD-3-Clause", "CC0-1.0", "ISC", "MIT", "Unicode-3.0", "Zlib"}


def permissive(expression):
    """Whether one may choose so that all that binds is permissive. An exception (`WITH`) is not known here: it does not count."""
    tokens = re.findall(r"[()/]|[^\s()/]+", expression)

    def either():
        holds = both()
        while tokens and tokens[0] in ("OR", "/"):
            tokens.pop(0)
            holds = both() or holds
        return holds

    def both():
        holds = one()
        while tokens and tokens[0] == "AND":
            tokens.pop(0)
            holds = one() and holds
        return holds

    def one():
        token = tokens.pop(0)
        if token == "(":
            holds = either()
            if tokens.pop(0) != ")":
                raise ValueError(expression)
            return holds
        if tokens and tokens[0] == "WITH":
            del tokens[:2]
            return False
        return token in PERMISSIVE

    holds = either()
    if tokens:
        raise ValueError(expression)
    return holds


# That this can fail.
for expression, holds in [
    ("MIT", True), ("MPL-2.0", False), ("MIT OR GPL-3.0-only", True), ("MIT AND MPL-2.0", False), ("Unlicense/MIT", True),
    ("(MIT OR Apache-2.0) AND Unicode-3.0", True), ("MIT AND (MPL-2.0 OR GPL-2.0-only)", False),
    ("GPL-2.0-only WITH Classpath-exception-2.0", False), ("Apache-2.0 WITH LLVM-exception OR MIT", True),
]:
    assert permissive(expression) == holds, expression

packages = json.load(sys.stdin)["packages"]
others = [package for package in packages if not permissive(package["license"] or "none told")]
for package in others:
    print(f"{package['name']} {package['version']}: {package['license']}")
print(f"{len(packages) - len(others)} of {len(packages)} crates can be had under a permissive licence")
sys.exit(1 if others or not packages else 0)
