#!/usr/bin/env python3
"""Writes src/guide/licences.md: the licence of every library that can end up in the program, on whatever system and
with whatever feature, and that of the font in the pictures. Run it again when Cargo.lock has changed (tests/readme.rs
tells):

    cargo fetch && python3 tests/licences.py

Asks cargo for the libraries and reads the licence files that they came with. Where a library offers several
licences, the first of TAKEN is taken. A text that differs from the usual one in more than its copyright line is
printed in full.
"""
import json
import os
import re
import subprocess

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..")
OUT = os.path.join(ROOT, "src", "guide", "licences.md")
# In order of preference, each with words by which its text is known.
TAKEN = {
    "MIT": "permission is hereby granted free of charge to any person obtaining a copy of this software",
    "Apache-2.0": "apache license version 2 0 january 2004",
    "Zlib": "this software is provided as is without any express or implied warranty in no event",
    "MPL-2.0": "mozilla public license version 2 0 1 definitions",
    "BSL-1.0": "boost software license version 1 0",
    "Unicode-3.0": "unicode license v3",
    "BSD-2-Clause": "redistribution and use in source and binary forms",
    "BSD-3-Clause": "redistribution and use in source and binary forms",
}
# The texts of these hold names, so each is printed as it came.
NAMED = {"BSD-2-Clause", "BSD-3-Clause"}
COPYRIGHT = re.compile(r"^[\s/*#]*(Copyright\b.*|\([cC]\) \d.*|© .*)$", re.M)
NO_NOTICE = re.compile(r"\[yyyy\]|\{yyyy\}|Copyright (Notices?|License|and|holder|owner)\b|^Copyrights", re.I)


def metadata():
    command = "cargo metadata --format-version 1 --all-features --locked --offline"
    return json.loads(subprocess.check_output(command.split(), cwd=ROOT))


def in_the_program(meta):
    """The libraries reached without building tools, tests or macros, and all others of the lock file."""
    packages = {p["id"]: p for p in meta["packages"]}
    needs = {n["id"]: n["deps"] for n in meta["resolve"]["nodes"]}
    root = meta["resolve"]["root"]
    seen, todo = set(), [root]
    while todo:
        one = todo.pop()
        is_macro = any("proc-macro" in target["kind"] for target in packages[one]["targets"])
        if one in seen or is_macro:
            continue
        seen.add(one)
        todo += [d["pkg"] for d in needs[one] if any(kind["kind"] is None for kind in d["dep_kinds"])]
    order = sorted((p["name"], p["version"], p["id"]) for p in meta["packages"] if p["id"] != root)
    return [packages[i] for _, _, i in order if i in seen], [packages[i] for _, _, i in order if i not in seen]


def locked():
    text = open(os.path.join(ROOT, "Cargo.lock"), encoding="utf-8").read()
    return {tuple(found) for found in re.findall(r'name = "(.*)"\nversion = "(.*)"\nsource', text)}


def taken(expression):
    """Of an SPDX expression without nested choices: what is taken of each part that must be met."""
    parts = [part.strip(" ()") for part in expression.split(" AND ")]
    choices = [re.split(r" OR |/", part) for part in parts]
    return [next(name for name in TAKEN if name in choice) for choice in choices]


def plain(text):
    """Words alone, without copyright lines: texts that differ in nothing else are the same."""
    return re.sub(r"[^a-z0-9]+", " ", COPYRIGHT.sub("", text).lower().replace("https:", "http:")).strip()


def files(package):
    folder = os.path.dirname(package["manifest_path"])
    names = [n for n in sorted(os.listdir(folder)) if re.match(r"(?i)licen[cs]e|copying|copyright|notice", n)]
    paths = [os.path.join(folder, name) for name in names if os.path.isfile(os.path.join(folder, name))]
    return [open(path, encoding="utf-8", errors="replace").read() for path in paths]


