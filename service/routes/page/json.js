import { command as commandOf } from "./asking.js";
import { keep, kept } from "./visits.js";

const PLOTS = {
  limits: "Values against their limits",
  refrigerant_cycle: "Refrigerant cycle",
  air_process: "Air through the indoor coil",
  fault_probabilities: "What may be wrong",
  changes: "What changed",
  trend: "One value over time",
};
const ANSWERS = {
  assessments: "Assessment", diagnoses: "Diagnosis", comparisons: "Comparison", plans: "Plan",
  trends: "Series",
};
const AUDIENCES = { technician: "Report for the technician", customer: "Report for the customer" };
// What can be requested for each kind of body.
const KINDS = {
  visit: {
    name: "the readings of one visit", audiences: ["technician", "customer"],
    plots: ["limits", "refrigerant_cycle", "air_process", "fault_probabilities"],
    answers: ["assessments", "diagnoses"],
  },
  comparison: {
    name: "runs before and after a service", audiences: ["technician", "customer"],
    plots: ["changes", "refrigerant_cycle", "air_process", "limits"], answers: ["comparisons"],
  },
  series: {
    name: "a series of runs", audiences: ["technician", "customer"], plots: ["trend"],
    answers: ["trends"],
  },
  plan: { name: "readings yet to be made", audiences: [], plots: [], answers: ["plans"] },
};
const HEADER = "Content-Type: application/json";

const part = (id) => document.getElementById(id);
const form = part("form"), pick = part("example"), body = part("body"), result = part("result");

function make(tag, properties = {}, ...children) {
  const node = Object.assign(document.createElement(tag), properties);
  node.append(...children);
  return node;
}

// ------------------------------------------------------------ what is asked, of what

let loaded = { value: "", text: "" }; // the example in the editor, as loaded
let asks = []; // what fits the body, in the order of requests
const wanted = new Map(); // ticked or not, kept while the body changes
let kind = "";

function kindOf(value) {
  if (value?.run) return "visit";
  if (value?.runs) return Array.isArray(value.runs) ? "series" : "comparison";
  return value?.readings || loaded.value.startsWith("plans/") ? "plan" : "visit";
}

function fitting(value) {
  const row = KINDS[kind];
  // Only a diagnosis accepts a baseline.
  const answers = value?.baseline ? ["diagnoses"] : row.answers;
  return [
    ...row.audiences.map((name) => ({
      id: name, group: "Reports", label: AUDIENCES[name], show: showReport,
      address: `/v1/reports?audience=${name}`, ticked: name === "technician",
    })),
    ...row.plots.map((name) => ({
      id: name, group: "Pictures", label: PLOTS[name], show: showPicture,
      address: `/v1/plots/${name}?format=svg`, ticked: true,
    })),
    ...answers.map((name) => ({
      id: name, group: "Answer as JSON", label: ANSWERS[name], show: showAnswer,
      address: `/v1/${name}`, ticked: answers.length === 1 || name === "assessments",
    })),
  ];
}

const chosen = () => asks.filter((ask) => wanted.get(ask.id) ?? ask.ticked);

function refresh() {
  let value;
  try { value = JSON.parse(body.value); } catch { /* while typing: as before */ }
  if (value !== undefined || !asks.length) {
    kind = kindOf(value);
    const now = fitting(value);
    if (now.map((ask) => ask.id).join() !== asks.map((ask) => ask.id).join()) offer(now);
    part("kind").textContent = `Read as ${KINDS[kind].name}.`;
  }
  pick.value = body.value === loaded.text ? loaded.value : "";
  showCommand();
}

function offer(now) {
  asks = now;
  const list = part("asks");
  list.replaceChildren();
  let group;
  for (const ask of asks) {
    if (ask.group !== group?.ariaLabel) {
      group = make("div", { role: "group", ariaLabel: ask.group }, make("p", { textContent: ask.group }));
      list.append(group);
    }
    const box = make("input", {
      type: "checkbox", name: ask.id, checked: wanted.get(ask.id) ?? ask.ticked,
    });
    box.addEventListener("change", () => wanted.set(ask.id, box.checked));
    group.append(make("label", {}, box, ask.label));
  }
  const before = part("command_of").value;
  part("command_of").replaceChildren(
    ...asks.map((ask) => make("option", { value: ask.id, textContent: ask.label })));
  if (asks.some((ask) => ask.id === before)) part("command_of").value = before;
}

