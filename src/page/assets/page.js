"use strict";
// What is sent is kept until it has arrived: first of all in localStorage, since a phone that lost its connection may lose the page
// too. Each sending has a number of its own, by which the bench knows one that came before.
const KEPT = "seedclock.unsent";
const DRAFT = "seedclock.draft." + location.pathname;
const RETRY_MS = 5000;

function kept() { try { return JSON.parse(localStorage.getItem(KEPT)) || []; } catch { return []; } }
function keep(list) { try { localStorage.setItem(KEPT, JSON.stringify(list)); return true; } catch { return false; } }
function ownNumber() { return Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join(""); }

async function send(path, body) {
  const answer = await fetch(path, {
    method: "POST", credentials: "same-origin", redirect: "error",
    headers: { "content-type": "application/json", "x-seedclock": "1" }, body: JSON.stringify(body),
  });
  let told = {};
  try { told = await answer.json(); } catch { /* what an answer says is not what it did */ }
  return { ok: answer.ok, status: answer.status, told };
}

// ---- saying ----
function say(words, options = {}) {
  const box = document.getElementById("said");
  const line = document.createElement("p");
  if (options.fault) line.className = "fault";
  line.append(words);
  if (options.undo && options.undo.length) {
    const button = document.createElement("button");
    button.textContent = "Undo";
    button.addEventListener("click", () => takeBack(options.undo));
    line.append(button);
  }
  if (options.command) {
    const button = document.createElement("button");
    button.textContent = "Undo";
    button.addEventListener("click", () => undo(options.command));
    line.append(button);
  }
  const close = document.createElement("button");
  close.textContent = "Close";
  close.addEventListener("click", () => line.remove());
  line.append(close);
  box.replaceChildren(line);
}

function faultWords(told, status) {
  const faults = told.faults || [];
  if (!faults.length) return "This was not done (" + status + ").";
  return faults.map((fault) => fault.what + (fault.next ? "; next: " + fault.next : "")).join(". ") + ".";
}

function showLink() {
  const link = document.getElementById("link");
  if (!link) return;
  const count = kept().length;
  link.hidden = count === 0;
  link.textContent = count === 0 ? "" : (count === 1 ? "One sending is" : count + " sendings are") + " kept on this device until the bench is in reach.";
}

// ---- what is kept and sent ----
let sending = false;
async function sendKept() {
  if (sending) return;
  sending = true;
  try {
    for (let list = kept(); list.length; list = kept()) {
      const first = list[0];
      let answer;
      try {
        answer = await send(first.path, { ...first.body, sent_ms: Date.now() });
      } catch {
        break;
      }
      if (answer.status === 503 || answer.status === 429 || answer.status === 403) {
        say(faultWords(answer.told, answer.status), { fault: true });
        break;
      }
      // Another tab may have put more behind it meanwhile.
      keep(kept().filter((one) => one.body.request !== first.body.request));
      if (answer.ok) say(answer.told.said, { undo: answer.told.looks });
      else say(faultWords(answer.told, answer.status) + " This was not recorded: " + first.words, { fault: true });
      await refresh();
    }
  } finally {
    sending = false;
    showLink();
  }
}

async function record(body, words) {
  body.request = ownNumber();
  const list = kept();
  list.push({ path: "/do/looks", body, words });
  const isKept = keep(list);
  showLink();
  if (isKept) {
    say("Kept: " + words);
    await sendKept();
    return;
  }
  // No room to keep it: sent at once, or said.
  try {
    const answer = await send("/do/looks", { ...body, sent_ms: Date.now() });
    say(answer.ok ? answer.told.said : faultWords(answer.told, answer.status), { fault: !answer.ok, undo: answer.told.looks });
  } catch {
    say("The bench is out of reach, and this device has no room to keep what you counted: write it down.", { fault: true });
  }
}

