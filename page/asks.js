// The three ways to ask, and what each needs beside the scenario.
"use strict";

// The power is out: charge, clock and sky.
class NowGroup {
  constructor(form, changed) {
    Object.assign(this, { form, changed });
    this.state = { charge: "50", at: "", until: "", sky: ["", "", ""] };
    this.tag = el("span", { class: "tag", text: WORDS.example.tag });
    const range = { range: [0, 100] };
    const box = (key) => `option.${key}`;
    const id = (key) => `field-${box(key)}`;
    const field = (key, ...nodes) => {
      const [label, hint] = WORDS.fields[box(key)];
      const node = el("div", { class: "field" }, el("label", { for: id(key), text: label }, key === "charge" ? this.tag : undefined), ...nodes,
        hint ? el("p", { class: "hint", id: `hint-${box(key)}`, text: hint }) : "", form.messages(box(key)));
      form.controls.set(box(key), { node, update: () => {}, focus: () => byId(id(key)).focus() });
      return node;
    };
    const take = (key, value) => {
      this.state[key] = value;
      if (key === "charge") this.tag.hidden = true;
      changed();
    };
    this.charge = el("input", {
      id: id("charge"), type: "text", inputmode: "decimal", class: "short", value: "50", "aria-describedby": `messages-${box("charge")}`,
      oninput: () => {
        slide.value = String(WIDGETS.toSlider(range, Number(this.charge.value)));
        take("charge", this.charge.value);
      },
    });
    const slide = el("input", {
      type: "range", min: 0, max: WIDGETS.STEPS, value: 500, "aria-label": filled(WORDS.slider, { label: WORDS.fields[box("charge")][0] }),
      oninput: () => {
        this.charge.value = String(WIDGETS.fromSlider(range, Number(slide.value)));
        slide.setAttribute("aria-valuetext", `${this.charge.value} %`);
        take("charge", this.charge.value);
      },
    });
    this.at = el("input", { id: id("at"), type: "datetime-local", "aria-describedby": `hint-${box("at")}`, oninput: () => take("at", this.at.value) });
    this.until = el("input", { id: id("until"), type: "text", autocomplete: "off", "aria-describedby": `hint-${box("until")} messages-${box("until")}`, oninput: () => take("until", this.until.value) });
    this.sky = [0, 1, 2].map((k) => el("select", {
      id: k === 0 ? id("sky") : `${id("sky")}-${k}`, "aria-label": `${WORDS.fields[box("sky")][0]}: ${WORDS.days[k]}`,
      onchange: () => take("sky", this.sky.map((one) => one.value)),
    }, ...Object.entries(C.sky).map(([value, text]) => el("option", { value, text }))));
    const day = (k) => el("div", { class: "day" }, el("span", { class: "hint", text: WORDS.days[k] }), this.sky[k]);
    this.node = el("section", { class: "group", "aria-labelledby": "group-now" }, el("h2", { id: "group-now", text: WORDS.groups.now }),
      field("charge", el("div", { class: "row" }, this.charge, el("span", { class: "unit", text: "%" })), slide),
      field("at", this.at), field("until", this.until), field("sky", el("div", { class: "row days" }, day(0), day(1), day(2))));
    // From three in the afternoon on the engine takes the first day told for tomorrow.
    this.name = () => {
      const hour = this.state.at ? Number(this.state.at.slice(11, 13)) : new Date().getHours();
      const names = hour >= 15 ? WORDS.daysLate : WORDS.days;
      this.node.querySelectorAll(".day > span").forEach((span, k) => (span.textContent = names[k]));
    };
    this.name();
  }

  // As a link told it; only what its fields can hold.
  restore({ charge, at, until, sky }) {
    this.charge.value = String(charge ?? "50");
    this.tag.hidden = charge !== undefined && charge !== "50";
    this.at.value = String(at ?? "");
    this.until.value = String(until ?? "");
    this.sky.forEach((one, k) => (one.value = String(sky?.[k] ?? "")));
    this.state = { charge: this.charge.value, at: this.at.value, until: this.until.value, sky: this.sky.map((one) => one.value) };
  }

