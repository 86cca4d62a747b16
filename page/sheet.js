// The sheet: one scenario, shown as fields or as text, asked in one of three ways.
"use strict";

const given = Engine.given(byId("scenarios"));
const wasm = Engine.unpacked(byId("engine")).then((bytes) => WebAssembly.compile(bytes));
const engine = new Engine(wasm);
const whole = new Engine(wasm);
// For tests.
globalThis.engine = engine;

const Sheet = {
  now: "",
  way: "ride",
  view: "form",
  files: new Map(),
  text: () => Sheet.now,
  meant: () => Sheet.form.meant(),
  unsettled: () => Sheet.picker.left,
  title: () => told(ScenarioText.raw(Sheet.now, "title")),

  change(text) {
    if (text === Sheet.now) return;
    // What was an example is partly somebody's own from the first change on.
    Sheet.note.hidden ||= Sheet.now !== "";
    Sheet.now = text;
    Sheet.update();
    Sheet.answers.changed();
    Sheet.remember();
  },

  // A tab that is loaded again, as phones do by themselves, goes on where it was; it forgets when it is closed.
  remember() {
    // The link in the address is of another scenario from here on.
    if (location.hash.startsWith("#s=") && Sheet.linked !== Sheet.now) history.replaceState(null, "", location.pathname + location.search);
    try {
      sessionStorage.setItem("scenario", JSON.stringify({ text: Sheet.now, ask: Sheet.asks(), example: Sheet.example }));
    } catch {
      // Not every browser lets a page from a disk remember.
    }
  },

  remembered() {
    try {
      const held = JSON.parse(sessionStorage.getItem("scenario"));
      return typeof held?.text === "string" ? held : undefined;
    } catch {
      return undefined;
    }
  },

  // Another scenario takes the place of the one before; `example` is what of it was filled in by the page.
  begin(text, example) {
    Sheet.picker.begin();
    Sheet.now = "";
    Sheet.note.hidden = example !== text;
    Sheet.mark(example);
    Sheet.change(text);
  },

  beginExample() {
    const text = Form.exampleOf(byId("start").textContent);
    Sheet.begin(text, text);
  },

  mark(example) {
    Sheet.example = example;
    Sheet.form.mark(example);
  },

  changed: () => Sheet.answers.changed(),

  keep(name, content) {
    Sheet.files.set(name, content);
    engine.keep(name, content);
    whole.keep(name, content);
  },

  update() {
    Sheet.form.show();
    Sheet.whatif.update();
    Sheet.expert.update();
    Sheet.stillExample();
    Controls.put(Sheet.titleBox, Sheet.title());
  },

  // How much of what is asked is still the example's, beside the answer.
  stillExample() {
    const left = Sheet.form.stillExample();
    Sheet.still.hidden = left.length === 0 || !Sheet.note.hidden || Sheet.way === "prove";
    Sheet.stillWords.textContent = filled(left.length === 1 ? WORDS.example.one : WORDS.example.many, { count: left.length });
  },

  question: () => ({ ride: () => ({ ask: "run" }), now: () => Sheet.nowGroup.question(), whatif: () => Sheet.whatIf(), prove: () => Sheet.prover.question() })[Sheet.way](),
  record: () => Sheet.prover.text,

  // Without a change there is nothing to compare with.
  whatIf: () => (Sheet.whatif.variants().length > 0 ? { ask: "compare" } : { ask: "run" }),

  asks: () => ({ way: Sheet.way, ...(Sheet.way === "now" ? { now: Sheet.nowGroup.state } : {}), ...(Sheet.way === "prove" ? { record: Sheet.prover.text } : {}) }),

  // The station of the sheet becomes the unit that the record proved.
  async takeUnit(name) {
    Sheet.keep(name, Sheet.prover.text);
    if (!(await Sheet.kits.add(name))) {
      Sheet.prover.said.textContent = WORDS.prove.none;
      return;
    }
    const kit = Sheet.kits.kits.find((one) => one.file === name);
    Sheet.setWay("ride");
    Sheet.change(KitPicker.into(Sheet.now, kit.text));
    Sheet.answers.changed(0);
    Sheet.kits.told.textContent = WORDS.prove.taken;
  },

  card() {
    engine.keep("mine.toml", Sheet.form.meant());
    return engine.ask({ ask: "card", file: "mine.toml", trials: WHOLE });
  },

  // The answer that is shown, unless it is an old one.
  printable: () => (Sheet.answers.node.classList.contains("old") ? null : Sheet.answers.shown),

  fresh() {
    Sheet.beginExample();
    Sheet.files.clear();
    engine.forget();
    whole.forget();
    Sheet.kits.forget();
    for (const [name, content] of given.files) Sheet.keep(name, content);
    for (const name of given.kits) Sheet.kits.add(name);
    history.replaceState(null, "", location.pathname + location.search);
  },

  // Puts the reader's messages beside their fields.
  show(problems) {
    if (Sheet.way === "prove") return Sheet.prover.show(problems);
    document.querySelectorAll(".messages").forEach((one) => one.replaceChildren());
    document.querySelectorAll("details[data-minds]").forEach((one) => delete one.dataset.minds);
    document.querySelectorAll("[aria-invalid]").forEach((one) => one.removeAttribute("aria-invalid"));
    const general = [];
    Sheet.firstWrong = null;
    for (const problem of problems) {
      const key = problem.file === "" && problem.key && !problem.key.includes(".") ? `option.${problem.key}` : problem.key;
      const place = Sheet.placeOf(key);
      const said = el("div", { class: `message ${problem.level}` }, el("strong", { text: WORDS.level[problem.level] }),
        ` ${Sheet.named(problem.title)}${problem.label ? `: ${Sheet.named(problem.label)}` : ""}`, problem.hint ? el("p", { text: Sheet.named(problem.hint) }) : "");
      if (place) {
        place.append(said);
        const outlet = Sheet.form.outletLacking(key);
        if (outlet) said.append(el("button", { type: "button", text: filled(WORDS.fill, { label: Sheet.form.words(outlet)[0] }), onclick: () => Sheet.form.go(outlet) }));
        // What has to be mended is opened; what is to be minded is told on the lid, so that nothing jumps under a finger.
        for (let up = place.closest("details"); up && problem.level !== "note"; up = up.parentElement.closest("details")) {
          if (problem.level === "error") up.open = true;
          up.dataset.minds = WORDS.minds;
        }
        if (problem.level === "error") place.parentElement.querySelector("input, select, textarea")?.setAttribute("aria-invalid", "true");
      } else if (Sheet.view === "form" || !problem.place) general.push(said);
      if (problem.level === "error") Sheet.firstWrong ??= place ?? Sheet.general;
    }
    Sheet.general.replaceChildren(...(general.length > 0 ? [el("h2", { text: WORDS.elsewhere }), ...general] : []));
    Sheet.general.hidden = general.length === 0;
    Sheet.expert.show(problems);
    // Messages above the box that somebody writes in must not push it away.
    const focused = document.activeElement;
    const { top, bottom } = focused.getBoundingClientRect();
    if (Sheet.fields.contains(focused) && (top < 0 || bottom > innerHeight)) focused.scrollIntoView({ block: "nearest" });
  },

  // A message as the sheet says it: a key that has a field here goes by the field's name.
  named: (words) => words.replace(/`([a-z_]+(?:\.\w+)+)`/g, (all, path) => (Sheet.form.controls.has(path) ? `“${Sheet.form.words(path)[0]}”` : all)),

  // Where a key's messages stand: its own field, else what it is part of.
  placeOf(key) {
    for (let path = key; path; path = path.slice(0, Math.max(0, path.lastIndexOf(".")))) {
      const place = byId(`messages-${path}`);
      if (place && !place.closest("[hidden]")) return place;
    }
    return null;
  },

  // Goes to the first thing to mend; whether there is one.
  mend() {
    const place = Sheet.view === "text" ? Sheet.expert.list : (Sheet.firstWrong ?? (Sheet.picker.left ? Sheet.picker.told : null));
    if (!place) return false;
    place.scrollIntoView({ block: "center" });
    place.parentElement.querySelector("input, select, textarea, button")?.focus({ preventScroll: true });
    return true;
  },

  setWay(way) {
    Sheet.way = way;
    Sheet.nowGroup.node.hidden = way !== "now";
    Sheet.whatif.node.hidden = way !== "whatif";
    Sheet.prover.node.hidden = way !== "prove";
    Sheet.viewNode.hidden = way === "prove";
    Sheet.fields.hidden = way === "prove" || Sheet.view !== "form";
    Sheet.expert.node.hidden = way === "prove" || Sheet.view !== "text";
    if (way === "prove") {
      Sheet.general.hidden = true;
      Sheet.prover.begin();
    }
    Sheet.ways.forEach((one) => (one.checked = one.value === way));
    // Charge and clock of now stand in their own group.
    Sheet.form.unasked = way === "now" ? ["outage.month", "outage.starts_charged", "outage.begins_in_a_storm"] : [];
    if (Sheet.now !== "") Sheet.update();
  },

  setView(view) {
    Sheet.view = view;
    Sheet.setWay(Sheet.way);
    Sheet.views.forEach((one) => (one.checked = one.value === view));
    Sheet.expert.update();
    Sheet.show(Sheet.answers.problems);
  },
};

