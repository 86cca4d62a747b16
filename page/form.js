// The sheet's fields: each shows what the scenario's text says at its key, and writes there.
"use strict";

class Form extends Controls {
  // root: where it goes; text(): the scenario's text now; change(text): takes a new one.
  constructor(root, { text, change, place }) {
    super();
    Object.assign(this, { root, text, change, place });
    this.controls = new Map();
    this.cards = new Map();
    this.appliances = new Map();
    this.open = new Set();
    this.shape = "";
    this.example = new Map();
    this.unasked = [];
  }

  // The example that a sheet begins with: what is written and shown in the open. Under a lid a figure of another kit would count unseen,
  // and its changes are of another kit too.
  static exampleOf(text) {
    while (ScenarioText.count(text, "variant") > 0) text = ScenarioText.removeSection(text, "variant.0");
    const hidden = [...FIELDS.station, ...FIELDS.panel].filter((field) => field.more);
    for (const { path, key } of hidden) text = ScenarioText.set(text, path ?? `panel.0.${key}`, undefined);
    return text;
  }

  // From here on a field that still says what this text says is the example's; nothing is where there is none.
  mark(text) {
    this.example = new Map(text === undefined ? [] : ScenarioText.read(text).entries.map((one) => [one.path, text.slice(one.from, one.to)]));
  }

  // Whether a figure is still the example's.
  isExample(path) {
    return this.example.has(path) && this.example.get(path) === this.value(path);
  }

  // What is still the example's: fields, and things that are plugged in as a whole.
  stillExample() {
    const loads = [...this.cards.keys()].filter((path) => /^load/.test(path) && this.cardIsExample(path));
    const place = this.isExample("site.place") ? ["site.place"] : [];
    return [...place, ...[...this.controls.keys()].filter((path) => !/^(load|option)\./.test(path) && this.isExample(path)), ...loads];
  }

  goToExample() {
    const [path] = this.stillExample();
    if (!path) return;
    if (path === "site.place") return byId("place").focus();
    for (let up = this.controls.get(path)?.node.closest("details"); up; up = up.parentElement.closest("details")) up.open = true;
    const card = this.cards.get(path)?.node;
    card?.scrollIntoView({ block: "center" });
    card?.querySelector("input, select")?.focus({ preventScroll: true });
    if (!card) this.go(path);
  }

  cardIsExample(path) {
    const of = [...this.now().entries].filter((one) => one.path.startsWith(`${path}.`));
    return of.length > 0 && of.every((one) => this.isExample(one.path));
  }

  // The text that is asked: an optional key that is being emptied counts as not there.
  meant() {
    let text = this.text();
    const emptied = this.now().entries.filter((one) => text.slice(one.from, one.to) === quoted("")).map((one) => one.path);
    for (const path of emptied) text = this.without(text, path, this.controls.get(path)?.field);
    return text;
  }

  now() {
    const text = this.text();
    if (this.read?.text !== text) {
      this.read = ScenarioText.read(text);
      this.values = new Map(this.read.entries.map((one) => [one.path, text.slice(one.from, one.to)]));
      this.paths = new Set(this.read.sections.map((one) => one.path));
    }
    return this.read;
  }

  value(path) {
    this.now();
    return this.values.get(path);
  }

  set(path, value) {
    this.change(ScenarioText.set(this.text(), path, value));
  }

  words(path) {
    return WORDS.fields[path] ?? WORDS.fields[path.replace(/\.\d+\./, ".*.")] ?? [path, ""];
  }

  // Fields of one group with their full paths.
  fields(list, prefix = "") {
    return list.map((field) => ({ ...field, path: field.path ?? `${prefix}.${field.key}` }));
  }

  // Everything that the sheet shows of this text, and how.
  plan() {
    this.now();
    const count = (name) => this.read.sections.filter((one) => one.list && one.path.replace(/\.\d+$/, "") === name).length;
    const groups = { place: FIELDS.place, position: FIELDS.position, station: FIELDS.station, panels: [], loads: [] };
    const shown = (field) => {
      const there = this.values.has(field.path);
      if (field.unless && this.values.has(field.unless)) return false;
      if (field.onlyThere && !there && !(field.library && this.given(field.path))) return false;
      if (field.within && !this.paths.has(field.within)) return false;
      if (field.beside && !there && !this.values.has(field.beside)) return false;
      if (field.key === "wiring") return there || Number(this.value(field.path.replace("wiring", "count")) ?? 1) !== 1;
      return !this.values.has(field.path.slice(0, field.path.lastIndexOf(".")));
    };
    const group = (list, prefix) => this.fields(list, prefix).filter(shown);
    for (let k = 0; k < count("panel"); k += 1) groups.panels.push(group(FIELDS.panel, `panel.${k}`));
    for (let k = 0; k < count("load"); k += 1) groups.loads.push(group(FIELDS.load, `load.${k}`));
    for (const name of ["place", "position", "station"]) groups[name] = group(groups[name]);
    return groups;
  }

