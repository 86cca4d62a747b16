"""Mutation testing: small faults are put into the engine and its kin, and the tests that judge by outside values or laws are to
notice them.

All faults of a sample are compiled in at once, each behind a number that the environment picks while the tests run (mutant
schemata: Untch, Offutt & Harrold 1993), so that one build serves them all. Works on a copy; nothing here is changed.

    python3 -m venv v && v/bin/pip install tree-sitter tree-sitter-rust
    v/bin/python tests/mutants/run.py --sample 60 --seed 1 --work /tmp/mutants

First every test runs once without a fault: how long it takes, and which faults it comes past. A fault is then asked of the tests
that come past it, the quick ones first, until one fails. Prints one line a mutant and the share that was caught, with its 95 %
interval (Wilson 1927). A mutant that no file of the copy compiles with is not viable and not counted.
"""

import argparse
import json
import os
import random
import re
import resource
import shutil
import subprocess
import sys
import time
from pathlib import Path

import tree_sitter_rust
from tree_sitter import Language, Parser

ROOT = Path(__file__).resolve().parents[2]

# What is mutated: what decides what an answer says, not how it is shown.
AREAS = ["engine", "kit", "loads", "trials", "weather", "ageing", "study/prove", "study/years", "sky"]

SWAPS = {
    "+": "-", "-": "+", "*": "/", "/": "*",
    "<": "<=", "<=": "<", ">": ">=", ">=": ">", "==": "!=", "!=": "==",
    "&&": "||", "||": "&&",
}
METHODS = {"min": "max", "max": "min"}

HEAD = '''
/// Faults that the environment picks.
pub mod mutants {
    use std::io::Write;
    use std::sync::OnceLock;
    use std::sync::atomic::{AtomicBool, Ordering};

    static ACTIVE: OnceLock<(u32, Option<String>)> = OnceLock::new();
    static SEEN: [AtomicBool; 5000] = [const { AtomicBool::new(false) }; 5000];

    fn active() -> (u32, Option<String>) {
        let number = std::env::var("MUTANT").ok().and_then(|text| text.parse().ok()).unwrap_or(0);
        (number, std::env::var("MUTANTS_SEEN").ok())
    }

    #[cold]
    fn note(number: u32, path: &str) {
        let mut file = std::fs::OpenOptions::new().append(true).create(true).open(path).expect("a file of places");
        file.write_all(format!("{number}\\n").as_bytes()).expect("written");
    }

    /// Whether a fault is picked; where asked to, the places come past are written down.
    #[inline]
    pub fn on(number: u32) -> bool {
        let (picked, path) = ACTIVE.get_or_init(active);
        if let Some(path) = path
            && !SEEN[number as usize].swap(true, Ordering::Relaxed)
        {
            note(number, path);
        }
        *picked == number
    }
}
'''


def const_context(node):
    """Whether an expression must be known when compiled, or stands where it cannot be chosen."""
    while node is not None:
        if node.type in ("const_item", "static_item", "array_type", "attribute_item", "macro_invocation", "let_chain",
                         "match_pattern", "const_block", "enum_variant"):
            return True
        if node.type == "function_item":
            head = node.text.split(b"{", 1)[0]
            if b"const fn" in head:
                return True
        if node.type == "mod_item" and b"tests" in node.text[:60]:
            return True
        node = node.parent
    return False


def candidates(path, text):
    tree = Parser(Language(tree_sitter_rust.language())).parse(text)
    out = []
    stack = [tree.root_node]
    while stack:
        node = stack.pop()
        stack.extend(node.children)
        if node.type == "binary_expression" and not const_context(node):
            op = node.child_by_field_name("operator")
            parent = node.parent.type
            if op.text.decode() in SWAPS and b"let " not in node.text and parent != "let_chain":
                out.append((node.start_byte, node.end_byte, op.start_byte, op.end_byte, SWAPS[op.text.decode()]))
        if node.type == "call_expression" and not const_context(node):
            function = node.child_by_field_name("function")
            arguments = node.child_by_field_name("arguments")
            if function.type == "field_expression" and arguments.named_child_count == 1:
                field = function.child_by_field_name("field")
                if field.text.decode() in METHODS:
                    out.append((node.start_byte, node.end_byte, field.start_byte, field.end_byte, METHODS[field.text.decode()]))
        if node.type == "if_expression" and not const_context(node):
            condition = node.child_by_field_name("condition")
            if condition.type not in ("let_condition", "let_chain") and b"let " not in condition.text:
                out.append((condition.start_byte, condition.end_byte, condition.start_byte, condition.end_byte, None))
    return [(path, *rest) for rest in out]


def mutated(text, chosen):
    """The text with its mutants compiled in; none lies within another."""
    for number, (_, begin, end, op_begin, op_end, swap) in sorted(chosen, key=lambda c: -c[1][1]):
        plain = text[begin:end]
        if swap is None:
            other = b"!(" + plain + b")"
        else:
            other = text[begin:op_begin] + swap.encode() + text[op_end:end]
        put = b"(if crate::mutants::on(%d) { %s } else { %s })" % (number, other, plain)
        text = text[:begin] + put + text[end:]
    return text


