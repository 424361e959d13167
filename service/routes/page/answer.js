// What the service answered: first words, then pictures, then numbers with their bands.

import { ask, copied, command, Refused, saveFile } from "./asking.js";
import { get, placeOf } from "./body.js";
import { amount, band, figure, known, lower, quantity, words } from "./contract.js";
import { button, folded, jump, lazily, make, part, unfold } from "./elements.js";
import { fullName, inputs } from "./form.js";
import { sheet, tell } from "./sheet.js";
import { kept } from "./visits.js";

const PICTURES = {
  visit: [
    ["limits", "most=8", "Values against their limits"], ["fault_probabilities", "most=8", "What may be wrong"],
    ["refrigerant_cycle", "", "Refrigerant cycle"], ["air_process", "", "Air through the indoor coil"],
  ],
  comparison: [
    ["changes", "most=10", "What changed"], ["limits", "most=8", "Values against their limits"],
    ["refrigerant_cycle", "", "Refrigerant cycle"], ["air_process", "", "Air through the indoor coil"],
  ],
};
const GRADES = {
  nonconforming: "Outside its limit", inconclusive: "Cannot be decided", conforming: "Within its limit",
};
const percent = (found) => `${figure(found.value, 1, true)} % (95 %: ${figure(found.band.low, 1, true)} to ${figure(found.band.high, 1, true)} %)`;

const section = (title, ...children) => {
  const found = children.flat().filter(Boolean);
  return found.length ? make("section", {}, make("h3", {}, title), ...found) : null;
};
/** The first sentence, and the rest of the text. */
function led(text) {
  const end = text.search(/\.\s+(?=[A-Z])/);
  return [make("p", { className: "lead" }, end < 0 ? text : text.slice(0, end + 1)),
    end < 0 ? null : make("p", {}, text.slice(end + 1).trim())];
}
const paragraphs = (texts) => texts.filter(Boolean).map((text) => make("p", {}, text));
const list = (items, tag = "ul") => (items.length ? make(tag, {}, items.map((item) => make("li", {}, item))) : null);

// ------------------------------------------------------------ what to read next

const nameOf = (place) => inputs.get(place)?.label ?? fullName(place);

function fieldLink(path, tree) {
  const place = placeOf(path, tree);
  const found = inputs.get(place)
    ? place : [...inputs.keys()].find((one) => one.startsWith(`${place}/`));
  const name = nameOf(place);
  return found ? jump(name, inputs.get(found).input) : name;
}

/** What to add next: first what most of the service's proposals need and gives something alone, then the shortest. */
function additions(assessment) {
  const proposed = [...assessment.next_readings].sort((one, other) => one.add.length - other.add.length);
  const shared = new Map();
  for (const { quantity: name, unlock } of assessment.missing) {
    for (const [path, ...others] of unlock.map((way) => way.add)) {
      if (others.length || 2 * proposed.filter(({ add }) => add.includes(path)).length <= proposed.length) continue;
      shared.set(path, [...(shared.get(path) ?? []), name]);
    }
  }
  const first = [...shared].sort(([, one], [, other]) => other.length - one.length).slice(0, 2)
    .map(([path, unlocks]) => ({ add: [path], unlocks }));
  const rest = proposed.filter(({ add }) => !add.some((path) => first.some((one) => one.add[0] === path)));
  const few = rest.filter(({ add }) => add.length <= 2);
  return [...first, ...(few.length || first.length ? few : rest)].slice(0, 4);
}

/**
 * What settles a doubt about the readings, the next readings of a diagnosis, then the additions that unlock values:
 * the shortest first.
 */