  raws(field) {
    return WIDGETS.parsed(field, this.value(field.path)) === undefined;
  }

  // Shows the text as it is now: what is there is brought up to date, and built anew where other fields are wanted.
  show() {
    const plan = this.plan();
    const all = [...plan.place, ...plan.position, ...plan.station, ...plan.panels.flat(), ...plan.loads.flat()];
    const variants = ScenarioText.count(this.text(), "variant");
    const shape = JSON.stringify([all.map((field) => [field.path, this.raws(field)]), this.kept(all), variants, this.appliances.size]);
    const focused = shape === this.shape ? undefined : document.activeElement?.id;
    if (shape !== this.shape) {
      this.shape = shape;
      this.build(plan, all);
    }
    for (const [path, control] of this.controls) {
      control.update();
      if (control.tag) control.tag.hidden = !this.isExample(path);
      control.node.hidden = this.unasked.includes(path);
    }
    for (const card of this.cards.values()) card.update();
    this.place?.update();
    // A box that was built anew shows its value before somebody writes on in it.
    if (focused) byId(focused)?.focus({ preventScroll: true });
  }

  build(plan, all) {
    this.root.querySelectorAll("details[id]").forEach((one) => (one.open ? this.open.add(one.id) : this.open.delete(one.id)));
    for (const [path, control] of this.controls) if (!path.startsWith("option.")) this.controls.delete(path);
    this.cards.clear();
    const panels = plan.panels.map((fields, k) => this.panelCard(fields, k));
    const loads = plan.loads.map((fields, k) => this.loadCard(fields, k));
    this.root.replaceChildren(
      this.group("place", this.place?.node, ...plan.place.map((field) => this.field(field)),
        this.details("position", WORDS.place.position, plan.position.map((field) => this.field(field)))),
      this.group("station", this.kits?.node ?? "", ...this.frontAndMore(plan.station, "station", WORDS.station.more)),
      this.group("panels", ...panels, this.messages("panel"), el("button", {
        type: "button", id: "add-panel", text: panels.length > 0 ? WORDS.panel.add : WORDS.panel.first, onclick: () => this.addPanel(),
      })),
      this.group("loads", el("p", { class: "hint", text: WORDS.priorities }), ...loads, this.messages("load"), this.adder()),
      this.keptGroup(all) ?? "",
    );
  }

  group(name, ...children) {
    const heading = el("h2", { id: `group-${name}`, text: WORDS.groups[name] });
    const section = el("section", { class: "group", "aria-labelledby": heading.id }, heading, ...children);
    return section;
  }

  details(id, summary, children) {
    const made = el("details", { id: `more-${id}` }, el("summary", { text: summary }), ...children);
    made.open = this.open.has(made.id);
    return made;
  }

  // What is asked first, and the rest under a lid.
  frontAndMore(fields, id, summary, ...behind) {
    const made = (list) => list.map((field) => this.field(field));
    const front = made(fields.filter((field) => !field.more));
    return [...front, this.details(id, summary, [...made(fields.filter((field) => field.more)), ...behind])];
  }

  // Where the messages of a key stand.
  messages(path) {
    return el("div", { class: "messages", id: `messages-${path}` });
  }