  question() {
    const { charge, at, until, sky } = this.state;
    this.name();
    const told = sky.map((word) => word || "any");
    while (told[told.length - 1] === "any") told.pop();
    return {
      ask: "now", charge: /^[\d.,\s]*$/.test(charge) ? `${charge.trim()}%` : charge,
      ...(at ? { at: at.replace("T", " ") } : { unix_s: Math.floor(Date.now() / 1000) }), ...(until.trim() ? { until: until.trim() } : {}), ...(told.length > 0 ? { sky: told.join(",") } : {}),
    };
  }
}

// What if: the scenario's own [[variant]] sections.
class WhatIfGroup {
  constructor(form) {
    this.form = form;
    this.list = el("ul", { class: "changes" });
    this.select = el("select", { id: "add-change", onchange: () => this.pick() });
    this.key = el("select", { id: "change-key" });
    this.value = el("input", { id: "change-value", type: "text", autocomplete: "off", spellcheck: "false" });
    this.own = el("div", { class: "row own", hidden: true },
      el("label", {}, el("span", { text: WORDS.whatif.ownKey }), this.key), el("label", {}, el("span", { text: WORDS.whatif.ownValue }), this.value),
      el("button", { type: "button", text: WORDS.whatif.ownAdd, onclick: () => this.addOwn() }));
    this.key.addEventListener("change", () => (this.value.value = told(form.value(this.key.value))));
    this.node = el("section", { class: "group", "aria-labelledby": "group-whatif" }, el("h2", { id: "group-whatif", text: WORDS.groups.whatif }),
      el("p", { class: "hint", text: WORDS.whatif.hint }), this.list,
      el("div", { class: "field" }, el("label", { for: "add-change", text: WORDS.whatif.add }), this.select), this.own);
  }

  variants() {
    const names = [];
    for (let k = 0; k < ScenarioText.count(this.form.text(), "variant"); k += 1) names.push(told(this.form.value(`variant.${k}.name`)));
    return names;
  }

  // Changes that are offered for this kit, each with the lines of its section.
  offers() {
    const { form } = this;
    const text = form.text();
    const offers = [];
    // `first`: what the scenario must say of itself before the change can name it.
    const offer = (name, lines, first = {}) => offers.push({ name, lines, first });
    const set = (entries) => ({ set: `{ ${Object.entries(entries).map(([key, value]) => `"${key}" = ${value}`).join(", ")} }` });
    for (let k = 0; k < ScenarioText.count(text, "panel"); k += 1) {
      const name = told(form.value(`panel.${k}.name`));
      const count = Number(form.value(`panel.${k}.count`) ?? 1);
      const wiring = form.value(`panel.${k}.wiring`) ?? quoted("parallel");
      if (!wiring.startsWith("{")) offer(name ? filled(WORDS.whatif.morePanels, { name }) : filled(WORDS.whatif.morePanel, { number: k + 1 }), set({ [`panel.${k}.count`]: count + 1, [`panel.${k}.wiring`]: wiring }));
    }
    const capacity = WIDGETS.parsed(FIELDS.station[0], form.value("station.rated_capacity"));
    if (Number.isFinite(Number(capacity?.number)) && Number(capacity.number) > 0 && !form.value("station.measured_capacity") && !form.value("station.proved")) {
      const value = `${Number((Number(capacity.number) * 1.5).toPrecision(3))} ${capacity.unit}`;
      offer(filled(WORDS.whatif.bigger, { value }), set({ "station.rated_capacity": quoted(value) }));
    }
    if (told(form.value("outage.starts_charged")) !== "100 %") offer(WORDS.whatif.full, set({ "outage.starts_charged": quoted("100 %") }));
    for (let k = 0; k < ScenarioText.count(text, "load"); k += 1) {
      const name = form.nameOf(`load.${k}`, k + 1);
      if (!/\./.test(name)) offer(filled(WORDS.whatif.without, { name }), { without: `[${quoted(`load.${name}`)}]` }, { [`load.${k}.name`]: quoted(name) });
    }
    const there = new Set(this.variants());
    return offers.filter(({ name }) => !there.has(name));
  }

