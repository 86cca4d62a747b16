// The engine of the page: it runs in a worker of its own, made from text, so that it works from a disk as from a web host.
//
// Interface
//
//   const engine = new Engine(wasm)        wasm: a Promise of the engine's bytes (ArrayBuffer or Uint8Array), or of the
//                                          WebAssembly.Module, which several engines can share
//   engine.ready                           a Promise that is kept once the engine can be asked
//   engine.keep(name, content)             a file that questions may name: text (string) or bytes (Uint8Array); kept till
//                                          forgotten, another one of the same name replaces it
//   engine.forget()                        forgets all files
//   engine.ask(question, onProgress)       a Promise of the answer; questions wait for each other in order
//   engine.stop()                          ends what runs and what waits: their promises are kept with `stopped: true`; the
//                                          engine begins anew at once, with the files that were kept
//
//   Engine.unpacked(element)               the engine's bytes, packed in an element's text: for `new Engine(...)`
//   Engine.given(element)                  what `tideover page` put into an element: { scenarios: [names], kits: [names of
//                                          catalogues and proofs], files: Map of name to text or bytes }
//   engine.memory                          bytes that the engine holds, after the first answer
//
// question (an object; options are those of the command line, by the same names and in the same words)
//
//   ask        "run" | "compare" | "now" | "size" | "check" | "card" | "prove" | "record" | "kits" | "place" | "appliances" |
//              "cautions" (json is what the last five found; the last three need no file)
//   file       name of the scenario's file (or of the record's) among those kept
//              record: of one that tells the label alone; one of bench tests to fill in comes back, as a text in json
//              kits: of a catalogue or a proof; what can be picked comes back
//   more       prove: [names of further records of the unit]
//   name       place: its name; candidates come back      latitude, longitude   place: [°]; the nearest town comes back
//   trials     whole number, 10000 if left out        seed       whole number, 1
//   step       minutes, 60                            precision  "1 %" (run, compare, card)
//   rare       true: run looks closer at rare failures (it does so by itself where few trials failed)
//   alone      true: run gives nothing but the answer, no changes and no weight of what is taken for granted: a first answer
//   advise     true: run looks for charges at which to switch loads off
//   sets       compare: ["station.charge_to=90 %", "panel.0.count=2; panel.0.wiring=parallel"]
//   target     size: "95 %"
//   charge     now: "43%"        sky   now: "dark,mixed,60-90%"
//   at         now: "2027-01-14 20:30", the place's clock, or "20:30" of today
//   until      now: "22:00", "2027-01-15 22:00", "2 days"       below_floor   now: "20%"
//   fuel       now: "4.5 L" left for the generator
//   today      prove: the day, "2027-01-14"
//   latitude   kits: where their panels stand [°]
//   unix_s     now, prove: the instant, where `at` or `today` is not given: Math.floor(Date.now() / 1000)
//
// onProgress(trials)   after each round: outages simulated so far
//
// answer (an object)
//
//   answered   whether there is an answer             partial    whether it is not whole
//   stops      check: the kit must not be put together like this
//   title      the scenario's title
//   json       the answer's JSON as text, byte for byte what the command line prints; null for card
//   sections   [{ heading, html }]: the parts of the answer's page; the first has no heading; `heading` is plain text, `html`
//              is safe to insert; src/report/document/page.css is its style
//   page       the answer as a page of its own (HTML), to keep or to print
//   text       the answer as plain text, 80 columns or so
//   problems   [{ level: "error" | "warning" | "note", file, key, title, label, hint, place, drawn }], errors first of all where
//              there is no answer; place: { line, column, end_line, end_column } from 1, columns count characters, or null;
//              hint: what to write, or null; drawn: all of it as text beside its line; where an option is wrong, file is ""
//              and key the option's name
//   stopped    true where engine.stop() ended it
//   seconds    how long the engine took
"use strict";

// What runs inside the worker: nothing from outside but its argument.
function engineInside() {
  const encoder = new TextEncoder();
  const decoder = new TextDecoder();
  let exports = null;
  let what = "";
  let asked = 0;
  const bytesAt = (at, length) => new Uint8Array(exports.memory.buffer, at, length);
  const put = (...parts) => {
    const at = exports.room(parts.reduce((sum, part) => sum + part.length, 0));
    let to = at;
    for (const part of parts) {
      bytesAt(to, part.length).set(part);
      to += part.length;
    }
  };
  const imports = {
    page: {
      progress: (trials) => {
        self.postMessage({ progress: trials, number: asked });
        return 0;
      },
      broken: (at, length) => {
        what = decoder.decode(bytesAt(at, length));
      },
    },
  };
  const does = {
    wasm: async ({ wasm }) => {
      exports = (await WebAssembly.instantiate(wasm, imports)).exports;
      exports.begin();
      self.postMessage({ ready: true });
    },
    keep: ({ name, content }) => {
      const key = encoder.encode(name);
      put(key, typeof content === "string" ? encoder.encode(content) : content);
      exports.keep(key.length);
    },
    forget: () => exports.forget(),
    ask: ({ question, number }) => {
      asked = number;
      put(encoder.encode(JSON.stringify(question)));
      const began = performance.now();
      const length = exports.ask();
      const answer = decoder.decode(bytesAt(exports.answered(), length));
      self.postMessage({ answer, number, seconds: (performance.now() - began) / 1000, memory: exports.memory.buffer.byteLength });
    },
  };
  // One after the other, though the first takes its time.
  let turn = Promise.resolve();
  self.onmessage = ({ data }) => {
    turn = turn.then(async () => {
      try {
        await does[data.does](data);
      } catch (error) {
        self.postMessage({ broken: what || String(error), number: data.number });
      }
    });
  };
}

