// A person without a terminal walks through the built page: from a disk, with the network off.
//
//   node --experimental-websocket page/walk.mjs PAGE.html [SHOTS]
//
// SHOTS is a folder for a picture of each step.
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createServer } from "node:http";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";

import { firstKit } from "./first-kit.mjs";
import { CONTRAST, LAYOUT } from "./looks.mjs";
import { field, messages, pause, visitor as visit } from "./visitor.mjs";

const [page, shots] = process.argv.slice(2);
const address = pathToFileURL(resolve(page)).href;
const folder = mkdtempSync(join(tmpdir(), "walk-"));
let failures = 0;
const expect = (holds, what) => {
  if (!holds) failures += 1;
  console.log(`${holds ? "holds" : "FAILS"}: ${what}`);
};
const visitor = (at = address, how = {}) => visit(at, { folder, shots, ...how });
const walked = [];
// The walk with its time.
async function step(name, walk) {
  const began = performance.now();
  try {
    await walk();
  } catch (error) {
    expect(false, `${name}: ${error.message}`);
  }
  walked.push(`${name} ${((performance.now() - began) / 1000).toFixed(1)} s`);
}

await step("a first kit", () => firstKit(visitor, expect));

const me = await visitor();
await step("opens with an example", async () => {
  await me.answered();
  expect((await me.text("#answer-body .first"))?.includes("10,000 simulated two-day January outages"), "the example is answered from a disk, without a network");
  await me.shot("01-opened");
});

await step("sets an own kit by typing and touching", async () => {
  await me.write("#place", "Bergen");
  await me.until("!document.getElementById('place-list').hidden", "candidates");
  await me.shot("02-place");
  expect((await me.text("#place-list li"))?.startsWith("Bergen, Vestland, Norway"), "the largest place of the name comes first");
  await me.click("#place-list li");
  expect((await me.evaluate("Sheet.text()")).includes('place = "Bergen, Vestland, Norway"'), "it is written into the scenario");
  await me.choose(field("outage.month"), '"November"');
  await me.write(field("outage.lasts"), "3");
  await me.write(field("station.rated_capacity"), "2000");
  await me.choose("#add-load", "phone");
  await me.click("#add-it");
  const text = await me.evaluate("Sheet.text()");
  expect(/month = "November"/.test(text) && /rated_capacity = "2000 Wh"/.test(text) && /like = "phone"/.test(text), "the sheet writes the text");
  expect(text.includes("# by the label"), "remarks in the text stay");
  await me.answered();
  const json = JSON.parse(await me.json());
  expect(json.kind === "outage" && json.survival.trials === 10000, "the own kit is answered from 10,000 outages");
  await me.shot("03-answer");
});

await step("a wrong value", async () => {
  const before = await me.text("#answer-body");
  await me.write(field("station.rated_capacity"), "-5");
  await me.until(`document.querySelector(${JSON.stringify(`${messages("station.rated_capacity")} .error`)}) !== null`, "a message");
  const said = await me.text(messages("station.rated_capacity"));
  expect(said.includes("“Capacity on the label”") && said.includes("-5 Wh"), "the reader's message stands beside its field and names it as the sheet does");
  expect((await me.evaluate("document.getElementById('answer').classList.contains('old')")) && (await me.text("#answer-body")) === before, "the last good answer stays, marked as old");
  await me.shot("04-wrong");
  await me.write(field("station.rated_capacity"), "2000");
  await me.answered();
  expect((await me.text(messages("station.rated_capacity"))) === "" && (await me.text("#answer-body")) === before, "mended, it is the same answer again");
});

