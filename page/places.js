// The place: typed and picked from the offline list, or from the device; the coordinates have fields of their own.
"use strict";

class PlacePicker {
  // ask(question): the engine's answer; form: whose text is written.
  constructor(ask, form) {
    Object.assign(this, { ask, form, found: [], at: -1, asked: 0, shown: "", left: false });
    const open = { role: "combobox", "aria-expanded": "false", "aria-controls": "place-list", "aria-autocomplete": "list" };
    this.input = el("input", {
      id: "place", type: "text", autocomplete: "off", spellcheck: "false", "aria-describedby": "place-hint place-told", ...open,
      oninput: () => {
        this.typed = true;
        this.type();
      },
      onkeydown: (event) => this.key(event),
      // Who goes on to the next field has picked the only place of the name; a sheet that is built anew gives the focus back.
      onblur: () => setTimeout(() => {
        if (document.activeElement === this.input) return;
        if (this.typed && !this.list.hidden && this.kind === "one") this.pick(0);
        else this.close();
        this.unset();
      }, 150),
    });
    this.list = el("ul", { id: "place-list", role: "listbox", "aria-label": WORDS.place.label, hidden: true });
    this.tag = el("span", { class: "tag", text: WORDS.example.tag });
    this.told = el("p", { id: "place-told", role: "status", class: "hint" });
    this.where = el("p", { class: "where", id: "place-where" });
    const device = el("button", { type: "button", id: "place-device", text: WORDS.place.device, onclick: () => this.device() });
    this.node = el("div", { class: "field place" }, el("label", { for: "place", text: WORDS.place.label }, this.tag),
      el("div", { class: "combo" }, this.input, this.list), el("p", { class: "hint", id: "place-hint", text: WORDS.place.hint }),
      this.told, this.where, el("div", { class: "row" }, device), form.messages("site.place"), form.messages("site"));
  }

  type() {
    clearTimeout(this.waits);
    this.pending = true;
    this.waits = setTimeout(() => this.look(), 150);
  }

  async look() {
    const name = this.input.value.trim();
    const asked = ++this.asked;
    this.pending = false;
    if (name.length < 2) return this.close();
    const answer = await this.ask({ ask: "place", name });
    if (asked !== this.asked || !answer.json) return;
    const { found, places } = JSON.parse(answer.json);
    [this.found, this.kind] = [places, found];
    // The first is what Enter takes; an arrow goes to it, and on from there.
    this.at = -1;
    this.told.textContent = places.length === 0 ? WORDS.place.none
      : found === "near" ? WORDS.place.near : places.length === 1 ? WORDS.place.one : filled(WORDS.place.found, { count: places.length });
    this.list.replaceChildren(...places.map((place, k) => el("li", {
      role: "option", id: `place-${k}`, "aria-selected": "false", onpointerdown: (event) => event.preventDefault(),
      onclick: () => this.pick(k),
    }, el("span", { text: place.title }), place.people ? el("span", { class: "people", text: filled(WORDS.place.people, { people: place.people.toLocaleString("en") }) }) : "")));
    if (document.activeElement !== this.input) return this.unset();
    this.list.hidden = places.length === 0;
    this.input.setAttribute("aria-expanded", String(places.length > 0));
    this.mark();
  }

  mark() {
    [...this.list.children].forEach((item, k) => item.setAttribute("aria-selected", String(k === this.at)));
    if (this.at >= 0 && !this.list.hidden) {
      this.input.setAttribute("aria-activedescendant", `place-${this.at}`);
      this.list.children[this.at]?.scrollIntoView({ block: "nearest" });
    } else this.input.removeAttribute("aria-activedescendant");
  }

  close() {
    this.list.hidden = true;
    this.input.setAttribute("aria-expanded", "false");
    this.input.removeAttribute("aria-activedescendant");
  }

