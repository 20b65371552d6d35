"use strict";
// What plain forms cannot do: send dropped files, show an answer in its rows at once, follow a run.
const token = document.body.dataset.token;
const own = { "X-Desk-Token": token };

function made(tag, words, kind) {
  const one = document.createElement(tag);
  one.textContent = words || "";
  if (kind) one.className = kind;
  return one;
}

function send(zone, file) {
  const line = made("div"), bar = made("progress"), name = made("span", zone.dataset.sending + " " + file.name + " ");
  bar.max = 1;
  bar.value = 0;
  bar.setAttribute("aria-label", file.name);
  line.append(name, bar);
  zone.querySelector(".sending").append(line);
  return new Promise((done) => {
    const way = new XMLHttpRequest();
    way.open("POST", zone.dataset.upload);
    way.setRequestHeader("Content-Type", "application/octet-stream");
    way.setRequestHeader("X-Desk-Token", token);
    way.setRequestHeader("X-File-Name", encodeURIComponent(file.name));
    way.upload.onprogress = (at) => { bar.value = at.total ? at.loaded / at.total : 0; };
    way.onloadend = () => {
      let told = {};
      try { told = JSON.parse(way.responseText); } catch { /* the connection broke off */ }
      if (way.status !== 200) line.replaceChildren(made("span", file.name + " " + zone.dataset.failed + ". " + (told.why || ""), "bad"));
      done(way.status === 200 ? told.mark : null);
    };
    way.send(file);
  });
}

// What could not be read stands on the page that is loaded for the others, too.
const LEFT = "knockon-refused";

async function sendAll(zone, files) {
  const marks = [];
  for (const file of files) marks.push(await send(zone, file));
  if (!marks.some(Boolean)) return;
  const bad = [...zone.querySelectorAll(".sending .bad")].map((one) => one.textContent);
  if (bad.length) sessionStorage.setItem(LEFT, JSON.stringify([location.pathname, bad]));
  location.assign(location.pathname + (zone.dataset.after ? "?" + zone.dataset.after + "=" + marks.find(Boolean) : ""));
}

function stillSaid(zone) {
  let told = null;
  try { told = JSON.parse(sessionStorage.getItem(LEFT)); } catch { /* nothing is kept */ }
  if (!told || told[0] !== location.pathname) return;
  sessionStorage.removeItem(LEFT);
  for (const words of told[1]) zone.querySelector(".sending").append(made("span", words, "bad"));
}

for (const zone of document.querySelectorAll("[data-upload]")) {
  const input = zone.querySelector("input[type=file]");
  stillSaid(zone);
  input.addEventListener("change", () => sendAll(zone, [...input.files]));
  if (input.files.length) sendAll(zone, [...input.files]); // chosen before this script was there
  zone.addEventListener("dragover", (move) => { move.preventDefault(); zone.classList.add("over"); });
  zone.addEventListener("dragleave", () => zone.classList.remove("over"));
  zone.addEventListener("drop", (move) => {
    move.preventDefault();
    zone.classList.remove("over");
    sendAll(zone, [...move.dataTransfer.files]);
  });
}
// A file dropped beside the field must not take the page's place.
for (const kind of ["dragover", "drop"]) document.addEventListener(kind, (move) => move.preventDefault());

async function replaceCard(form, button) {
  const fields = new URLSearchParams(new FormData(form));
  if (button && button.name) fields.set(button.name, button.value);
  const answered = await fetch(form.action, { method: "POST", headers: { ...own, "X-Desk-Part": "card" }, body: fields });
  if (!answered.ok) { location.reload(); return; }
  const fresh = new DOMParser().parseFromString(await answered.text(), "text/html").querySelector("article");
  const old = document.getElementById(form.dataset.card), at = document.activeElement && document.activeElement.id;
  const opened = [...old.querySelectorAll("details")].map((one) => [one.querySelector("summary").textContent, one.open]);
  for (const one of fresh.querySelectorAll("details")) {
    const was = opened.find(([words]) => words === one.querySelector("summary").textContent);
    if (was) one.open = was[1];
  }
  const inside = old.contains(document.activeElement);
  old.replaceWith(fresh);
  // What was used may be gone with its question: then the card itself is where its user stays.
  const stay = (at && document.getElementById(at)) || (inside && fresh.querySelector("h3"));
  if (stay) stay.focus();
  await recount();
}

// What is said of all files together follows each answer; whoever answers stays where he is.
async function recount() {
  const parts = [...document.querySelectorAll("[data-all]")];
  if (!parts.length) return;
  const page = new DOMParser().parseFromString(await (await fetch(location.pathname)).text(), "text/html");
  for (const one of parts) {
    const fresh = page.getElementById(one.id);
    if (fresh && fresh.innerHTML !== one.innerHTML) one.replaceWith(fresh);
  }
  // Files of the same form were answered for with the one on which the answer was given.
  for (const one of document.querySelectorAll("article[data-said]")) {
    const fresh = page.getElementById(one.id);
    const same = fresh && fresh.dataset.said === one.dataset.said && fresh.dataset.also === one.dataset.also;
    if (fresh && !same && !one.contains(document.activeElement)) one.replaceWith(fresh);
  }
}

