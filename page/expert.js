// The scenario's text itself, with the reader's messages beside its lines.
"use strict";

class ExpertView {
  constructor({ text, change }) {
    Object.assign(this, { text, change });
    this.area = el("textarea", {
      id: "text", spellcheck: "false", autocapitalize: "off", autocomplete: "off", wrap: "off", "aria-describedby": "text-hint text-told",
      oninput: () => {
        this.grow();
        clearTimeout(this.waits);
        this.waits = setTimeout(() => change(this.area.value), 120);
      },
    });
    this.numbers = el("pre", { class: "numbers", "aria-hidden": "true" });
    this.beside = el("div", { class: "beside", "aria-hidden": "true" });
    this.list = el("ol", { class: "told", id: "text-told" });
    this.node = el("section", { class: "group expert", hidden: true }, el("label", { for: "text", class: "heading", text: WORDS.text.label }),
      el("p", { class: "hint", id: "text-hint", text: WORDS.text.hint }), this.list, el("div", { class: "editor" }, this.numbers, this.area, this.beside));
  }

  grow() {
    const lines = this.area.value.split("\n").length;
    this.area.rows = lines + 1;
    if (this.lines !== lines) {
      this.lines = lines;
      this.numbers.textContent = Array.from({ length: lines }, (_, k) => k + 1).join("\n");
    }
  }

  update() {
    Controls.put(this.area, this.text());
    this.grow();
  }

  show(problems) {
    const here = problems.filter((one) => one.place && one.file === "mine.toml");
    const marks = here.map((one) => {
      const mark = el("p", { class: one.level, text: spoken(one) });
      mark.style.setProperty("--line", one.place.line - 1);
      return mark;
    });
    // Of two messages of one line the second would hide the first.
    const lines = new Set();
    this.beside.replaceChildren(...marks.filter((_, k) => !lines.has(here[k].place.line) && lines.add(here[k].place.line)));
    const items = here.map((one) => el("li", { class: one.level }, el("button", {
      type: "button", class: "quiet", text: filled(WORDS.text.line, { line: one.place.line }), onclick: () => this.go(one.place),
    }), ` ${spoken(one)}`));
    const others = problems.filter((one) => !here.includes(one)).map((one) => el("li", { class: one.level, text: spoken(one) }));
    this.list.replaceChildren(...items, ...others, ...(problems.length === 0 ? [el("li", { class: "fine", text: WORDS.text.fine })] : []));
  }

  go({ line, column, end_line: endLine, end_column: endColumn }) {
    const lines = this.area.value.split("\n");
    const at = (row, letter) => lines.slice(0, row - 1).reduce((sum, one) => sum + one.length + 1, 0) + [...(lines[row - 1] ?? "")].slice(0, letter - 1).join("").length;
    this.area.focus();
    this.area.setSelectionRange(at(line, column), at(endLine, endColumn));
    this.area.scrollIntoView({ block: "nearest" });
    const height = this.area.clientHeight / this.area.rows;
    scrollTo({ top: this.area.getBoundingClientRect().top + scrollY + (line - 6) * height });
  }
}
