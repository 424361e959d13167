// The worksheet: a client of the public API that keeps its visits in this browser.

import { clear, show } from "./answer.js";
import { Refused, saveFile } from "./asking.js";
import { AFTER, BEFORE, fromBody, get, hasAfter, hasLog, placeOf, toBody } from "./body.js";
import { known, load, words } from "./contract.js";
import { button, goTo, jump, make, part } from "./elements.js";
import { field, inputs, portion, readings, showWrong } from "./form.js";
import { kitPart } from "./kit.js";
import { ofMode, set, sheet, switchUnits, system, tell, unwatch, value, watch } from "./sheet.js";
import * as visits from "./visits.js";

// ------------------------------------------------------------ the form

/** Parts of the body that have a place of their own on the page; the rest goes under "More". */
const PLACED = new Set(["units", "labels", "unit", "site", "kit", "run", "runs", "service", "usage",
  "smallest_change_that_matters", "baseline"]);

/** What decides what is asked first. */
const DECIDES = new Set(["/unit/mode", "/unit/capacity_control"]);

function runPart(at, carried) {
  const { fields, first, staged } = known(), spec = fields.run;
  const asked = [...staged[value("/unit/capacity_control")] ?? [], ...ofMode(first).run];
  const log = `${at}/log`;
  return [...portion(at, spec, asked, "More about this run", new Set([`${at}/readings`, `${at}/work`, log])),
    make("details", { "data-key": log, open: hasLog(value(log)) }, make("summary", {}, "Add a log (a CSV file)"),
      field(`${log}/csv`, spec.fields.log.fields.csv), field(`${log}/start`, spec.fields.log.fields.start, "At second zero")),
    ...readings(at, carried)];
}

function afterPart() {
  const names = Object.keys(get(sheet.visit.tree, `${BEFORE}/readings`) ?? {});
  part("after_fields").replaceChildren(...runPart(AFTER, names));
}

function build() {
  const open = new Set([...document.querySelectorAll("details[data-key][open]")].map((node) => node.dataset.key));
  unwatch();
  inputs.clear();
  const { fields, first, always } = known();
  part("label_fields").replaceChildren(...portion("/labels", fields.labels, always.labels, "More for the report"));
  part("unit_fields").replaceChildren(
    ...portion("/unit", fields.unit, ofMode(first).unit, "More about the unit: nameplate, ratings, lines, tables"),
    ...portion("/site", fields.site, always.site, "More about the site"));
  part("kit_fields").replaceChildren(...kitPart());
  part("before_fields").replaceChildren(...runPart(BEFORE, []));
  part("work_fields").replaceChildren(field("/service/work", fields.service.fields.work, "Work done"));
  const price = Object.entries(fields.service.fields).filter(([name]) => name !== "work");
  part("price_fields").replaceChildren(make("div", { className: "fields" },
    ...price.map(([name, spec]) => field(`/service/${name}`, spec, name === "price" ? "Price of the service" : words(name))),
    ...["usage", "smallest_change_that_matters"].flatMap((name) => Object.entries(fields[name].fields).map(([one, spec]) =>
      field(`/${name}/${one}`, spec, name === "usage" ? words(one) : `Smallest ${words(one).toLowerCase().replace("percent", "change that matters")}`)))));
  const rest = Object.entries(fields).filter(([name]) => !PLACED.has(name));
  part("rest_fields").replaceChildren(...rest.map(([name, spec]) => field(`/${name}`, spec, words(name))).filter(Boolean));
  part("after").open = hasAfter(sheet.visit.tree) || open.has("after");
  if (part("after").open) afterPart();
  else part("after_fields").replaceChildren();
  document.querySelectorAll("details[data-key]").forEach((node) => {
    if (open.has(node.dataset.key) && node.id !== "after") node.open = true;
  });
  document.querySelectorAll("input[name=units]").forEach((node) => { node.checked = node.value === system(); });
  part("baseline").hidden = !value("/baseline");
  watch(state);
}

/** The form again, with the focus where it was. */
function rebuild() {
  const focused = document.activeElement?.id;
  build();
  if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
}

/** What the bar and the list say about the visit. */
function state() {
  part("visit_name").textContent = visits.title(sheet.visit);
  const count = (at) => {
    const found = Object.keys(value(`${at}/readings`) ?? {}).length;
    return `${found} ${found === 1 ? "reading" : "readings"}${hasLog(value(`${at}/log`)) ? " and a log" : ""}`;
  };
  const after = hasAfter(sheet.visit.tree);
  part("send").textContent = after ? "Compare before and after" : "See what the readings show";
  part("counted").textContent = after ? `${count(BEFORE)} before, ${count(AFTER)} after` : count(BEFORE);
  part("kept").textContent = visits.keepsNothing()
    ? "This browser cannot save visits. Export this visit before you leave this page." : "";
  part("stale").hidden = part("answer").hidden || answered === JSON.stringify(toBody(sheet.visit.tree));
}

