// How long a page takes to open: node opening.mjs FILE TIMES. Prints milliseconds from the begin of the navigation to the
// first frame that shows the diagram with its cursor, how much of them the processor worked for the page, and milliseconds
// from a key to the frame that shows what it did, as JSON.

import { launched } from "./browser.mjs";
import { pathToFileURL } from "node:url";

const [, , file, times] = process.argv;
const browser = await launched();
const opened = [];
const worked = [];
const moved = [];
for (let time = 0; time < Number(times); time += 1) {
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, offline: true });
  const page = await context.newPage();
  await page.addInitScript(() => {
    addEventListener("DOMContentLoaded", () => {
      const look = () => {
        if (document.querySelector(".lane .wave")) requestAnimationFrame(() => (window.shownAt = performance.now()));
        else requestAnimationFrame(look);
      };
      look();
    });
  });
  const session = await context.newCDPSession(page);
  await session.send("Performance.enable", { timeDomain: "threadTicks" });
  await page.goto(pathToFileURL(file).href);
  await page.waitForFunction(() => window.shownAt !== undefined);
  const { metrics } = await session.send("Performance.getMetrics");
  worked.push(metrics.find(({ name }) => name === "TaskDuration").value * 1000);
  opened.push(await page.evaluate(() => window.shownAt));
  await page.locator(".thumb.a").first().focus();
  await page.keyboard.press("End");
  moved.push(
    await page.evaluate(async () => {
      const frame = () => new Promise((done) => requestAnimationFrame(done));
      const times = [];
      for (const key of ["ArrowLeft", "PageUp", "+", "+", "0", "Home"]) {
        const began = performance.now();
        document.activeElement.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true }));
        await frame();
        await frame();
        times.push(performance.now() - began);
      }
      return Math.max(...times);
    }),
  );
  await context.close();
}
console.log(JSON.stringify({ opened, worked, moved }));
await browser.close();