def tests_of_their_own():
    """Files that are compiled for tests alone."""
    found = set()
    for path in (ROOT / "src").rglob("*.rs"):
        folder = path.parent if path.name in ("mod.rs", "lib.rs", "main.rs") else path.with_suffix("")
        for name in re.findall(rb"#\[cfg\(test\)\]\s*(?:pub )?mod (\w+);", path.read_bytes()):
            found |= {folder / f"{name.decode()}.rs", folder / name.decode() / "mod.rs"}
    return found


def sample(size, seed):
    every, apart = [], tests_of_their_own()
    for area in AREAS:
        for path in sorted((ROOT / "src" / area).rglob("*.rs")):
            if path in apart or "tests" in path.parts:
                continue
            every += candidates(path, path.read_bytes())
    random.Random(seed).shuffle(every)
    picked = []
    for one in every:
        if len(picked) == size:
            break
        if all(one[0] != other[0] or one[2] <= other[1] or other[2] <= one[1] for other in picked):
            picked.append(one)
    return len(every), dict(enumerate(picked, 1))


def write(work, picked):
    """The copy with its faults; a file that is as it should be keeps its time, so that little is built anew."""
    put = {}
    for folder, folders, names in os.walk(ROOT):
        folders[:] = [f for f in folders if f not in ("target", ".git", "corpus", "artifacts")]
        for name in names:
            path = Path(folder) / name
            put[path.relative_to(ROOT)] = path
    for relative, path in put.items():
        wanted = path.read_bytes()
        mine = [(number, one) for number, one in picked.items() if one[0] == path]
        if mine:
            wanted = mutated(wanted, mine)
        if str(relative) == "src/lib.rs":
            wanted += HEAD.encode()
        target = work / relative
        if not target.exists() or target.read_bytes() != wanted:
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(wanted)


def describe(one):
    path, begin, end, op_begin, op_end, swap = one
    text = path.read_bytes()
    line = text[:op_begin].count(b"\n") + 1
    plain = re.sub(r"\s+", " ", text[begin:end].decode())[:90]
    change = f"{text[op_begin:op_end].decode()} -> {swap}" if swap else "negated"
    return f"{path.relative_to(ROOT)}:{line}: `{plain}` {change}"


def cargo(arguments):
    return [*os.environ.get("CARGO", "cargo").split(), *arguments]


def build(work, picked, tests):
    """Builds the tests; mutants that do not compile are dropped. Returns the binaries."""
    while True:
        write(work, picked)
        command = cargo(["check", "--lib", "--message-format", "json", "-q"])
        run = subprocess.run(command, cwd=work, capture_output=True, text=True)
        bad = set()
        for line in run.stdout.splitlines():
            message = json.loads(line).get("message") or {}
            if message.get("level") != "error":
                continue
            for span in message.get("spans", []):
                text = (work / span["file_name"]).read_bytes() if (work / span["file_name"]).exists() else b""
                before = text[: span["byte_end"]]
                numbers = [int(n) for n in re.findall(rb"mutants::on\((\d+)\)", before)]
                bad.update(numbers[-1:])
        if run.returncode == 0:
            break
        bad &= set(picked)
        if not bad:
            sys.exit(run.stderr + run.stdout[-4000:])
        for number in bad:
            print(f"not viable: {describe(picked[number])}", flush=True)
            del picked[number]
    run = subprocess.run(cargo(["test", "--no-run", "--message-format", "json", *tests]), cwd=work, capture_output=True, text=True)
    if run.returncode:
        sys.exit(run.stderr[-4000:])
    artifacts = [json.loads(line) for line in run.stdout.splitlines() if line.startswith("{")]
    made = [Path(a["executable"]) for a in artifacts if a.get("executable") and a["profile"]["test"]]
    # Copies: a build of the project into the same folder of targets would put its own in their place.
    kept = work / "programs"
    kept.mkdir(exist_ok=True)
    return [shutil.copy2(one, kept / one.name) for one in made]


# Not asked here: texts and pages (they judge no number), what is slow, and what compares with answers of before.
SKIPPED = ["golden", "report::", "places::", "scenario::", "page::", "coverage", "found::", "weather_evidence", "documented"]


# Of the tests that drive the built program those that judge numbers.
OF_THE_PROGRAM = "years::"


def names_of(binary, work):
    """The tests of a program that are asked."""
    of_the_program = Path(binary).name.startswith("program-")
    lists = []
    for more in ([], ["--ignored"]):
        run = subprocess.run([binary, "--list", "--format", "terse", *more], cwd=work, capture_output=True, text=True, check=True)
        lists.append([line.removesuffix(": test") for line in run.stdout.splitlines() if line.endswith(": test")])
    fits = [name for name in lists[0] if not of_the_program or name.startswith(OF_THE_PROGRAM)]
    return [name for name in fits if name not in lists[1] and not any(part in name for part in SKIPPED)]


