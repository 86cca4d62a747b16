"""Mutation testing: small faults are put into the engine and its kin, and the tests that judge by outside values or laws are to
notice them.

All faults of a sample are compiled in at once, each behind a number that the environment picks while the tests run (mutant
schemata: Untch, Offutt & Harrold 1993), so that one build serves them all. Works on a copy; nothing here is changed.

    python3 -m venv v && v/bin/pip install tree-sitter tree-sitter-rust
    v/bin/python tests/mutants/run.py --sample 60 --seed 1 --work /tmp/mutants

Prints one line a mutant and the share that was caught, with its 95 % interval (Wilson 1927). A mutant that no file of the copy
compiles with is not viable and not counted.
"""

import argparse
import json
import os
import random
import re
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
    static ACTIVE: std::sync::OnceLock<u32> = std::sync::OnceLock::new();
    /// Whether a fault is picked.
    #[inline(always)]
    pub fn on(number: u32) -> bool {
        *ACTIVE.get_or_init(|| std::env::var("MUTANT").ok().and_then(|text| text.parse().ok()).unwrap_or(0)) == number
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


def sample(size, seed):
    every = []
    for area in AREAS:
        for path in sorted((ROOT / "src" / area).rglob("*.rs")):
            if path.name == "tests.rs" or "tests" in path.parts:
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
    for path in {one[0] for one in picked.values()}:
        mine = [(number, one) for number, one in picked.items() if one[0] == path]
        target = work / path.relative_to(ROOT)
        target.write_bytes(mutated(path.read_bytes(), mine))
    lib = (ROOT / "src/lib.rs").read_text() + HEAD
    (work / "src/lib.rs").write_text(lib)


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
    return [a["executable"] for a in artifacts if a.get("executable") and a["profile"]["test"]]


# Not asked here: texts and pages (they judge no number), what is slow, and what compares with answers of before.
SKIPPED = ["golden", "report::", "places::", "scenario::", "page::", "coverage", "found::", "weather_evidence", "documented"]


def caught(binaries, number, longest_s, work):
    """The first test that fails under a mutant; "time" where it takes far longer than it should; None where all pass."""
    environment = {**os.environ, "MUTANT": str(number)}
    for binary in binaries:
        command = [binary, "--test-threads", os.environ.get("THREADS", "1")]
        for name in SKIPPED:
            command += ["--skip", name]
        began = time.time()
        process = subprocess.Popen(command, cwd=work, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        os.set_blocking(process.stdout.fileno(), False)
        seen = ""
        while True:
            ended = process.poll() is not None
            seen += process.stdout.read() or ""
            failed = re.search(r"^test (\S+).* \.\.\. FAILED", seen, re.M)
            late = time.time() - began > longest_s
            if failed or late or ended:
                process.kill()
                process.wait()
                if failed or late:
                    return failed.group(1) if failed else "time"
                if process.returncode not in (0, -9):
                    return "crash"
                break
            time.sleep(0.2)
    return None


def wilson(hits, of):
    z, p = 1.959964, hits / of
    middle, half = p + z * z / (2 * of), z * ((p * (1 - p) + z * z / (4 * of)) / of) ** 0.5
    return (middle - half) / (1 + z * z / of), (middle + half) / (1 + z * z / of)


def main():
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--sample", type=int, default=60)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--work", type=Path, required=True, help="folder of the copy, made where it is not there")
    ask.add_argument("--minutes", type=float, default=1e9, help="stop after so long; the mutants are in random order")
    ask.add_argument("--longest", type=float, default=900, help="seconds that one program of tests may take")
    asked = ask.parse_args()
    began = time.time()
    if not asked.work.exists():
        shutil.copytree(ROOT, asked.work, ignore=shutil.ignore_patterns("target", ".git", "corpus"))
    every, picked = sample(asked.sample, asked.seed)
    print(f"{len(picked)} of {every} places where a fault can be put", flush=True)
    binaries = build(asked.work, picked, ["--lib", "--test", "engine", "--test", "outside"])
    took = time.time()
    first = caught(binaries, 0, asked.longest, asked.work)
    if first:
        sys.exit(f"without any fault {first} fails")
    print(f"without any fault all pass, in {time.time() - took:.0f} s", flush=True)
    hits = of = 0
    for number, one in picked.items():
        if time.time() - began > 60 * asked.minutes:
            break
        by = caught(binaries, number, asked.longest, asked.work)
        of += 1
        hits += by is not None
        print(f"{'caught by ' + by if by else 'SURVIVED'}: {describe(one)}", flush=True)
    low, high = wilson(hits, of) if of else (0, 1)
    print(f"{hits} of {of} caught: {100 * hits / max(of, 1):.0f} % ({100 * low:.0f}-{100 * high:.0f})")


if __name__ == "__main__":
    main()