function nextReadings(diagnosis, assessment, tree) {
  sheet.pointed.clear();
  const items = [];
  for (const { code, sentence } of assessment.usability.notices) {
    const path = known().settled[code.split(".")[0]], place = path && placeOf(path, tree);
    if (!place || get(tree, place) !== undefined) continue;
    sheet.pointed.set(place, sentence);
    items.push([fieldLink(path, tree), ": it settles a doubt about these readings."]);
  }
  for (const next of diagnosis?.next_readings ?? []) {
    const place = placeOf(next.reading, tree);
    // The sentence begins with the name of what is read, which the link has already.
    const text = next.sentence.replace(/^[^:]+: /, "");
    sheet.pointed.set(place, `${text.charAt(0).toUpperCase()}${text.slice(1)}`);
    items.push([fieldLink(next.reading, tree), `: ${text}`]);
  }
  for (const { add, unlocks } of additions(assessment)) {
    const gives = unlocks.map((name) => lower(quantity(name)));
    const short = gives.length > 4 ? `${gives.slice(0, 4).join(", ")} and ${gives.length - 4} more` : gives.join(", ");
    const places = add.map((path) => placeOf(path, tree));
    if (add.length === 1 && sheet.pointed.has(places[0])) continue;
    places.forEach((place, index) => {
      const others = places.filter((_, each) => each !== index).map((one) => lower(nameOf(one)));
      if (!sheet.pointed.has(place)) {
        sheet.pointed.set(place, `${others.length ? `With ${others.join(" and ")} it` : "It"} gives ${short}.`);
      }
    });
    const names = add.flatMap((path, index) => [index ? (index === add.length - 1 ? " and " : ", ") : "", fieldLink(path, tree)]);
    items.push([...names, `: ${add.length === 1 ? "it gives" : "together they give"} ${short}.`]);
  }
  tell();
  return section("Read next", list(items));
}

// ------------------------------------------------------------ parts of an answer

function cautions(rows) {
  if (!rows.length) return null;
  return section("Cautions", make("ul", { className: "cautions" }, rows.map((row) => make("li", {},
    make("strong", {}, `${words(row.signal_word)}: `), row.text))),
  paragraphs([...new Set(rows.map((row) => row.deferral))]));
}

function findings(assessment, title = "Against limits") {
  const rows = assessment.findings, of = (grade) => rows.filter((row) => row.grade === grade);
  const line = (row) => [make("strong", {}, `${GRADES[row.grade]}: `), row.sentence];
  const pressing = [...of("nonconforming"), ...of("inconclusive")];
  const fine = of("conforming");
  return section(title,
    list(pressing.map(line)),
    fine.length ? folded(`${fine.length} within ${fine.length === 1 ? "its limit" : "their limits"}`, list(fine.map((row) => row.sentence))) : null,
    !rows.length ? make("p", {}, "No reading could be compared with a limit yet.") : null);
}

/** Doubts about the readings of a run; those already ``shown`` are not repeated. */
function usability(assessment, run = "", shown = []) {
  const { grade } = assessment.usability, before = shown.map((row) => row.sentence);
  const notices = assessment.usability.notices.filter((row) => !before.includes(row.sentence));
  const lead = { not_usable: "These readings cannot be judged", usable_with_reservations: "Use with care" }[grade];
  if (!notices.length) return null;
  return section(`${lead ?? "Note"}${run ? ` (${run})` : ""}`, list(notices.map((row) => row.sentence)));
}

/** What a log says, and when its readings will have settled. */
function logged({ log, usability: { settles_in: settles } }, run = "") {
  return log && section(`The log${run && ` (${run})`}`, paragraphs([log.sentence, settles?.sentence]),
    folded("Each reading of the log", list(Object.values(log.readings).map((row) => row.sentence))));
}

function missing(rows) {
  return rows.length
    ? folded(`${rows.length} ${rows.length === 1 ? "value" : "values"} could not be derived`,
      list(rows.map((row) => `${quantity(row.quantity)}: ${row.reason}`))) : null;
}

function hypotheses(answer) {
  const rows = answer.hypotheses.filter((row) => row.probability >= 0.05);
  return section("What may be wrong", rows.map((row) => folded(
    `${words(row.text)}: probability ${figure(row.probability, 2)}`,
    list(row.evidence_for.map((text) => `For: ${text}`)), list(row.evidence_against.map((text) => `Against: ${text}`)),
    row.tells_apart ? make("p", {}, `To tell it apart: ${row.tells_apart}`) : null)),
  answer.taken_on_trust.length ? [make("p", {}, "Taken on trust:"), list(answer.taken_on_trust)] : null);
}