function openVisit(visit) {
  stop();
  clear();
  sheet.visit = visit;
  sheet.problems.clear();
  sheet.pointed.clear();
  visits.save(visit);
  build();
  refuse(null);
}
const fresh = () => visits.fresh(visits.kept("units") ?? (/-US$|^en$/.test(navigator.language) ? "imperial" : "metric"),
  visits.kept("kit"));

// ------------------------------------------------------------ the list of visits

function showList() {
  const rows = visits.list();
  part("visit_list").replaceChildren(...rows.map((visit) => {
    const title = visits.title(visit), here = visit.id === sheet.visit.id;
    return make("li", {}, button(here ? `${title} (open)` : title, () => {
      openVisit(visits.open(visit.id));
      part("visits").open = false;
      part("visits").querySelector("summary").focus();
    }, { className: "link", "aria-current": here ? "true" : undefined }),
    make("span", { className: "quiet" }, new Date(visit.changed).toLocaleString([], { dateStyle: "medium", timeStyle: "short" })),
    confirmed("Delete", `Delete ${title}`, () => {
      visits.remove(visit.id);
      if (here) openVisit(fresh());
      showList();
      part("new_visit").focus();
    }));
  }));
}

/** A button that acts on the second press: what it removes cannot be brought back. */
function confirmed(text, label, act) {
  let armed = false;
  const node = button(text, () => {
    if (armed) return act();
    armed = true;
    node.textContent = "Press again to delete";
    return undefined;
  }, { ariaLabel: label });
  node.addEventListener("blur", () => { armed = false; node.textContent = text; node.setAttribute("aria-label", label); });
  node.addEventListener("click", () => { if (armed) node.setAttribute("aria-label", `${label}: press again`); });
  return node;
}

function exportVisit() {
  const name = visits.title(sheet.visit).replace(/[^\p{L}\p{N}]+/gu, "-").replace(/^-|-$/g, "").toLowerCase();
  saveFile(`${name || "visit"}.json`, JSON.stringify(toBody(sheet.visit.tree), null, 2), "application/json");
}

async function importVisit(file) {
  try {
    const body = JSON.parse(await file.text());
    const tree = fromBody(body);
    if (!["imperial", "metric"].includes(tree.units)) throw new Error("The file does not state its units: imperial or metric.");
    openVisit({ ...visits.fresh(tree.units), tree });
    part("imported").textContent = `Imported: ${file.name}`;
    showList();
  } catch (error) {
    part("imported").textContent = `${file.name} was not imported. ${error instanceof SyntaxError ? "It is not JSON." : error.message}`;
  }
}

// ------------------------------------------------------------ sending, and what goes wrong

let running = null;
let answered = "";

function stop() {
  running?.abort();
  running = null;
  part("cancel").hidden = true;
  part("progress").textContent = "";
}

/** Show what was refused: at each field, and in a list that leads there. Nothing hides the list. */
function refuse(problem, again = false) {
  const box = part("problem");
  box.hidden = !problem;
  if (!problem) return;
  part("problem_title").textContent = problem.title;
  part("problem_detail").textContent = problem.detail ?? "";
  part("problem_errors").replaceChildren(...(problem.errors ?? []).map(({ place, text }) => {
    const found = inputs.get(place);
    return make("li", {}, found ? jump(found.label, found.input) : null,
      text);
  }));
  part("again").hidden = !again;
  part("key_entry").hidden = !problem.key;
  part("problem_title").focus({ preventScroll: true });
  box.scrollIntoView({ block: "center" });
}

/** The field of a pointer, or of the nearest place above it that has one. */
function fieldPlace(pointer) {
  let place = placeOf(pointer, sheet.visit.tree);
  while (place && !inputs.has(place)) {
    const inside = [...inputs.keys()].find((one) => one.startsWith(`${place}/`));
    if (inside && place.split("/").length > 2) return inside;
    place = place.slice(0, place.lastIndexOf("/"));
  }
  return place;
}

function fieldProblem(row) {
  if (row.pointer.startsWith("/runs/after") || hasAfter(sheet.visit.tree)) part("after").open = true;
  const place = row.pointer.startsWith("/") ? fieldPlace(row.pointer) : "";
  const given = row.value === null || row.value === undefined || typeof row.value === "object" ? "" : ` You wrote ${row.value}.`;
  const ending = (text) => (text && !/[.!?]$/.test(text) ? `${text}.` : text);
  const text = ending(row.detail.charAt(0).toUpperCase() + row.detail.slice(1)) + given
    + (row.allowed ? ` Allowed: ${ending(row.allowed)}` : "") + (row.hint ? ` ${ending(row.hint)}` : "");
  if (place) sheet.problems.set(place, text);
  return { place, text: place ? text : `${row.pointer || "The visit"} ${text}` };
}

