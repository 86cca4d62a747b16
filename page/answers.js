// Asking and showing: a first answer from few outages at once, the whole one after it. Two engines, so that what waits for
// a change never waits for what went before it.
"use strict";

// "How long from here" looks at every course and delay, so a first answer takes as many trials of each.
const FIRST = { run: 1000, compare: 1000, now: 300 };
const WHOLE = 10000;
// From the first answer to the beginning of the whole one [ms].
const REST = 250;

class Answers {
  // sheet: { question(): what is asked now, meant(): the scenario, show(problems): where messages go }.
  constructor(engines, sheet) {
    Object.assign(this, engines, { sheet, version: 0, running: false, shown: null, problems: [] });
    this.heading = el("h2", { id: "answer-heading", text: WORDS.answer.heading });
    this.state = el("p", { id: "answer-state" });
    this.bar = el("progress", { max: WHOLE, value: 0, "aria-label": WORDS.answer.heading, hidden: true });
    this.stopper = el("button", { type: "button", id: "stop", text: WORDS.answer.stop, hidden: true, onclick: () => this.stop() });
    this.again = el("button", { type: "button", id: "again", text: WORDS.answer.again, hidden: true, onclick: () => this.changed() });
    this.body = el("div", { id: "answer-body" });
    this.spoken = el("div", { id: "spoken", class: "unseen", role: "status", "aria-live": "polite" });
    const save = (id, text, what) => el("button", { type: "button", id, text, disabled: true, onclick: what });
    this.saves = [
      save("save-json", WORDS.answer.json, () => download(`${fileName(this.shown.title)}.json`, this.shown.json, "application/json")),
      save("save-page", WORDS.answer.page, () => download(`${fileName(this.shown.title)}.html`, this.shown.page, "text/html")),
    ];
    this.node = el("section", { id: "answer", "aria-labelledby": "answer-heading", tabindex: "-1" }, this.heading,
      el("div", { class: "state" }, this.state, this.bar, el("div", { class: "row" }, this.stopper, this.again)), this.body, this.spoken,
      el("div", { class: "row" }, ...this.saves));
    this.shortWords = el("span", {});
    this.short = el("a", { id: "short", href: "#answer", onclick: (event) => this.jump(event) }, this.shortWords);
  }

  // Something changed: what is shown is old from here on.
  changed(wait = 60) {
    this.version += 1;
    this.began = performance.now();
    clearTimeout(this.waits);
    clearTimeout(this.restWaits);
    if (this.late) this.whole.stop();
    this.late = false;
    this.mark(WORDS.answer.oldWorking, false);
    this.waits = setTimeout(() => this.run(), wait);
  }

  async run() {
    // What is running is nearly done; the newest question follows it.
    this.wanted = true;
    if (this.running) return;
    this.running = true;
    try {
      while (this.wanted) {
        this.wanted = false;
        await this.first(this.version);
      }
    } catch (error) {
      this.mark(filled(WORDS.answer.failed, { why: error.message }), true);
    } finally {
      this.running = false;
    }
  }

  // alone: nothing but the answer; what changes would do follows with the whole one.
  ask(engine, { trials, alone }, onProgress) {
    engine.keep("mine.toml", this.sheet.meant());
    const question = this.sheet.question();
    if (question.ask === "prove") engine.keep(question.file, this.sheet.record());
    return engine.ask({ file: "mine.toml", trials, ...question, ...(alone && question.ask === "run" && { alone }) }, onProgress);
  }

  async first(version) {
    this.working(0, true);
    const few = { trials: FIRST[this.sheet.question().ask], alone: true };
    const answer = await this.ask(this.quick, few, (done) => this.working(done, true));
    if (version !== this.version) return;
    const proof = this.sheet.question().ask === "prove";
    this.show(answer, proof);
    if (proof) this.working(0, false);
    if (!answer.answered || proof) return;
    // While a slider moves, the next change comes sooner than the whole answer would.
    const rest = () => this.rest(version).catch((error) => this.mark(filled(WORDS.answer.failed, { why: error.message }), true));
    this.restWaits = setTimeout(rest, REST);
  }