async function takeBack(looks) {
  try {
    const answer = await send("/do/looks/undo", { looks });
    say(answer.ok ? answer.told.said : faultWords(answer.told, answer.status), { fault: !answer.ok });
    await refresh();
    for (const form of document.querySelectorAll("form[data-grid]")) await gridAnew(form);
  } catch {
    say("The bench is out of reach: nothing was taken back.", { fault: true });
  }
}

// ---- counting ----
function lookOf(counted) {
  const look = { box: counted.dataset.box, stood: Number(counted.dataset.stood), sprouted: Number(counted.querySelector("[data-count]").textContent) };
  let touched = look.sprouted > 0;
  for (const field of counted.querySelectorAll("[data-field]")) {
    const text = field.value.trim();
    if (!text) continue;
    look[field.dataset.field] = field.dataset.field === "note" ? text : Number(text);
    touched = true;
  }
  const condition = counted.querySelector("[data-condition]:checked");
  if (condition) { look.condition = condition.value; touched = true; }
  counted.classList.toggle("touched", touched);
  return touched ? look : null;
}

function fieldsAreCounts(form) {
  for (const field of form.querySelectorAll("[data-field]:not([data-field=note])")) {
    const right = /^\d*$/.test(field.value.trim());
    field.setAttribute("aria-invalid", String(!right));
    if (!right) {
      field.closest("details").open = true;
      field.focus();
      say("'" + field.value + "' is no count: write a number.", { fault: true });
      return false;
    }
  }
  return true;
}

function saveDraft(form) {
  const looks = [...form.querySelectorAll(".counted")].map(lookOf).filter(Boolean);
  try {
    if (looks.length) localStorage.setItem(DRAFT, JSON.stringify({ at: Date.now(), looks }));
    else localStorage.removeItem(DRAFT);
  } catch { /* no room: it stays on the page */ }
}

function loadDraft(form) {
  let draft;
  try { draft = JSON.parse(localStorage.getItem(DRAFT)); } catch { return; }
  // What was counted hours ago belongs to that time; it is not mixed into this round.
  if (!draft || Date.now() - draft.at > 2 * 3600 * 1000) return;
  for (const look of draft.looks) {
    const counted = [...form.querySelectorAll(".counted")].find((one) => one.dataset.box === look.box);
    if (!counted) continue;
    counted.querySelector("[data-count]").textContent = look.sprouted;
    for (const field of counted.querySelectorAll("[data-field]")) field.value = look[field.dataset.field] ?? "";
    for (const radio of counted.querySelectorAll("[data-condition]")) radio.checked = radio.value === look.condition;
    lookOf(counted);
  }
}

function clearWalk(form) {
  form.reset();
  for (const count of form.querySelectorAll("[data-count]")) count.textContent = "0";
  for (const counted of form.querySelectorAll(".counted")) counted.classList.remove("touched");
  try { localStorage.removeItem(DRAFT); } catch { /* nothing was kept */ }
}

function walk(form) {
  loadDraft(form);
  form.addEventListener("click", (event) => {
    const button = event.target.closest("[data-more], [data-less]");
    if (!button) return;
    const count = button.closest(".counted").querySelector("[data-count]");
    count.textContent = Math.max(0, Number(count.textContent) + ("more" in button.dataset ? 1 : -1));
    saveDraft(form);
  });
  form.addEventListener("input", () => saveDraft(form));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (!fieldsAreCounts(form)) return;
    const how = event.submitter ? event.submitter.dataset.send : "touched";
    let looks = [...form.querySelectorAll(".counted")].map(lookOf).filter(Boolean);
    if (how === "one" && !looks.length) looks = [{ box: form.querySelector(".counted").dataset.box, sprouted: 0, stood: Number(form.querySelector(".counted").dataset.stood) }];
    if (!looks.length && how === "touched") { say("Nothing was touched: nothing to record.", { fault: true }); return; }
    const ago = Number(form.elements.ago.value) * 60000;
    const body = { at_ms: Date.now() - ago, sent_ms: Date.now(), looks };
    if (how === "rest") body.rest = form.dataset.spot;
    const words = looks.map((look) => look.box + ": " + (look.sprouted || "none") + " new").concat(how === "rest" ? ["the rest of " + form.dataset.spot + ": none new"] : []).join(", ") + ".";
    clearWalk(form);
    await record(body, words);
  });
}

