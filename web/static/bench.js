// The bench page with script: keys write into the field, a reading stands on the
// tape at once and waits in the queue, the page moves on by itself, and the edge
// never claims more than was measured. Without script the same forms are sent
// as they are.
import { Queue, uuid7 } from "./queue.js";
import { parse, verdict } from "./verdict.js";

const $ = (id) => document.getElementById(id);
const tableOf = (doc) => JSON.parse(doc.getElementById("offline-table").textContent);

let table = $("offline-table") ? tableOf(document) : null;
let queue = null;
document.documentElement.style.overflowAnchor = "none"; // steady sees to it, in every browser
let fresh = 0; // counts what was stored since the page was drawn

const said = (text) => steady(() => ($("said").textContent = text));

/* Keys and keyboard */

const field = () => $("f-typed");

function press(key) {
  const f = field();
  if (key === "⌫") f.value = f.value === "OL" || f.value === "0.00" ? "" : f.value.slice(0, -1);
  else if (key === "OL" || key === "0.00") f.value = key;
  else if (key === "-") f.value = f.value.startsWith("-") ? f.value.slice(1) : "-" + f.value;
  else if ("kMm".includes(key)) f.value = f.value.replace(/[kMm]$/, "") + key;
  else f.value = f.value === "OL" ? key : f.value.replace(/([kMm])$/, "") + key + (/[kMm]$/.exec(f.value)?.[0] ?? "");
  problem("");
}

function problem(text) {
  $("typed-problem").textContent = text;
  field().toggleAttribute("aria-invalid", text !== "");
}

document.addEventListener("click", (event) => {
  const key = event.target.closest("[data-key]");
  if (key) press(key.dataset.key);
  const now = event.target.closest("[data-now]");
  if (now) $(now.dataset.now).value = clockNow(now.closest("[data-zone]")?.dataset.zone);
});

// clockNow is the time of day where the shop is, whatever this device thinks.
function clockNow(zone) {
  return new Date().toLocaleTimeString("en-GB", { hour12: false, timeZone: zone || undefined });
}

// Keys that do something alone can be switched off on one's own page; sheet.js
// keeps the choice.
function singleKeysOff() {
  try {
    return localStorage.getItem("single-keys") === "off";
  } catch {
    return false;
  }
}

document.addEventListener("keydown", (event) => {
  const f = field();
  if (!f || singleKeysOff() || event.ctrlKey || event.metaKey || event.altKey) return;
  const at = document.activeElement;
  if (at && at !== f && at.matches("input, textarea, select, button, a, summary, [contenteditable]")) return;
  if (event.key === "Enter" && at !== f) {
    event.preventDefault();
    $("reading").requestSubmit();
  } else if (at !== f && (/^[0-9.,kKMmRuOL-]$/.test(event.key) || event.key === "Backspace")) {
    f.focus();
  }
});

// Where fingers type, the keys of the page are there and the device's own
// keyboard would only cover them.
if (field() && matchMedia("(pointer: coarse)").matches) field().inputMode = "none";

/* Storing */

document.addEventListener("submit", (event) => {
  if (!event.target.matches("#reading") || !queue) return; // not .id: the form has a field of that name
  event.preventDefault();
  store(event.target, event.submitter).catch((error) => {
    problem("This device cannot keep the reading (" + error.message + "). It is being sent directly.");
    queue = null;
    event.target.requestSubmit(event.submitter ?? undefined);
  });
});

// entryOf reads the form as the server would, with what only the device knows.
function entryOf(form, submitter) {
  const data = new FormData(form, submitter);
  const yes = (name) => data.get(name) === "yes";
  const text = (name) => (data.get(name) ?? "").trim();
  const entry = { id: uuid7(), taken_at: new Date().toISOString(), offset: -new Date().getTimezoneOffset(), typed: text("typed") };
  for (const name of ["check", "state", "measure", "across", "red", "black", "residue"]) if (text(name)) entry[name] = text(name);
  for (const name of ["swapped", "lifted", "not_on_metal", "agrees", "not_possible"]) if (yes(name)) entry[name] = true;
  if (yes("up")) entry.moving = "up";
  if (yes("down")) entry.moving = "down";
  if (yes("old")) entry.subject = "old";
  if (yes("new")) entry.subject = "new";
  if (entry.agrees || entry.not_possible) entry.typed = "";
  return entry;
}