function failed(error) {
  if (error.name === "AbortError") return;
  if (!(error instanceof Refused)) {
    refuse({
      title: navigator.onLine ? "The service did not answer" : "No connection",
      detail: "Nothing you typed is lost: it is saved in this browser. Try again when there is a signal.",
    }, true);
    return;
  }
  const { problem, status } = error;
  if (status === 401) {
    refuse({ title: "This service requires a key", detail: "Enter the key that its operator gave you. It is saved in this browser.", key: true });
    part("key").focus();
    return;
  }
  const errors = (problem.errors ?? []).map(fieldProblem);
  tell();
  refuse({ title: status === 422 ? "Please check these entries" : problem.title, detail: problem.detail, errors }, status >= 500);
}

async function send() {
  stop();
  refuse(null);
  sheet.problems.clear();
  const wrong = Object.keys(sheet.visit.wrong).filter(showWrong);
  tell();
  if (wrong.length) {
    refuse({
      title: "Please check these entries", detail: "Nothing was sent.",
      errors: wrong.map((place) => ({ place, text: sheet.problems.get(place) })),
    });
    return;
  }
  const controller = running = new AbortController(), { signal } = controller;
  const tree = structuredClone(sheet.visit.tree), body = toBody(tree), start = Date.now();
  part("cancel").hidden = false;
  part("progress").textContent = "Working …";
  // For the eye only: a screen reader is not interrupted each second.
  const clock = setInterval(() => { part("seconds").textContent = `${Math.round((Date.now() - start) / 1000)} s`; }, 1000);
  try {
    await show(body, tree, signal, failed, () => {
      answered = JSON.stringify(body);
      part("progress").textContent = "The answer is below. Pictures follow.";
      state();
    });
    if (running === controller) part("progress").textContent = "Done.";
  } catch (error) {
    if (running === controller) part("progress").textContent = "";
    failed(error);
  } finally {
    clearInterval(clock);
    part("seconds").textContent = "";
    if (running === controller) {
      running = null;
      part("cancel").hidden = true;
    }
  }
}

function wire() {
  part("form").addEventListener("submit", (event) => { event.preventDefault(); send(); });
  part("form").addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.tagName !== "INPUT" || event.target.type === "checkbox") return undefined;
    event.preventDefault(); // Enter goes to the next entry, as the key on a phone says
    if (event.target.id === "key") return part("use_key").click();
    const all = [...part("form").querySelectorAll("input, select")].filter((node) => node.offsetParent !== null);
    return all[all.indexOf(event.target) + 1]?.focus();
  });
  document.querySelectorAll("input[name=units]").forEach((node) => node.addEventListener("change", () => {
    switchUnits(node.value);
    build();
  }));
  part("after").addEventListener("toggle", () => {
    if (part("after").open && !part("after_fields").childElementCount) { afterPart(); tell(); }
  });
  part("form").addEventListener("change", ({ target }) => { if (DECIDES.has(target.id)) rebuild(); });
  part("cancel").addEventListener("click", () => { stop(); part("progress").textContent = "Cancelled. Nothing you typed is lost."; part("send").focus(); });
  part("again").addEventListener("click", send);
  part("use_key").addEventListener("click", () => {
    visits.keep("key", part("key").value.trim() || null);
    part("key").value = "";
    send();
  });
  part("visits").addEventListener("toggle", showList);
  part("new_visit").addEventListener("click", () => {
    openVisit(fresh());
    part("visits").open = false;
    goTo(inputs.get("/labels/visit").input);
  });
  part("export").addEventListener("click", exportVisit);
  part("import").addEventListener("change", () => {
    const [file] = part("import").files;
    part("import").value = "";
    if (file) importVisit(file);
  });
  part("delete_all").replaceWith(confirmed("Delete all visits and the key from this browser", "Delete all visits and the key from this browser", () => {
    visits.removeAll();
    openVisit(fresh());
    showList();
  }));
  part("no_baseline").addEventListener("click", () => { set("/baseline", undefined); build(); });
  const line = () => { part("offline").hidden = navigator.onLine; };
  addEventListener("online", line);
  addEventListener("offline", line);
  line();
}

async function start() {
  try {
    await load();
  } catch {
    part("loading").textContent = "The form could not be loaded. Check the connection, then reload this page. Nothing you typed is lost.";
    return;
  }
  sheet.visit = visits.open(visits.kept("now")) ?? fresh();
  wire();
  build();
  part("loading").hidden = true;
  part("form").hidden = false;
  if ("serviceWorker" in navigator && isSecureContext) {
    navigator.serviceWorker.register("/page/worker.js", { scope: "/" }).catch(() => { /* the page works without */ });
  }
}
start();