  async key(event) {
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (step && !this.list.hidden) {
      event.preventDefault();
      this.at = this.at < 0 && step < 0 ? this.found.length - 1 : (this.at + step + this.found.length) % this.found.length;
      this.mark();
    } else if (event.key === "Enter") {
      event.preventDefault();
      clearTimeout(this.waits);
      if (this.list.hidden || this.pending) await this.look();
      if (this.found.length > 0 && !this.list.hidden) this.pick(Math.max(this.at, 0));
    } else if (event.key === "Escape") this.close();
  }

  pick(k) {
    const place = this.found[k];
    this.close();
    this.settle(place.title);
    this.set(place.site);
  }

  // A place is set, by another way than the name that was typed perhaps.
  settle(title) {
    this.typed = false;
    this.input.value = title;
    this.told.textContent = "";
    this.unset();
  }

  // A name that was typed and not picked changes nothing: that is said where it stands.
  unset() {
    const name = this.input.value.trim();
    const left = this.typed && name !== "";
    this.told.className = left ? "message error" : "hint";
    this.input.setAttribute("aria-invalid", String(left));
    if (left) this.told.textContent = filled(WORDS.place.unset, { name, where: this.shown });
    if (left !== this.left) this.settled?.(left);
    this.left = left;
  }

  // Writes what the engine says is to be written for a place.
  set(site) {
    const { entries, text: lines } = ScenarioText.read(site);
    const given = new Map(entries.map((one) => [one.path, lines.slice(one.from, one.to)]));
    let text = this.form.text();
    for (const key of ["place", "latitude", "longitude", "height", "timezone"]) text = ScenarioText.set(text, `site.${key}`, given.get(`site.${key}`));
    this.form.change(text);
  }

  device() {
    const refused = (why) => (this.told.textContent = filled(WORDS.place.refused, { why }));
    if (!navigator.geolocation) return refused(WORDS.place.noDevice);
    this.told.textContent = WORDS.place.asking;
    navigator.geolocation.getCurrentPosition(async ({ coords }) => {
      const [latitude, longitude] = [coords.latitude, coords.longitude].map((degrees) => Math.round(degrees * 100) / 100);
      const answer = await this.ask({ ask: "place", latitude, longitude });
      const place = answer.json && JSON.parse(answer.json).places[0];
      if (!place) return refused(answer.problems[0]?.title ?? "");
      this.settle("");
      this.set(place.site);
    }, (error) => refused(error.message), { timeout: 15000, maximumAge: 600000 });
  }

  // Says where the coordinates lie, so that a wrong sign is seen at once.
  async update() {
    const [latitude, longitude] = ["latitude", "longitude"].map((key) => this.form.value(`site.${key}`));
    const town = told(this.form.value("site.place"));
    this.tag.hidden = !this.form.isExample("site.place");
    if (!this.typed) Controls.put(this.input, town);
    const own = latitude !== undefined && longitude !== undefined;
    const at = own ? `${latitude}, ${longitude}` : town;
    const stale = ["site.monthly_sun_kwh_m2_day"].filter((key) => this.form.value(key) !== undefined);
    if (/\{|\.toml/.test(this.form.value("site.climate") ?? "")) stale.push("site.climate");
    if (ScenarioText.count(this.form.text(), "seen") > 0) stale.push("[[seen]]");
    this.first ??= at;
    const moved = stale.length > 0 && this.first !== at ? ` ${filled(WORDS.place.old, { keys: stale.join(", ") })}` : "";
    const state = at + moved;
    if (this.shown === state) return;
    this.shown = state;
    let where = at;
    if (own && Number.isFinite(Number(latitude)) && Number.isFinite(Number(longitude))) {
      const answer = await this.ask({ ask: "place", latitude: Number(latitude), longitude: Number(longitude) });
      if (this.shown !== state) return;
      const place = answer.json && JSON.parse(answer.json).places[0];
      if (place) {
        const km = Math.round(place.away_km);
        where = `${at}, ${filled(km < 5 ? WORDS.place.nearest : WORDS.place.away, { title: place.title, km })}`;
      }
    }
    this.where.textContent = filled(WORDS.place.at, { where }) + moved;
  }

  // Another scenario is there now: what belonged to the one before is forgotten.
  begin() {
    this.first = undefined;
    this.settle("");
  }
}