// ---- forms ----
function sendForm(form) {
  const into = form.dataset.hashInto;
  if (into && location.hash.length > 1) form.elements[into].value = decodeURIComponent(location.hash.slice(1));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const body = Object.fromEntries(new FormData(form));
    if (event.submitter && event.submitter.name) body[event.submitter.name] = event.submitter.value;
    const buttons = form.querySelectorAll("button");
    buttons.forEach((button) => { button.disabled = true; });
    form.querySelectorAll("[data-fault]").forEach((line) => { line.hidden = true; });
    form.querySelectorAll("[aria-invalid]").forEach((field) => { field.removeAttribute("aria-invalid"); });
    try {
      const answer = await send(form.dataset.do, body);
      if (answer.ok) {
        if (answer.told.go) { sayThere(answer.told); location.assign(answer.told.go); return; }
        say(answer.told.said, { undo: answer.told.looks, command: answer.told.command });
        await refresh();
      } else {
        beside(form, answer);
      }
    } catch {
      say("The bench is out of reach: nothing was done. What you typed is still here.", { fault: true });
    } finally {
      buttons.forEach((button) => { button.disabled = false; });
    }
  });
}

// Each fault beside its field; what was typed stays.
function beside(form, answer) {
  const rest = [];
  let first = null;
  for (const fault of answer.told.faults || []) {
    const named = fault.field && form.querySelector('[data-fault="' + fault.field + '"]');
    const line = named || form.querySelector('[data-fault="all"]');
    if (!line) { rest.push(fault); continue; }
    const words = fault.what + (fault.next ? "; next: " + fault.next : "") + ".";
    line.textContent = line.hidden ? words : line.textContent + " " + words;
    line.hidden = false;
    const folded = line.closest("details");
    if (folded) folded.open = true;
    const field = named && form.elements[fault.field];
    if (field && field.setAttribute) field.setAttribute("aria-invalid", "true");
    // The one that stands highest.
    const there = field && field.focus ? field : line;
    if (!first || there.compareDocumentPosition(first) & Node.DOCUMENT_POSITION_FOLLOWING) first = there;
  }
  if (first) first.focus();
  if (rest.length || !(answer.told.faults || []).length) say(faultWords({ faults: rest }, answer.status), { fault: true });
}

// ---- said after going on ----
const SAID = "seedclock.said";
function sayThere(told) {
  try { sessionStorage.setItem(SAID, JSON.stringify(told)); } catch { /* it is on record all the same */ }
}
function saidBefore() {
  try {
    const told = JSON.parse(sessionStorage.getItem(SAID));
    sessionStorage.removeItem(SAID);
    if (told) say(told.said, { undo: told.looks, command: told.command });
  } catch { /* nothing was said */ }
}

async function undo(command) {
  try {
    const answer = await send("/do/undo", { command });
    if (!answer.ok) { say(faultWords(answer.told, answer.status), { fault: true }); return; }
    // What this page was about may be gone with it.
    const here = await fetch(location.href, { credentials: "same-origin" });
    sayThere(answer.told);
    if (here.ok) location.reload(); else location.assign("/");
  } catch {
    say("The bench is out of reach: nothing was taken back.", { fault: true });
  }
}

// ---- live ----
// The parts that tell are fetched anew; what is being filled in stays.
let refreshing = null;
let again = false;
function refresh() {
  // What is fetched before a change must not be shown after it.
  if (refreshing) { again = true; return refreshing; }
  refreshing = (async () => {
    do { again = false; await fetchParts(); } while (again);
    refreshing = null;
  })();
  return refreshing;
}

