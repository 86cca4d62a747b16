// What a person meets who makes the example their own, box by box.
import { field, messages } from "./visitor.mjs";

export async function firstKit(visitor, expect) {
  const me = await visitor();
  await me.answered();
  const count = () => me.evaluate("Sheet.form.stillExample().length");
  const shown = (selector) => me.evaluate(`document.querySelector('${selector}')?.checkVisibility() ?? false`);
  const tagged = (path) => me.evaluate(`!Sheet.form.controls.get("${path}").tag.hidden`);
  const said = (path) => me.text(`${messages(path)} .error`);
  const text = await me.evaluate("Sheet.text()");
  expect(!/idle =|volts_min =|\[\[variant/.test(text.replace(/^#.*$/gm, "")), "no figure of the example counts unseen");
  expect((await shown("#example")) && !(await shown("#still-example")), "the example is told as one");
  const all = await count();
  expect(all > 8 && (await tagged("panel.0.tilt")), "every figure of it is marked");

  // An unknown town is told; one that is known takes the note away and leaves the marks.
  await me.write("#place", "Atlantis by the sea");
  await me.click(field("outage.lasts"));
  await me.until("document.getElementById('place-told').classList.contains('error')", "a word on the town");
  expect((await me.text("#place-told")).includes("Barre"), "a town that nobody knows is told, with the one that still counts");
  await me.write("#place", "Valencia");
  await me.until("!document.getElementById('place-list').hidden", "candidates");
  await me.click("#place-list li");
  await me.until("!document.getElementById('place-told').classList.contains('error')", "the town");
  expect(!(await shown("#example")) && (await me.text("#still-example")).startsWith(`${all - 1} things`), "what is still the example's is counted beside the answer");
  await me.write(field("station.rated_capacity"), "1024");
  expect((await count()) === all - 2 && !(await tagged("station.rated_capacity")), "a figure that is written is no example any more");
  await me.click("#still-example button");
  expect((await me.evaluate("document.activeElement.id")) !== "", "one is led to the first of the others");
  await me.shot("00-example");

  // A field that comes up beside a box takes nothing from it.
  await me.write(field("panel.0.count"), "2");
  await me.until(`document.querySelector('${field("panel.0.wiring")}') !== null`, "how they are wired");
  expect((await me.value(field("panel.0.count"))) === "2", "a number of panels stays in its box as the wiring comes up");
  await me.write(field("panel.0.count"), "1");

  // A box that is emptied again is as one that was never filled.
  await me.click("#more-station > summary");
  await me.write(field("station.inverter.idle"), "5");
  await me.answered();
  await me.write(field("station.inverter.idle"), "");
  await me.answered();
  expect((await said("station.inverter.idle")) === null, "an emptied box that may be empty is no error, not even while one is in it");
  await me.click(field("station.rated_capacity"));
  expect(!(await me.evaluate("Sheet.text()")).includes('idle = ""'), "and its line goes");

  // Cuts that come back.
  await me.choose(field("outage.every_day"), "cuts");
  await me.click(`${field("outage.every_day")} ~ .row button`);
  expect((await me.evaluate("Sheet.text()")).includes('every_day = ["18:00-22:00", "06:00-08:00"]'), "cuts of every day have fields");
  await me.write(field("station.wall_charger.limit"), "300");
  await me.write(field("outage.lasts"), "14");
  await me.choose('[id="unit-outage.lasts"]', "days");
  await me.answered();
  expect((await me.text("#answer-body .first")).includes("daily cuts"), "and are answered");
  const bar = await me.text("#short");
  expect(/^[A-Z][^:]+: [\d.-]+ of 100 \([\d.-]+\)$/.test(bar), `the bar holds verdict and figure: ${bar}`);
  await me.shot("00-cuts");
  await me.choose(field("outage.every_day"), "one");
  expect(!(await me.evaluate("Sheet.text()")).includes("every_day"), "and go again");

  // Things: comforts are not vital, the last one leaves a word where one adds another.
  await me.choose("#add-load", "television, 40 inch");
  expect(!(await me.evaluate("Sheet.text()")).includes("television"), "a thing is looked at before it is added");
  await me.click("#add-it");
  expect((await me.evaluate("Sheet.text()")).includes('name = "television, 40 inch"\npriority = "useful"\n'), "a comfort is useful at first");
  for (let k = 0; k < 4; k += 1) await me.evaluate('document.querySelector("#card-load\\\\.0 > button.quiet").click()');
  await me.until(`document.querySelector('${messages("load")} .error') !== null`, "a word where things are added");
  expect(await me.evaluate("document.activeElement.id === 'add-load'"), "without things one is asked where one adds them");
  await me.click("#way-now");
  expect(!(await shown(field("outage.starts_charged"))) && (await shown(field("outage.lasts"))), "from here, the charge of another question is not asked");
  expect(me.faults.length === 0, `no complaint: ${me.faults.join("; ")}`);
  await me.close();
}