/** A table that a narrow screen shows as blocks: each cell names its column. */
function table(caption, heads, rows) {
  return make("table", {}, make("caption", {}, caption),
    make("thead", {}, make("tr", {}, heads.map((head) => make("th", { scope: "col" }, head)))),
    make("tbody", {}, rows.map((cells) => make("tr", {}, cells.map((cell, index) => (index
      ? make("td", { "data-head": heads[index] }, cell) : make("th", { scope: "row" }, cell)))))));
}
function numbers(assessment, caption) {
  return table(caption, ["Value", "Best estimate", "95 % band"], Object.entries(assessment.derived).map(([name, row]) =>
    [quantity(name), amount(row.value, row.unit), band(row.band, row.unit)]));
}
const VERDICTS = {
  improved: "Improved", worsened: "Worsened", neither: "Changed; neither better nor worse",
  no_material_change: "No material change", inconclusive: "Cannot be decided",
};
function changes(answer) {
  const rows = Object.entries(answer.changes).map(([name, row]) => {
    const common = row.at_common_conditions, unit = row.difference_unit;
    return [quantity(name), `${amount(row.before, row.unit)} → ${amount(row.after, row.unit)}`,
      common ? `${amount(common.value, unit, true)} (${band(common.band, unit, true)})` : "not known",
      VERDICTS[row.verdict] ?? "Not judged by itself"];
  });
  return table("Changes", ["Value", "As read", "Under the same conditions (95 % band)", "Verdict"], rows);
}

function ofVisit(answer, tree) {
  const { assessment } = answer, unknown = !answer.hypotheses.length;
  return [
    ...led(answer.sentence),
    usability(assessment),
    logged(assessment),
    // Where no fault can be named, the findings are what is known.
    unknown ? findings(assessment) : null,
    section("What to do, in this order", list(answer.next_steps.map((row) => row.text), "ol")),
    nextReadings(answer, assessment, tree),
    cautions(answer.cautions),
    unknown ? null : findings(assessment),
    hypotheses(answer),
    missing(assessment.missing),
  ];
}

function ofComparison(answer, tree) {
  const { system, worth, conditions, assessments } = answer;
  const causes = system.points_to.filter((row) => row.probability >= 0.1);
  return [
    ...led(system.sentence),
    paragraphs([conditions.sentence, worth?.sentence]),
    section("What the change points to", list(causes.map((row) =>
      `${words(row.text)}: probability ${figure(row.probability, 2)}${row.change_percent ? `; ${percent(row.change_percent)}` : ""}`))),
    usability(assessments.before, "before"), usability(assessments.after, "after", assessments.before.usability.notices),
    logged(assessments.before, "before"), logged(assessments.after, "after"),
    nextReadings(null, assessments.after, tree),
    cautions(answer.cautions),
    findings(assessments.after, "Against limits, after the work"),
    missing(assessments.after.missing),
  ];
}

// ------------------------------------------------------------ pictures and reports

let addresses = [];
function addressOf(text, type) {
  const address = URL.createObjectURL(new Blob([text], { type }));
  addresses.push(address);
  return address;
}

async function draw(holder, [name, query, title], text, signal) {
  const figureOf = make("figure", {}, make("p", { className: "quiet" }, `${title} …`));
  holder.append(figureOf);
  try {
    const svg = await ask(`/v1/plots/${name}?format=svg${query ? `&${query}` : ""}`, { body: text, signal });
    const drawing = new DOMParser().parseFromString(svg, "image/svg+xml");
    const address = addressOf(svg, "image/svg+xml"), inWords = drawing.querySelector("desc")?.textContent;
    figureOf.replaceChildren(
      make("img", { src: address, alt: drawing.querySelector("title")?.textContent ?? title }),
      make("figcaption", {}, inWords ? folded("In words", inWords) : null,
        make("a", { href: address, download: `${name}.svg`, "aria-label": `Save picture: ${title}` }, "Save picture")));
  } catch (error) {
    if (!(error instanceof Refused) || error.status !== 422) throw error;
    const why = (error.problem.errors ?? []).map((row) => row.hint || row.detail).join(" ");
    figureOf.replaceChildren(make("p", {}, make("strong", {}, title)), make("p", { className: "quiet" },
      `Not drawn: the readings do not allow it. ${why}`));
  }
}

