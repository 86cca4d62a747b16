// The fields of the sheet: which key each one writes, and how it is shown. Ranges of sliders and units to pick are offers of what
// is usual; what is allowed, the engine's reader says.
"use strict";

// kind: quantity (a number with a unit, in quotes), number (bare), text, choice (values as TOML writes them), flag, window, cuts.
// `range` of a slider in the first unit; `log`: equal steps are equal ratios. `absent`: what a choice means when the key is not there.
// `more`: under a lid; `within`, `beside`: only where that section or key is there.
const quoted = ScenarioText.quoted;
const filled = (words, values) => words.replace(/\{(\w+)\}/g, (all, name) => values[name] ?? all);
const named = (words, values = Object.keys(words)) => values.map((value) => [quoted(value), words[value]]);
const C = WORDS.choices;
const MONTHS = ["January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"];
const monthName = (k) => (k === new Date().getMonth() ? filled(WORDS.thisMonth, { month: WORDS.months[k] }) : WORDS.months[k]);

const FIELDS = {
  place: [
    { path: "outage.month", kind: "choice", options: MONTHS.map((month, k) => [quoted(month), monthName(k)]), unless: "outage.start" },
    { path: "outage.start", kind: "text", onlyThere: true },
    { path: "outage.lasts", kind: "quantity", units: ["h", "days", "weeks"], range: [2, 240], log: true },
    { path: "outage.every_day", kind: "cuts" },
    { path: "station.wall_charger.limit", kind: "quantity", units: ["W", "kW"], optional: true, section: true, beside: "outage.every_day" },
    { path: "outage.begins_in_a_storm", kind: "choice", options: [["false", C.storm.false], ["true", C.storm.true]], absent: "false" },
    { path: "outage.starts_charged", kind: "quantity", units: ["%"], range: [0, 100], optional: true },
  ],
  position: [
    { path: "site.latitude", kind: "number", optional: true },
    { path: "site.longitude", kind: "number", optional: true },
    { path: "site.height", kind: "quantity", units: ["m", "ft"], optional: true },
    { path: "site.timezone", kind: "text", optional: true },
  ],
  station: [
    { path: "station.rated_capacity", kind: "quantity", units: ["Wh", "kWh"], range: [100, 10000], log: true },
    { path: "station.chemistry", kind: "choice", options: named(C.chemistry), absent: quoted("LFP") },
    { path: "station.inverter.rated", kind: "quantity", units: ["W", "kW"], range: [100, 5000], log: true, optional: true, section: true },
    { path: "station.solar_input.limit", kind: "quantity", units: ["W", "kW"], range: [50, 2000], log: true, optional: true, section: true },
    { path: "station.solar_input.volts_max", kind: "quantity", units: ["V"], optional: true, within: "station.solar_input" },
    { path: "station.solar_input.volts_min", kind: "quantity", units: ["V"], optional: true, within: "station.solar_input", more: true },
    { path: "station.usb.limit", kind: "quantity", units: ["W"], range: [20, 300], optional: true, section: true },
    { path: "station.dc_outlet.limit", kind: "quantity", units: ["W"], range: [50, 500], optional: true, section: true },
    { path: "station.inverter.idle", kind: "quantity", units: ["W"], range: [0, 40], optional: true, within: "station.inverter", more: true },
    { path: "station.inverter.switches_off_below", kind: "quantity", units: ["W"], optional: true, within: "station.inverter", more: true },
    { path: "station.keep_above", kind: "quantity", units: ["%"], range: [0, 80], optional: true, more: true },
    { path: "station.measured_capacity", kind: "quantity", units: ["Wh", "kWh"], optional: true, more: true },
    { path: "station.state_of_health", kind: "quantity", units: ["%"], range: [50, 100], optional: true, more: true },
    { path: "station.stands", kind: "choice", options: named(C.stands), absent: quoted("indoors"), more: true },
  ],
  panel: [
    { key: "name", kind: "text", optional: true },
    { key: "count", kind: "number", step: 1, range: [1, 12], optional: true, many: true },
    { key: "rated", kind: "quantity", units: ["W"], range: [20, 500] },
    { key: "wiring", kind: "choice", options: named(C.wiring), absent: "" },
    { key: "tilt", kind: "quantity", units: ["°"], range: [0, 90], optional: true },
    { key: "facing", kind: "choice", options: named(C.facing), absent: "" },
    { key: "aim", kind: "choice", options: [[quoted("fixed"), C.aim.fixed], ["{ times_a_day = 3 }", C.aim.three], ["{ times_a_day = 12 }", C.aim.hourly]], absent: quoted("fixed"), more: true },
    { key: "out", kind: "choice", options: [["", C.out.always], ['{ hours = "08:00-17:00", if_clearer_than = "25 %" }', C.out.day], ['{ hours = "08:00-17:00" }', C.out.work]], absent: "", more: true },
    { key: "shade", kind: "choice", options: [["", C.shade.none], ['[{ hours = "00:00-11:00", loses = "90 %" }]', C.shade.morning], ['[{ hours = "14:00-24:00", loses = "90 %" }]', C.shade.afternoon]], absent: "" },
    { key: "open_circuit_voltage", kind: "quantity", units: ["V"], optional: true },
  ],
  load: [
    { key: "priority", kind: "choice", radio: true, options: named(C.priority) },
    { key: "watts", kind: "quantity", units: ["W", "kW"], range: [1, 2000], log: true, library: true },
    { key: "hours", kind: "window", optional: true, library: true },
    { key: "count", kind: "number", step: 1, range: [1, 10], optional: true },
    { key: "duty", kind: "quantity", units: ["%"], range: [1, 100], optional: true, library: true, more: true },
    { key: "energy_a_day", kind: "quantity", units: ["Wh", "kWh"], onlyThere: true, library: true, more: true },
    { key: "label", kind: "quantity", units: ["kWh a year", "kWh a day"], onlyThere: true, library: true, more: true },
    { key: "outlet", kind: "choice", options: named(C.outlet), library: true, more: true },
    { key: "off_below", kind: "quantity", units: ["%"], range: [5, 95], optional: true, more: true },
    { key: "medical", kind: "flag", more: true },
    { key: "name", kind: "text", optional: true, more: true },
    { key: "like", kind: "text", onlyThere: true, more: true },
  ],
};