async function store(form, submitter) {
  const entry = entryOf(form, submitter);
  const check = table?.checks.find((c) => c.id === entry.check);
  if (entry.agrees && check) entry.band = { low: check.low, high: check.high };
  const value = understand(entry, check?.unit);
  if (value.problem) {
    problem(value.problem);
    field().focus();
    return;
  }
  await queue.add(table?.post ?? form.getAttribute("action"), entry);
  fresh++;
  stand(entry, check, value);
  form.reset();
  for (const box of form.querySelectorAll("input[type=checkbox]")) box.checked = false;
  field().value = "";
  if (check) {
    table.inactive.push(check.id);
    moveOn(check);
  }
  queue.send();
}

// understand refuses what the server would refuse, before it is kept.
function understand(entry, unit) {
  if (entry.agrees || entry.not_possible) return {};
  if (entry.typed === "-" || entry.typed === "−") {
    entry.not_possible = true;
    return {};
  }
  if (entry.residue) {
    const r = parse(entry.residue, "V");
    if (r.problem || r.over) return { problem: "Volts between the points: type such as 0.02." };
    entry.volts = r.number;
  }
  return unit ? parse(entry.typed, unit) : {}; // of a free reading the server knows the unit
}

// stand puts the reading on the tape: kept here, not yet sent.
function stand(entry, check, value) {
  const line = $("tape-line").content.firstElementChild.cloneNode(true);
  const name = check?.name ?? [entry.across || [entry.red, entry.black].filter(Boolean).join(" to "), entry.measure, entry.state].join(", ");
  const [place, ...how] = name.split(", ");
  line.id = "r-" + entry.id;
  line.classList.add("waiting");
  line.querySelector(".tape-at").textContent = clockNow().slice(0, 5);
  line.querySelector(".tape-what").textContent = place;
  line.querySelector(".tape-how").textContent = how.join(", ");
  const [number, unit] = check && value.number !== undefined && !value.over ? written(value, check.unit) : [entry.typed, ""];
  line.querySelector(".n").textContent = entry.agrees ? "agrees" : entry.not_possible ? "cannot be made" : number;
  line.querySelector(".u").textContent = unit;
  const marks = { ...entry, residue: entry.volts };
  const word = check && value.number !== undefined ? verdict(table, check, value, marks) : "";
  const mark = word && document.querySelector(`template[data-verdict="${word}"]`);
  if (mark) line.querySelector(".tape-verdict").replaceChildren(mark.content.cloneNode(true));
  line.querySelector(".tape-note").textContent = "stored here, not sent yet";
  delete entry.volts;
  steady(() => {
    $("tape").prepend(line);
    $("tape-empty")?.remove();
  });
  const text = (part) => line.querySelector(part).textContent.trim();
  const shows = [text(".n"), entry.agrees || entry.not_possible ? "" : text(".u")].filter(Boolean).join(" ");
  said(`Stored here: ${[name, shows, text(".tape-verdict")].filter(Boolean).join(", ")}.`);
}

// written sets number and unit of a value apart, with the digits that were typed.
function written({ number, digit }, unit) {
  const prefixes = { "-12": "p", "-9": "n", "-6": "µ", "-3": "m", 0: "", 3: "k", 6: "M", 9: "G" };
  const size = Math.abs(number);
  let exp = size === 0 ? 0 : Math.min(9, Math.max(-12, 3 * Math.floor(Math.log10(size * (1 + 1e-12)) / 3)));
  if (size >= 0.1 && size < 1) exp = 0;
  const places = Math.min(12, Math.max(0, exp - Math.round(Math.log10(digit))));
  const text = (number / 10 ** exp).toFixed(places).replace("-", "−").replace(".", table.decimal);
  return [text, prefixes[exp] + unit];
}

