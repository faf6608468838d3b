// The pictures of a review folder, each alone, in a page of its own colour scheme.

import { mkdir, readFile, readdir, writeFile } from "node:fs/promises";
import path from "node:path";
import { SCHEMES } from "./browser.mjs";
import { faintLabels, misplacedLabels } from "./labels.mjs";

const WIDTH_OF_A_BOARD = 1400;
const FINENESS = 2;

export async function picturesOf(review) {
  const folder = path.join(review, "plots");
  const files = (await readdir(folder)).filter((file) => file.endsWith(".svg")).sort();
  return Promise.all(files.map(async (file) => ({ name: path.basename(file, ".svg"), svg: await readFile(path.join(folder, file), "utf8") })));
}

/** What is wrong with the labels of any of the pictures, in both schemes. */
export async function faultsOfPictures(browser, pictures) {
  const faults = [];
  for (const scheme of SCHEMES) {
    const page = await boardOf(browser, pictures, scheme, 1);
    const easel = await page.context().newPage();
    if (scheme === SCHEMES[0]) faults.push(...(await page.evaluate(misplacedLabels)));
    faults.push(...(await faintLabels(page, easel)).map((fault) => `${scheme}: ${fault}`));
    await page.context().close();
  }
  return faults;
}

/** Every picture as PNG in both schemes, and a page that shows them all. */
export async function render(browser, pictures, folder) {
  for (const scheme of SCHEMES) {
    const into = path.join(folder, scheme);
    await mkdir(into, { recursive: true });
    const page = await boardOf(browser, pictures, scheme, FINENESS);
    const drawn = await page.locator("svg").all();
    for (const [index, { name }] of pictures.entries()) {
      await drawn[index].screenshot({ path: path.join(into, `${name}.png`) });
    }
    await page.context().close();
  }
  await writeFile(path.join(folder, "index.html"), contactSheet(pictures));
}

function contactSheet(pictures) {
  const shown = pictures.flatMap(({ name }) => SCHEMES.map((scheme) => `<img src="${scheme}/${name}.png" width="440" alt="${name}, ${scheme}">`));
  return `<!DOCTYPE html>\n<html lang="en">\n<meta charset="utf-8">\n<title>All pictures</title>\n${shown.join("\n")}\n</html>\n`;
}

async function boardOf(browser, pictures, scheme, deviceScaleFactor) {
  const viewport = { width: WIDTH_OF_A_BOARD, height: 900 };
  const context = await browser.newContext({ offline: true, colorScheme: scheme, viewport, deviceScaleFactor });
  const page = await context.newPage();
  const drawn = pictures.map(({ svg }) => svg).join("\n");
  await page.setContent(`<!DOCTYPE html><meta name="color-scheme" content="light dark"><body>${drawn}</body>`);
  return page;
}
