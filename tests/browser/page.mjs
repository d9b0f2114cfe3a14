// What holds for every page: node page.mjs FILE [paper]. Prints a list of what is wrong as JSON. Of a page that is made for
// paper, tables may be wider than a narrow window, for they need two dimensions (WCAG 2.2, 1.4.10).

import { accessibility, launched, opened, rested } from "./browser.mjs";

const [, , file, paper] = process.argv;
const wrong = [];
const browser = await launched();

/** Markup in texts of others has these names; none of it may become an element or run. */
const HOSTILE = "hostile-element, [onerror], [onload], [onclick], iframe, img, object, embed, link, base, form";

for (const [what, options] of [
  ["light", { colorScheme: "light" }],
  ["dark", { colorScheme: "dark" }],
  // What is left of 1280 by 1024 pixels at 400 %.
  ["400 %", { width: 320, height: 256 }],
  ["without script", { script: false }],
]) {
  const { page, noticed } = await opened(browser, file, options);
  const told = (list) => wrong.push(...list.map((it) => `${what}: ${it}`));
  await page.locator("details:not([open]) > summary").evaluateAll((folded) => folded.forEach((it) => it.click())).catch(() => {});
  if (options.script !== false) {
    await rested(page);
    told(await accessibility(page));
    if (await page.evaluate(() => "hostile" in window)) told(["a script of others ran"]);
  }
  const injected = await page.locator(HOSTILE).count();
  if (injected > 0) told([`${injected} elements were injected`]);
  if (paper) await page.locator("table").evaluateAll((tables) => tables.forEach((table) => table.remove()));
  const scrolled = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  if (scrolled > 0) told([`${scrolled} pixels wider than the window`]);
  told(noticed);
  await page.context().close();
}

// On paper: white ground, nothing folded, nothing cut off at the right.
const { page, noticed } = await opened(browser, file);
await page.setViewportSize({ width: 718, height: 1000 });
await page.emulateMedia({ media: "print" });
await page.evaluate(() => dispatchEvent(new Event("beforeprint")));
await rested(page);
const print = await page.evaluate(() => ({
  ground: getComputedStyle(document.body).backgroundColor,
  // A page without a script unfolds its parts by its style alone.
  folded: [...document.querySelectorAll("details:not([open]) > :not(summary)")].filter(
    (it) => it.parentElement.checkVisibility() && !it.checkVisibility(),
  ).length,
  cut: [...document.querySelectorAll("svg, table, pre")]
    .filter((it) => it.checkVisibility() && it.getBoundingClientRect().right > innerWidth + 1)
    .map((it) => `${it.tagName}.${it.getAttribute("class")}`),
}));
if (print.ground !== "rgb(255, 255, 255)") wrong.push(`print: the ground is ${print.ground}`);
if (print.folded > 0) wrong.push(`print: ${print.folded} parts are folded`);
wrong.push(...print.cut.map((it) => `print: ${it} is cut off`));
const pdf = await page.pdf({ format: "A4" });
if (!pdf.subarray(0, 5).equals(Buffer.from("%PDF-"))) wrong.push("print: no PDF");
wrong.push(...noticed.map((it) => `print: ${it}`));
await browser.close();
console.log(JSON.stringify(wrong));
