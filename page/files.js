// Opening, saving, links and print. A link holds the scenario in its fragment, which no browser sends anywhere.
"use strict";

const fileName = (title) => (title || "").toLowerCase().normalize("NFKD").replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "") || WORDS.files.name;

function download(name, content, type) {
  const address = URL.createObjectURL(new Blob([content], { type }));
  const link = el("a", { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 10000);
}

const Links = {
  async through(stream, bytes) {
    return new Uint8Array(await new Response(new Blob([bytes]).stream().pipeThrough(stream)).arrayBuffer());
  },

  // What goes behind the # of a link: RFC 4648 letters, safe in addresses, of a deflated text.
  async packed(held) {
    const bytes = await Links.through(new CompressionStream("deflate-raw"), new TextEncoder().encode(JSON.stringify(held)));
    let letters = "";
    for (let at = 0; at < bytes.length; at += 8192) letters += String.fromCharCode(...bytes.subarray(at, at + 8192));
    return `s=${btoa(letters).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "")}`;
  },

  async unpacked(fragment) {
    const letters = /^#?s=([\w-]+)$/.exec(fragment)?.[1];
    if (!letters) return undefined;
    const bytes = Uint8Array.from(atob(letters.replace(/-/g, "+").replace(/_/g, "/")), (letter) => letter.charCodeAt(0));
    const held = JSON.parse(new TextDecoder().decode(await Links.through(new DecompressionStream("deflate-raw"), bytes)));
    return typeof held.text === "string" ? held : undefined;
  },
};

class Files {
  // sheet: { text(), begin(text), keep(name, content), card(): the card's answer, files: Map of what lies beside }.
  constructor(sheet, given) {
    this.sheet = sheet;
    const W = WORDS.files;
    this.told = el("p", { id: "files-told", role: "status" });
    this.link = el("input", { id: "link", type: "text", readonly: true, "aria-label": W.linkShown, hidden: true });
    this.picker = el("input", {
      id: "open", type: "file", multiple: true, class: "unseen", tabindex: "-1", "aria-label": W.open,
      onchange: async () => {
        await this.opened([...this.picker.files]);
        this.picker.value = "";
      },
    });
    const button = (id, text, what) => el("button", { type: "button", id, text, onclick: what });
    const list = el("select", { id: "given", onchange: () => list.value && this.take(list.value, given.files.get(list.value)) },
      el("option", { value: "", text: "…" }), ...given.scenarios.map((name) => el("option", { value: name, text: name })));
    this.node = el("section", { class: "group files", "aria-labelledby": "files-heading" }, el("h2", { id: "files-heading", text: W.heading }),
      given.scenarios.length > 0 ? el("div", { class: "field" }, el("label", { for: "given", text: W.given }), list) : "",
      el("div", { class: "row" }, button("open-button", W.open, () => this.picker.click()), button("save", W.save, () => this.save()),
        button("share", W.link, () => this.share()), button("print", W.card, () => this.print()), button("fresh", W.fresh, () => this.fresh())),
      el("p", { class: "hint", text: W.openHint }), this.picker, this.told, this.link);
    addEventListener("dragover", (event) => event.preventDefault());
    addEventListener("drop", (event) => {
      event.preventDefault();
      this.opened([...event.dataTransfer.files]);
    });
  }

  say(...words) {
    this.told.textContent = words.filter(Boolean).join(" ");
  }

  take(name, text) {
    this.sheet.begin(text);
    this.say(filled(WORDS.files.opened, { name }), this.missing());
  }

  // Names in the scenario of files that lie beside it.
  named() {
    const { entries } = ScenarioText.read(this.sheet.text());
    const values = entries.map((one) => this.sheet.text().slice(one.from, one.to)).join("\n");
    return [...values.matchAll(/"([^"\n]+\.(?:toml|csv|gz|epw|tm3))"/gi)].map(([, name]) => name);
  }

  missing() {
    const gone = this.named().filter((name) => !this.sheet.files.has(name));
    return gone.length > 0 ? filled(WORDS.files.beside, { files: gone.join(", ") }) : "";
  }

  async opened(files) {
    const W = WORDS.files;
    const [beside, words] = [[], []];
    let scenario = null;
    for (const file of files) {
      if (file.size > 32e6) {
        words.push(filled(W.tooLarge, { name: file.name }));
        continue;
      }
      const bytes = new Uint8Array(await file.arrayBuffer());
      let content = bytes;
      try {
        content = new TextDecoder("utf-8", { fatal: true }).decode(bytes);
      } catch {
        // Bytes, as of a packed record.
      }
      const isScenario = typeof content === "string" && /\.toml$/i.test(file.name) && /^\s*\[\s*outage\s*\]/m.test(content);
      if (isScenario && !scenario) scenario = { name: file.name, content };
      else {
        beside.push(file.name);
        this.sheet.keep(file.name, content);
      }
    }
    const kept = beside.join(", ");
    // Catalogues, kit files and records: what a station can be picked from.
    const kits = beside.filter((name) => /^\s*(\[\[\s*kit\s*\]\]|\[\s*(figures|unit)\s*\])/m.test(String(this.sheet.files.get(name))));
    if (scenario) this.sheet.begin(scenario.content);
    // A scenario may name a file by its folder, which a browser does not tell.
    for (const path of this.named()) {
      const content = this.sheet.files.get(path.split("/").pop());
      if (content !== undefined && !this.sheet.files.has(path)) this.sheet.keep(path, content);
    }
    this.sheet.changed();
    if (scenario) words.push(filled(W.opened, { name: scenario.name }), kept ? filled(W.keptBeside, { files: kept }) : "", this.missing());
    else if (kept && kits.length < beside.length) words.push(filled(W.noScenario, { files: kept }));
    const offered = [];
    for (const name of kits) if (await this.sheet.kits.add(name)) offered.push(name);
    if (offered.length > 0) words.push(filled(W.kits, { files: offered.join(", ") }));
    this.say(...words);
  }

  save() {
    const name = `${fileName(this.sheet.title())}.toml`;
    download(name, this.sheet.text(), "application/toml");
    const named = this.named();
    this.say(filled(WORDS.files.saved, { name }), named.length > 0 ? filled(WORDS.files.beside, { files: named.join(", ") }) : "");
  }

  async share() {
    const W = WORDS.files;
    const beside = {};
    const left = [];
    for (const name of this.named()) {
      const content = this.sheet.files.get(name);
      if (typeof content === "string" && content.length < 20000) beside[name] = content;
      else left.push(name);
    }
    const fragment = await Links.packed({ text: this.sheet.text(), ask: this.sheet.asks(), files: beside, example: this.sheet.example });
    this.sheet.linked = this.sheet.text();
    history.replaceState(null, "", `#${fragment}`);
    const address = location.href;
    this.link.hidden = false;
    this.link.value = address;
    this.link.select();
    let copied = false;
    try {
      await navigator.clipboard.writeText(address);
      copied = true;
    } catch {
      // The link stands in its field instead.
    }
    const kb = Math.ceil(address.length / 1000);
    this.say(copied ? (location.protocol === "file:" ? W.linkedDisk : W.linked) : W.linkShown, kb > 8 ? filled(W.linkLong, { kb }) : "", left.length > 0 ? filled(W.linkBeside, { files: left.join(", ") }) : "");
  }

  async print() {
    this.say(WORDS.files.cardWait);
    // The card is of an outage from its beginning; who asks from here, or of a unit, prints that answer.
    const card = ["ride", "whatif"].includes(this.sheet.way) ? await this.sheet.card() : this.sheet.printable();
    if (!card?.answered) return this.say(WORDS.files.cardFails);
    this.say();
    const sections = card.sections.map(({ heading, html }) => {
      const section = el("section");
      section.innerHTML = html;
      if (heading) section.prepend(el("h2", { text: heading }));
      return section;
    });
    const still = this.sheet.still.hidden ? "" : el("p", { class: "caution", text: this.sheet.stillWords.textContent });
    byId("printed").replaceChildren(el("h1", { text: card.title }), still, ...sections, el("footer", { text: WORDS.about.text }));
    document.body.classList.add("printing");
    addEventListener("afterprint", () => document.body.classList.remove("printing"), { once: true });
    print();
  }

  fresh() {
    if (confirm(WORDS.files.startAsk)) this.sheet.fresh();
  }
}
