// The morning check: in few touches, without a connection, from two phones, taken back.
import assert from "node:assert/strict";
import { after, test } from "node:test";
import { Bench, closed, phone } from "./bench.mjs";

after(closed);

/** Boxes sown this very moment. */
async function fresh(count, spot = "sill") {
  const bench = new Bench();
  bench.run("sow", `A1..A${count}`, "--species", "leek", "--seeds", "20", "--spot", spot);
  return bench;
}

test("forty boxes, five with something: at most twenty touches", async () => {
  const bench = await fresh(40);
  try {
    const address = await bench.serve();
    const { page, complaints } = await phone();
    await page.goto(address);
    let touches = 0;
    const touch = async (what) => { touches += 1; await what.tap(); };
    await touch(page.getByRole("link", { name: "A round" }));
    await touch(page.getByRole("link", { name: /^sill/ }));
    for (const [box, count] of [["A3", 1], ["A11", 2], ["A12", 3], ["A29", 1], ["A40", 2]]) {
      for (let n = 0; n < count; n += 1) await touch(page.getByRole("button", { name: `${box}: one more sprout` }));
    }
    await touch(page.getByRole("button", { name: /rest of sill/ }));
    await page.getByText("35 looked at, none new.").waitFor();
    assert.ok(touches <= 20, `${touches} touches`);
    assert.deepEqual(bench.looks("A12"), { looks: 1, sprouted: 3 });
    assert.deepEqual(bench.looks("A13"), { looks: 1, sprouted: 0 });
    assert.deepEqual(complaints, []);
  } finally {
    await bench.remove();
  }
});

test("a look is taken back by one touch", async () => {
  const bench = await fresh(2);
  try {
    const address = await bench.serve();
    const { page, complaints } = await phone();
    await page.goto(`${address}/box/A1`);
    await page.getByRole("button", { name: "one more sprout" }).tap();
    await page.getByText("more", { exact: true }).tap();
    await page.getByLabel("mould", { exact: true }).tap();
    await page.getByLabel("Note").fill("white fluff at the edge");
    await page.getByRole("button", { name: "Record this look" }).tap();
    await page.getByText("A1: 1 new, mould; 1 of 20 has sprouted.").waitFor();
    await page.getByText("white fluff at the edge").waitFor();
    assert.deepEqual(bench.looks("A1"), { looks: 1, sprouted: 1 });
    await page.getByRole("button", { name: "Undo" }).tap();
    await page.getByText("Taken back: the look.").waitFor();
    assert.deepEqual(bench.looks("A1"), { looks: 0, sprouted: 0 });
    assert.deepEqual(complaints, []);
  } finally {
    await bench.remove();
  }
});