  // What a change sets, by the names of the fields; as it is written where it is more than keys and values.
  said(written) {
    const pairs = [...written.matchAll(/"([\w.]+)"\s*=\s*("[^"]*"|[\d.]+)/g)];
    const whole = written.replace(/"([\w.]+)"\s*=\s*("[^"]*"|[\d.]+)|[{},\s]/g, "") === "";
    return whole ? pairs.map(([, path, value]) => `${this.label(path)}: ${told(value)}`).join("; ") : written;
  }

  label(path) {
    const [words] = this.form.words(path);
    const at = /^(panel|load)\.(\d+)\./.exec(path);
    if (!at) return words;
    const [name, number] = [told(this.form.value(`${at[1]}.${at[2]}.name`)), Number(at[2]) + 1];
    return `${at[1] === "panel" ? name || filled(WORDS.panel.heading, { number }) : this.form.nameOf(`load.${at[2]}`, number)}: ${words}`;
  }

  update() {
    const names = this.variants();
    this.list.replaceChildren(...(names.length === 0 ? [el("li", { class: "hint", text: WORDS.whatif.none })] : names.map((name, k) => {
      const set = ["set", "without"].map((key) => this.form.value(`variant.${k}.${key}`)).filter(Boolean).map((one) => this.said(one)).join(" ");
      const remove = el("button", {
        type: "button", class: "quiet", text: filled(WORDS.whatif.remove, { name }),
        onclick: () => this.form.change(ScenarioText.removeSection(this.form.text(), `variant.${k}`)),
      });
      return el("li", { id: `card-variant.${k}` }, el("strong", { text: name }), el("code", { text: set }), remove, this.form.messages(`variant.${k}`));
    })));
    this.offered = this.offers();
    this.select.replaceChildren(el("option", { value: "", text: WORDS.whatif.pick }),
      ...this.offered.map(({ name }, k) => el("option", { value: String(k), text: name })), el("option", { value: "own", text: WORDS.whatif.own }));
    const keys = [...this.form.controls.keys()].filter((path) => !path.startsWith("option.") && !/\.(name|like|priority)$/.test(path));
    const kept = this.key.value;
    this.key.replaceChildren(...keys.map((path) => el("option", { value: path, text: this.label(path) })));
    if (keys.includes(kept)) this.key.value = kept;
  }

  add(name, lines, first = {}) {
    let text = this.form.text();
    for (const [path, value] of Object.entries(first)) if (this.form.value(path) === undefined) text = ScenarioText.set(text, path, value);
    this.form.change(ScenarioText.addSection(text, "[[variant]]", { name: quoted(name), ...lines }));
  }

  pick() {
    const picked = this.select.value;
    this.select.value = "";
    this.own.hidden = picked !== "own";
    if (picked === "own") {
      this.value.value = told(this.form.value(this.key.value));
      this.key.focus();
    } else if (picked !== "") {
      const { name, lines, first } = this.offered[Number(picked)];
      this.add(name, lines, first);
    }
  }

  addOwn() {
    const path = this.key.value;
    const now = this.form.value(path);
    const typed = this.value.value.trim();
    // As it is written there now: bare where it is bare.
    const bare = now !== undefined && ScenarioText.unquoted(now) === undefined;
    const value = bare || /^(-?\d+(\.\d+)?|true|false|[[{].*)$/.test(typed) ? typed : quoted(typed);
    this.own.hidden = true;
    this.add(filled(WORDS.whatif.newer, { label: this.key.selectedOptions[0].textContent, value: typed }), { set: `{ ${quoted(path)} = ${value} }` });
  }
}
