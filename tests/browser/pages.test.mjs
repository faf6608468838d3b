// Every page a reader opens: review, handout and the sheets of a trial, in a browser without network or scripts.

import assert from "node:assert/strict";
import { mkdtemp, readFile, rm, stat } from "node:fs/promises";
import os from "node:os";
import path from "node:path";
import { after, before, describe, it } from "node:test";
import { NARROW, SCHEMES, WIDE, axeSource, startBrowser, unfold, visit } from "./lib/browser.mjs";
import { faintLabels, misplacedLabels } from "./lib/labels.mjs";
import {
  coloursShown,
  cutByPaper,
  headingFaults,
  pictureFaults,
  reachingOut,
  tableFaults,
  unreachableBoxes,
} from "./lib/pages.mjs";
import { ROOT, canewright, reviewFolder } from "./lib/places.mjs";

const ASKED_OF_AXE = {
  runOnly: { type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] },
  // selectors of thousands of sound elements take most of the time and tell nothing
  resultTypes: ["violations"],
  selectors: false,
};
const LARGEST_REVIEW = 1.5e6;
// of the paper in millimetres
const PAPERS = { A4: [210, 297], Letter: [215.9, 279.4] };
const PIXELS_A_MM = 96 / 25.4;

const review = reviewFolder();
const scratch = await mkdtemp(path.join(os.tmpdir(), "canewright-pages-"));
const trial = path.join(scratch, "trial");
let browser;

before(async () => {
  browser = await startBrowser();
  const arms = ["--factor", "forming_days", "--arms", "14,28", "--lots", "L9,L10,L11,L12"];
  await canewright("trial", "plan", path.join(ROOT, "datasets/demo"), ...arms, "--out", trial);
});
after(async () => {
  await browser?.close();
  await rm(scratch, { recursive: true });
});

// margins as in the page's own style sheet, in millimetres from left and right, top and bottom
const PAGES = [
  { name: "review.html", file: path.join(review, "review.html"), margins: [32, 36] },
  { name: "handout.html", file: path.join(review, "handout.html"), margins: [28, 26] },
  { name: "sheet.html", file: path.join(trial, "sheet.html"), margins: [28, 32] },
];

