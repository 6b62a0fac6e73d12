// Bundles the scripts of the practice page and of the desk and the synthesiser of both, and lists what they are made of.
// `make web` runs it; where it is given a folder it writes there instead (the test does).
import { build } from "esbuild";
import { createHash } from "node:crypto";
import { mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const out = process.argv[2] ?? join(here, "..", "built");
const common = { bundle: true, minify: true, charset: "utf8", legalComments: "none", absWorkingDir: here,
  target: "es2022", write: false, logLevel: "warning" };
const sha = (data) => createHash("sha256").update(data).digest("hex");

mkdirSync(out, { recursive: true });
const files = {};
for (const [name, entry, format] of [["page.js", "main.ts", "iife"], ["desk.js", "desk.ts", "iife"], ["synth.js", "worklet.ts", "esm"]]) {
  const made = await build({ ...common, entryPoints: [entry], format });
  const text = made.outputFiles[0].contents;
  writeFileSync(join(out, name), text);
  files[name] = sha(text);
}
const sources = {};
for (const name of readdirSync(here).filter((name) => /\.ts$|^package-lock\.json$|^build\.mjs$/.test(name)).sort())
  sources[name] = sha(readFileSync(join(here, name)));
const parts = ["spessasynth_core", "stb-vorbis"].map((name) => {
  const folder = join(here, "node_modules", name);
  const told = JSON.parse(readFileSync(join(folder, "package.json"), "utf8"));
  const entry = name === "stb-vorbis" ? told.module ?? told.main : told.module ?? told.main;
  return { name, version: told.version, licence: told.license, file: entry, sha256: sha(readFileSync(join(folder, entry))) };
});
writeFileSync(join(out, "made.json"), JSON.stringify({ files, parts, sources }, null, 2) + "\n");