const WIDGETS = (() => {
  const spaced = (value) => value.replace(/\s+/g, " ").trim();
  const NUMBER = /^\s*([+-]?\d+(?:\.\d+)?)\s*(.*?)\s*((?:±|\+\/-).*)?$/;
  const HOURS = /"(\d\d:\d\d)\s*-\s*(\d\d:\d\d)"/g;

  // What a field shows of a value; undefined where it cannot show it.
  function parsed(field, value) {
    if (value === undefined) return { absent: true };
    if (field.kind === "quantity") {
      const words = ScenarioText.unquoted(value);
      if (words === undefined) return undefined;
      const found = NUMBER.exec(words);
      const unit = found && (found[2] === "degrees" ? "°" : found[2]);
      if (found && field.units.includes(unit)) return { number: found[1], unit, spread: found[3] ?? "" };
      // What was typed and is no quantity stays as it was typed.
      return /^[^"{[]*$/.test(words) ? { number: words, unit: "", spread: "", odd: true } : undefined;
    }
    if (field.kind === "number") return /[[{]/.test(value) ? undefined : { number: ScenarioText.unquoted(value) ?? value };
    if (field.kind === "text") {
      const words = ScenarioText.unquoted(value);
      return words === undefined ? undefined : { words };
    }
    if (field.kind === "choice") {
      const same = (option) => spaced(option).toLowerCase() === spaced(value).toLowerCase();
      const option = field.options.find(([option]) => same(option));
      return option ? { option: option[0] } : undefined;
    }
    if (field.kind === "flag") return /^(true|false)$/.test(value) ? { on: value === "true" } : undefined;
    if (field.kind === "cuts") {
      const windows = [...value.matchAll(HOURS)].map(([, from, to]) => [from, to]);
      return windows.length > 0 && spaced(value).replace(/\[ | \]|,(?: \])?|[[\] ]/g, "") === windows.map((one) => `"${one.join("-")}"`).join("") ? { windows } : undefined;
    }
    if (field.kind === "window") {
      const [found] = value.matchAll(HOURS);
      return found?.[0] === value ? { from: found[1], to: found[2] } : undefined;
    }
    return undefined;
  }

  // What TOML is written for what a quantity's box holds: digits get the unit, other words stay for the reader to judge.
  function quantity(typed, unit, spread) {
    const words = typed.trim();
    if (words === "") return undefined;
    if (/^[+-]?[\d.,\s]*$/.test(words)) return quoted(`${words}${unit === "°" ? "" : " "}${unit}${spread ? ` ${spread}` : ""}`);
    return quoted(words);
  }

  // A number goes bare where it is one, else in quotes, for the reader to judge.
  function number(typed) {
    const words = typed.trim().replace(/\u2212/g, "-");
    if (words === "") return undefined;
    return /^[+-]?\d+(\.\d+)?$/.test(words) ? words.replace(/^(-?)0+(?=\d)/, "$1").replace(/^\+/, "") : quoted(words);
  }

  // Between a slider's 0 to 1000 and a value.
  const STEPS = 1000;
  function fromSlider(field, at) {
    const [low, high] = field.range;
    const share = at / STEPS;
    const value = field.log ? low * (high / low) ** share : low + (high - low) * share;
    if (field.step === 1 || !field.log) return Math.round(value);
    const digit = 10 ** Math.max(0, Math.floor(Math.log10(value)) - 1);
    return Math.round(value / digit) * digit;
  }
  function toSlider(field, value) {
    const [low, high] = field.range;
    const share = field.log ? Math.log(value / low) / Math.log(high / low) : (value - low) / (high - low);
    return Math.round(STEPS * Math.min(1, Math.max(0, Number.isFinite(share) ? share : 0)));
  }
  // How many of the first unit another one is.
  const TIMES = { kWh: 1000, kW: 1000, days: 24, weeks: 168, ft: 0.3048 };
  const times = (unit) => TIMES[unit] ?? 1;

  return { parsed, quantity, number, fromSlider, toSlider, times, STEPS };
})();