await step("time from a change", async () => {
  const times = [];
  for (const charge of ["70", "75", "80"]) {
    await me.evaluate(`globalThis.changedAt = 0; globalThis.seen = 0; new MutationObserver(() => { if (!seen && document.getElementById("answer-state").textContent.startsWith("First answer")) seen = performance.now(); }).observe(document.getElementById("answer-state"), { childList: true, characterData: true, subtree: true })`);
    await me.evaluate(`{ changedAt = performance.now(); const box = document.querySelector(${JSON.stringify(field("outage.starts_charged"))}); box.value = "${charge}"; box.dispatchEvent(new Event("input")); }`);
    await me.until("seen > 0", "a first answer");
    const first = await me.evaluate("seen - changedAt");
    await me.answered();
    times.push([first, await me.evaluate("performance.now() - changedAt")]);
  }
  const [first, all] = times.sort((a, b) => a[0] - b[0])[1];
  console.log(`from a change to the first answer ${Math.round(first)} ms, to that from 10,000 outages ${Math.round(all)} ms`);
});

await step("loaded again", async () => {
  const text = await me.evaluate("Sheet.text()");
  await me.go(address);
  await me.answered();
  expect((await me.evaluate("Sheet.text()")) === text, "a tab that is loaded again goes on where it was");
});

let saved = null;
await step("saves, opens again, and a link", async () => {
  await me.answered();
  const answer = await me.json();
  await me.write("#field-title", "Walk");
  await me.answered();
  const titled = await me.json();
  expect(JSON.parse(titled).survival.probability === JSON.parse(answer).survival.probability, "a name changes no figure");
  await me.click("#save");
  for (let waited = 0; !saved && waited < 10_000; waited += 100) {
    await pause(100);
    try {
      saved = readFileSync(join(folder, "walk.toml"), "utf8");
    } catch {
      // Not there yet.
    }
  }
  expect(saved === (await me.evaluate("Sheet.text()")), "the saved file is the text");
  await me.click("#share");
  await me.until("document.getElementById('link').value.includes('#s=')", "a link");
  const link = await me.value("#link");
  const other = await visitor(link);
  await other.answered();
  expect((await other.json()) === titled, "the link opens to the same answer, byte for byte");
  await other.go(address);
  const { root } = await other.send("DOM.getDocument");
  const { nodeId } = await other.send("DOM.querySelector", { nodeId: root.nodeId, selector: "#open" });
  await other.send("DOM.setFileInputFiles", { nodeId, files: [join(folder, "walk.toml")] });
  await other.until("document.getElementById('field-title').value === 'Walk'", "the file");
  await other.answered();
  expect((await other.json()) === titled, "saved and opened again it is the same answer, byte for byte");
  expect(other.faults.length === 0, `no complaint after a link: ${other.faults.join("; ")}`);
  await other.close();
});

const scenarios = new URL("../scenarios/", import.meta.url).pathname;
await step("drops files", async () => {
  const other = await visitor();
  await other.first();
  const welcome = await other.drop(join(folder, "walk.toml"));
  expect(welcome, "a file over the page is welcome");
  await other.until("document.getElementById('field-title').value === 'Walk'", "the file");
  await other.answered();
  expect((await other.text("#files-told")).includes("Opened: walk.toml"), "a scenario that is dropped is opened");
  // A scenario and the record that it names by its folder, in one go.
  await other.drop(join(scenarios, "second-hand.toml"), join(scenarios, "records/open.toml"));
  await other.until("document.getElementById('field-title').value.startsWith('Second-hand')", "the scenario");
  await other.answered();
  expect(JSON.parse(await other.json()).kind === "outage", "with the record that it names it is answered");
  // A picture is neither; nothing breaks.
  await other.drop(join(scenarios, "../docs/pictures/outage.png"));
  await other.until("document.getElementById('files-told').textContent.includes('outage.png')", "a word on it");
  await other.shot("08-dropped");
  // A catalogue: its kits can be picked.
  await other.drop(join(scenarios, "lineup/catalogue.toml"));
  await other.until("document.querySelectorAll('#kits option').length === 17", "fifteen kits and the unit of the record");
  const at = await other.evaluate("[...document.querySelectorAll('#kits option')].find((one) => one.textContent.startsWith('Bothy 600')).value");
  await other.choose("#kits", at);
  await other.until("/rated_capacity = \"[\\d.]+ k?Wh\"/.test(Sheet.text()) && !Sheet.text().includes('proved =')", "the kit");
  const text = await other.evaluate("Sheet.text()");
  expect(text.includes('name = "furnace fan"') && (text.match(/^\[station\]/gm) ?? []).length === 1, "a kit takes the station's place and leaves the rest");
  await other.answered();
  await other.shot("09-kit");
  expect(other.faults.length === 0, `no complaint after files: ${other.faults.join("; ")}`);
  await other.close();
});

