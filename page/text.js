// Where things stand in a scenario's text, and small changes to it that leave everything else as it was written. Whether what
// stands there is right, only the engine's reader knows.
"use strict";

const ScenarioText = (() => {
  // One behind the value that begins at `at`: brackets and strings are skipped as TOML has them.
  function endOfValue(text, at) {
    let depth = 0;
    while (at < text.length) {
      const letter = text[at];
      if (letter === '"' || letter === "'") {
        at = endOfString(text, at);
        if (depth === 0) return at;
        continue;
      }
      if (letter === "#") {
        if (depth === 0) break;
        while (at < text.length && text[at] !== "\n") at += 1;
        continue;
      }
      if (letter === "\n" && depth === 0) break;
      if (letter === "[" || letter === "{") depth += 1;
      if (letter === "]" || letter === "}") {
        depth -= 1;
        if (depth <= 0) return at + 1;
      }
      at += 1;
    }
    while (at > 0 && /[ \t\r]/.test(text[at - 1])) at -= 1;
    return at;
  }

  function endOfString(text, at) {
    const mark = text[at];
    const long = mark.repeat(3);
    if (text.startsWith(long, at)) {
      for (let k = at + 3; k < text.length; k += 1) {
        if (mark === '"' && text[k] === "\\") k += 1;
        else if (text.startsWith(long, k)) {
          k += 3;
          while (text[k] === mark) k += 1;
          return k;
        }
      }
      return text.length;
    }
    for (let k = at + 1; k < text.length && text[k] !== "\n"; k += 1) {
      if (mark === '"' && text[k] === "\\") k += 1;
      else if (text[k] === mark) return k + 1;
    }
    const line = text.indexOf("\n", at);
    return line < 0 ? text.length : line;
  }

  // The parts of a dotted key.
  function keyParts(written) {
    const parts = [];
    for (const [, double, single, bare] of written.matchAll(/"((?:[^"\\]|\\.)*)"|'([^']*)'|([\w-]+)/g)) {
      parts.push(double ?? single ?? bare);
    }
    return parts;
  }

  // entries: [{ path, from, to, line, after, section }], the value in from..to and its lines in line..after;
  // sections: [{ path, list, from, body, end }], `body` one behind the header's line, `end` one behind the last entry's.
  function read(text) {
    const sections = [{ path: "", list: false, from: 0, body: 0, end: 0 }];
    const entries = [];
    const counts = new Map();
    let at = 0;
    while (at < text.length) {
      const newline = text.indexOf("\n", at);
      const after = newline < 0 ? text.length : newline + 1;
      const line = text.slice(at, newline < 0 ? text.length : newline);
      const header = /^\s*(\[\[?)\s*([^\]]+?)\s*\]\]?/.exec(line);
      if (header) {
        const list = header[1] === "[[";
        const parts = keyParts(header[2]);
        let path = "";
        parts.forEach((part, k) => {
          path = path ? `${path}.${part}` : part;
          if (list && k === parts.length - 1) counts.set(path, (counts.get(path) ?? -1) + 1);
          if (counts.has(path)) path = `${path}.${counts.get(path)}`;
        });
        sections.push({ path, list, from: at, body: after, end: after });
        at = after;
        continue;
      }
      const entry = /^(\s*)((?:"(?:[^"\\]|\\.)*"|'[^']*'|[\w-]+)(?:\s*\.\s*(?:"(?:[^"\\]|\\.)*"|'[^']*'|[\w-]+))*)\s*=\s*/.exec(line);
      if (entry) {
        const section = sections[sections.length - 1];
        const from = at + entry[0].length;
        const to = endOfValue(text, from);
        const rest = text.indexOf("\n", to);
        const behind = rest < 0 ? text.length : rest + 1;
        const path = [section.path, ...keyParts(entry[2])].filter((part) => part !== "").join(".");
        entries.push({ path, from, to, line: at, after: behind, section });
        section.end = behind;
        at = behind;
        continue;
      }
      at = after;
    }
    return { text, sections, entries };
  }

  const raw = (text, path) => {
    const entry = read(text).entries.find((one) => one.path === path);
    return entry ? text.slice(entry.from, entry.to) : undefined;
  };

  const cut = (text, from, to, put = "") => text.slice(0, from) + put + text.slice(to);

  const written = (entries) => Object.entries(entries).map(([key, value]) => `${key} = ${value}\n`).join("");

  // The text with a line end at its end, so that lines can be put behind it.
  const closed = (text) => (text === "" || text.endsWith("\n") ? text : `${text}\n`);

  // Puts a section behind the last one of its kin: sections of the same list, else those under the same first name.
  function addSection(text, header, entries = {}) {
    text = closed(text);
    const name = header.replace(/[[\]\s]/g, "");
    const known = read(text).sections;
    const parts = name.split(".");
    const kin = known.filter((one) => one.path.split(".")[0] === parts[0]);
    const block = `${header}\n${written(entries)}`;
    const last = kin[kin.length - 1];
    if (!last) return `${text}${text === "" ? "" : "\n"}${block}`;
    return cut(text, last.end, last.end, `\n${block}`);
  }

  // Sets a key to a value as TOML writes it; undefined takes the key out.
  function set(text, path, value) {
    const { entries, sections } = read(text);
    const entry = entries.find((one) => one.path === path);
    if (value === undefined) return entry ? cut(text, entry.line, entry.after) : text;
    if (entry) return cut(text, entry.from, entry.to, value);
    const cutAt = path.lastIndexOf(".");
    const [parent, key] = cutAt < 0 ? ["", path] : [path.slice(0, cutAt), path.slice(cutAt + 1)];
    const section = sections.find((one) => one.path === parent);
    if (section) {
      const line = `${key} = ${value}\n`;
      const before = text.slice(0, section.end);
      return cut(text, section.end, section.end, before === "" || before.endsWith("\n") ? line : `\n${line}`);
    }
    return addSection(text, `[${parent}]`, { [key]: value });
  }

  // Takes a section out with what is below it and the remarks right above its header.
  function removeSection(text, path) {
    const { sections } = read(text);
    const gone = sections.filter((one) => one.path === path || one.path.startsWith(`${path}.`));
    for (const section of gone.reverse()) {
      let from = section.from;
      for (;;) {
        const before = text.slice(0, from);
        const above = before.slice(0, -1).lastIndexOf("\n") + 1;
        if (from === 0 || !/^\s*#/.test(before.slice(above))) break;
        from = above;
      }
      const blank = /^(?:[ \t]*\r?\n)*/.exec(text.slice(section.end))[0].length;
      text = cut(text, from, section.end + blank);
    }
    return text;
  }

  // How many entries a list of sections has.
  const count = (text, name) =>
    read(text).sections.filter((one) => one.list && one.path.replace(/\.\d+$/, "") === name).length;

  const has = (text, path) => {
    const { entries, sections } = read(text);
    return sections.some((one) => one.path === path) || entries.some((one) => one.path === path);
  };

  const ESCAPES = { b: "\b", t: "\t", n: "\n", f: "\f", r: "\r", e: "\x1b", '"': '"', "\\": "\\" };

  // What a TOML string says; undefined where the value is no string on one line.
  function unquoted(value) {
    if (value === undefined || value.startsWith('"""') || value.startsWith("'''")) return undefined;
    if (/^'[^']*'$/.test(value)) return value.slice(1, -1);
    if (!/^"(?:[^"\\]|\\.)*"$/.test(value)) return undefined;
    return value.slice(1, -1).replace(/\\(?:u([\da-fA-F]{4})|U([\da-fA-F]{8})|(.))/g, (all, four, eight, one) => {
      const code = four ?? eight;
      return code ? String.fromCodePoint(Math.min(parseInt(code, 16), 0x10ffff)) : (ESCAPES[one] ?? all);
    });
  }

  const quoted = (words) => {
    const inner = words.replace(/["\\]/g, "\\$&").replace(/\n/g, "\\n").replace(/\t/g, "\\t");
    return `"${inner.replace(/[\u0000-\u001f\u007f]/g, (one) => `\\u${one.charCodeAt(0).toString(16).padStart(4, "0")}`)}"`;
  };

  return { read, raw, set, addSection, removeSection, count, has, unquoted, quoted };
})();
if (typeof module !== "undefined") module.exports = ScenarioText;