async function fetchParts() {
  const parts = [...document.querySelectorAll("[data-part]")];
  if (!parts.length) return;
  let text;
  try {
    const answer = await fetch(location.href, { credentials: "same-origin" });
    if (!answer.ok) return;
    text = await answer.text();
  } catch { return; }
  const fresh = new DOMParser().parseFromString(text, "text/html");
  for (const part of parts) {
    const other = fresh.querySelector('[data-part="' + part.dataset.part + '"]');
    if (!other || part.innerHTML === other.innerHTML) continue;
    if (part.contains(document.activeElement) && document.activeElement.matches("input, textarea, select")) continue;
    // What was opened by a touch stays open.
    const opened = [...part.querySelectorAll("details[open] > summary")].map((summary) => summary.textContent);
    for (const summary of other.querySelectorAll("summary")) if (opened.includes(summary.textContent)) summary.parentElement.open = true;
    part.replaceWith(document.adoptNode(other));
  }
  arm();
}

function arm() {
  for (const form of document.querySelectorAll("form[data-do]:not([data-armed])")) { form.dataset.armed = "1"; sendForm(form); }
  for (const form of document.querySelectorAll("form[data-walk]:not([data-armed])")) { form.dataset.armed = "1"; walk(form); }
  for (const button of document.querySelectorAll("[data-undo]:not([data-armed])")) {
    button.dataset.armed = "1";
    button.addEventListener("click", () => takeBack([[button.dataset.box, button.dataset.time]]));
  }
}

// ---- ticking all boxes of a spot ----
for (const button of document.querySelectorAll("[data-tick-all]")) {
  button.addEventListener("click", () => {
    const ticks = [...button.closest(".ticks").querySelectorAll("input")];
    const all = ticks.every((tick) => tick.checked);
    ticks.forEach((tick) => { tick.checked = !all; });
  });
}

// ---- photographs ----
// A large one is made small here already where the browser can, also one of a kind that only the browser reads.
async function smaller(file) {
  if (file.size <= 2e6 && /^image\/(jpeg|png)$/.test(file.type)) return file;
  try {
    const picture = await createImageBitmap(file);
    const share = Math.min(1, 1600 / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * share);
    canvas.height = Math.round(picture.height * share);
    const pen = canvas.getContext("2d");
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, canvas.width, canvas.height);
    pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
    return (await new Promise((done) => { canvas.toBlob(done, "image/jpeg", 0.92); })) || file;
  } catch { return file; }
}

function photoForm(form) {
  const input = form.querySelector("input[type=file]");
  // One number a file: sent again after an answer that was lost, it is not kept twice.
  let request = ownNumber();
  input.addEventListener("change", () => { request = ownNumber(); form.querySelectorAll("[data-fault]").forEach((line) => { line.hidden = true; }); });
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const file = input.files[0];
    if (!file) return;
    const button = form.querySelector("button");
    button.disabled = true;
    form.querySelectorAll("[data-fault]").forEach((line) => { line.hidden = true; });
    say("Sending the photograph …");
    try {
      const body = await smaller(file);
      const now = Date.now();
      const about = new URLSearchParams({ request, at_ms: file.lastModified || now, sent_ms: now });
      const reply = await fetch(form.dataset.photo + "?" + about, {
        method: "POST", credentials: "same-origin", redirect: "error",
        headers: { "content-type": body.type || "application/octet-stream", "x-seedclock": "1" }, body,
      });
      const answer = { ok: reply.ok, status: reply.status, told: await reply.json().catch(() => ({})) };
      if (answer.ok) {
        form.reset();
        request = ownNumber();
        say(answer.told.said);
        await refresh();
      } else {
        document.getElementById("said").replaceChildren();
        beside(form, answer);
      }
    } catch {
      say("The bench is out of reach: the photograph was not sent. It is still chosen here.", { fault: true });
    } finally {
      button.disabled = false;
    }
  });
}