// What `tideover page` does: scenarios and kits stand in the page.
await step("a page with kits inside", async () => {
  const read = (name) => readFileSync(join(scenarios, name), "utf8");
  const held = {
    scenarios: ["winter-storm.toml"], kits: ["catalogue.toml", "healthy.toml"],
    files: { "winter-storm.toml": read("winter-storm.toml"), "catalogue.toml": read("lineup/catalogue.toml"), "healthy.toml": read("records/healthy.toml"), "healthy-40-watts.csv": read("records/healthy-40-watts.csv") },
  };
  const own = readFileSync(resolve(page), "utf8").replace(/(<script type="application\/json" id="scenarios">)[^<]*/, (_, begins) => begins + JSON.stringify(held).replaceAll("<", "\\u003c"));
  writeFileSync(join(folder, "own.html"), own);
  const other = await visitor(pathToFileURL(join(folder, "own.html")).href);
  await other.until("document.querySelectorAll('#kits option').length === 17", "the kits");
  await other.choose("#kits", "15");
  await other.until("Sheet.text().includes('proved = \"healthy.toml\"')", "the proved unit");
  expect((await other.text("#kits option:nth-child(17)")) === "Blue 600, hall cupboard", "a proved unit goes by its name");
  await other.first();
  expect((await other.evaluate("Sheet.text()")).includes("[station.dc_outlet]"), "a proved unit leaves the other outlets as they are");
  await other.close();
});

await step("the device's position", async () => {
  const server = createServer((_, reply) => {
    reply.setHeader("Content-Type", "text/html; charset=utf-8");
    reply.end(readFileSync(resolve(page)));
  });
  await new Promise((kept) => server.listen(0, "127.0.0.1", kept));
  const host = `http://localhost:${server.address().port}`;
  const other = await visitor(`${host}/`, { online: true });
  await other.send("Browser.grantPermissions", { origin: host, permissions: ["geolocation"] });
  await other.send("Emulation.setGeolocationOverride", { latitude: -33.921, longitude: 18.424, accuracy: 20 });
  // All is there, so that nothing is built anew under the finger.
  await other.answered();
  // Also after a name that nobody knows.
  await other.write("#place", "Atlantis by the sea");
  await other.click("#place-device");
  await other.until("/latitude = -33.92\\b/.test(Sheet.text())", "the position");
  await other.until("document.getElementById('place-where').textContent.includes('Cape Town')", "the town there");
  const text = await other.evaluate("Sheet.text()");
  expect(/longitude = 18\.42\b/.test(text) && text.includes('timezone = "Africa/Johannesburg"') && !/^place = /m.test(text), "the device's position is written with its clock");
  await other.answered();
  expect(!(await other.evaluate("document.getElementById('place-told').classList.contains('error')")), "and what was typed before is no error any more");
  await other.send("Browser.setPermission", { origin: host, permission: { name: "geolocation" }, setting: "denied" });
  await other.click("#place-device");
  await other.until("document.getElementById('place-told').textContent.includes('gave no position')", "a refusal");
  expect((await other.evaluate("Sheet.text()")) === text, "a device that gives none changes nothing");
  expect(other.requests.every((one) => one === `${host}/` || /^(blob|data|about):/.test(one) || one.endsWith("favicon.ico")), `from a web host it asks for itself alone ${other.requests.join("; ")}`);
  await other.close();
  server.close();
});