// A worker that runs a text.
function workerOf(source) {
  const address = URL.createObjectURL(new Blob([source], { type: "text/javascript" }));
  const worker = new Worker(address);
  URL.revokeObjectURL(address);
  return worker;
}

class Engine {
  constructor(wasm) {
    // Compiled once, however often the engine begins anew.
    this.wasm = Promise.resolve(wasm).then((given) => (given instanceof WebAssembly.Module ? given : WebAssembly.compile(given)));
    this.files = new Map();
    this.waiting = new Map();
    this.numbers = 0;
    this.begin();
  }

  begin() {
    const worker = workerOf(`"use strict";(${engineInside})()`);
    this.worker = worker;
    let fails;
    this.ready = new Promise((kept, failed) => {
      fails = failed;
      worker.onmessage = ({ data }) => {
        if (data.ready) {
          for (const [name, content] of this.files) worker.postMessage({ does: "keep", name, content });
          kept();
        } else if (data.number === undefined && data.broken) failed(new Error(data.broken));
        else this.hear(data);
      };
      worker.onerror = (error) => failed(new Error(error.message));
    });
    this.ready.catch(() => {});
    this.wasm.then((wasm) => {
      if (this.worker === worker) worker.postMessage({ does: "wasm", wasm });
    }, (error) => fails(error));
  }

  hear(data) {
    const waits = this.waiting.get(data.number);
    if (!waits) return;
    if (data.progress !== undefined) {
      waits.onProgress?.(data.progress);
      return;
    }
    this.waiting.delete(data.number);
    if (data.broken !== undefined) {
      waits.failed(new Error(data.broken));
      // Memory is not to be relied on after a break.
      this.stop();
      return;
    }
    this.memory = data.memory;
    waits.kept({ ...JSON.parse(data.answer), stopped: false, seconds: data.seconds });
  }

  // A worker handles messages in order; what is sent before the engine is there waits until it is.
  async send(message) {
    const worker = this.worker;
    await this.ready;
    if (this.worker === worker) worker.postMessage(message);
  }

  keep(name, content) {
    const there = this.files.get(name);
    if (typeof content === "string" && there === content) return;
    this.files.set(name, content);
    this.send({ does: "keep", name, content });
  }

  forget() {
    this.files.clear();
    this.send({ does: "forget" });
  }

  ask(question, onProgress) {
    const number = ++this.numbers;
    return new Promise((kept, failed) => {
      this.waiting.set(number, { kept, failed, onProgress });
      this.send({ does: "ask", question, number }).catch(failed);
    });
  }

  stop() {
    this.worker.terminate();
    const waiting = [...this.waiting.values()];
    this.waiting.clear();
    this.begin();
    for (const { kept } of waiting) {
      kept({ answered: false, partial: true, stopped: true, json: null, sections: [], problems: [], text: "", page: "", title: "" });
    }
  }

  // What `tideover page` put into the page.
  static given(element) {
    const { scenarios, kits = [], files } = JSON.parse(element.textContent);
    const bytes = ({ base64 }) => Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
    const content = (one) => (typeof one === "string" ? one : bytes(one));
    return { scenarios, kits, files: new Map(Object.entries(files).map(([name, one]) => [name, content(one)])) };
  }

  // The bytes packed into the page: the text of an element, LZMA and seven bits a letter (page/pack.mjs says how). A worker
  // unpacks them, so that the page can be used meanwhile.
  static async unpacked(element) {
    const text = element.textContent;
    const packed = new Uint8Array(Number(element.dataset.bytes));
    let [held, bits, to] = [0, 0, 0];
    const take = (seven) => {
      held = ((held & 127) << 7) | seven;
      bits += 7;
      if (bits >= 8 && to < packed.length) {
        bits -= 8;
        packed[to] = held >> bits;
        to += 1;
      }
    };
    for (let at = 0; at < text.length; at += 1) {
      const letter = text.charCodeAt(at);
      if (letter < 128) take(letter);
      else {
        take([0, 13, 60][(letter - 128) >> 7]);
        take((letter - 128) & 127);
      }
    }
    const worker = workerOf(`"use strict";${unlzma}; onmessage = ({ data }) => { const out = unlzma(data).buffer; postMessage(out, [out]); };`);
    try {
      return await new Promise((kept, failed) => {
        worker.onmessage = ({ data }) => kept(data);
        worker.onerror = (error) => failed(new Error(error.message));
        worker.postMessage(packed, [packed.buffer]);
      });
    } finally {
      worker.terminate();
    }
  }
}