// A row of choices of which one holds.
function tabs(name, heading, words, chosen, choose) {
  const inputs = Object.keys(words).map((value) => el("input", { type: "radio", name, value, id: `${name}-${value}`, checked: value === chosen, onchange: () => choose(value) }));
  const labels = inputs.map((input) => el("label", { class: "choice" }, input, el("span", { text: words[input.value] })));
  return { inputs, node: el("fieldset", { class: `tabs ${name}` }, el("legend", { text: heading }), el("div", { class: "choices" }, ...labels)) };
}

function build() {
  const { heading: asks, ...ways } = WORDS.ways;
  const { heading: how, ...views } = WORDS.views;
  const way = tabs("way", asks, ways, Sheet.way, (value) => {
    Sheet.setWay(value);
    Sheet.answers.changed(0);
    Sheet.remember();
  });
  const view = tabs("view", how, views, Sheet.view, Sheet.setView);
  [Sheet.ways, Sheet.views, Sheet.viewNode] = [way.inputs, view.inputs, view.node];
  Sheet.fields = el("div", { id: "fields" });
  Sheet.form = new Form(Sheet.fields, { text: Sheet.text, change: Sheet.change });
  Sheet.picker = new PlacePicker((question) => engine.ask(question), Sheet.form);
  Sheet.form.place = Sheet.picker;
  Sheet.picker.settled = (left) => (left ? Sheet.answers.mark("", true) : Sheet.answers.changed());
  Sheet.kits = new KitPicker((question) => engine.ask(question), Sheet.form);
  Sheet.form.kits = Sheet.kits;
  Sheet.prover = new ProveGroup({
    ask: (question) => engine.ask(question), keep: (name, content) => engine.keep(name, content), form: Sheet.form,
    changed: () => {
      Sheet.answers.changed();
      Sheet.remember();
    },
    take: (name) => Sheet.takeUnit(name),
  });
  Sheet.nowGroup = new NowGroup(Sheet.form, () => Sheet.answers.changed());
  Sheet.whatif = new WhatIfGroup(Sheet.form);
  Sheet.expert = new ExpertView({ text: Sheet.text, change: Sheet.change });
  Sheet.general = el("section", { class: "group general", id: "general", hidden: true });
  Sheet.note = el("p", { class: "caution", id: "example", hidden: true, text: WORDS.files.example });
  Sheet.titleBox = el("input", { id: "field-title", type: "text", autocomplete: "off", oninput: () => Sheet.form.set("title", quoted(Sheet.titleBox.value)) });
  Sheet.stillWords = el("span", {});
  const mine = el("button", { type: "button", class: "quiet", text: WORDS.example.mine, onclick: () => {
    Sheet.mark(undefined);
    Sheet.update();
    Sheet.remember();
  } });
  const look = el("button", { type: "button", class: "quiet", text: WORDS.example.look, onclick: () => Sheet.form.goToExample() });
  Sheet.still = el("div", { class: "caution", id: "still-example", hidden: true }, Sheet.stillWords, el("div", { class: "row" }, look, mine));
  Sheet.answers = new Answers({ quick: engine, whole }, Sheet);
  Sheet.answers.body.before(Sheet.still);
  const shelf = new Files(Sheet, given);
  Sheet.shelf = shelf;
  const title = el("div", { class: "field" }, el("label", { for: "field-title", text: WORDS.fields.title[0] }), Sheet.titleBox, Sheet.form.messages("title"));
  shelf.node.insertBefore(title, shelf.node.children[1]);
  const safety = el("section", { class: "group", id: "safety", "aria-labelledby": "safety-heading" }, el("h2", { id: "safety-heading", text: WORDS.safety.heading }));
  const about = el("footer", {}, el("h2", { text: WORDS.about.heading }), el("p", { text: WORDS.about.text }), el("p", { id: "attribution" }));
  byId("sheet").replaceChildren(
    el("a", { class: "skip", href: "#answer", text: WORDS.skip, onclick: (event) => Sheet.answers.jump(event) }),
    el("header", {}, el("h1", { text: WORDS.title }), el("p", { text: WORDS.lead })),
    el("main", {},
      el("div", { class: "asking" }, way.node, Sheet.note, Sheet.nowGroup.node, Sheet.whatif.node, Sheet.prover.node, view.node, Sheet.general, Sheet.fields, Sheet.expert.node),
      el("div", { class: "answering" }, Sheet.answers.node), el("div", { class: "after" }, shelf.node, safety)),
    about, Sheet.answers.short,
  );
  document.title = WORDS.title;
  Sheet.setWay("ride");
  Sheet.expert.node.hidden = true;
  Sheet.answers.state.textContent = WORDS.loading;
}