await step("proves a unit", async () => {
  const other = await visitor();
  await other.first();
  await other.click("#way-prove");
  await other.until("document.getElementById('record').value.includes('[unit]')", "a record to fill in");
  await other.write("#prove-rated", "600");
  await other.until("document.getElementById('record').value.includes('rated_capacity = \"600 Wh\"')", "the label");
  await other.click("#prove-add");
  await other.until("document.getElementById('prove-said').textContent.includes('needs')", "what a test needs");
  for (const [energy, lasted] of [["495", "4.1"], ["480", "12.1"]]) {
    await other.write("#prove-energy", energy);
    await other.write("#prove-lasted", lasted);
    await other.click("#prove-add");
  }
  await other.until("Sheet.answers.shown?.json && JSON.parse(Sheet.answers.shown.json).kind === 'proof' && !document.getElementById('answer').classList.contains('old')", "the proof");
  const proof = JSON.parse(await other.json());
  expect((await other.text("#answer-state")).startsWith("From the tests"), "the record is answered from its tests");
  expect(JSON.stringify(proof.discharges.map((test) => test.lasted_h)) === "[4.1,12.1]", "both tests are in it");
  await other.shot("10-prove");
  const before = await other.value("#record");
  await other.evaluate(`(() => { const area = document.getElementById("record"); area.value = area.value.replace('energy = "495 Wh"', 'energy = "495 V"'); area.dispatchEvent(new Event("input")); })()`);
  await other.until("document.querySelector('#record-told .error') !== null", "a message");
  expect((await other.text("#record-told .error")).includes("line "), "what is wrong in the record is told with its line");
  await other.evaluate(`(() => { const area = document.getElementById("record"); area.value = ${JSON.stringify(before)}; area.dispatchEvent(new Event("input")); })()`);
  await other.until("!document.getElementById('answer').classList.contains('old')", "the proof again");
  await other.click("#prove-take");
  await other.until("Sheet.text().includes('proved = \"my-unit.toml\"') && Sheet.way === 'ride'", "the unit in the sheet");
  await other.first();
  await other.answered();
  expect((await other.text("#answer-body")).includes("was proved by bench tests"), "the sheet asks with the proved unit");
  await other.shot("11-proved");
  expect(other.faults.length === 0, `no complaint of the proof: ${other.faults.join("; ")}`);
  await other.close();
});

await step("the power is out", async () => {
  await me.click("#way-now");
  await me.write(field("option.charge"), "43");
  await me.choose(field("option.sky"), "dark");
  await me.until("Sheet.answers.shown?.json && JSON.parse(Sheet.answers.shown.json).kind === 'now'", "the answer from here");
  expect(JSON.parse(await me.json()).charge_percent === 43, "it is asked from the charge that was told");
  await me.shot("05-now");
  await me.write(field("option.charge"), "143");
  await me.until(`document.querySelector(${JSON.stringify(`${messages("option.charge")} .error`)}) !== null`, "a message");
  expect(true, "a wrong charge is told beside its field");
  await me.write(field("option.charge"), "43");
});

await step("what if", async () => {
  await me.click("#way-whatif");
  await me.choose("#add-change", "0");
  await me.until("Sheet.answers.shown?.json && JSON.parse(Sheet.answers.shown.json).kind === 'comparison'", "the comparison");
  await me.answered();
  expect(JSON.parse(await me.json()).variants.length === 2, "the change is held against the kit on the same outages");
  await me.shot("06-whatif");
});

await step("the text", async () => {
  await me.click("#way-ride");
  await me.click("#view-text");
  const text = await me.evaluate("Sheet.text()");
  expect((await me.value("#text")) === text, "sheet and text are the same scenario");
  await me.evaluate(`(() => { const area = document.getElementById("text"); area.value = area.value.replace('month = "November"', 'month = "Novembre"'); area.dispatchEvent(new Event("input")); })()`);
  await me.until("document.querySelector('#text-told .error') !== null", "a message at a line");
  const line = text.split("\n").findIndex((one) => one.startsWith("month")) + 1;
  expect((await me.text("#text-told .error")).includes(`line ${line}`), "the message stands beside its line");
  await me.shot("07-text");
  await me.evaluate(`(() => { const area = document.getElementById("text"); area.value = area.value.replace("Novembre", "December") + "\\n[generator]\\nlimit = \\"1 kW\\"\\nhours = \\"18:00-19:00\\"\\n\\n[station.wall_charger]\\nlimit = \\"300 W\\"\\n"; area.dispatchEvent(new Event("input")); })()`);
  await me.first();
  await me.click("#view-form");
  expect((await me.value(field("outage.month"))) === '"December"', "what is written in the text shows in the sheet");
  expect((await me.text(".kept"))?.includes("generator"), "what the sheet cannot show is said");
  await me.write(field("outage.lasts"), "2");
  expect((await me.evaluate("Sheet.text()")).includes("[generator]"), "and kept");
  await me.first();
});

