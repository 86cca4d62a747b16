// What a field is shown with, by its kind. Each control gives its elements and how they are brought up to date.
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

// Of a form: `text()`, `values`, `value(path)`, `set(path, value)`, `change(text)`, `given(path)`, `words(path)`.
class Controls {
  // Sets what an input shows unless somebody is writing there.
  static put(input, value) {
    if (input.value !== value && document.activeElement !== input) input.value = value;
  }

  rawField(field, { id, described }) {
    const input = el("textarea", {
      id, rows: 2, spellcheck: "false", class: "raw", "aria-describedby": described,
      oninput: () => this.set(field.path, input.value.trim() === "" ? undefined : input.value.trim()),
    });
    return { nodes: [input], update: () => Controls.put(input, this.value(field.path) ?? "") };
  }

  // A box that is emptied keeps its line, with the remark behind it, for what is written next; left empty, an optional key goes.
  typed(field, value) {
    return value ?? (this.values.has(field.path) ? quoted("") : undefined);
  }

  // A text without a key that may be empty; an outlet whose watts are left empty is none.
  without(text, path, field) {
    if (field?.section) return ScenarioText.removeSection(text, path.replace(/\.\w+$/, ""));
    return field?.optional || (field?.library && this.given(path)) ? ScenarioText.set(text, path, undefined) : text;
  }

  // Who leaves a box empty has no such key.
  left(field, input) {
    if (input.value.trim() !== "" || this.value(field.path) === undefined) return;
    this.change(this.without(this.text(), field.path, field));
  }

  textField(field, { id, described }) {
    const input = el("input", {
      id, type: "text", autocomplete: "off", spellcheck: "false", "aria-describedby": described,
      oninput: () => this.set(field.path, quoted(input.value)), onchange: () => this.left(field, input), onblur: () => this.left(field, input),
    });
    return { nodes: [input], update: () => Controls.put(input, told(this.value(field.path))) };
  }

  // A slider beside a box, for a finger or a mouse; it moves in the first unit of the field.
  slider(field, label, seen, write) {
    const slider = el("input", {
      type: "range", min: 0, max: WIDGETS.STEPS, step: 1, tabindex: "-1", id: `slide-${field.path}`, "aria-label": filled(WORDS.slider, { label }),
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
      oninput: () => this.write(field, this.typed(field, WIDGETS.number(input.value))), onchange: () => this.left(field, input), onblur: () => this.left(field, input),
    });
    const shown = () => String(WIDGETS.parsed(field, this.value(field.path))?.number ?? "");
    const slider = field.range && this.slider(field, label, () => Number(shown() || 1), (value) => this.write(field, String(value)));
    const update = () => {
      Controls.put(input, shown());
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
      oninput: () => write(input.value), onchange: () => this.left(field, input), onblur: () => this.left(field, input),
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
      Controls.put(input, number ?? "");
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

  // A box for a clock knows no 24:00.
  static ofDay(clock) {
    return clock === "24:00" ? "00:00" : clock;
  }

  // From and to of a stretch of hours, side by side.
  clocks(from, to, changed) {
    const box = (words, value) => el("input", { type: "time", "aria-label": words, value: Controls.ofDay(value), oninput: () => changed() });
    return el("div", { class: "row" }, box(WORDS.from, from), box(WORDS.to, to));
  }

  windowField(field, { id, described }) {
    const write = () => this.set(field.path, input.value === "window" ? quoted(`${from.value}-${to.value}`) : undefined);
    const given = this.given(field.path);
    const input = el("select", { id, "aria-describedby": described, onchange: write },
      el("option", { value: "all", text: given ? filled(WORDS.library, { value: given }) : C.hours.all }),
      el("option", { value: "window", text: C.hours.window }));
    const both = this.clocks("18:00", "22:00", write);
    const [from, to] = both.children;
    const update = () => {
      const now = WIDGETS.parsed(field, this.value(field.path)) ?? {};
      input.value = now.from ? "window" : "all";
      both.hidden = !now.from;
      if (now.from) {
        Controls.put(from, now.from);
        Controls.put(to, Controls.ofDay(now.to));
      }
    };
    return { nodes: [input, both], update };
  }

  // Cuts that come every day: their hours.
  cutsField(field, { id, described }) {
    const rows = el("div", {});
    const write = () => {
      const told = [...rows.children].map((row) => [...row.querySelectorAll("input")].map((one) => one.value));
      const hours = told.filter(([from, to]) => from && to).map(([from, to]) => quoted(`${from}-${to}`));
      this.set(field.path, input.value === "cuts" ? (hours.length === 1 ? hours[0] : `[${hours.join(", ")}]`) : undefined);
    };
    const input = el("select", {
      id, "aria-describedby": described, onchange: () => {
        if (input.value === "cuts" && rows.children.length === 0) add("18:00", "22:00");
        write();
      },
    }, el("option", { value: "one", text: C.cuts.one }), el("option", { value: "cuts", text: C.cuts.cuts }));
    const add = (from, to) => rows.append(this.clocks(from, to, write));
    const more = el("button", {
      type: "button", class: "quiet", text: C.cuts.more, onclick: () => {
        add("06:00", "08:00");
        write();
      },
    });
    const fewer = el("button", {
      type: "button", class: "quiet", text: C.cuts.fewer, onclick: () => {
        rows.lastChild?.remove();
        write();
      },
    });
    const update = () => {
      const { windows = [] } = WIDGETS.parsed(field, this.value(field.path)) ?? {};
      input.value = windows.length > 0 ? "cuts" : "one";
      rows.hidden = more.hidden = windows.length === 0;
      fewer.hidden = windows.length < 2;
      if (!rows.contains(document.activeElement)) {
        rows.replaceChildren();
        for (const hours of windows) add(...hours);
      }
    };
    return { nodes: [input, rows, el("div", { class: "row" }, more, fewer)], update };
  }
}
