// Kits to pick from: those of catalogues and proofs in the page, or opened with it. The engine says what each is in a scenario.
"use strict";

class KitPicker {
  // ask(question): the engine's answer; form: whose text is written.
  constructor(ask, form) {
    Object.assign(this, { ask, form, files: [], kits: [] });
    this.select = el("select", { id: "kits", onchange: () => this.pick() });
    this.told = el("p", { class: "hint", id: "kits-told", role: "status" });
    this.node = el("div", { class: "field kits" }, el("label", { for: "kits", text: WORDS.kits.label }), this.select,
      el("p", { class: "hint", text: WORDS.kits.hint }), this.told);
    this.node.hidden = true;
  }

  // A file that kits can be picked from; the engine has it.
  async add(name) {
    const answer = await this.ask({ ask: "kits", file: name });
    if (!answer.json) {
      this.told.textContent = answer.problems.map((one) => one.title).join(". ");
      return false;
    }
    const { currency, kits } = JSON.parse(answer.json);
    this.kits = [...this.kits.filter((one) => one.file !== name), ...kits.map((kit) => ({ ...kit, currency, file: name }))];
    if (!this.files.includes(name)) this.files.push(name);
    this.update();
    return true;
  }

  forget() {
    [this.files, this.kits] = [[], []];
    this.update();
  }

  update() {
    const words = ({ name, price, currency, weight_kg: kg }) =>
      [name, price === null ? "" : `${price.toLocaleString("en")} ${currency}`.trim(), kg === null ? "" : `${kg} kg`].filter(Boolean).join(", ");
    this.node.hidden = this.kits.length === 0;
    this.select.replaceChildren(el("option", { value: "", text: WORDS.kits.pick }), ...this.kits.map((kit, k) => el("option", { value: String(k), text: words(kit) })));
  }

  // Where the kit is to stand: panels look to the midday sun there.
  async latitude() {
    const own = Number(this.form.value("site.latitude"));
    if (this.form.value("site.latitude") !== undefined && Number.isFinite(own)) return own;
    const answer = await this.ask({ ask: "place", name: told(this.form.value("site.place")) });
    return (answer.json && JSON.parse(answer.json).places[0]?.latitude_deg) || 0;
  }

  async pick() {
    const picked = this.kits[Number(this.select.value)];
    if (this.select.value === "" || !picked) return;
    this.select.value = "";
    const answer = await this.ask({ ask: "kits", file: picked.file, latitude: await this.latitude() });
    const kit = answer.json && JSON.parse(answer.json).kits.find((one) => one.name === picked.name);
    if (!kit) return;
    this.form.change(KitPicker.into(this.form.text(), kit.text));
    this.told.textContent = filled(WORDS.kits.taken, { name: kit.name });
  }

  // What a proof tells of a unit; its other outlets and panels are as the sheet has them.
  static PROVED = new Set(["station.rated_capacity", "station.proved", "station.inverter.rated"]);

  // The scenario with another station and its panels; where it stands is the owner's and stays.
  static into(text, kit) {
    const { entries } = ScenarioText.read(kit);
    if (entries.every((one) => KitPicker.PROVED.has(one.path))) {
      for (const key of ["measured_capacity", "measured_at", "measured_load", "state_of_health"]) text = ScenarioText.set(text, `station.${key}`, undefined);
      for (const one of entries) text = ScenarioText.set(text, one.path, kit.slice(one.from, one.to));
      return text;
    }
    const stands = ScenarioText.raw(text, "station.stands");
    for (let k = ScenarioText.count(text, "panel") - 1; k >= 0; k -= 1) text = ScenarioText.removeSection(text, `panel.${k}`);
    const without = ScenarioText.removeSection(text, "station");
    let at = 0;
    while (at < without.length && text[at] === without[at]) at += 1;
    at = without.lastIndexOf("\n", at - 1) + 1;
    const [before, behind] = [without.slice(0, at), without.slice(at)];
    const whole = `${before}${before === "" || before.endsWith("\n") ? "" : "\n"}${kit.trimEnd()}\n${behind === "" ? "" : "\n"}${behind}`;
    return stands === undefined ? whole : ScenarioText.set(whole, "station.stands", stands);
  }
}