// ---- a grid typed in ----
// What was typed is kept by box and day until it is on record, whichever days are shown. Its number holds for as long as nothing of it
// is changed.
const GRID = "seedclock.grid";

function gridDraft() { try { return JSON.parse(localStorage.getItem(GRID)) || {}; } catch { return {}; } }
function keepGrid(draft) {
  try {
    if (Object.keys(draft.cells || {}).length) localStorage.setItem(GRID, JSON.stringify(draft));
    else localStorage.removeItem(GRID);
  } catch { /* no room: it stays on the page */ }
}
function cellKey(input) { return JSON.stringify([input.closest("tr").dataset.box, input.dataset.day]); }

function fillGrid(form) {
  const draft = gridDraft();
  for (const input of form.querySelectorAll("input[data-place]")) input.value = (draft.cells || {})[cellKey(input)] ?? "";
  if (draft.time && form.elements.time) form.elements.time.value = draft.time;
}

function gridForm(form) {
  let request = gridDraft().request || ownNumber();
  fillGrid(form);
  // On a narrow screen the first day to be filled in comes into sight.
  const across = form.querySelector(".across");
  const first = [...form.querySelectorAll("input[data-place]")].sort((a, b) => a.dataset.place - b.dataset.place)[0];
  if (first) across.scrollLeft = first.getBoundingClientRect().left - across.getBoundingClientRect().left - form.querySelector("th").offsetWidth - 8;
  form.addEventListener("input", (event) => {
    const draft = gridDraft();
    draft.cells = draft.cells || {};
    draft.time = form.elements.time.value;
    draft.request = request = ownNumber();
    for (const input of form.querySelectorAll("input[data-place]")) {
      if (input.value.trim()) draft.cells[cellKey(input)] = input.value;
      else delete draft.cells[cellKey(input)];
    }
    keepGrid(draft);
    const line = event.target.name && form.querySelector('[data-fault="' + event.target.name + '"]');
    if (line) { line.hidden = true; event.target.removeAttribute("aria-invalid"); }
  });
  // As in any table that is typed into: Enter and the arrows go down and up a column.
  form.addEventListener("keydown", (event) => {
    const step = { Enter: 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (!step || !event.target.matches("input[data-place]")) return;
    event.preventDefault();
    const column = [...form.querySelectorAll('input[data-place="' + event.target.dataset.place + '"]')];
    const next = column[column.indexOf(event.target) + step];
    if (next) { next.focus(); next.select(); }
  });
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const inputs = [...form.querySelectorAll("input[data-place]")];
    const rows = [...form.querySelectorAll("tr[data-row]")].map((row) => {
      const counts = [];
      for (const input of row.querySelectorAll("input[data-place]")) counts[Number(input.dataset.place)] = input.value.trim();
      return { row: Number(row.dataset.row), box: row.dataset.box, counts: Array.from(counts, (typed) => typed || "") };
    }).filter((row) => row.counts.some(Boolean));
    const button = form.querySelector("button.main");
    button.disabled = true;
    form.querySelectorAll("[data-fault]").forEach((line) => { line.hidden = true; });
    inputs.forEach((input) => input.removeAttribute("aria-invalid"));
    try {
      const answer = await send("/do/grid", { request, from: form.dataset.from, time: form.elements.time.value, rows });
      if (answer.ok) {
        const draft = gridDraft();
        for (const input of inputs) delete (draft.cells || {})[cellKey(input)];
        draft.request = request = ownNumber();
        keepGrid(draft);
        say(answer.told.said, { undo: answer.told.looks });
        await gridAnew(form);
      } else {
        beside(form, answer);
        const ill = (answer.told.faults || []).map((fault) => fault.field && form.elements[fault.field]).filter(Boolean);
        ill.forEach((field) => field.setAttribute("aria-invalid", "true"));
        if (ill.length) ill[0].focus();
        if (ill.length) say((ill.length === 1 ? "One entry cannot be so" : ill.length + " entries cannot be so") + ": nothing was recorded, and what you typed is still here.", { fault: true });
      }
    } catch {
      say("The bench is out of reach: nothing was recorded. What you typed is kept on this device.", { fault: true });
    } finally {
      button.disabled = false;
    }
  });
}

