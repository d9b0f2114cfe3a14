// Cursors and zoom of a report: node cursor.mjs FILE. Prints what was shown after each act, as JSON, for whoever knows what
// must be shown.

import { launched, opened, rested } from "./browser.mjs";

const [, , file] = process.argv;
const browser = await launched();
const { page, noticed } = await opened(browser, file);
const run = page.locator("section.run").first();
const a = run.getByRole("slider", { name: /^Cursor A/ });
const b = run.getByRole("slider", { name: /^Cursor B/ });

/** What the page shows now. */
async function shown(act) {
  await rested(page);
  return page.evaluate((act) => {
    const run = document.querySelector("section.run");
    const texts = (selector, root = run) => [...root.querySelectorAll(selector)].map((it) => it.textContent);
    const thumb = (cursor) => {
      const it = run.querySelector(`.thumb.${cursor}`);
      return it.hidden ? null : Number(it.getAttribute("aria-valuenow"));
    };
    const rows = [...run.querySelectorAll("table.values tbody tr")].map((line) => ({
      name: line.cells[0].textContent,
      a: line.cells[4].textContent,
      since: line.cells[5].textContent,
      b: line.cells[6].textContent,
    }));
    const paths = texts(".wave-of .wave", run).length;
    return {
      act,
      a: thumb("a"),
      b: thumb("b"),
      spoken: run.querySelector(".thumb.a").getAttribute("aria-valuetext"),
      measures: run.querySelector(".measures").textContent,
      status: run.querySelector("[role=status]").textContent,
      chosen: run.querySelector(".lane.chosen .name").textContent,
      heads: texts(".lane .value"),
      told: texts(".told:not([hidden])"),
      atCursor: run.querySelector(".at-cursor dl").textContent,
      focus: document.activeElement.getAttribute("aria-label") ?? document.activeElement.tagName,
      rows,
      paths,
    };
  }, act);
}

const states = [];
const note = async (act) => states.push(await shown(act));
await note("start");
await a.focus();
for (const key of [
  ...Array(5).fill("ArrowRight"),
  "ArrowLeft",
  "PageDown",
  "Shift+ArrowRight",
  "Shift+ArrowRight",
  "Shift+ArrowLeft",
  "End",
  "Home",
  "ArrowDown",
  "Shift+ArrowRight",
  "ArrowUp",
  "+",
  "+",
  "b",
  "Shift+ArrowRight",
  "0",
]) {
  await page.keyboard.press(key);
  await note(`key ${key}`);
}
await page.keyboard.press("Tab");
await page.keyboard.press("ArrowRight");
await note("key ArrowRight on B");
for (const share of [0.25, 0.5, 0.9]) {
  const track = await run.locator(".lane .track").nth(2).boundingBox();
  await page.mouse.click(track.x + share * track.width, track.y + 5);
  await note(`click ${share}`);
}
const track = await run.locator(".lane .track").first().boundingBox();
await page.keyboard.down("Shift");
await page.mouse.click(track.x + 0.75 * track.width, track.y + 5);
await page.keyboard.up("Shift");
await note("shift click 0.75");
for (const name of ["Zoom in", "Zoom out", "Zoom in", "Later", "Earlier", "Whole run", "A to B", "Whole run", "Remove B"]) {
  await run.getByRole("button", { name, exact: true }).click();
  await note(`button ${name}`);
}
await run.getByText("Changes in the order of time").click();
await rested(page);
const changes = await run.locator("details.changes tbody tr").evaluateAll((lines) =>
  lines.map((line) => [...line.cells].map((cell) => cell.textContent)),
);
console.log(JSON.stringify({ states, changes, noticed }));
await browser.close();
