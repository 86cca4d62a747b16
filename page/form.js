// The sheet's fields: each shows what the scenario's text says at its key, and writes there.
"use strict";

const byId = (id) => document.getElementById(id);

// An element: `on*` are listeners, `text` is its text, others are attributes; false and undefined leave an attribute out.
function el(tag, properties = {}, ...children) {
  const made = document.createElement(tag);
  for (const [key, value] of Object.entries(properties)) {
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (key === "text") made.textContent = value;
    else if (value !== undefined && value !== false) made.setAttribute(key, value === true ? "" : value);
  }
  made.append(...children.filter((child) => child !== undefined && child !== null));
  return made;
}

// A message in one line.
const spoken = (one) => `${WORDS.level[one.level]}: ${one.title}${one.label ? ` (${one.label})` : ""}${one.hint ? `. ${one.hint}` : ""}`;

const told = (value) => ScenarioText.unquoted(value) ?? value ?? "";

class Form {
  // root: where it goes; text(): the scenario's text now; change(text): takes a new one.
  constructor(root, { text, change, place }) {
    Object.assign(this, { root, text, change, place });
    this.controls = new Map();
    this.cards = new Map();
    this.appliances = new Map();
    this.open = new Set();
    this.shape = "";
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
    if (shape !== this.shape) {
      this.shape = shape;
      this.build(plan, all);
    }
    for (const control of this.controls.values()) control.update();
    for (const card of this.cards.values()) card.update();
    this.place?.update();
  }

  build(plan, all) {
    const focused = document.activeElement?.id;
    this.root.querySelectorAll("details[id]").forEach((one) => (one.open ? this.open.add(one.id) : this.open.delete(one.id)));
    for (const [path, control] of this.controls) if (!path.startsWith("option.")) this.controls.delete(path);
    this.cards.clear();
    const panels = plan.panels.map((fields, k) => this.panelCard(fields, k));
    const loads = plan.loads.map((fields, k) => this.loadCard(fields, k));
    this.root.replaceChildren(
      this.group("place", this.place?.node, ...plan.place.map((field) => this.field(field)),
        this.details("position", WORDS.place.position, plan.position.map((field) => this.field(field)))),
      this.group("station", this.kits?.node ?? "", ...this.frontAndMore(plan.station, "station", WORDS.station.more)),
      this.group("panels", ...panels, el("button", {
        type: "button", id: "add-panel", text: panels.length > 0 ? WORDS.panel.add : WORDS.panel.first, onclick: () => this.addPanel(),
      })),
      this.group("loads", el("p", { class: "hint", text: WORDS.priorities }), ...loads, this.adder()),
      this.keptGroup(all) ?? "",
    );
    if (focused) byId(focused)?.focus({ preventScroll: true });
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
    const node = grouped
      ? el("fieldset", { class: "field", "aria-describedby": described }, el("legend", { text: name }), ...nodes, hints, this.messages(field.path))
      : el("div", { class: "field" }, el("label", { for: id, text: name }), ...nodes, hints, this.messages(field.path));
    this.controls.set(field.path, { node, update, focus: () => (byId(id) ?? node.querySelector("input, select"))?.focus() });
    return node;
  }

  // Sets what an input shows unless somebody is writing there.
  static put(input, value) {
    if (input.value !== value && document.activeElement !== input) input.value = value;
  }

  rawField(field, { id, described }) {
    const input = el("textarea", {
      id, rows: 2, spellcheck: "false", class: "raw", "aria-describedby": described,
      oninput: () => this.set(field.path, input.value.trim() === "" ? undefined : input.value.trim()),
    });
    return { nodes: [input], update: () => Form.put(input, this.value(field.path) ?? "") };
  }

  // A box that is emptied keeps its line, with the remark behind it, for what is written next; left empty, an optional key goes.
  typed(field, value) {
    return value ?? (this.values.has(field.path) ? quoted("") : undefined);
  }

  // An outlet whose watts are left empty is none.
  left(field, input) {
    if (input.value.trim() !== "" || this.value(field.path) === undefined) return;
    if (field.section) this.change(ScenarioText.removeSection(this.text(), field.path.replace(/\.\w+$/, "")));
    else if (field.optional || (field.library && this.given(field.path))) this.set(field.path, undefined);
  }

  textField(field, { id, described }) {
    const input = el("input", {
      id, type: "text", autocomplete: "off", spellcheck: "false", "aria-describedby": described,
      oninput: () => this.set(field.path, quoted(input.value)), onchange: () => this.left(field, input),
    });
    return { nodes: [input], update: () => Form.put(input, told(this.value(field.path))) };
  }