// The sheet's way of setting a key against the engine's own (`sets`), on texts of other hands.
await step("other texts", async () => {
  for (const name of ["winter-storm", "summer-fridge", "balcony", "frost-in-the-shed", "long-thin-cable"]) {
    const text = readFileSync(new URL(`../scenarios/${name}.toml`, import.meta.url), "utf8");
    const found = await me.evaluate(`(async () => {
      const text = ${JSON.stringify(text)};
      const same = ScenarioText.read(text).entries.every((one) => ScenarioText.set(text, one.path, text.slice(one.from, one.to)) === text);
      engine.keep("theirs.toml", text);
      engine.keep("ours.toml", ScenarioText.set(ScenarioText.set(text, "station.own_draw", '"9 W"'), "outage.starts_charged", '"55 %"'));
      const theirs = await engine.ask({ ask: "compare", file: "theirs.toml", trials: 200, sets: ["outage.starts_charged=55 %; station.own_draw=9 W"] });
      const ours = await engine.ask({ ask: "run", file: "ours.toml", trials: 200 });
      const mean = JSON.parse(ours.json).unmet_wh.mean;
      return { same, mean, there: JSON.parse(theirs.json).variants.map((one) => one.unmet_wh_mean) };
    })()`);
    expect(found.same, `${name}: a value set to itself leaves the text as it was`);
    expect(found.mean > 0 && found.there.includes(found.mean), `${name}: a key set by the sheet is what the engine's own setting makes (${found.mean} Wh unmet)`);
  }
});

await step("stop", async () => {
  await me.evaluate("Sheet.answers.changed(0)");
  await me.until("!document.getElementById('stop').hidden", "a stop button");
  await me.evaluate("document.getElementById('stop').click()");
  await me.until("!document.getElementById('again').hidden", "the way on");
  expect((await me.text("#answer-state")).startsWith("Stopped"), "a run can be stopped");
  await me.click("#again");
  await me.answered();
  expect(true, "and gone on with");
});

await step("the card", async () => {
  await me.evaluate("globalThis.printed = 0; globalThis.print = () => (printed += 1)");
  await me.click("#print");
  await me.until("printed === 1", "the print");
  expect((await me.text("#printed h1"))?.includes("Walk"), "print gives the card");
  await me.send("Emulation.setEmulatedMedia", { media: "print" });
  expect(await me.evaluate("getComputedStyle(document.getElementById('sheet')).display === 'none' && document.getElementById('printed').getBoundingClientRect().height > 200"), "and nothing but the card");
  await me.send("Emulation.setEmulatedMedia", { media: "" });
  await me.evaluate("dispatchEvent(new Event('afterprint'))");
  // Who asks from here prints that answer, not the card of an outage from its beginning.
  await me.click("#way-now");
  await me.until("Sheet.answers.shown?.json && JSON.parse(Sheet.answers.shown.json).kind === 'now'", "the answer from here");
  await me.answered();
  await me.click("#print");
  await me.until("printed === 2", "the print");
  const lead = await me.text("#answer-body .lead");
  expect(lead.startsWith("To last") && (await me.text("#printed")).includes(lead), "from here on, the print is the answer that is shown");
  await me.evaluate("dispatchEvent(new Event('afterprint'))");
  await me.click("#way-ride");
  await me.answered();
});