for (const { name, file, margins } of PAGES) {
  describe(name, () => {
    const look = (options, use) => visit(browser, file, options, use);
    const faultless = async (options, faultsOf) => assert.deepEqual(await look(options, (page) => page.evaluate(faultsOf)), []);

    it("loads without scripts and network, asks for no other file and gives the console nothing to say", () =>
      look({}, async (page, { attempted, complaints }) => {
        await unfold(page);
        await page.waitForLoadState("networkidle");
        assert.notEqual(await page.locator("h1").innerText(), "");
        assert.deepEqual(attempted, []);
        assert.deepEqual(complaints, []);
      }));

    it("holds no script, no handler of events and no address outside itself", async () => {
      const text = await readFile(file, "utf8");
      assert.doesNotMatch(text, /<script|<[a-z][^>]*\son[a-z]+\s*=|javascript:/i);
      assert.doesNotMatch(text, /<[a-z][^>]*\s(?:src|srcset|data|action|poster)\s*=/i);
      assert.doesNotMatch(text, /\shref="(?!#)|@import|url\(/i);
    });

    it(`does not scroll sideways at ${NARROW} px; a box that does is reached by keyboard`, () =>
      look({ width: NARROW }, async (page) => {
        await unfold(page);
        assert.deepEqual(await page.evaluate(reachingOut), []);
        assert.deepEqual(await page.evaluate(unreachableBoxes), []);
      }));

    for (const scheme of SCHEMES) {
      for (const width of [NARROW, WIDE]) {
        it(`breaks no accessibility rule, ${scheme} at ${width} px`, () =>
          look({ scheme, width, scripting: true }, async (page) => {
            await unfold(page);
            await page.evaluate(axeSource);
            const found = await page.evaluate((asked) => axe.run(asked), ASKED_OF_AXE);
            assert.ok(found.passes.length > 10, "hardly a rule was looked at");
            const told = found.violations.flatMap(({ id, nodes }) => nodes.map((node) => `${id}: ${node.html.slice(0, 120)}`));
            assert.deepEqual(told, []);
          }));
      }

      it(`sets every label of its pictures off from what is behind it, ${scheme}`, () =>
        look({ scheme, scripting: true }, async (page) => {
          const easel = await browser.newPage();
          assert.deepEqual(await faintLabels(page, easel), []);
          await easel.close();
        }));
    }

    it("shows other colours in the dark scheme, page, text and every ink", async () => {
      const [light, dark] = await Promise.all(SCHEMES.map((scheme) => look({ scheme }, (page) => page.evaluate(coloursShown))));
      assert.deepEqual(Object.keys(light), Object.keys(dark));
      const same = Object.keys(light).filter((ink) => light[ink] === dark[ink]);
      assert.deepEqual(same, []);
    });

    it("has one heading of the first level and leaves out no level", () => faultless({}, headingFaults));

    it("gives every picture a title, a description and a caption", () => faultless({}, pictureFaults));

    it("gives every table a caption and every heading cell its scope", () => faultless({}, tableFaults));

    for (const width of [NARROW, WIDE]) {
      it(`keeps the labels of every picture inside it and off each other at ${width} px`, () => faultless({ width }, misplacedLabels));
    }

    for (const [paper, size] of Object.entries(PAPERS)) {
      it(`cuts nothing on ${paper}`, () =>
        look({}, async (page) => {
          const [width, height] = size.map((length, i) => Math.floor((length - margins[i]) * PIXELS_A_MM));
          await page.setViewportSize({ width, height });
          await page.emulateMedia({ media: "print" });
          await unfold(page);
          assert.deepEqual(await page.evaluate(cutByPaper, height), []);
        }));
    }
  });
}

describe("review.html", () => {
  const file = path.join(review, "review.html");

  it("offers the skip link at the first key and leads past the heading to the answers", () =>
    visit(browser, file, {}, async (page) => {
      await page.keyboard.press("Tab");
      const skip = page.locator("a.skip");
      assert.ok(await skip.evaluate((link) => link === document.activeElement));
      assert.ok((await skip.boundingBox()).x >= 0, "it can be seen once reached");
      await page.keyboard.press("Enter");
      assert.ok(await page.locator("main").evaluate((main) => main.matches(":target")));
      await page.keyboard.press("Tab");
      assert.ok(await page.locator("main").evaluate((main) => main.contains(document.activeElement)));
    }));

  it("leads from every entry of its contents to a section that is there", () =>
    visit(browser, file, {}, async (page) => {
      const missing = await page.evaluate(() =>
        [...document.querySelectorAll("a[href^='#']")].map((a) => a.getAttribute("href")).filter((to) => document.getElementById(to.slice(1)) === null),
      );
      assert.deepEqual(missing, []);
    }));

  it("is smaller than a megabyte and a half", async () => {
    assert.ok((await stat(file)).size < LARGEST_REVIEW);
  });

  it("prints on a bearable number of sheets", async () => {
    for (const paper of Object.keys(PAPERS)) {
      const sheets = await printed(file, paper);
      assert.ok(sheets > 5 && sheets < 60, `${sheets} sheets of ${paper}`);
    }
  });
});

describe("handout.html", () => {
  const file = path.join(review, "handout.html");

  for (const paper of Object.keys(PAPERS)) {
    it(`prints on exactly one sheet of ${paper}`, async () => {
      assert.equal(await printed(file, paper), 1);
    });
  }
});

function printed(file, paper) {
  return visit(browser, file, {}, async (page) => {
    const pdf = await page.pdf({ format: paper });
    return pdf.toString("latin1").match(/\/Type\s*\/Page\b/g).length;
  });
}