  // A slider beside a box; it moves in the first unit of the field.
  slider(field, label, seen, write) {
    const slider = el("input", {
      type: "range", min: 0, max: WIDGETS.STEPS, step: 1, id: `slide-${field.path}`, "aria-label": filled(WORDS.slider, { label }),
      oninput: () => write(WIDGETS.fromSlider(field, Number(slider.value))),
    });
    const update = () => {
      const value = seen();
      if (document.activeElement !== slider || !slider.matches(":active")) slider.value = String(WIDGETS.toSlider(field, value));
      slider.setAttribute("aria-valuetext", `${value} ${field.units?.[0] ?? ""}`);
    };
    return { node: slider, update };
  }

  numberField(field, { id, label, described }) {
    const input = el("input", {
      id, type: "text", inputmode: "decimal", autocomplete: "off", "aria-describedby": described, class: "short",
      oninput: () => this.write(field, this.typed(field, WIDGETS.number(input.value))), onchange: () => this.left(field, input),
    });
    const shown = () => String(WIDGETS.parsed(field, this.value(field.path))?.number ?? "");
    const slider = field.range && this.slider(field, label, () => Number(shown() || 1), (value) => this.write(field, String(value)));
    const update = () => {
      Form.put(input, shown());
      input.placeholder = field.optional && field.range ? "1" : "";
      slider?.update();
    };
    return { nodes: slider ? [el("div", { class: "row" }, input), slider.node] : [input], update };
  }

  // More panels want to know how they are wired; then the sheet shows a field for it.
  write(field, value) {
    let text = ScenarioText.set(this.text(), field.path, value);
    if (field.many) {
      const wiring = field.path.replace(/count$/, "wiring");
      const now = this.value(wiring);
      if (Number(value) > 1 && now === undefined) text = ScenarioText.set(text, wiring, quoted("parallel"));
      if (value !== quoted("") && !(Number(value) > 1) && now !== undefined && !now.startsWith("{")) text = ScenarioText.set(text, wiring, undefined);
    }
    this.change(text);
  }

  quantityField(field, { id, label, described }) {
    const now = () => WIDGETS.parsed(field, this.value(field.path)) ?? {};
    const unit = () => select?.value ?? field.units[0];
    const write = (number, spread = now().spread) => this.set(field.path, this.typed(field, WIDGETS.quantity(number, unit(), spread)));
    const input = el("input", {
      id, type: "text", inputmode: "decimal", autocomplete: "off", "aria-describedby": described, class: "short",
      oninput: () => write(input.value), onchange: () => this.left(field, input),
    });
    const select = field.units.length > 1
      ? el("select", { "aria-label": filled(WORDS.unit, { label }), id: `unit-${field.path}`, onchange: () => write(input.value) },
          ...field.units.map((one) => el("option", { value: one, text: one })))
      : undefined;
    const spread = el("span", { class: "spread" });
    const slider = field.range && this.slider(field, label, () => {
      const { number, unit, absent } = now();
      const value = absent ? Number.parseFloat(this.given(field.path) ?? "") : Number(number) * WIDGETS.times(unit);
      return Number.isFinite(value) ? value : field.range[0];
    }, (value) => {
      const { unit: shown } = now();
      const times = WIDGETS.times(shown ?? field.units[0]);
      if (select) select.value = shown && field.units.includes(shown) ? shown : field.units[0];
      write(String(Number((value / times).toPrecision(3))));
    });
    const update = () => {
      const { number, unit: shown, spread: plus } = now();
      Form.put(input, number ?? "");
      if (select && field.units.includes(shown)) select.value = shown;
      const given = field.library ? this.given(field.path) : undefined;
      const fromLibrary = given && number === undefined ? filled(WORDS.library, { value: given }) : "";
      spread.textContent = plus ? filled(WORDS.spread, { spread: plus }) : fromLibrary;
      input.placeholder = given ? given.replace(/ .*/, "") : "";
      slider?.update();
    };
    const units = select ?? el("span", { class: "unit", text: field.units[0] });
    return { nodes: [el("div", { class: "row" }, input, units, spread), slider?.node ?? ""], update };
  }

  flagField(field, { id, described }) {
    const input = el("input", {
      id, type: "checkbox", "aria-describedby": described, onchange: () => this.set(field.path, input.checked ? "true" : undefined),
    });
    const update = () => {
      const given = this.given(field.path) === "true";
      input.checked = this.value(field.path) === "true" || (this.value(field.path) === undefined && given);
      input.disabled = given;
    };
    return { nodes: [input], update };
  }

