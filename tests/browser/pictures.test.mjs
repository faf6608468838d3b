// The pictures of logs that strain them: twelve reeds, a spreadsheet's mess, thirty factors with 25 long-named lots.

import assert from "node:assert/strict";
import { mkdtemp, rm } from "node:fs/promises";
import os from "node:os";
import path from "node:path";
import { after, before, it } from "node:test";
import { startBrowser } from "./lib/browser.mjs";
import { writeTiny, writeWide } from "./lib/logs.mjs";
import { faultsOfPictures, picturesOf } from "./lib/pictures.mjs";
import { ROOT, canewright } from "./lib/places.mjs";

const scratch = await mkdtemp(path.join(os.tmpdir(), "canewright-pictures-"));
let browser;

before(async () => {
  browser = await startBrowser();
});
after(async () => {
  await browser?.close();
  await rm(scratch, { recursive: true });
});

const written = async (name, write) => {
  const log = path.join(scratch, name);
  await write(log);
  return log;
};
const LOGS = [
  { name: "tiny", log: () => written("tiny", writeTiny), fewest: 1 },
  { name: "messy", log: () => path.join(ROOT, "datasets/demo_messy"), fewest: 20 },
  { name: "wide", log: () => written("wide", writeWide), fewest: 10 },
];

for (const { name, log, fewest } of LOGS) {
  it(`keeps every label of the pictures of the ${name} log inside, apart and legible`, async () => {
    const review = path.join(scratch, `${name}-review`);
    await canewright("review", await log(), "--out", review, "--quiet");
    const pictures = await picturesOf(review);
    assert.ok(pictures.length >= fewest, `${pictures.length} pictures`);
    assert.deepEqual(await faultsOfPictures(browser, pictures), []);
  });
}