/* Moving on */

// moveOn shows the next check: the engine's proposal as it stood, otherwise the
// next of the list in the same state. What cannot be made now is left out.
function moveOn(from) {
  const open = (id) => !table.inactive.includes(id) && panel(id)?.dataset.bar === "";
  const start = table.checks.indexOf(from) + 1;
  const list = [...table.checks.slice(start), ...table.checks.slice(0, start)];
  const next = table.next.find(open) ?? list.find((c) => c.state === from.state && open(c.id))?.id ?? list.find((c) => open(c.id))?.id;
  if (next) show(next);
  else location.assign(location.pathname + "#now");
}

const panel = (id) => document.querySelector(`template[data-check="${CSS.escape(id)}"]`);

// show puts a check at hand without asking the server.
function show(id) {
  const t = panel(id);
  const form = $("reading");
  if (!t || !form || t.dataset.bar !== "") {
    location.assign(location.pathname + "?check=" + encodeURIComponent(id) + "#now");
    return;
  }
  steady(() => {
    $("check-head").replaceChildren(t.content.cloneNode(true));
    form.elements.check.value = id;
    $("unit").textContent = t.dataset.unit;
    form.querySelectorAll("[data-part]").forEach((key) => (key.hidden = !("part" in t.dataset)));
    form.querySelector(".residue").hidden = !("residue" in t.dataset);
    form.querySelector(".agrees").hidden = !("agreeing" in t.dataset);
    problem("");
    markAtHand(id);
  });
  if ($("f-check")) $("f-check").value = id;
  history.replaceState(null, "", location.pathname + "?check=" + encodeURIComponent(id));
}

// markAtHand says in the list of what is worth reading which check is at hand.
function markAtHand(id) {
  for (const card of document.querySelectorAll("[data-card]")) {
    card.querySelector(".taken").hidden = card.dataset.card !== id;
    card.querySelector("[data-take]").hidden = card.dataset.card === id;
  }
}

document.addEventListener("click", (event) => {
  const take = event.target.closest("[data-take]");
  if (!take || event.ctrlKey || event.metaKey || event.shiftKey || panel(take.dataset.take)?.dataset.bar !== "" || !$("reading")) return;
  event.preventDefault();
  show(take.dataset.take);
  $("now").scrollIntoView();
});

document.addEventListener("change", (event) => {
  if (event.target.id === "f-check") show(event.target.value);
  if (event.target.matches("[data-submits]")) event.target.form.requestSubmit();
});

/* What the server makes of it */

const parts = ["suspects", "tape-place", "strip", "table", "panels", "power"];
let drawing = null;

// redraw fetches the page as it is now and puts its parts in place of ours; the
// check at hand and what is being typed stay.
async function redraw() {
  const before = fresh;
  const url = location.pathname + location.search;
  const answer = await fetch(url, { headers: { Accept: "text/html" }, redirect: "error" });
  if (!answer.ok || before !== fresh) return;
  const doc = new DOMParser().parseFromString(await answer.text(), "text/html");
  if (!doc.getElementById("offline-table")) return;
  table = tableOf(doc);
  steady(() => parts.forEach((id) => swap(id, doc)));
  const atHand = $("reading")?.elements.check ?? $("f-check"); // before the gate there is no form, but the check stands there
  if (atHand) markAtHand(atHand.value);
  await stillWaiting();
  awaitSuspects();
}

