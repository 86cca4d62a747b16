// Is a unit what its label says? A record of bench tests: its label and its tests by fields, all of it as text.
"use strict";

class ProveGroup {
  // ask(question), keep(name, content): the engine's; form: whose station is the first guess; changed(): something to answer is new;
  // take(name): the sheet's station becomes this unit.
  constructor({ ask, keep, form, changed, take }) {
    Object.assign(this, { ask, keep, form, changed, text: "", tests: 0 });
    const P = WORDS.prove;
    const box = (id, label, hint, unit, value = "", oninput = () => {}) => {
      const input = el("input", { id, type: "text", inputmode: "decimal", autocomplete: "off", class: "short", value, oninput, ...(hint ? { "aria-describedby": `hint-${id}` } : {}) });
      const node = el("div", { class: "field" }, el("label", { for: id, text: label }), el("div", { class: "row" }, input, el("span", { class: "unit", text: unit })),
        hint ? el("p", { class: "hint", id: `hint-${id}`, text: hint }) : "");
      return { input, node };
    };
    const list = (id, label, options, onchange = () => {}) => {
      const input = el("select", { id, onchange }, ...Object.entries(options).map(([value, text]) => el("option", { value, text })));
      return { input, node: el("div", { class: "field" }, el("label", { for: id, text: label }), input) };
    };
    const label = (key, unit) => () => this.label(key, `${WIDGETS.number(this[key].input.value) ?? ""} ${unit}`);
    this.rated_capacity = box("prove-rated", P.rated, "", "Wh", "", label("rated_capacity", "Wh"));
    this.inverter = box("prove-inverter", WORDS.fields["station.inverter.rated"][0], "", "W", "", label("inverter", "W"));
    this.chemistry = list("prove-chemistry", P.chemistry, C.chemistry, () => this.label("chemistry", this.chemistry.input.value));
    this.accuracy = box("prove-accuracy", P.accuracy, P.accuracyHint, "%", "1", () => this.meter());
    this.outlet = list("prove-outlet", P.outlet, C.outlet);
    this.energy = box("prove-energy", P.energy, P.energyHint, "Wh");
    this.load = box("prove-load", P.load, P.loadHint, "W");
    this.lasted = box("prove-lasted", P.lasted, P.lastedHint, "h");
    this.said = el("p", { id: "prove-said", role: "status" });
    this.area = el("textarea", {
      id: "record", class: "record", rows: 16, spellcheck: "false", autocapitalize: "off", autocomplete: "off", wrap: "off", "aria-describedby": "record-hint record-told",
      oninput: () => {
        clearTimeout(this.waits);
        this.waits = setTimeout(() => this.write(this.area.value), 120);
      },
    });
    this.list = el("ol", { class: "told", id: "record-told" });
    this.node = el("section", { class: "group", "aria-labelledby": "group-prove", hidden: true }, el("h2", { id: "group-prove", text: P.heading }),
      el("p", { class: "hint", text: P.hint }), this.rated_capacity.node, this.inverter.node, this.chemistry.node,
      el("h3", { text: P.test }), el("p", { class: "hint", text: P.testHint }), this.outlet.node, this.energy.node, this.load.node, this.lasted.node, this.accuracy.node,
      el("div", { class: "row" }, el("button", { type: "button", id: "prove-add", text: P.add, onclick: () => this.add() })), this.said,
      el("label", { for: "record", class: "heading", text: P.record }), el("p", { class: "hint", id: "record-hint", text: P.recordHint }), this.area, this.list,
      el("div", { class: "row" }, el("button", { type: "button", id: "prove-save", text: P.save, onclick: () => download(ProveGroup.FILE, this.text, "application/toml") }),
        el("button", { type: "button", id: "prove-take", text: P.take, onclick: () => take(ProveGroup.FILE) })));
  }

  static FILE = "my-unit.toml";