  async rest(version) {
    this.late = true;
    this.working(0, true);
    const answer = await this.ask(this.whole, { trials: WHOLE }, (done) => version === this.version && this.working(done, true));
    if (version !== this.version) return;
    this.late = false;
    this.working(0, false);
    if (answer.stopped) {
      this.state.textContent = WORDS.answer.stopped;
      this.again.hidden = false;
    } else this.show(answer, true);
  }

  stop() {
    this.version += 1;
    clearTimeout(this.waits);
    clearTimeout(this.restWaits);
    [this.late, this.wanted] = [false, false];
    this.quick.stop();
    this.whole.stop();
    this.working(0, false);
    this.state.textContent = WORDS.answer.stopped;
    this.again.hidden = false;
  }

  working(done, on) {
    this.bar.hidden = !on;
    this.stopper.hidden = !on;
    if (on) this.again.hidden = true;
    this.bar.value = done;
    this.bar.textContent = filled(WORDS.answer.working, { done: done.toLocaleString("en"), trials: WHOLE.toLocaleString("en") });
  }

  // Marks the answer that is shown as an old one.
  mark(why, wrong) {
    const there = this.shown !== null;
    this.node.classList.toggle("old", there);
    this.node.classList.toggle("wrong", wrong);
    this.state.textContent = there ? `${wrong ? WORDS.answer.oldWrong : WORDS.answer.old}${why}` : why;
    if (!this.short.classList.contains("old")) this.short.classList.toggle("old", there);
    if (wrong) this.shortWords.textContent = WORDS.answer.mend;
  }

  show(answer, whole) {
    this.problems = answer.problems;
    this.sheet.show(answer.problems);
    const errors = answer.problems.filter((one) => one.level === "error");
    if (!answer.answered) {
      this.working(0, false);
      if (answer.stopped) return;
      const why = filled(WORDS.answer.wrong, { count: errors.length });
      this.mark(this.shown ? "" : why, true);
      this.say(`${why} ${errors.map((one) => one.title).join(". ")}`);
      return;
    }
    this.shown = answer;
    this.node.classList.remove("old", "wrong");
    this.short.classList.remove("old");
    const sections = answer.sections.map(({ heading, html }) => {
      const section = el("section", { class: heading ? "part" : "first" });
      section.innerHTML = html;
      if (heading) section.prepend(el("h3", { text: heading }));
      return section;
    });
    this.body.replaceChildren(...sections);
    const { kind, survival, trials: all } = JSON.parse(answer.json);
    const trials = (survival?.trials ?? all ?? (whole ? WHOLE : FIRST.compare)).toLocaleString("en");
    const seconds = (whole ? answer.seconds : (performance.now() - this.began) / 1000).toFixed(2);
    this.state.textContent = filled(kind === "proof" ? WORDS.answer.proof : whole ? WORDS.answer.whole : WORDS.answer.first, { trials, seconds });
    this.saves.forEach((button) => (button.disabled = false));
    const lead = [...this.body.querySelectorAll(".first .lead")].map((one) => one.textContent);
    this.shortWords.textContent = Answers.short(lead) || WORDS.answer.jump;
    if (whole) this.say(lead.join(" "));
    // The answer to a place that is not the one typed.
    if (this.sheet.unsettled() && kind !== "proof") this.mark("", true);
  }

  // The verdict and the first figure behind it: what a bar of two lines can hold.
  static short([verdict, ...rest]) {
    const figure = /[\d.,]+(?:-[\d.]+)? of 100(?: \([^)]*\))?/.exec(rest.join(" "))?.[0];
    return figure ? `${verdict.replace(/\.$/, "")}: ${figure}` : [verdict, ...rest].join(" ");
  }

  say(words) {
    this.spoken.textContent = words;
  }

  jump(event) {
    event.preventDefault();
    const wrong = this.node.classList.contains("wrong") && this.sheet.mend();
    if (wrong) return;
    this.node.scrollIntoView();
    this.node.focus({ preventScroll: true });
  }
}