for (const where of ["this computer", "a LAN name over plain http"]) {
  test(`without a connection counts are kept and sent once, at ${where}`, async () => {
    const bench = await fresh(3);
    try {
      const lan = where !== "this computer";
      let address = await bench.serve(...(lan ? ["--listen", "127.0.0.1:0", "--name", "bench.lan"] : []));
      if (lan) address = address.replace("127.0.0.1", "bench.lan");
      const { context, page, complaints } = await phone();
      if (lan) {
        await page.goto(address);
        await page.getByText("this device is not paired with the bench").waitFor();
        const link = bench.run("pair", "--helper", "--url", address).match(/http:\S+#\S+/)[0];
        await page.goto(link);
        await page.getByRole("button", { name: "Pair this device" }).tap();
        await page.getByRole("heading", { name: /3 boxes/ }).waitFor();
        assert.equal(await page.evaluate(() => isSecureContext), false);
        // The browser tells that the first page was refused.
        complaints.length = 0;
      }
      await page.goto(`${address}/round/sill`);
      await context.setOffline(true);
      await page.getByRole("button", { name: "A2: one more sprout" }).tap();
      await page.getByRole("button", { name: /rest of sill/ }).tap();
      await page.getByText("One sending is kept on this device").waitFor();
      await page.getByRole("button", { name: "A3: one more sprout" }).tap();
      await page.getByRole("button", { name: /only what was touched/ }).tap();
      await page.getByText("2 sendings are kept on this device").waitFor();
      assert.equal(bench.looks("A2").looks, 0);
      await context.setOffline(false);
      await page.getByText("A3: 1 new; 1 of 20").waitFor();
      await page.locator("#link").waitFor({ state: "hidden" });
      assert.deepEqual(bench.looks("A2"), { looks: 1, sprouted: 1 });
      assert.deepEqual(bench.looks("A3"), { looks: 2, sprouted: 1 });
      assert.deepEqual(complaints, []);
    } finally {
      await bench.remove();
    }
  });
}

test("an answer that is lost on its way makes no second look", async () => {
  const bench = await fresh(2);
  try {
    const address = await bench.serve();
    const { page } = await phone();
    await page.goto(`${address}/round/sill`);
    let lost = 0;
    await page.route("**/do/looks", async (route) => {
      if (lost === 0) {
        lost += 1;
        await route.fetch();
        await route.abort("failed");
      } else {
        await route.continue();
      }
    });
    await page.getByRole("button", { name: "A1: one more sprout" }).tap();
    await page.getByRole("button", { name: /only what was touched/ }).tap();
    await page.getByText("Recorded before; nothing twice.").waitFor();
    assert.equal(lost, 1);
    assert.deepEqual(bench.looks("A1"), { looks: 1, sprouted: 1 });
  } finally {
    await bench.remove();
  }
});

test("what was counted survives the page being closed before it was sent", async () => {
  const bench = await fresh(2);
  try {
    const address = await bench.serve();
    const { context, page } = await phone();
    await page.goto(`${address}/round/sill`);
    await page.getByRole("button", { name: "A2: one more sprout" }).tap();
    await page.close();
    const again = await context.newPage();
    await again.goto(`${address}/round/sill`);
    await again.locator('[data-box="A2"].touched').waitFor();
    await again.getByRole("button", { name: /only what was touched/ }).tap();
    await again.getByText("A2: 1 new; 1 of 20").waitFor();
    assert.deepEqual(bench.looks("A2"), { looks: 1, sprouted: 1 });
  } finally {
    await bench.remove();
  }
});

test("two phones at once lose nothing, and each sees what the other recorded", async () => {
  const bench = await fresh(2);
  try {
    const address = await bench.serve();
    const [one, two] = [await phone(), await phone()];
    await one.page.goto(`${address}/box/A1`);
    await two.page.goto(`${address}/box/A1`);
    await one.page.getByRole("button", { name: "one more sprout" }).tap();
    await two.page.getByRole("button", { name: "one more sprout" }).tap();
    await Promise.all([one, two].map(({ page }) => page.getByRole("button", { name: "Record this look" }).tap()));
    for (const { page } of [one, two]) await page.getByText("2 of 20 have sprouted.", { exact: true }).waitFor();
    const said = await Promise.all([one, two].map(({ page }) => page.locator("#said").innerText()));
    assert.ok(said.some((words) => words.includes("Meanwhile somebody else counted 1 in A1")), said.join(" | "));
    assert.deepEqual(bench.looks("A1"), { looks: 2, sprouted: 2 });
  } finally {
    await bench.remove();
  }
});

test("a count that cannot be is kept, asked about, and settled", async () => {
  const bench = await fresh(1);
  try {
    const address = await bench.serve();
    const { page, complaints } = await phone();
    await page.goto(`${address}/box/A1`);
    for (let n = 0; n < 21; n += 1) await page.getByRole("button", { name: "one more sprout" }).tap();
    await page.getByRole("button", { name: "Record this look" }).tap();
    await page.getByText(/kept, and asked about on Today/).waitFor();
    await page.getByRole("link", { name: "Today" }).tap();
    await page.getByRole("heading", { name: "Is this right?" }).waitFor();
    assert.equal(await page.getByLabel("Number").inputValue(), "21");
    await page.getByRole("button", { name: "It held so many seeds" }).tap();
    await page.getByRole("heading", { name: "Is this right?" }).waitFor({ state: "detached" });
    assert.deepEqual(bench.looks("A1"), { looks: 1, sprouted: 21 });
    assert.deepEqual(complaints, []);
  } finally {
    await bench.remove();
  }
});