async function gridAnew(form) {
  let text;
  try { text = await (await fetch(location.href, { credentials: "same-origin" })).text(); } catch { return; }
  const table = new DOMParser().parseFromString(text, "text/html").querySelector("form[data-grid] table");
  if (!table) return;
  form.querySelector("table").replaceWith(document.adoptNode(table));
  fillGrid(form);
}

function armPaper() {
  for (const form of document.querySelectorAll("form[data-photo]:not([data-armed])")) { form.dataset.armed = "1"; photoForm(form); }
  for (const form of document.querySelectorAll("form[data-grid]:not([data-armed])")) { form.dataset.armed = "1"; gridForm(form); }
  for (const button of document.querySelectorAll("[data-print]:not([data-armed])")) { button.dataset.armed = "1"; button.addEventListener("click", () => print()); }
}
armPaper();

arm();
showLink();
saidBefore();
if (document.body.hasAttribute("data-known")) {
  const news = new EventSource("/live?known=" + document.body.dataset.known);
  news.addEventListener("bench", refresh);
  news.addEventListener("picture", refresh);
  news.addEventListener("open", sendKept);
  setInterval(sendKept, RETRY_MS);
  addEventListener("online", sendKept);
  sendKept();
}

// ---- a bench folder ----
// Looked through first; sent again to be taken in, so that the bench keeps nothing in between.
function folderForm(form) {
  const outcome = form.querySelector("[data-outcome]");
  const taking = form.querySelector('[data-act="take"]');
  const forget = () => { taking.hidden = true; outcome.replaceChildren(); form.querySelectorAll("[data-fault]").forEach((line) => { line.hidden = true; }); };
  form.addEventListener("change", forget);
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const act = event.submitter ? event.submitter.dataset.act : "examine";
    const body = new FormData();
    for (const file of form.elements.file.files) body.append("file", file, file.name);
    const ticks = new URLSearchParams();
    for (const tick of form.querySelectorAll("input[type=checkbox]:checked")) ticks.set(tick.name, "yes");
    const buttons = form.querySelectorAll("button");
    buttons.forEach((button) => { button.disabled = true; });
    forget();
    outcome.textContent = "Sending and reading …";
    try {
      const reply = await fetch(form.dataset.folder + "/" + act + "?" + ticks, { method: "POST", credentials: "same-origin", redirect: "error", headers: { "x-seedclock": "1" }, body });
      const told = await reply.json().catch(() => ({}));
      outcome.replaceChildren();
      const beside = (told.faults || []).find((fault) => fault.field);
      if (reply.ok) {
        outcome.textContent = told.said;
        taking.hidden = act === "take";
        if (act === "take") form.reset();
      } else if (beside) {
        const line = form.querySelector('[data-fault="' + beside.field + '"]');
        line.textContent = beside.what + ".";
        line.hidden = false;
        form.elements[beside.field].focus();
      } else {
        const faults = told.faults || [{ what: "this was not done (" + reply.status + ")" }];
        const head = document.createElement("p");
        head.className = "fault";
        head.textContent = (faults.length === 1 ? "One thing is wrong" : faults.length + " things are wrong") + "; nothing was taken in.";
        const list = document.createElement("ul");
        for (const fault of faults) {
          const line = document.createElement("li");
          line.textContent = fault.what + (fault.next ? "; next: " + fault.next : "") + ".";
          list.append(line);
        }
        outcome.append(head, list);
        outcome.focus();
      }
    } catch {
      outcome.textContent = "The bench is out of reach: nothing was taken in. The files are still chosen here.";
    } finally {
      buttons.forEach((button) => { button.disabled = false; });
    }
  });
}
for (const form of document.querySelectorAll("form[data-folder]")) folderForm(form);
