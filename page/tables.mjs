// Writes the packed tables once more with nothing packed in them, so that what packs the page sees their bytes:
//
//   node page/tables.mjs FOLDER
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { basename, join } from "node:path";
import { deflateSync, inflateSync } from "node:zlib";

const [folder] = process.argv.slice(2);
mkdirSync(folder, { recursive: true });
for (const name of ["places/places.bin", "places/names.bin", "places/other_names.bin", "weather/world.bin"]) {
  const plain = inflateSync(readFileSync(new URL(`../${name}`, import.meta.url)));
  writeFileSync(join(folder, basename(name)), deflateSync(plain, { level: 0 }));
}