  choiceField(field, { id, described }) {
    const now = () => WIDGETS.parsed(field, this.value(field.path));
    const shown = () => {
      const { absent, option } = now() ?? {};
      return absent ? (field.library ? "" : (field.absent ?? "")) : option;
    };
    const choose = (option) => {
      const absent = option === "" || option === field.absent;
      this.set(field.path, absent ? undefined : option);
    };
    if (field.radio) {
      const radios = field.options.map(([value, words], k) => {
        const input = el("input", { type: "radio", name: id, id: k === 0 ? id : `${id}-${k}`, value, onchange: () => choose(value) });
        return { input, label: el("label", { class: "choice" }, input, el("span", { text: words })) };
      });
      const update = () => radios.forEach(({ input }) => (input.checked = input.value === shown()));
      return { nodes: [el("div", { class: "choices" }, ...radios.map((one) => one.label))], update, grouped: true };
    }
    const given = field.library && this.given(field.path);
    const listed = [...field.options];
    if (given) listed.unshift(["", filled(WORDS.library, { value: field.options.find(([option]) => option === quoted(given))?.[1] ?? given })]);
    else if (field.absent === undefined || (field.absent === "" && !listed.some(([option]) => option === ""))) listed.unshift(["", C.unset]);
    const input = el("select", { id, "aria-describedby": described, onchange: () => choose(input.value) },
      ...listed.map(([value, words]) => el("option", { value, text: words })));
    return { nodes: [input], update: () => (input.value = shown()) };
  }

  windowField(field, { id, described }) {
    const write = () => this.set(field.path, input.value === "window" ? quoted(`${from.value}-${to.value}`) : undefined);
    const given = this.given(field.path);
    const input = el("select", { id, "aria-describedby": described, onchange: write },
      el("option", { value: "all", text: given ? filled(WORDS.library, { value: given }) : C.hours.all }),
      el("option", { value: "window", text: C.hours.window }));
    const clock = (words, value) => el("input", { type: "time", "aria-label": words, value, oninput: () => write() });
    const [from, to] = [clock(WORDS.from, "18:00"), clock(WORDS.to, "22:00")];
    const both = el("div", { class: "row" }, from, to);
    const update = () => {
      const now = WIDGETS.parsed(field, this.value(field.path)) ?? {};
      input.value = now.from ? "window" : "all";
      both.hidden = !now.from;
      if (now.from) {
        Form.put(from, now.from);
        Form.put(to, now.to === "24:00" ? "00:00" : now.to);
      }
    };
    return { nodes: [input, both], update };
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
    const head = el("h3", {});
    const node = el("article", { class: "card", id: `card-${path}` }, head, ...children, this.messages(path));
    this.cards.set(path, { node, update: () => (head.textContent = heading()) });
    return node;
  }

  panelCard(fields, k) {
    const heading = () => {
      const name = told(this.value(`panel.${k}.name`));
      return name || filled(WORDS.panel.heading, { number: k + 1 });
    };
    const parts = this.frontAndMore(fields, `panel.${k}`, filled(WORDS.panel.more, { name: heading() }));
    return this.card(`panel.${k}`, heading, ...parts, el("button", {
      type: "button", class: "quiet", text: WORDS.panel.remove, onclick: () => this.change(ScenarioText.removeSection(this.text(), `panel.${k}`)),
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
      onclick: () => this.change(ScenarioText.removeSection(this.text(), path)),
    }));
  }

  addPanel() {
    const south = Number(this.value("site.latitude")) < 0 ? "north" : "south";
    const entries = { rated: quoted("100 W"), tilt: quoted("30°"), facing: quoted(south) };
    this.change(ScenarioText.addSection(this.text(), "[[panel]]", entries));
    byId(`field-panel.${ScenarioText.count(this.text(), "panel") - 1}.rated`)?.focus();
  }

  // Picks from the library, sorted by what things are for.
  adder() {
    const kinds = {
      cold: /fridge|freezer|cooler/, talk: /phone|tablet|laptop|computer|router|radio|modem|television|camera|monitor|switch/,
      light: /lamp|light|torch|lantern/, body: /breathing|oxygen|nebuliser|insulin|wheelchair|feeding|medic/,
      air: /fan|pump|blower|stove|heat|boiler|blanket/,
    };
    const kind = ({ name, medical }) => (medical ? "body" : Object.keys(kinds).find((one) => kinds[one].test(name)) ?? "rest");
    const groups = Object.entries(WORDS.kinds).map(([key, label]) => {
      const options = [...this.appliances.values()].filter((one) => kind(one) === key);
      return el("optgroup", { label }, ...options.map(({ name }) => el("option", { value: name, text: name })));
    });
    const select = el("select", { id: "add-load", onchange: () => this.addLoad(select) },
      el("option", { value: "", text: WORDS.load.pick }), el("option", { value: "own", text: WORDS.load.own }), ...groups.filter((one) => one.children.length > 0));
    return el("div", { class: "field adder" }, el("label", { for: "add-load", text: WORDS.load.add }), select);
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
      : { like: quoted(picked), name: quoted(name), priority: quoted("vital") };
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