/** A report in a frame as tall as its content; it can be printed and saved. */
async function report(holder, audience, text) {
  holder.replaceChildren(make("p", { role: "status" }, "Writing the report …"));
  const html = await ask(`/v1/reports?audience=${audience}`, { body: text });
  const title = `Report for the ${audience}`;
  const frame = make("iframe", { title, srcdoc: html });
  // No script of a report would run; its own origin is kept so that it can be measured and printed.
  frame.sandbox = "allow-same-origin allow-modals";
  frame.addEventListener("load", () => {
    const root = frame.contentDocument.documentElement;
    const fit = () => { frame.style.height = `${root.offsetHeight}px`; };
    new ResizeObserver(fit).observe(root);
    fit();
  });
  holder.replaceChildren(make("div", { className: "row" },
    button("Print this report", () => frame.contentWindow.print()),
    button("Save this report", () => saveFile(`report-${audience}.html`, html, "text/html"))), frame);
  holder.firstElementChild.firstElementChild.focus();
}

function handOver(kind, text, onProblem) {
  const holder = make("div", { className: "report" });
  const trying = (act) => () => act().catch((error) => { holder.replaceChildren(); onProblem(error); });
  const address = kind === "comparison" ? "comparisons" : "assessments";
  return make("section", {}, make("h3", {}, "Hand over"),
    make("div", { className: "row" },
      button("Report for the technician", trying(() => report(holder, "technician", text))),
      button("Report for the customer", trying(() => report(holder, "customer", text))),
      JSON.parse(text).baseline ? null : button("Save values as CSV", trying(async () =>
        saveFile("values.csv", await ask(`/v1/${address}?format=csv`, { body: text }), "text/csv")))),
    holder);
}

function requestSent(address, text) {
  const shown = make("pre", { tabIndex: 0, role: "region", ariaLabel: "Request" });
  const said = make("span", { role: "status", className: "quiet" });
  const curl = () => command(address, text, { key: Boolean(kept("key")) });
  const node = lazily("The request that was sent", () => {
    shown.textContent ||= curl();
    return shown;
  });
  const copy = (label, what) => button(label, async () => { node.fill(); said.textContent = await copied(what(), shown); });
  return make("section", {}, make("h3", {}, "For developers"),
    make("div", { className: "row" }, copy("Copy as curl", curl), copy("Copy as JSON", () => text), said), node);
}

// ------------------------------------------------------------ the whole

export function clear() {
  addresses.forEach((address) => URL.revokeObjectURL(address));
  addresses = [];
  part("answer").hidden = true;
}

/** Ask for the answer and show it; pictures follow one by one. */
export async function show(body, tree, signal, onProblem, onAnswer) {
  const kind = body.runs ? "comparison" : "visit", text = JSON.stringify(body, null, 2);
  const address = kind === "comparison" ? "/v1/comparisons" : "/v1/diagnoses";
  const answer = JSON.parse(await ask(address, { body: text, signal }));
  clear();
  const pictures = make("div", { className: "pictures" });
  const tables = kind === "comparison"
    ? [changes(answer), numbers(answer.assessments.after, "Values after the work")]
    : [numbers(answer.assessment, "Values")];
  part("answer_body").replaceChildren(...[
    ...(kind === "comparison" ? ofComparison(answer, tree) : ofVisit(answer, tree)),
    handOver(kind, text, onProblem),
    section("Pictures", pictures),
    section("Numbers", tables.map((one) => folded(one.caption.textContent, one))),
    requestSent(address, text),
  ].flat().filter(Boolean));
  part("answer").hidden = false;
  onAnswer();
  unfold(part("answer_body"));
  part("answer_title").focus({ preventScroll: true });
  part("answer").scrollIntoView();
  const logs = [body.run, body.runs?.before, body.runs?.after].some((run) => run?.log);
  for (const row of [...PICTURES[kind], ...(logs ? [["course", "", "Readings over time"]] : [])]) await draw(pictures, row, text, signal);
}