def ask(binary, name, work, number, longest_s, seen=None):
    """One test under a fault: whether it passes, and its seconds of processor."""
    # Cases that properties draw are the same in every run.
    environment = {**os.environ, "MUTANT": str(number), "PROPTEST_RNG_SEED": "1", "RAYON_NUM_THREADS": "1"}
    if seen:
        environment["MUTANTS_SEEN"] = str(seen)
    limit = int(longest_s) + 1
    process = subprocess.Popen(
        [binary, "--exact", name, "--test-threads", "1"], cwd=work, env=environment, stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL, preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, (limit, limit)))
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    return process.returncode == 0, used.ru_utime + used.ru_stime


def forget(work):
    """What properties kept of cases that failed under one fault is not asked of the next."""
    for folder in ("proptest-regressions", "tests/proptest-regressions"):
        shutil.rmtree(work / folder, ignore_errors=True)
        if (ROOT / folder).exists():
            shutil.copytree(ROOT / folder, work / folder)


def first_look(binaries, work):
    """Every test without a fault: (seconds, program, name, faults that it comes past)."""
    looks = []
    seen = work / "seen.txt"
    for binary in binaries:
        for name in names_of(binary, work):
            seen.unlink(missing_ok=True)
            passes, seconds = ask(binary, name, work, 0, 3600, seen)
            if not passes:
                print(f"without any fault {name} fails: not asked", flush=True)
                continue
            past = {int(line) for line in seen.read_text().split()} if seen.exists() else set()
            looks.append((seconds, binary, name, past))
    return sorted(looks, key=lambda look: look[0])


def caught(looks, number, work):
    """The first test that fails under a mutant, and how many were asked."""
    asked = 0
    for seconds, binary, name, past in looks:
        if number not in past:
            continue
        asked += 1
        passes, used = ask(binary, name, work, number, 20 + 10 * seconds)
        if not passes:
            forget(work)
            return name, asked
    return None, asked


def wilson(hits, of):
    z, p = 1.959964, hits / of
    middle, half = p + z * z / (2 * of), z * ((p * (1 - p) + z * z / (4 * of)) / of) ** 0.5
    return (middle - half) / (1 + z * z / of), (middle + half) / (1 + z * z / of)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sample", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--work", type=Path, required=True, help="folder of the copy, made where it is not there")
    parser.add_argument("--minutes", type=float, default=1e9, help="stop after so long; the mutants are in random order")
    parser.add_argument("--longest", type=float, default=1e9, metavar="SECONDS",
                        help="leave out tests that take longer: a first look, whose survivors are to be asked of all")
    parser.add_argument("--again", action="store_true", help="ask the programs of the last run in the folder, without building anew")
    parser.add_argument("--only", help="numbers of the mutants to try, 3,17 (those of the same sample and seed)")
    asked = parser.parse_args()
    began = time.time()
    every, picked = sample(asked.sample, asked.seed)
    told_of = {number: describe(one) for number, one in picked.items()}
    print(f"{len(picked)} of {every} places where a fault can be put", flush=True)
    kept = asked.work / "looks.json"
    if asked.again:
        looks = [(seconds, binary, name, set(past)) for seconds, binary, name, past in json.loads(kept.read_text())]
    else:
        binaries = build(asked.work, picked, ["--lib", "--test", "engine", "--test", "outside", "--test", "program"])
        forget(asked.work)
        looks = first_look(binaries, asked.work)
        kept.write_text(json.dumps([(seconds, str(binary), name, sorted(past)) for seconds, binary, name, past in looks]))
    total = sum(seconds for seconds, *_ in looks)
    print(f"{len(looks)} tests are asked, {total:.0f} s of processor for all of them", flush=True)
    unseen = sorted(set(picked) - {number for *_, past in looks for number in past})
    print(f"no test comes past {len(unseen)}: {', '.join(map(str, unseen))}", flush=True)
    looks = [look for look in looks if look[0] <= asked.longest]
    only = {int(number) for number in asked.only.split(",")} if asked.only else set(picked)
    hits = of = 0
    for number, one in picked.items():
        if number not in only:
            continue
        if time.time() - began > 60 * asked.minutes:
            break
        by, tried = caught(looks, number, asked.work)
        of += 1
        hits += by is not None
        told = f"caught by {by}" if by else f"SURVIVED {tried} tests"
        print(f"{number}. {told}: {told_of[number]}", flush=True)
    low, high = wilson(hits, of) if of else (0, 1)
    print(f"{hits} of {of} caught: {100 * hits / max(of, 1):.0f} % ({100 * low:.0f}-{100 * high:.0f})")


if __name__ == "__main__":
    main()