// Whoever goes back finds the keyboard where it was.
const PLACE = "knockon-place";
const USABLE = "a[href], button, input, select, summary, [tabindex='0']";
const words = (one) => [one.tagName, one.name, one.getAttribute("aria-label"), one.tagName === "SELECT" ? "" : one.textContent.trim()].join("|");

addEventListener("pagehide", () => {
  const all = [...document.querySelectorAll(USABLE)], at = all.indexOf(document.activeElement);
  const places = JSON.parse(sessionStorage.getItem(PLACE) || "{}");
  delete places[location.pathname];
  if (at >= 0) places[location.pathname] = [at, words(all[at]), all[at].id];
  sessionStorage.setItem(PLACE, JSON.stringify(places));
});
addEventListener("pageshow", () => {
  const [how] = performance.getEntriesByType("navigation"), place = JSON.parse(sessionStorage.getItem(PLACE) || "{}")[location.pathname];
  if (!how || how.type !== "back_forward" || !place) return;
  const all = [...document.querySelectorAll(USABLE)], [at, told, id] = place;
  const back = (id && document.getElementById(id)) || (all[at] && words(all[at]) === told && all[at]) || all.find((one) => words(one) === told);
  if (back) back.focus();
});

function answer(field) {
  const form = field.closest("form.answers");
  // A column and what it holds are one answer.
  const half = form && field.name.startsWith("more_") && [...form.querySelectorAll("[name^=more_]")].some((one) => !one.value);
  if (form && !half) replaceCard(form);
}
function touched(field) {
  if (field.tagName !== "SELECT") return field.value !== field.defaultValue || field.checked !== field.defaultChecked;
  const first = [...field.options].findLastIndex((one) => one.defaultSelected);
  return field.selectedIndex !== Math.max(first, 0);
}
document.addEventListener("change", (event) => answer(event.target));
// Answered before this script was there.
for (const form of document.querySelectorAll("form.answers")) {
  const early = [...form.querySelectorAll("select, input:not([type=hidden])")].find(touched);
  if (early) answer(early);
}
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.card) { event.preventDefault(); replaceCard(form, event.submitter); return; }
  for (const button of form.querySelectorAll("button")) if (form.method === "post") setTimeout(() => { button.disabled = true; }, 0);
});

// Enter in a box to tick ticks it, as the space bar does: a form is sent by its button.
document.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.target.type !== "checkbox") return;
  event.preventDefault();
  event.target.click();
});

// A number that stands there already is typed over, not typed behind.
document.addEventListener("focusin", (event) => {
  const field = event.target;
  if (!field.matches("input.short") || !field.value) return;
  field.select();
  field.addEventListener("mouseup", (up) => up.preventDefault(), { once: true });
});

// What was told of a part last time, or stands in the price book, is filled in beside it.
document.addEventListener("change", (event) => {
  const field = event.target;
  if (!field.dataset.fills) return;
  const chosen = [...document.querySelectorAll("#parts option")].find((one) => one.value === field.value);
  if (!chosen) return;
  for (const name of ["part_cost", "labour_minutes"]) {
    const beside = document.getElementsByName(name + field.dataset.fills)[0];
    if (beside && !beside.value && chosen.dataset[name === "part_cost" ? "cost" : "minutes"]) beside.value = chosen.dataset[name === "part_cost" ? "cost" : "minutes"];
  }
});

const watched = document.querySelector("[data-watch]");
async function watch() {
  try {
    const answered = await fetch(watched.dataset.watch);
    if (!answered.ok) throw new Error(answered.status);
    const text = await answered.text();
    const fresh = new DOMParser().parseFromString(text, "text/html").querySelector("[data-state]");
    if (fresh.dataset.state === "ended") { location.assign(location.pathname); return; }
    watched.replaceChildren(fresh);
  } catch { /* the desk was closed; the page keeps what it last knew */ }
  setTimeout(watch, 700);
}
if (watched) setTimeout(watch, 700);

// The report stands on the page whole, as long as it is: one page to scroll, and nothing of it cut off.
const report = document.querySelector("iframe.report");
function asLongAsItIs() {
  const inside = report.contentDocument && report.contentDocument.documentElement;
  if (!inside || !report.contentDocument.body) return;
  const fit = () => { report.style.height = Math.ceil(inside.getBoundingClientRect().height) + 4 + "px"; };
  new ResizeObserver(fit).observe(inside);
  fit();
}
if (report) {
  report.addEventListener("load", asLongAsItIs);
  if (report.contentDocument && report.contentDocument.readyState === "complete") asLongAsItIs();
}