  field(field) {
    const [label, hint] = this.words(field.path);
    const id = `field-${field.path}`;
    const raw = this.raws(field);
    const make = raw ? "rawField" : `${field.kind}Field`;
    const described = [hint ? `hint-${field.path}` : "", `messages-${field.path}`].filter(Boolean).join(" ");
    const { nodes, update, grouped } = this[make](field, { id, label, described });
    const hints = hint ? el("p", { class: "hint", id: `hint-${field.path}`, text: hint }) : "";
    const name = raw ? `${label} (${WORDS.asWritten})` : label;
    const tag = /^load\./.test(field.path) ? undefined : el("span", { class: "tag", text: WORDS.example.tag });
    const node = grouped
      ? el("fieldset", { class: "field", "aria-describedby": described }, el("legend", { text: name }, tag), ...nodes, hints, this.messages(field.path))
      : el("div", { class: "field" }, el("label", { for: id, text: name }, tag), ...nodes, hints, this.messages(field.path));
    this.controls.set(field.path, { field, node, update, tag, focus: () => (byId(id) ?? node.querySelector("input, select"))?.focus() });
    return node;
  }

  // What the library gives a load at a key, as it is written there.
  given(path) {
    const [, load, key] = /^(load\.\d+)\.(\w+)$/.exec(path) ?? [];
    const like = load && told(this.value(`${load}.like`)).toLowerCase();
    const found = like && this.appliances.get(like)?.[key];
    return found === false || found === null || found === "" ? undefined : found === true ? "true" : found || undefined;
  }

  // The field of the outlet that a load wants, where the station has none.
  outletLacking(key) {
    if (!/^load\.\d+\.outlet$/.test(key)) return undefined;
    const field = { ac: "station.inverter.rated", dc: "station.dc_outlet.limit", usb: "station.usb.limit" }[told(this.value(key)) || this.given(key)];
    return field && !this.paths.has(field.replace(/\.\w+$/, "")) ? field : undefined;
  }

  go(path) {
    const { node, focus } = this.controls.get(path) ?? {};
    node?.scrollIntoView({ block: "center" });
    focus?.();
  }

  nameOf(path, number) {
    return told(this.value(`${path}.name`)) || told(this.value(`${path}.like`)) || filled(WORDS.load.unnamed, { number });
  }

  card(path, heading, ...children) {
    const [head, tag] = [el("span", {}), el("span", { class: "tag", text: WORDS.example.tag, hidden: true })];
    const node = el("article", { class: "card", id: `card-${path}` }, el("h3", {}, head, tag), ...children, this.messages(path));
    const update = () => {
      head.textContent = heading();
      tag.hidden = !/^load/.test(path) || !this.cardIsExample(path);
    };
    this.cards.set(path, { node, update });
    return node;
  }

  panelCard(fields, k) {
    const heading = () => {
      const name = told(this.value(`panel.${k}.name`));
      return name || filled(WORDS.panel.heading, { number: k + 1 });
    };
    const parts = this.frontAndMore(fields, `panel.${k}`, filled(WORDS.panel.more, { name: heading() }));
    return this.card(`panel.${k}`, heading, ...parts, el("button", {
      type: "button", class: "quiet", text: WORDS.panel.remove, onclick: () => this.takeOut(`panel.${k}`, "add-panel"),
    }));
  }

  loadCard(fields, k) {
    const path = `load.${k}`;
    const name = () => this.nameOf(path, k + 1);
    const source = this.appliances.get(told(this.value(`${path}.like`)).toLowerCase())?.source;
    const from = source ? el("p", { class: "hint", text: filled(WORDS.load.source, { source }) }) : "";
    const parts = this.frontAndMore(fields, path, filled(WORDS.load.more, { name: name() }), from);
    return this.card(path, name, ...parts, el("button", {
      type: "button", class: "quiet", text: filled(WORDS.load.remove, { name: name() }),
      onclick: () => this.takeOut(path, "add-load"),
    }));
  }

  // Takes a card out; what follows it has the focus then.
  takeOut(path, adder) {
    this.change(ScenarioText.removeSection(this.text(), path));
    (byId(`card-${path}`)?.querySelector("input, select") ?? byId(adder))?.focus();
  }

  addPanel() {
    const south = Number(this.value("site.latitude")) < 0 ? "north" : "south";
    const entries = { rated: quoted("100 W"), tilt: quoted("30°"), facing: quoted(south) };
    this.change(ScenarioText.addSection(this.text(), "[[panel]]", entries));
    byId(`field-panel.${ScenarioText.count(this.text(), "panel") - 1}.rated`)?.focus();
  }

  // Picks from the library.
  adder() {
    const select = el("select", { id: "add-load" },
      el("option", { value: "", text: WORDS.load.pick }), el("option", { value: "own", text: WORDS.load.own }), ...this.library());
    const button = el("button", { type: "button", id: "add-it", text: WORDS.load.addIt, onclick: () => this.addLoad(select) });
    return el("div", { class: "field adder" }, el("label", { for: "add-load", text: WORDS.load.add }), el("div", { class: "row" }, select, button));
  }

