// A browser that asks nobody for anything, and what is noticed while it shows a page.

import { createRequire } from "node:module";
import { pathToFileURL } from "node:url";
import { readFileSync } from "node:fs";
import { chromium } from "playwright-core";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

const OPTIONS = [
  "--no-sandbox",
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
];

/** Starts the browser, with an empty profile of its own. */
export function launched() {
  return chromium.launch({ executablePath: process.env.LATCHWORK_BROWSER || "/usr/bin/chromium", args: OPTIONS });
}

/** Opens a page without a network; `noticed` fills with whatever it should not do. */
export async function opened(browser, file, { width = 1280, height = 900, colorScheme = "light", script = true } = {}) {
  const context = await browser.newContext({
    viewport: { width, height },
    colorScheme,
    offline: true,
    javaScriptEnabled: script,
  });
  const page = await context.newPage();
  const noticed = [];
  const address = pathToFileURL(file).href;
  page.on("request", (request) => {
    if (request.url() !== address) noticed.push(`request: ${request.url()}`);
  });
  page.on("console", (message) => noticed.push(`console: ${message.text()}`));
  page.on("pageerror", (error) => noticed.push(`error: ${error.message}`));
  page.on("dialog", (dialog) => {
    noticed.push(`dialog: ${dialog.message()}`);
    dialog.dismiss();
  });
  await page.addInitScript(() => {
    document.addEventListener("securitypolicyviolation", (event) => {
      console.error(`policy: ${event.violatedDirective} ${event.blockedURI}`);
    });
  });
  await page.goto(address);
  if (script) await unfoldedDiagrams(page);
  return { page, noticed };
}

/** Waits until every diagram of the page is opened: they open when they come near. */
async function unfoldedDiagrams(page) {
  for (const run of await page.locator("section.run").all()) {
    await run.scrollIntoViewIfNeeded();
    await run.locator(".viewer").waitFor();
  }
  await page.evaluate(() => scrollTo(0, 0));
  await rested(page);
}

/** Waits until all that was asked for is drawn and told. */
export async function rested(page) {
  await page.evaluate(
    () => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done, 300)))),
  );
}

/** What the rules of WCAG 2.2 A and AA, and good practice, find in a page. */
export async function accessibility(page) {
  await page.evaluate(axe);
  return page.evaluate(async () => {
    const result = await window.axe.run(document, {
      runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
      rules: { "target-size": { enabled: true } },
    });
    return result.violations.flatMap(({ id, nodes }) =>
      nodes.slice(0, 5).map((node) => `${id}: ${node.target.join(" ")}: ${node.failureSummary}`),
    );
  });
}
