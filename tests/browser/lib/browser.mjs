// A page in the distribution's own Chromium, without a network.

import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { pathToFileURL } from "node:url";
import { chromium } from "playwright-core";
import { CHROMIUM } from "./places.mjs";

export const SCHEMES = ["light", "dark"];
export const NARROW = 320;
export const WIDE = 1280;

export const axeSource = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

export function startBrowser() {
  return chromium.launch({ executablePath: CHROMIUM, args: ["--disable-quic", "--disable-gpu"] });
}

/**
 * Calls `use` with the opened file, every other request that was attempted and every complaint of the console.
 * Scripting is off for the page; what a test asks of it is evaluated from outside. Only what waits on timers or frames (the accessibility checker, photographs of a part) needs it on.
 */
export async function visit(browser, file, { width = WIDE, scheme = "light", scripting = false }, use) {
  const context = await browser.newContext({
    javaScriptEnabled: scripting,
    offline: true,
    colorScheme: scheme,
    viewport: { width, height: 900 },
  });
  try {
    context.setDefaultTimeout(20_000);
    const page = await context.newPage();
    const own = pathToFileURL(file).href;
    const attempted = [];
    const complaints = [];
    page.on("request", (request) => request.url() !== own && attempted.push(request.url()));
    page.on("console", (message) => complaints.push(`${message.type()}: ${message.text()}`));
    page.on("pageerror", (error) => complaints.push(error.message));
    await page.goto(own);
    return await use(page, { attempted, complaints });
  } finally {
    await context.close();
  }
}

/** Opens every `details`, so that what is folded away is checked too. */
export function unfold(page) {
  return page.evaluate(() => document.querySelectorAll("details").forEach((details) => (details.open = true)));
}
