// Holds the engine in the page against the program: every demo's answer must have the same bytes.
//
//   node --experimental-websocket page/same-bytes.mjs PAGE.html PROGRAM [--bench]
//
// With --bench it prints times for 1,000 and 10,000 outages, the program's with one thread beside them, and the memory taken.
import { spawnSync } from "node:child_process";
import { readFileSync, readdirSync, statSync } from "node:fs";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";

import { opened } from "./browser.mjs";

const [page, program, bench] = process.argv.slice(2);
const folder = join(dirname(fileURLToPath(import.meta.url)), "..", "scenarios");
const began = performance.now();
const browser = await opened(pathToFileURL(resolve(page)).href);
const files = readdirSync(folder, { recursive: true }).filter((name) => statSync(join(folder, name)).isFile());
await browser.evaluate("engine.ready.then(() => true)");
const ready = performance.now() - began;
for (const name of files) {
  const content = JSON.stringify(readFileSync(join(folder, name), "utf8"));
  await browser.evaluate(`engine.keep(${JSON.stringify(name)}, ${content})`);
}
// What the program prints, or null where it refuses.
const native = (...words) => {
  const options = { cwd: folder, encoding: "utf8", maxBuffer: 1 << 28 };
  const { status, stdout } = spawnSync(resolve(program), words, options);
  return status === 0 ? stdout : null;
};
const asked = (question) => browser.evaluate(`engine.ask(${JSON.stringify(question)})`);
let [held, different] = [0, 0];
const hold = async (question, words) => {
  const answer = await asked(question);
  const expected = native(...words);
  held += 1;
  if (answer.json === expected) return;
  different += 1;
  const [ours, theirs] = [answer.json ?? "", expected ?? "refused"].map((text) => text.split("\n"));
  const at = theirs.findIndex((line, k) => line !== ours[k]);
  const told = answer.json === null ? answer.problems.map((one) => one.drawn).join("") : ours[at];
  console.error(`${words.join(" ")}: line ${at + 1} differs\n  page:    ${told}\n  program: ${theirs[at]}`);
};
const demos = files.filter((name) => /^[^/]+\.toml$/.test(name));
const common = ["--json", "--quiet", "--trials", "2000"];
for (const file of demos) {
  const text = readFileSync(join(folder, file), "utf8");
  await hold({ ask: "run", file, trials: 2000 }, ["run", file, ...common]);
  await hold(
    { ask: "now", file, trials: 2000, charge: "43%", at: "2027-01-14 20:30" },
    ["now", file, "--charge", "43%", "--at", "2027-01-14 20:30", ...common],
  );
  if (/^\[\[variant\]\]/m.test(text)) {
    await hold({ ask: "compare", file, trials: 2000 }, ["compare", file, ...common]);
  }
  if (/^\[size\]/m.test(text)) await hold({ ask: "size", file, trials: 500 }, ["size", file, "--json", "--quiet", "--trials", "500"]);
}
for (const file of files.filter((name) => /^records\/.*\.toml$/.test(name))) {
  await hold(
    { ask: "prove", file, today: "2027-03-14" },
    ["prove", file, "--json", "--quiet", "--today", "2027-03-14"],
  );
}
// A wrong value comes back with its place; the engine goes on afterwards.
await browser.evaluate('engine.keep("wrong.toml", "[site]\\nlatitude = 444\\n")');
const wrong = await asked({ ask: "run", file: "wrong.toml" });
if (wrong.answered || !wrong.problems.some((one) => one.level === "error" && one.place?.line === 2)) {
  different += 1;
  console.error(`a wrong latitude is not told at its line: ${JSON.stringify(wrong.problems)}`);
}
// A run that is stopped ends, and the next one answers.
const stopped = await browser.evaluate(
  '(async () => { const long = engine.ask({ ask: "run", file: "winter-storm.toml", trials: 5000000 }); setTimeout(() => engine.stop(), 300); return (await long).stopped; })()',
);
if (!stopped || !(await asked({ ask: "check", file: "winter-storm.toml" })).answered) {
  different += 1;
  console.error("a run cannot be stopped");
}
if (bench) {
  console.log(`page ${(statSync(page).size / 1e6).toFixed(2)} MB, ready after ${Math.round(ready)} ms`);
  const median = (times) => times.sort((a, b) => a - b)[times.length >> 1];
  for (const file of ["winter-storm.toml", "summer-fridge.toml", "balcony.toml"]) {
    const alone = [];
    for (let k = 0; k < 5; k += 1) alone.push((await asked({ ask: "run", file, trials: 1000, alone: true })).seconds);
    console.log(`run ${file} 1000, nothing but the answer: page ${median(alone).toFixed(3)} s`);
    for (const trials of [1000, 10000]) {
      const [here, there] = [[], []];
      for (let k = 0; k < 5; k += 1) {
        here.push((await asked({ ask: "run", file, trials })).seconds);
        const from = performance.now();
        native("run", file, "--json", "--quiet", "--threads", "1", "--trials", String(trials));
        there.push((performance.now() - from) / 1000);
      }
      console.log(`run ${file} ${trials}: page ${median(here).toFixed(3)} s, program ${median(there).toFixed(3)} s`);
    }
  }
  console.log(`memory of the engine ${((await browser.evaluate("engine.memory")) / 1e6).toFixed(0)} MB`);
}
const elsewhere = browser.requests.filter((address) => !/^(file|blob|data):/.test(address));
for (const fault of browser.faults) console.error(`the page complains: ${fault}`);
for (const address of elsewhere) console.error(`the page asks for ${address}`);
await browser.close();
console.log(`${held} answers held against the program, ${different} differ`);
process.exit(different + browser.faults.length + elsewhere.length > 0 ? 1 : 0);
