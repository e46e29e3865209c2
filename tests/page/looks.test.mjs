// How every page looks: at three widths, by day and by night, read aloud, with names that are markup.
import assert from "node:assert/strict";
import { mkdirSync } from "node:fs";
import { after, test } from "node:test";
import { Bench, axe, closed, phone } from "./bench.mjs";

after(closed);
const SHOTS = process.env.SEEDCLOCK_SHOTS ?? "target/page-shots";
mkdirSync(SHOTS, { recursive: true });

// Every page of the demo bench that is read: what varies in their addresses filled in.
const PAGES = ["/", "/round", "/round/porch%20sill", "/box/C3", "/box/C4", "/pair",
  "/more", "/boxes", "/sow", "/sow?like=C3", "/move?box=C3", "/place", "/probes", "/lots", "/lot", "/spots", "/spot", "/spot?name=porch%20sill", "/box/C3/right",
  "/compare", "/compare?by=spot&species=tomato", "/plan", "/plan/trial", "/details", "/status", "/report", "/folder", "/labels", "/sheet", "/grid"];

test("every page fits, reads aloud and complains of nothing", async () => {
  const bench = Bench.demo();
  try {
    const address = await bench.serve();
    for (const [width, colorScheme] of [[320, "light"], [320, "dark"], [768, "light"], [1440, "light"], [1440, "dark"]]) {
      const { page, context, complaints } = await phone({ viewport: { width, height: 900 }, colorScheme });
      await page.goto(address);
      await page.getByRole("heading", { name: "What is slow, and why" }).waitFor();
      for (const path of PAGES) {
        await page.goto(address + path);
        await page.waitForLoadState("load");
        const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
        assert.ok(wide <= 0, `${path} at ${width} px is ${wide} px too wide`);
        await page.evaluate(axe);
        const found = await page.evaluate(() => globalThis.axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }));
        const serious = found.violations.filter((one) => ["serious", "critical"].includes(one.impact));
        assert.deepEqual(serious.map((one) => [one.id, one.nodes.map((node) => node.html).slice(0, 3)]), [], `${path} at ${width} px, ${colorScheme}`);
        await page.screenshot({ path: `${SHOTS}/${path.replace(/\W+/g, "_")}-${width}-${colorScheme}.png`, fullPage: true });
      }
      assert.deepEqual(complaints, [], `${width} ${colorScheme}`);
      await context.close();
    }
  } finally {
    await bench.remove();
  }
});

test("names that are markup are names", async () => {
  const bench = new Bench();
  const evil = "<img src=x onerror=alert(1)>";
  try {
    bench.run("sow", evil, "--species", "<script>alert(2)</script>", "--seeds", "20", "--spot", "\"><svg onload=alert(3)>", "--lot", "';alert(4)//");
    bench.run("check", evil, "2", "--note", "<b onmouseover=alert(5)>bold</b>", "--condition", "&lt;dry&gt;");
    const address = await bench.serve();
    const { page, complaints } = await phone();
    page.on("dialog", (dialog) => { complaints.push(dialog.message()); dialog.dismiss(); });
    for (const path of ["/", "/round", `/round/${encodeURIComponent("\"><svg onload=alert(3)>")}`, `/box/${encodeURIComponent(evil)}`,
      `/sow?like=${encodeURIComponent(evil)}`, "/move", "/spots", "/lots", "/boxes", "/more", `/box/${encodeURIComponent(evil)}/right`]) {
      const answer = await page.goto(address + path);
      assert.equal(answer.status(), 200, path);
      assert.equal(await page.locator("img[src=x], b, main script").count(), 0, path);
    }
    await page.goto(`${address}/box/${encodeURIComponent(evil)}`);
    await page.getByText("<b onmouseover=alert(5)>bold</b>").waitFor();
    assert.deepEqual(complaints, []);
  } finally {
    await bench.remove();
  }
});