// swap puts a part of the page as it is now in place of ours. What was opened stays
// open; where somebody is writing nothing changes for now; suspects that are being
// worked out anew stand, marked as those from before, until they are there.
function swap(id, doc) {
  const ours = $(id);
  const now = doc.getElementById(id);
  if (!ours || !now || writing(ours)) return;
  const pending = now.querySelector("#pending");
  if (pending && ours.querySelector(".suspects")) {
    if (ours.querySelector("#pending")) return;
    pending.append(" Until then the suspects from before this reading stand here.");
    ours.prepend(document.adoptNode(pending));
    return;
  }
  for (const d of ours.querySelectorAll("details[id]")) {
    const same = now.querySelector("#" + CSS.escape(d.id));
    if (same) same.open = d.open;
  }
  const focused = ours.contains(document.activeElement) ? document.activeElement : null;
  const again = focused && (focused.id ? "#" + CSS.escape(focused.id) : focused.matches("summary") && focused.parentElement.id && "#" + CSS.escape(focused.parentElement.id) + " > summary");
  ours.replaceWith(document.adoptNode(now));
  if (again) document.querySelector(again)?.focus({ preventScroll: true });
}

// writing tells whether something stands in a field of a part that is not stored
// yet, or is about to.
const writing = (part) =>
  [...part.querySelectorAll("input:not([type=hidden]), textarea")].some((f) => f === document.activeElement || f.value !== f.defaultValue);

// steady keeps what is in view where it is while change() alters the page above it:
// what has the focus, the keys, or else what stands in the middle of the screen.
function steady(change) {
  const marks = landmarks();
  change();
  for (const { id, top } of marks) {
    const still = $(id);
    if (!still || !still.getClientRects().length) continue;
    const moved = still.getBoundingClientRect().top - top;
    if (Math.abs(moved) >= 1) scrollBy({ top: moved, behavior: "instant" });
    return;
  }
}

// Not .id: a form has a field of that name.
function landmarks() {
  const seen = [document.activeElement?.closest("main [id]"), $("reading")];
  for (const share of [0.3, 0.5, 0.7]) seen.push(document.elementFromPoint(innerWidth / 2, share * innerHeight)?.closest("main [id]"));
  return seen
    .map((e) => e && { id: e.getAttribute("id"), top: e.getBoundingClientRect().top, bottom: e.getBoundingClientRect().bottom })
    .filter((m) => m && m.id && m.bottom > 0 && m.top < innerHeight);
}

// While suspects are being worked out the server is asked soon and, as long as they
// take, less and less often.
const soonest = 400;
const latest = 5000;
let awaiting = null;

function awaitSuspects(pause = soonest) {
  clearTimeout(awaiting);
  if (!$("pending")) return;
  awaiting = setTimeout(async () => {
    const state = await ask();
    if (!state || state.pending) awaitSuspects(Math.min(1.5 * pause, latest)); // else they are being fetched
  }, pause);
}

function redrawSoon() {
  clearTimeout(drawing);
  drawing = setTimeout(() => redraw().catch(() => {}), 150);
}

// stillWaiting puts readings of this ticket that are only here back on the tape.
async function stillWaiting() {
  for (const { post, entry } of (await queue?.all()) ?? []) {
    if (post !== table?.post || $("r-" + entry.id)) continue;
    const check = table.checks.find((c) => c.id === entry.check);
    stand(entry, check, check && entry.typed ? parse(entry.typed, check.unit) : {});
  }
}

const plural = (n) => (n === 1 ? "1 reading" : n + " readings");

function heard(event) {
  const box = $("queue");
  switch (event.kind) {
    case "waiting":
      if (event.count === 0) steady(() => (box.hidden = true));
      else if (box.hidden) tell(`${plural(event.count)} stored on this device, being sent.`);
      box.dataset.count = event.count;
      break;
    case "receipt":
      received(event);
      break;
    case "away":
      tell(`The shop cannot be reached. ${plural(Number(box.dataset.count))} stored on this device; they are sent when it is back. Suspects wait for it too.`);
      break;
    case "signed-out":
      tell(`You are signed out. ${plural(Number(box.dataset.count))} stored on this device; sign in on this device and they are sent.`);
      break;
    case "refused":
      tell(`${event.text} ${plural(Number(box.dataset.count))} stay on this device.`);
  }
}

function tell(text) {
  steady(() => {
    $("queue").textContent = text;
    $("queue").hidden = false;
  });
}

