// A bench of its own, its page served by the real program, and a real browser in front of it.
import { execFileSync, spawn } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import process from "node:process";

// Where `tests/all` installs what the registry gives; nothing of it lies in the repository.
const require = createRequire(resolve(process.env.SEEDCLOCK_BROWSER_MODULES ?? "target/browser", "index.js"));
const { chromium } = require("playwright-core");
export const axe = require("axe-core").source;

const PROGRAM = process.env.SEEDCLOCK_PROGRAM ?? "target/release/seedclock";
const BROWSER = process.env.SEEDCLOCK_CHROMIUM ?? "/usr/bin/chromium";
const FLAGS = [
  "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update",
  "--disable-sync", "--host-resolver-rules=MAP bench.lan 127.0.0.1",
];

export class Bench {
  /** A new bench, empty until something is sown. */
  constructor() {
    this.folder = mkdtempSync(join(tmpdir(), "seedclock-page-"));
    this.file = join(this.folder, "bench.db");
  }

  /** The made-up bench of the demo. */
  static demo() {
    const bench = new Bench();
    bench.run("demo");
    return bench;
  }

  /** Runs a command of the program; gives what it printed. */
  run(...words) {
    return execFileSync(PROGRAM, ["--bench", this.file, ...words], { encoding: "utf8", stdio: ["ignore", "pipe", "pipe"], env: { ...process.env, TZ: "Europe/Berlin" } });
  }

  /** How many have sprouted in a box, in how many looks: from the bench folder, not from the page. */
  looks(box) {
    const folder = join(this.folder, "out" + Math.random());
    this.run("export", folder);
    const rows = readFileSync(join(folder, "checks.csv"), "utf8").trim().split("\n").map((line) => line.split(","));
    const column = Object.fromEntries(rows[0].map((name, at) => [name, at]));
    const mine = rows.slice(1).filter((row) => row[column.container] === box);
    return { looks: mine.length, sprouted: mine.reduce((sum, row) => sum + Number(row[column.sprouted]), 0) };
  }

  /** Serves its page; gives the address. */
  async serve(...options) {
    this.page = spawn(PROGRAM, ["--bench", this.file, "page", ...(options.length ? options : ["--listen", "127.0.0.1:0"])], { stdio: ["ignore", "ignore", "pipe"] });
    let said = "";
    this.address = await new Promise((resolve, reject) => {
      this.page.stderr.on("data", (bytes) => {
        said += bytes;
        const found = said.match(/the page is at (http:\S+?);/);
        if (found) resolve(found[1]);
      });
      this.page.on("exit", (code) => reject(new Error(`the page ended with ${code}: ${said}`)));
    });
    return this.address;
  }

  /** Stops serving, as a service manager would, and says how it ended. */
  async stop() {
    if (!this.page || this.page.exitCode !== null) return this.page?.exitCode;
    this.page.removeAllListeners("exit");
    const ended = new Promise((resolve) => this.page.on("exit", resolve));
    this.page.kill("SIGTERM");
    return ended;
  }

  async remove() {
    await this.stop();
    rmSync(this.folder, { recursive: true, force: true });
  }
}

let browser;
export async function opened() {
  browser ??= await chromium.launch({ executablePath: BROWSER, args: FLAGS });
  return browser;
}

export async function closed() {
  await browser?.close();
  browser = undefined;
}

/** A phone of its own, that fails the test where its pages complain or ask anything of another host. */
export async function phone(options = {}) {
  const context = await (await opened()).newContext({ viewport: { width: 390, height: 800 }, hasTouch: true, ...options });
  const complaints = [];
  context.on("request", (request) => {
    const url = new URL(request.url());
    if (!["127.0.0.1", "localhost", "bench.lan"].includes(url.hostname) && url.protocol !== "blob:" && url.protocol !== "data:") complaints.push(`asks ${request.url()}`);
  });
  const page = await context.newPage();
  page.on("console", (message) => {
    // A connection that the test itself cuts is told by the browser.
    const cut = /net::ERR_(INTERNET_DISCONNECTED|FAILED|CONNECTION_REFUSED|INCOMPLETE_CHUNKED_ENCODING|EMPTY_RESPONSE)/.test(message.text());
    if (["error", "warning"].includes(message.type()) && !cut) complaints.push(`${message.type()}: ${message.text()}`);
  });
  page.on("pageerror", (error) => complaints.push(String(error)));
  return { context, page, complaints };
}
