// Record-keeping on a phone: sown, moved, put right and taken back, with faults beside their fields.
import assert from "node:assert/strict";
import { after, test } from "node:test";
import { Bench, closed, phone } from "./bench.mjs";

after(closed);

test("boxes are sown on a phone, like others, and taken back by one touch", async () => {
  const bench = new Bench();
  bench.run("sow", "A1", "--species", "leek", "--seeds", "20", "--spot", "sill");
  try {
    const address = await bench.serve();
    const { page, complaints } = await phone();
    await page.goto(address);
    await page.getByRole("link", { name: "Sow", exact: true }).tap();
    await page.getByRole("link", { name: /^Again like A1/ }).tap();
    assert.equal(await page.getByLabel("Name of the box").inputValue(), "A2");
    assert.equal(await page.getByLabel("Plant").inputValue(), "leek");
    await page.getByLabel("Name of the box").fill("A2..A4");
    await page.getByRole("button", { name: "Record this sowing" }).tap();
    await page.getByText(/A2, A3, A4: 20 seeds of leek each, sown on/).waitFor();
    await page.getByRole("heading", { name: /4 boxes/ }).waitFor();
    await page.getByRole("button", { name: "Undo" }).tap();
    await page.getByText(/Taken back: the sowing of/).waitFor();
    await page.getByRole("heading", { name: /1 box/ }).waitFor();
    assert.deepEqual(complaints, []);
  } finally {
    await bench.remove();
  }
});

test("a fault stands beside its field, folded or not, and what was typed stays", async () => {
  const bench = new Bench();
  bench.run("sow", "A1", "--species", "leek", "--seeds", "20", "--spot", "sill");
  try {
    const address = await bench.serve();
    const { page } = await phone();
    await page.goto(`${address}/sow`);
    await page.getByLabel("Plant").fill("leek");
    await page.getByLabel("Name of the box").fill("A1");
    await page.getByLabel("Seeds in each box").fill("many");
    await page.getByLabel("Spot", { exact: true }).fill("sill");
    await page.getByText("Depth, batch, lid").tap();
    await page.getByLabel("Depth, mm").fill("deep");
    await page.getByText("Depth, batch, lid").tap();
    await page.getByRole("button", { name: "Record this sowing" }).tap();
    await page.getByText("'many' is no count: write a whole number.").waitFor();
    await page.getByText("'deep' is no number.").waitFor();
    assert.equal(await page.evaluate(() => document.activeElement.name), "seeds");
    assert.equal(await page.getByLabel("Plant").inputValue(), "leek");
    await page.getByLabel("Seeds in each box").fill("30");
    await page.getByLabel("Depth, mm").fill("5");
    await page.getByRole("button", { name: "Record this sowing" }).tap();
    await page.getByText(/box 'A1' is known already/).waitFor();
    assert.equal(await page.locator("#f-names").getAttribute("aria-invalid"), "true");
    assert.equal(await page.locator("#f-seeds").getAttribute("aria-invalid"), null);
  } finally {
    await bench.remove();
  }
});

test("all boxes of a spot are moved, and a look is put right", async () => {
  const bench = new Bench();
  const daysAgo = (days) => new Date(Date.now() - days * 86_400_000).toISOString();
  bench.run("sow", "A1..A3", "--species", "leek", "--seeds", "20", "--spot", "sill", "--at", daysAgo(3));
  bench.run("check", "A2", "3", "--at", daysAgo(1));
  try {
    const address = await bench.serve();
    const { page, complaints } = await phone();
    await page.goto(`${address}/move`);
    await page.getByRole("button", { name: "All of sill" }).tap();
    await page.getByLabel("Or to a new spot").fill("mat");
    await page.getByRole("button", { name: "Record this move" }).tap();
    await page.getByText(/A1, A2, A3: at 'mat' from .* on; 'mat' is a new spot/).waitFor();
    await page.goto(`${address}/box/A2`);
    await page.getByRole("link", { name: /^Put right the look/ }).tap();
    assert.equal(await page.getByLabel("New sprouts").inputValue(), "3");
    await page.getByLabel("New sprouts").fill("2");
    await page.getByRole("button", { name: "Record it so" }).tap();
    await page.getByText(/new 2 \(before: 3\)/).waitFor();
    assert.deepEqual(bench.looks("A2"), { looks: 1, sprouted: 2 });
    assert.deepEqual(complaints, []);
  } finally {
    await bench.remove();
  }
});
