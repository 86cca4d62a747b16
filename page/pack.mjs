// Puts the engine into the sheet: node page/pack.mjs ENGINE.wasm OUT.html
//
// In page/sheet.html, `<!-- include NAME -->` alone on a line becomes the file page/NAME: a style for *.css, a script for *.js, a
// text of id "start" for *.toml.
// `<!-- engine -->` becomes the engine, packed by `xz` to the .lzma form (page/unlzma.js reads it) and seven bits a letter, in a script element of id "engine" that no browser runs;
// `<!-- scenarios -->` becomes an empty place of id "scenarios", which `tideover page` fills. `<!-- policy -->` becomes a
// content-security policy that lets nothing in and nothing out.
import { execFileSync } from "node:child_process";
import { createHash } from "node:crypto";
import { readFileSync, renameSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const [engine, out] = process.argv.slice(2);
const folder = dirname(fileURLToPath(import.meta.url));
const wasm = readFileSync(engine);
// The stream tells its length, which `xz` leaves open where it reads from a pipe.
const packed = execFileSync("xz", ["--format=lzma", "--lzma1=preset=9e,dict=16MiB,lc=4,pb=0", "--stdout", "--keep", engine], { maxBuffer: 1 << 28 });
packed.writeBigUInt64LE(BigInt(wasm.length), 5);
const hashes = { style: [], script: [] };
const included = (name) => {
  if (name.endsWith(".toml")) {
    const text = readFileSync(join(folder, name), "utf8");
    return `<script type="text/plain" id="start">${text}</script>`;
  }
  const kind = name.endsWith(".css") ? "style" : "script";
  const text = `\n${readFileSync(join(folder, name), "utf8")}`;
  if (text.includes(`</${kind}`)) throw new Error(`${name} holds what would end its element`);
  hashes[kind].push(`'sha256-${createHash("sha256").update(text).digest("base64")}'`);
  return `<${kind}>${text}</${kind}>`;
};
// Bytes as letters of UTF-8, eight for seven: each seven bits are a letter of one byte. Those that a page's text cannot hold (what
// HTML changes, and "<", which could end the element) go with the seven bits behind them into a letter of two bytes.
// `Engine.unpacked` reads it.
const KEPT_OUT = [0, 13, 60];
const lettered = (bytes) => {
  const sevens = [];
  let [held, bits] = [0, 0];
  for (const byte of bytes) {
    held = (held << 8) | byte;
    bits += 8;
    while (bits >= 7) {
      bits -= 7;
      sevens.push((held >> bits) & 127);
    }
    held &= 127;
  }
  sevens.push((held << (7 - bits)) & 127, 0);
  const parts = [];
  let letters = [];
  for (let at = 0; at + 1 < sevens.length; at += 1) {
    const out = KEPT_OUT.indexOf(sevens[at]);
    letters.push(out < 0 ? sevens[at] : 128 + 128 * out + sevens[(at += 1)]);
    if (letters.length > 8000) {
      parts.push(String.fromCharCode(...letters));
      letters = [];
    }
  }
  return parts.join("") + String.fromCharCode(...letters);
};
let page = readFileSync(join(folder, "sheet.html"), "utf8").replace(/^<!-- include (\S+) -->$/gm, (_, name) => included(name));
const policy =
  `default-src 'none'; script-src 'wasm-unsafe-eval' ${hashes.script.join(" ")}; ` +
  `style-src 'unsafe-inline'; worker-src blob:; img-src data: blob:; base-uri 'none'; form-action 'none'`;
page = page
  .replace("<!-- policy -->", `<meta http-equiv="Content-Security-Policy" content="${policy}">`)
  .replace("<!-- scenarios -->", '<script type="application/json" id="scenarios">{"scenarios":[],"files":{}}</script>')
  .replace("<!-- engine -->", () => `<script type="application/octet-stream" id="engine" data-bytes="${packed.length}">${lettered(packed)}</script>`);
writeFileSync(`${out}.part`, page);
renameSync(`${out}.part`, out);
const megabytes = (bytes) => `${(bytes / 1e6).toFixed(2)} MB`;
console.log(`${out}: ${megabytes(Buffer.byteLength(page))} (engine ${megabytes(wasm.length)}, packed ${megabytes(packed.length)})`);