await step("sizes and colours", async () => {
  await me.evaluate("document.querySelectorAll('details').forEach((one) => (one.open = true))");
  for (const width of [360, 800, 1400]) {
    await me.size(width);
    for (const way of ["prove", "now", "whatif", "ride"]) {
      await me.evaluate(`document.getElementById("way-${way}").click()`);
      await me.first();
      const found = await me.evaluate(LAYOUT);
      expect(found.length === 0, `${width} px, ${way}: nothing is cut off or lies over another thing ${found.slice(0, 5).join("; ")}`);
    }
    await me.evaluate('document.getElementById("view-text").click()');
    const found = await me.evaluate(LAYOUT);
    expect(found.length === 0, `${width} px, text: nothing is cut off ${found.slice(0, 5).join("; ")}`);
    await me.evaluate('document.getElementById("view-form").click()');
  }
  for (const scheme of ["light", "dark"]) {
    await me.send("Emulation.setEmulatedMedia", { features: [{ name: "prefers-color-scheme", value: scheme }] });
    await me.write(field("station.rated_capacity"), "444444444");
    await me.until(`document.querySelector(${JSON.stringify(`${messages("station.rated_capacity")} .error`)}) !== null`, "a message");
    const found = await me.evaluate(CONTRAST);
    expect(found.length === 0, `${scheme}: every word stands out by 4.5 to 1 ${found.slice(0, 6).join("; ")}`);
    await me.write(field("station.rated_capacity"), "2000");
    await me.first();
  }
});

await step("keyboard and names", async () => {
  const unnamed = await me.evaluate(`[...document.querySelectorAll("input, select, textarea, button, progress")].filter((one) => one.checkVisibility() && !(one.labels?.length > 0) && !one.getAttribute("aria-label") && !one.textContent.trim()).map((one) => one.id || one.outerHTML.slice(0, 80))`);
  expect(unnamed.length === 0, `every control has a name ${unnamed.join("; ")}`);
  expect(await me.evaluate("document.querySelector('[aria-live=polite]').textContent.length > 20"), "a reader of the screen is told the answer");
  const doubled = await me.evaluate(`(() => { const ids = [...document.querySelectorAll("[id]")].map((one) => one.id); return ids.filter((one, k) => ids.indexOf(one) !== k); })()`);
  expect(doubled.length === 0, `no id is there twice ${doubled.slice(0, 5).join(", ")}`);
  // By keys alone: from the top to the place, a town, and on to the capacity.
  await me.go(address);
  await me.first();
  const at = () => me.evaluate("document.activeElement?.id ?? ''");
  const tab = async (to, most) => {
    for (let k = 0; k < most && (await at()) !== to; k += 1) await me.key("Tab", 9);
    return (await at()) === to;
  };
  expect(await tab("place", 12), "the place is reached by Tab");
  const ring = await me.evaluate("getComputedStyle(document.activeElement).outlineStyle");
  expect(ring !== "none", "and one sees where one is");
  await me.send("Input.insertText", { text: "Nairobi" });
  await me.until("!document.getElementById('place-list').hidden", "candidates");
  await me.key("Enter", 13);
  await me.until("Sheet.text().includes('place = \"Nairobi')", "the place");
  expect(await tab("field-station.rated_capacity", 20), "the capacity is reached by Tab");
  await me.send("Input.insertText", { text: "1500" });
  expect(/rated_capacity = "1500 Wh"/.test(await me.evaluate("Sheet.text()")), "and written by keys");
  await me.first();
});

const requests = me.requests.filter((one) => !/^(file|blob|data|about):/.test(one));
expect(me.faults.length === 0, `the page complains of nothing ${me.faults.join("; ")}`);
expect(requests.length === 0, `the page asks for nothing ${requests.join("; ")}`);
await me.close();
rmSync(folder, { recursive: true, force: true });
console.log(walked.join(", "));
console.log(failures === 0 ? "the whole walk holds" : `${failures} things fail`);
process.exit(failures > 0 ? 1 : 0);