  // Begins with the station of the sheet.
  async begin() {
    if (this.text !== "") return this.show([]);
    const capacity = WIDGETS.parsed(FIELDS.station[0], this.form.value("station.rated_capacity"));
    const rated = capacity?.number ? `${capacity.number} ${capacity.unit}` : "1000 Wh";
    const kind = told(this.form.value("station.chemistry")) || "LFP";
    const inverter = told(this.form.value("station.inverter.rated")) || rated.replace(/Wh$/, "W");
    await this.renew({ rated_capacity: rated, chemistry: kind in C.chemistry ? kind : "LFP", inverter });
  }

  // A record that holds no test yet is made anew, so that what stands beside its lines suits the label.
  async renew(unit) {
    const lines = Object.entries(unit).map(([key, value]) => `${key} = ${quoted(value)}\n`).join("");
    this.keep("label.toml", `[unit]\n${lines}`);
    const answer = await this.ask({ ask: "record", file: "label.toml" });
    if (answer.json) this.write(JSON.parse(answer.json));
    else this.show(answer.problems);
  }

  unit() {
    const raw = (key) => told(ScenarioText.raw(this.text, `unit.${key}`));
    return Object.fromEntries(["rated_capacity", "chemistry", "inverter"].map((key) => [key, raw(key)]).filter(([, value]) => value));
  }

  tested() {
    return ["capacity", "wall", "solar", "outlet", "arrival"].some((name) => ScenarioText.read(this.text).sections.some((one) => one.path.split(".")[0] === name));
  }

  label(key, value) {
    if (this.tested()) this.write(ScenarioText.set(this.text, `unit.${key}`, quoted(value)));
    else this.renew({ ...this.unit(), [key]: value });
  }

  meter() {
    this.write(ScenarioText.set(this.text, "meter.0.accuracy", quoted(`${WIDGETS.number(this.accuracy.input.value) ?? ""} %`)));
  }

  // What a test found goes behind the others.
  add() {
    const P = WORDS.prove;
    const value = (one) => one.input.value.trim().replace(",", ".");
    const [energy, load, lasted] = [this.energy, this.load, this.lasted].map(value);
    if (!(Number(lasted) > 0) || !(Number(energy) > 0 || Number(load) > 0)) {
      this.said.textContent = P.needs;
      return;
    }
    const many = ScenarioText.count(this.text, "capacity") + 1;
    const metered = Number(energy) > 0;
    this.write(ScenarioText.addSection(this.text, "[[capacity]]", {
      name: quoted(filled(P.testName, { number: many })), outlet: quoted(this.outlet.input.value), lasted: quoted(`${lasted} h`), from: quoted("100 %"), to: quoted("0 %"),
      ...(metered ? { energy: quoted(`${energy} Wh`), ...(ScenarioText.count(this.text, "meter") > 0 ? { meter: ScenarioText.raw(this.text, "meter.0.name") ?? quoted("plug meter") } : {}) } : { load: quoted(`${load} W`) }),
    }));
    [this.energy, this.load, this.lasted].forEach(({ input }) => (input.value = ""));
    this.said.textContent = filled(P.added, { number: many });
  }

  write(text) {
    this.text = text;
    Controls.put(this.area, text);
    const unit = this.unit();
    const plain = (words) => (words ?? "").replace(/ .*/, "");
    const wh = (words) => (/kWh$/.test(words ?? "") ? String(1000 * Number.parseFloat(words)) : plain(words));
    Controls.put(this.rated_capacity.input, wh(unit.rated_capacity));
    Controls.put(this.inverter.input, plain(unit.inverter));
    if (unit.chemistry in C.chemistry) this.chemistry.input.value = unit.chemistry;
    Controls.put(this.accuracy.input, plain(told(ScenarioText.raw(text, "meter.0.accuracy"))));
    this.changed();
  }

  question() {
    return { ask: "prove", file: ProveGroup.FILE, unix_s: Math.floor(Date.now() / 1000) };
  }

  show(problems) {
    const line = (one) => (one.place ? `${filled(WORDS.text.line, { line: one.place.line })}: ` : "");
    this.list.replaceChildren(...problems.map((one) => el("li", { class: one.level, text: `${line(one)}${spoken(one)}` })));
  }
}
