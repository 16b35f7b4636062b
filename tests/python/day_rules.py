"""Rule files for measurements: a station with some of its watches, all of its inputs, and the hazards that it names."""
import re

WATCHES = ("guard", "travel", "measure", "spacing", "count", "agree", "confirm", "exercise")


def statements(text):
    """A statement begins at the left edge; what is indented belongs to it."""
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    found = []
    for line in lines:
        if line[0].isspace():
            found[-1] += "\n" + line
        else:
            found.append(line)
    return found


def watches(rules):
    """Names of the watches, in their order."""
    return [words[1] for words in (of.split() for of in statements(rules)) if words[0] in WATCHES]


def with_watches(rules, requirements, kept):
    """The same station with these watches alone; nothing is required of it."""
    told = [of for of in statements(requirements) if of.startswith("hazard ")]
    for of in statements(rules):
        words = of.split()
        if words[0] in WATCHES and words[1] not in kept:
            continue
        if words[0] == "bypass" and not set(words[3:]) & set(kept):
            continue
        if words[0] == "refill":
            names, by = re.fullmatch(r"refill (.*?) by (.*)", of, re.S).groups()
            left = [name for name in names.split() if name in kept]
            if not left:
                continue
            of = f"refill {' and '.join(left)} by {by}"
        told.append(of)
    return "\n".join(told) + "\n"
