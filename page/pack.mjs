// Puts the engine into the sheet: node page/pack.mjs ENGINE.wasm OUT.html
//
// In page/sheet.html, `<!-- include NAME -->` alone on a line becomes the file page/NAME: a style for *.css, a script for *.js, a
// text of id "start" for *.toml.
// `<!-- engine -->` becomes the engine, gzip and base64, in a script element of id "engine" that no browser runs;
// `<!-- scenarios -->` becomes an empty place of id "scenarios", which `tideover page` fills. `<!-- policy -->` becomes a
// content-security policy that lets nothing in and nothing out.
import { createHash } from "node:crypto";
import { readFileSync, renameSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { constants, gzipSync } from "node:zlib";

const [engine, out] = process.argv.slice(2);
const folder = dirname(fileURLToPath(import.meta.url));
const wasm = readFileSync(engine);
const packed = gzipSync(wasm, { level: constants.Z_BEST_COMPRESSION });
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
let page = readFileSync(join(folder, "sheet.html"), "utf8").replace(/^<!-- include (\S+) -->$/gm, (_, name) => included(name));
const policy =
  `default-src 'none'; script-src 'wasm-unsafe-eval' ${hashes.script.join(" ")}; ` +
  `style-src 'unsafe-inline'; worker-src blob:; img-src data: blob:; base-uri 'none'; form-action 'none'`;
page = page
  .replace("<!-- policy -->", `<meta http-equiv="Content-Security-Policy" content="${policy}">`)
  .replace("<!-- scenarios -->", '<script type="application/json" id="scenarios">{"scenarios":[],"files":{}}</script>')
  .replace("<!-- engine -->", () => `<script type="application/octet-stream" id="engine">${packed.toString("base64")}</script>`);
writeFileSync(`${out}.part`, page);
renameSync(`${out}.part`, out);
const megabytes = (bytes) => `${(bytes / 1e6).toFixed(2)} MB`;
console.log(`${out}: ${megabytes(page.length)} (engine ${megabytes(wasm.length)}, packed ${megabytes(packed.length)})`);
