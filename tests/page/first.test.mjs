// Somebody new opens the demo's page: finds which box is slow and why, records three checks and prints a label, without reading anything.
import assert from "node:assert/strict";
import { mkdirSync } from "node:fs";
import { after, test } from "node:test";
import { Bench, closed, phone } from "./bench.mjs";

after(closed);
const SHOTS = process.env.SEEDCLOCK_SHOTS ?? "target/page-shots";
mkdirSync(SHOTS, { recursive: true });

test("somebody new finds the slow box, records three checks and prints a label", async () => {
  const bench = Bench.demo();
  try {
    const address = await bench.serve();
    const { page, complaints } = await phone();
    const shot = (name) => page.screenshot({ path: `${SHOTS}/first-${name}.png` });
    await page.goto(address);
    // The day's sentence names what is slow; its box says why and what to do.
    await page.getByRole("heading", { name: /slower than need be: .*C3/ }).waitFor();
    await shot("1-today");
    await page.getByRole("link", { name: /C3.*too cold/ }).tap();
    await page.getByRole("heading", { name: "Is it slow, and why" }).waitFor();
    await page.getByText(/spot is (too )?cold/).first().waitFor();
    await page.getByText(/Moving it to heat mat today/).waitFor();
    await shot("2-box");
    // Three checks: one with sprouts, the rest of its sill, and one on the way back.
    await page.getByRole("link", { name: "porch sill" }).tap();
    await page.getByRole("button", { name: "C3: one more sprout" }).tap();
    await page.getByRole("button", { name: /rest of porch sill/ }).tap();
    await page.getByText("C3: 1 new; 1 of 25 has sprouted.").waitFor();
    await shot("3-round");
    await page.goto(`${address}/box/C1`);
    await page.getByRole("button", { name: "Record this look" }).tap();
    await page.getByText("C1: none new").last().waitFor();
    assert.equal(bench.looks("C3").sprouted, 1);
    // And a label, on paper.
    await page.getByRole("link", { name: "More" }).tap();
    await page.getByRole("link", { name: /^Labels/ }).tap();
    await page.locator("svg title", { hasText: "C3" }).first().waitFor({ state: "attached" });
    await shot("4-labels");
    const pdf = await page.pdf({ preferCSSPageSize: true });
    assert.ok(pdf.length > 5_000 && pdf.subarray(0, 5).toString() === "%PDF-", `${pdf.length} bytes`);
    assert.deepEqual(complaints, []);
  } finally {
    await bench.remove();
  }
});