  static kindOf({ name, medical }) {
    const kinds = {
      cold: /fridge|freezer|cooler/, talk: /phone|tablet|laptop|computer|router|radio|modem|television|camera|monitor|switch/,
      light: /lamp|light|torch|lantern/, body: /breathing|oxygen|nebuliser|insulin|wheelchair|feeding|medic/,
      air: /fan|pump|blower|stove|heat|boiler|blanket/,
    };
    return medical ? "body" : (Object.keys(kinds).find((one) => kinds[one].test(name)) ?? "rest");
  }

  // The library, by what things are for.
  library() {
    const groups = Object.entries(WORDS.kinds).map(([key, label]) => {
      const options = [...this.appliances.values()].filter((one) => Form.kindOf(one) === key);
      return el("optgroup", { label }, ...options.map(({ name }) => el("option", { value: name, text: name })));
    });
    return groups.filter((one) => one.children.length > 0);
  }

  // What keeps people and food is vital unless it is said to be less; comforts are not.
  static priorityOf(appliance) {
    return ["body", "cold"].includes(Form.kindOf(appliance)) || /router|modem|telephone|alarm|pump|blower|stove/.test(appliance.name) ? "vital" : "useful";
  }

  addLoad(select) {
    const picked = select.value;
    select.value = "";
    if (picked === "") return;
    const names = new Set();
    for (let k = 0; k < ScenarioText.count(this.text(), "load"); k += 1) names.add(this.nameOf(`load.${k}`, k + 1).toLowerCase());
    const wanted = picked === "own" ? WORDS.load.ownName : picked;
    let name = wanted;
    for (let k = 2; names.has(name.toLowerCase()); k += 1) name = `${wanted} ${k}`;
    const entries = picked === "own"
      ? { name: quoted(name), outlet: quoted("ac"), priority: quoted("vital"), watts: quoted("10 W") }
      : { like: quoted(picked), name: quoted(name), priority: quoted(Form.priorityOf(this.appliances.get(picked.toLowerCase()))) };
    this.change(ScenarioText.addSection(this.text(), "[[load]]", entries));
    const path = `load.${ScenarioText.count(this.text(), "load") - 1}`;
    if (picked === "own") byId(`more-${path}`)?.setAttribute("open", "");
    byId(`card-${path}`)?.scrollIntoView({ block: "nearest" });
    byId(picked === "own" ? `field-${path}.name` : `field-${path}.watts`)?.focus({ preventScroll: true });
  }

  // What the text holds and the sheet has no fields for.
  kept(all) {
    const { entries, sections } = this.now();
    const shown = new Set(all.map((field) => field.path));
    const own = /^(title$|site\.place$|variant\.)/;
    const usual = (one) => one.path === "site.climate" && told(this.value(one.path)) === "world";
    const left = entries.filter((one) => !usual(one) && !shown.has(one.path) && !own.test(one.path));
    const names = new Map();
    for (const one of left) {
      // A key of a part that the sheet shows goes by itself; what it does not show at all goes as a whole.
      const root = one.path.split(".")[0];
      const whole = !["site", "outage", "station", "panel", "load"].includes(root);
      const name = whole ? one.section.path.replace(/\.\d+/g, "") || one.path : one.path;
      names.set(name, (names.get(name) ?? 0) + 1);
    }
    for (const one of sections) if (one.path === "generator" && !names.has("generator")) names.set("generator", 0);
    return [...names];
  }

  keptGroup(all) {
    const kept = this.kept(all);
    if (kept.length === 0) return undefined;
    const name = (path) => {
      const at = /^(panel|load)\.(\d+)\.(\w+)$/.exec(path);
      return at ? `${this.nameOf(`${at[1]}.${at[2]}`, Number(at[2]) + 1)}: ${at[3]}` : path;
    };
    const item = ([path, count]) => el("li", {}, el("code", { text: filled(count === 1 ? WORDS.kept.line : WORDS.kept.lines, { name: name(path), count }) }), this.messages(path));
    return this.group("kept", el("p", { class: "hint", text: WORDS.kept.hint }), el("ul", { class: "kept" }, ...kept.map(item)));
  }
}