def notices(package, texts):
    found = []
    for text in texts:
        lines = [" ".join(line.split()) for line in COPYRIGHT.findall(text)]
        found += [line for line in lines if not NO_NOTICE.search(line) and line not in found]
    authors = [re.sub(r"\s*<.*?>", "", author) for author in package["authors"]]
    authors = ", ".join(authors) or f"the authors of {package['name']}"
    # A year without a name.
    found = [line if re.search(r"[A-Za-z]", line.replace("(c)", "")[9:]) else f"{line} {authors}" for line in found]
    return "; ".join(found) or authors


def usual(name, texts):
    """The shortest of the texts that hold nothing but this licence, from its own first words on."""
    start = {"MIT": "Permission is hereby", "Apache-2.0": "Apache License", "Zlib": "This software is provided",
             "MPL-2.0": "Mozilla Public License", "BSL-1.0": "Boost Software License",
             "Unicode-3.0": "UNICODE LICENSE"}[name]
    text = min((t for t in texts if start in t), key=lambda t: (len(plain(t)), t))
    indent = re.search(rf"^[ \t]*{re.escape(start)}", text, re.M)
    return text[indent.start():].strip("\n")


def fence(text):
    assert "```" not in text
    return "```text\n" + "\n".join(line.rstrip() for line in text.strip("\n").splitlines()) + "\n```\n"


def main():
    libraries, others = in_the_program(metadata())
    users = {}
    for package in libraries:
        texts = files(package)
        for name in taken(package["license"]):
            own = [text for text in texts if TAKEN[name] in plain(text)]
            users.setdefault(name, []).append((package, own, texts))
    font = os.path.join(os.path.dirname(next(p for p in libraries if p["name"] == "dejavu")["manifest_path"]),
                        "assets", "dejavu-fonts-ttf-2.37", "LICENSE")
    out = ["# Licences", "",
           "noisetally itself comes under the MIT or the Apache-2.0 licence, at your option.",
           "What else is in the program, on whatever system and with whatever feature it is",
           "built, comes under the licences below. Where a library offers several, the one",
           "it stands under here is taken.", "",
           "This file is made by `tests/licences.py` from Cargo.lock and the licence files",
           "of the libraries.", "",
           "## The font in the pictures: DejaVu", "", fence(open(font, encoding="utf-8").read())]
    for name in (name for name in TAKEN if name in users):
        out += [f"## {name}", ""]
        if name == "MPL-2.0":
            out += ["These libraries are used unchanged. Their source code stands where the list",
                    "says; `cargo vendor` in the source of noisetally fetches it as well.", ""]
        rows = []
        if name == "MIT":
            rows.append("the Rust standard library (MIT OR Apache-2.0): the Rust Project contributors")
        odd = []
        text = None if name in NAMED else usual(name, [t for _, own, _ in users[name] for t in own])
        for package, own, texts in users[name]:
            head = f"{package['name']} {package['version']}"
            where = f"; source: {package['repository']}" if name == "MPL-2.0" else ""
            rows.append(f"{head} ({package['license']}): {notices(package, own or texts)}{where}")
            # An appendix that tells how to apply the Apache licence is none of its terms.
            core = "" if text is None else plain(text).split("appendix how to apply")[0]
            odd += [(head, t) for t in own if text is None or core not in plain(t)]
        out += [fence("\n".join(rows))]
        if text is not None:
            out += [f"Text of {name}:", "", fence(text)]
        for said in dict.fromkeys(t for _, t in odd):
            out += ["Text of " + ", ".join(head for head, t in odd if t == said) + ":", "", fence(said)]
    known = {(p["name"], p["version"]) for p in libraries + others}
    rest = sorted({(p["name"], p["version"]) for p in others} | (locked() - known))
    out += ["## Not in the program", "", "Used to build or to test it only:", "",
            fence("\n".join(f"{name} {version}" for name, version in rest))]
    with open(OUT, "w", encoding="utf-8") as file:
        file.write("\n".join(out).rstrip("\n") + "\n")


if __name__ == "__main__":
    main()
