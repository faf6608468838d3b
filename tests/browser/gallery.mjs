// Renders every picture of reviews of several logs to PNG under target/gallery, and says which labels leave a picture, lie on each other or are faint.
//
//   npm run gallery                     demo, messy, tiny, wide, and 10,000 rows
//   npm run gallery -- tiny wide        only these
//   npm run gallery -- --rows 100000    the large log with as many rows

import { rm } from "node:fs/promises";
import path from "node:path";
import { parseArgs } from "node:util";
import { startBrowser } from "./lib/browser.mjs";
import { writeLarge, writeTiny, writeWide } from "./lib/logs.mjs";
import { faultsOfPictures, picturesOf, render } from "./lib/pictures.mjs";
import { ROOT, canewright } from "./lib/places.mjs";

const GALLERY = path.join(ROOT, "target/gallery");
const { values, positionals } = parseArgs({ allowPositionals: true, options: { rows: { type: "string", default: "10000" } } });

const LOGS = {
  demo: (folder) => canewright("demo", folder),
  messy: (folder) => canewright("demo", folder, "--messy"),
  tiny: writeTiny,
  wide: writeWide,
  large: (folder) => writeLarge(folder, Number(values.rows)),
};
const asked = positionals.length > 0 ? positionals : Object.keys(LOGS);
const unknown = asked.filter((name) => !(name in LOGS));
if (unknown.length > 0 || !(Number(values.rows) >= 1)) {
  console.error(`Logs are ${Object.keys(LOGS).join(", ")}; --rows takes a number.`);
  process.exit(2);
}

const browser = await startBrowser();
try {
  for (const name of asked) await show(name);
} finally {
  await browser.close();
}

async function show(name) {
  const folder = path.join(GALLERY, name);
  const log = path.join(folder, "log");
  const review = path.join(folder, "review");
  await rm(folder, { recursive: true, force: true });
  await LOGS[name](log);
  const start = performance.now();
  await canewright("review", log, "--out", review, "--quiet");
  const seconds = ((performance.now() - start) / 1000).toFixed(1);
  const pictures = await picturesOf(review);
  await render(browser, pictures, folder);
  const faults = await faultsOfPictures(browser, pictures);
  console.log(`${name}: ${pictures.length} pictures in ${path.relative(process.cwd(), folder)}, reviewed in ${seconds} s`);
  faults.forEach((fault) => console.log(`  ${fault}`));
  if (faults.length > 0) process.exitCode = 1;
}