async function load() {
  if (!pick.value) return body.focus();
  const value = pick.value;
  try {
    const response = await fetch(`/examples/${value}.json`);
    if (!response.ok) throw new Error(response.statusText);
    const text = await response.text();
    if (pick.value !== value) return; // another was picked in the meantime
    loaded = { value, text };
  } catch (error) {
    return refuse({ title: "The example could not be loaded", detail: error.message });
  }
  // An example of a diagnosis asks for one; what was ticked by hand otherwise stays.
  if (!value.startsWith("diagnoses/")) wanted.delete("diagnoses");
  else wanted.set("diagnoses", true).set("assessments", false);
  if (!value.includes("/")) wanted.delete("assessments");
  body.value = loaded.text;
  asks = [];
  refresh();
}

// ------------------------------------------------------------ the command

function command(ask) {
  if (body.value !== loaded.text) return commandOf(ask.address, body.value, { key: Boolean(kept("key")) });
  const address = location.origin + ask.address;
  // A question mark is special to the shell.
  const quoted = address.includes("?") ? `'${address}'` : address;
  const key = kept("key") ? " -H 'X-API-Key: YOUR-KEY'" : "";
  return `curl -s ${location.origin}/examples/${loaded.value}.json |\n  curl -s ${quoted} -H '${HEADER}'${key} -d @-`;
}

function showCommand() {
  const ask = asks.find(({ id }) => id === part("command_of").value);
  part("command").textContent = ask ? command(ask) : "";
  part("copied").textContent = "";
}

async function copy() {
  part("copied").textContent = "";
  try {
    await navigator.clipboard.writeText(part("command").textContent);
    part("copied").textContent = "Copied";
  } catch { // no clipboard without a secure context, or not allowed
    getSelection().selectAllChildren(part("command"));
    part("copied").textContent = "Selected: copy it with the keyboard";
  }
}

// ------------------------------------------------------------ sending

let running = null;
const keyHeader = () => (kept("key") ? { "X-API-Key": kept("key") } : {});
let addresses = []; // of what is shown, to be released

function clear() {
  addresses.forEach((address) => URL.revokeObjectURL(address));
  addresses = [];
  result.replaceChildren(result.firstElementChild);
  result.hidden = part("problem").hidden = true;
  body.removeAttribute("aria-invalid");
}

function refuse(problem) {
  part("progress").textContent = "";
  part("problem_title").textContent = problem.title;
  part("problem_detail").textContent = problem.detail ?? "";
  part("problem_errors").replaceChildren(...(problem.errors ?? []).map((error) => make("li", {},
    make("code", { textContent: error.pointer || "the body" }), ` ${error.detail}. `,
    error.value === null ? "" : `Given: ${JSON.stringify(error.value)}. `,
    `Allowed: ${error.allowed}. ${error.hint}`)));
  part("problem").hidden = false;
  part("problem_title").focus();
}

async function problemOf(response) {
  if (response.headers.get("Content-Type")?.includes("json")) return response.json();
  return { title: `Status ${response.status}`, detail: `No details were sent. ${response.statusText}` };
}