async function begin() {
  build();
  for (const [name, content] of given.files) Sheet.keep(name, content);
  let held;
  try {
    held = await Links.unpacked(location.hash);
  } catch {
    held = undefined;
  }
  held ??= location.hash.startsWith("#s=") ? undefined : Sheet.remembered();
  if (held) {
    Sheet.linked = held.text;
    for (const [name, content] of Object.entries(held.files ?? {})) if (typeof content === "string") Sheet.keep(name, content);
    if (held.ask?.now) Sheet.nowGroup.restore(held.ask.now);
    if (typeof held.ask?.record === "string") Sheet.prover.write(held.ask.record);
    Sheet.setWay(held.ask?.way in WORDS.ways && held.ask.way !== "heading" ? held.ask.way : "ride");
    Sheet.begin(held.text, typeof held.example === "string" ? held.example : undefined);
  } else {
    if (location.hash.startsWith("#s=")) Sheet.shelf.say(WORDS.files.linkBroken);
    if (given.scenarios.length === 0) Sheet.beginExample();
    else Sheet.begin(given.files.get(given.scenarios[0]));
  }
  try {
    await engine.ready;
  } catch (error) {
    Sheet.answers.state.textContent = filled(WORDS.broken, { why: error.message });
    return;
  }
  const offered = async (what) => JSON.parse((await engine.ask({ ask: what })).json ?? "[]");
  for (const one of await offered("appliances")) Sheet.form.appliances.set(one.name.toLowerCase(), one);
  for (const name of given.kits) await Sheet.kits.add(name);
  byId("safety").append(el("ul", {}, ...(await offered("cautions")).map((text) => el("li", { text }))));
  const { json } = await engine.ask({ ask: "place", latitude: 0, longitude: 0 });
  byId("attribution").textContent = json ? `${JSON.parse(json).attribution}.` : "";
  Sheet.update();
}

addEventListener("hashchange", () => location.hash.startsWith("#s=") && location.reload());
begin();