function received({ receipt }) {
  const line = $("r-" + receipt.id);
  if (line) {
    line.classList.remove("waiting");
    line.querySelector(".tape-note").textContent = receipt.outcome === "kept" ? "kept, but it does not count: " + receipt.text : "stored";
  }
  if (receipt.outcome === "kept") said("Kept, but it does not count: " + receipt.text);
  redrawSoon();
}

/* The edge */

const edge = $("edge");
let lastAnswer = Date.now();
const contactLost = 90_000;

// tick counts the minutes and lets a reading lapse by the clock on the wall: a
// tablet that slept wakes up to the truth.
function tick() {
  if (!edge) return;
  const { kind, readAt, lapses, volts } = edge.dataset;
  if (kind !== "read") return;
  const now = Date.now();
  if (now >= Number(lapses)) lapse("The reading is older than 10 minutes.");
  else if (now - lastAnswer > contactLost) lapse("Contact lost: another device may have powered the board.");
  else words(`READ ${volts}, ${Math.max(0, Math.floor((now - Number(readAt)) / 60_000))} min ago`);
}

function words(text) {
  for (const corner of edge.querySelectorAll(".edge-line > .corner")) if (corner.textContent !== text) corner.textContent = text;
}

function lapse(why) {
  draw({ kind: "unproven", words: "UNPROVEN", why });
  const form = $("reading");
  const check = table?.checks.find((c) => c.id === form?.elements.check?.value);
  if (!form || !check || check.state !== "cold" || check.measure.endsWith("volts") || $("fallen")) return;
  const p = document.createElement("p");
  p.id = "fallen";
  p.className = "barred";
  const link = Object.assign(document.createElement("a"), { href: location.pathname + "?check=" + encodeURIComponent(check.id), textContent: "Prove it dead again" });
  p.append("Nothing proves the board dead now. ", link, " before the next cold check; what you have read already can still be stored.");
  form.before(p);
}

function draw(state) {
  const was = edge.dataset.kind;
  edge.className = "edge " + state.kind;
  edge.dataset.kind = state.kind;
  edge.dataset.readAt = state.read_at ?? "";
  edge.dataset.lapses = state.lapses ?? "";
  edge.dataset.volts = state.volts ?? "";
  edge.querySelectorAll(".lapsed, .lapsed-words").forEach((e) => e.remove());
  $("edge-why").textContent = state.why;
  words(state.words);
  if (was !== state.kind) said(state.words + ". " + state.why);
}

// ask asks the server whether the page is still right. A state that got more
// dangerous elsewhere shows here; forms that no longer fit load the page anew
// unless something is being typed.
async function ask() {
  if (!table || !edge) return;
  let state;
  try {
    const answer = await fetch(table.state, { headers: { Accept: "application/json" }, redirect: "error" });
    if (!answer.ok) return;
    state = await answer.json();
  } catch {
    return;
  }
  lastAnswer = Date.now();
  const was = edge.dataset.kind;
  if (state.kind !== was || (state.lapses ?? 0) !== Number(edge.dataset.lapses || 0)) draw(state);
  if (state.kind !== was && !typing()) location.reload();
  if (state.version !== table.version || ($("pending") && !state.pending)) redrawSoon();
  return state;
}

// typing tells whether something stands in a field that is not stored yet.
function typing() {
  return [...document.querySelectorAll("main input:not([type=hidden]), main textarea")].some(
    (f) => (f.matches("[type=checkbox]") ? f.checked !== f.defaultChecked : f.value !== f.defaultValue),
  );
}

async function start() {
  tick();
  awaitSuspects();
  setInterval(tick, 5000);
  setInterval(ask, 20_000);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && (tick(), ask()));
  addEventListener("pageshow", (event) => event.persisted && (tick(), ask()));
  try {
    queue = await new Queue(heard).open();
  } catch {
    return; // no IndexedDB (a private window): forms are sent as they are
  }
  document.documentElement.dataset.queue = "ready";
  await queue.count();
  await stillWaiting();
  queue.send();
}

start();