async function send() {
  running?.abort();
  running = new AbortController();
  const { signal } = running, text = body.value, asked = chosen();
  let came = 0;
  clear();
  try {
    JSON.parse(text);
  } catch (error) {
    body.setAttribute("aria-invalid", "true");
    return refuse({ title: "The request is not JSON", detail: `${error.message}. Nothing was sent.` });
  }
  if (!asked.length) return refuse({ title: "Nothing is selected", detail: "Tick what to ask for." });
  try {
    for (const [index, ask] of asked.entries()) {
      part("progress").textContent = `Working, ${index + 1} of ${asked.length}: ${ask.label}`;
      const response = await fetch(ask.address,
        { method: "POST", headers: { "Content-Type": "application/json", ...keyHeader() }, body: text, signal });
      if (response.ok) {
        await ask.show(ask, await response.text());
        came += 1;
      } else {
        const problem = await problemOf(response);
        part("key_entry").hidden = response.status !== 401;
        // If the readings do not allow a picture, its place says why; the rest continues.
        if (ask.show !== showPicture || problem.type !== "/problems/cannot-be-assessed") {
          return refuse(problem);
        }
        showAbsence(ask, problem);
      }
      if (signal.aborted) return;
      if (index === 0) {
        result.hidden = false;
        result.scrollIntoView();
      }
    }
    part("progress").textContent = `Done: ${came} of ${asked.length}.`;
  } catch (error) {
    if (!signal.aborted) refuse({ title: "No answer", detail: `The service did not answer: ${error.message}` });
  }
}

// ------------------------------------------------------------ showing

function saved(ask, text, type, ending) {
  const address = URL.createObjectURL(new Blob([text], { type }));
  addresses.push(address);
  return make("a", {
    href: address, download: `${ask.id}.${ending}`, textContent: "Save", ariaLabel: `Save: ${ask.label}`,
  });
}

const head = (text, ...rest) =>
  make("div", { className: "head" }, make("h3", { textContent: text }), ...rest);

function showReport(ask, text) {
  const frame = make("iframe", { title: ask.label, srcdoc: text });
  // No script of a report would run; its own origin is kept so that its height can be read.
  frame.sandbox = "allow-same-origin";
  frame.addEventListener("load", () => {
    const root = frame.contentDocument.documentElement;
    const fit = () => { frame.style.height = `${root.offsetHeight}px`; };
    new ResizeObserver(fit).observe(root);
    fit();
  });
  result.append(head(ask.label, saved(ask, text, "text/html", "html")), frame);
}

// A frame that the keyboard has gone into is not :focus here; only the window's loss of focus shows it.
function markFrame() {
  for (const frame of result.querySelectorAll("iframe")) {
    frame.classList.toggle("entered", document.activeElement === frame);
  }
}

function place(ask, ...children) {
  let pictures = result.querySelector(".pictures");
  if (!pictures) {
    pictures = make("div", { className: "pictures" });
    result.append(head("Pictures"), pictures);
  }
  pictures.append(make("figure", {}, ...children));
}

async function showPicture(ask, text) {
  const drawing = new DOMParser().parseFromString(text, "image/svg+xml");
  const save = saved(ask, text, "image/svg+xml", "svg");
  const image = make("img", {
    alt: drawing.querySelector("title")?.textContent ?? ask.label, src: save.href,
  });
  const words = drawing.querySelector("desc")?.textContent;
  const caption = make("figcaption");
  if (words) caption.append(make("details", {}, make("summary", { textContent: "In words" }), words));
  caption.append(save);
  place(ask, image, caption);
}

function showAbsence(ask, problem) {
  const why = problem.errors?.map((error) => `${error.pointer || "The body"} ${error.detail}. ${error.hint}`);
  place(ask, make("strong", { textContent: ask.label }),
    make("p", { textContent: `Not drawn. ${why?.join(" ") || problem.detail}` }));
}

function showAnswer(ask, text) {
  const name = `${ask.label} as JSON`;
  const shown = make("pre", {
    textContent: JSON.stringify(JSON.parse(text), null, 2), tabIndex: 0, role: "region", ariaLabel: name,
  });
  result.append(head(name, saved(ask, text, "application/json", "json")),
    make("details", {}, make("summary", { textContent: "Show the whole answer" }), shown));
}

form.addEventListener("submit", (event) => { event.preventDefault(); send(); });
pick.addEventListener("change", load);
body.addEventListener("input", refresh);
part("key").addEventListener("change", () => keep("key", part("key").value.trim() || null));
part("command_of").addEventListener("change", showCommand);
part("copy").addEventListener("click", copy);
addEventListener("blur", markFrame);
addEventListener("focus", markFrame);
load();
