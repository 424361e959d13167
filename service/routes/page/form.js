// Fields of the worksheet, each made from its node of the contract.

import { AFTER, BEFORE, hasLog, step } from "./body.js";
import { convert, decimals, figure, known, lower, parsed, systemUnit, unitWord, words } from "./contract.js";
import { button, folded, lazily, make } from "./elements.js";
import {
  choose, number, ofMode, putBack, set, setNumber, settings, sheet, shown, system, tell, unitOf, value, watch,
} from "./sheet.js";

/** The input of each place, and what people call it. */
export const inputs = new Map();

// ------------------------------------------------------------ what every field has

function register(pointer, input) {
  inputs.set(pointer, { input, label: fullName(pointer) });
}

/** What a place is called outside its group: with the names of the groups, and the run where there are two. */
export function fullName(pointer) {
  const parts = pointer.split("/").filter(Boolean);
  const own = parts.lastIndexOf("readings") >= 0 ? parts.slice(parts.lastIndexOf("readings") + 1)
    : parts.slice(parts[0] === "runs" ? 2 : 1);
  return words((own.length ? own : parts).join("_")) + (pointer.startsWith(AFTER) ? " (after)" : "");
}

/** Ids of elements: a place of the visit, without the spaces that would part a list of ids. */
const idOf = (text) => text.replaceAll(" ", "~");

/** Refusals and hints at a field, kept up to date; ``lines`` describe the field too. */
function notes(pointer, input, ...lines) {
  const wrong = make("p", { className: "wrong", id: idOf(`${pointer} wrong`), hidden: true });
  const next = make("p", { className: "next", id: idOf(`${pointer} next`), hidden: true });
  const given = lines.filter(Boolean);
  given.forEach((line, index) => { line.id = idOf(`${pointer} note${index}`); });
  watch(() => {
    const found = sheet.problems.get(pointer), why = sheet.pointed.get(pointer);
    wrong.hidden = !found;
    wrong.textContent = found ?? "";
    next.hidden = !why || shown(pointer) !== "";
    next.textContent = why ? `Read next. ${why}` : "";
    if (found) input.setAttribute("aria-invalid", "true");
    else input.removeAttribute("aria-invalid");
    const described = [wrong, next, ...given].filter((line) => !line.hidden).map((line) => line.id);
    if (described.length) input.setAttribute("aria-describedby", described.join(" "));
  });
  return [wrong, next, ...given];
}

function box(pointer, input, label, ...rest) {
  register(pointer, input);
  input.id = idOf(pointer);
  return make("div", { className: "field" }, make("label", { htmlFor: input.id }, label), ...rest);
}

/** A description this short says no more than the label of a choice. */
const SHORT = 30;

/** What an entry is and how it was taken, on demand; its summary says what the entry is for. */
function about(spec, label, gives, ...more) {
  const text = gives ? `For ${gives.map(lower).join(", ")}` : "About";
  const details = lazily(text, () => [
    spec.about ? make("p", {}, spec.about) : null, ...more.map((build) => build()),
  ].filter(Boolean), { className: "about" });
  details.querySelector("summary").setAttribute("aria-label", gives ? `${text}: about ${lower(label)}` : `About ${lower(label)}`);
  return details;
}

const option = (of, text, chosen) => make("option", { value: of, selected: of === chosen }, text);

function smallSelect(pointer, label, name, options, chosen) {
  const select = make("select", { id: idOf(`${pointer} ${name}`) },
    options.map(([of, text]) => option(of, text, chosen)));
  select.addEventListener("change", () => choose(pointer, name, select.value));
  return make("div", { className: "setting" }, make("label", { htmlFor: select.id }, label), select);
}

// ------------------------------------------------------------ numbers

function range(spec, unit) {
  if (!spec.range) return "";
  const [low, high] = spec.range.map((end) =>
    (spec.kind === "amount" ? convert(end, systemUnit(spec.units, "imperial"), unit) : end));
  const places = (end) => (Number.isInteger(end) ? 0 : decimals(unit));
  return `Possible: ${figure(low, places(low))} to ${figure(high, places(high))} ${unitWord(unit)}.`.replace(" .", ".");
}

function unitText(pointer, spec) {
  const chosen = unitOf(pointer, spec), reference = settings(pointer).reference;
  const word = unitWord(chosen);
  return spec.references ? `${word} ${reference ?? spec.references[0]}` : word;
}

function numberSettings(pointer, spec, label, name) {
  const kit = () => Object.keys(value("/kit") ?? {});
  const { gives } = known();
  return about(spec, label, ofMode(gives)[name]?.map((place) => gives.labels[place]),
    () => make("p", {}, range(spec, unitOf(pointer, spec))),
    () => (spec.repeats ? make("p", {}, "For repeats with the same instrument, enter them all with spaces between.") : null),
    () => (spec.choices?.length > 1
      ? smallSelect(pointer, "Unit", "unit", [["", `As set for the visit (${unitWord(systemUnit(spec.units, system()))})`],
        ...spec.choices.map((unit) => [unit, unitWord(unit)])], settings(pointer).unit ?? "") : null),
    () => (spec.references
      ? smallSelect(pointer, "Gauge or absolute", "reference", spec.references.map((one, index) =>
        [index ? one : "", words(one)]), settings(pointer).reference ?? "") : null),
    () => (spec.instrument && kit().length
      ? smallSelect(pointer, "Instrument", "instrument", [["", "Whichever of my instruments can read it"],
        ...kit().map((one) => [one, one])], settings(pointer).instrument ?? "") : null));
}

const allowsNegative = (spec) => (spec.range ?? [0])[0] < 0;

/** What a reading of the second run changed, as read. */
function changeLine(pointer, spec) {
  if (!pointer.startsWith(AFTER)) return null;
  const before = pointer.replace(AFTER, BEFORE), line = make("p", { className: "change" });
  watch(() => {
    const [one, two] = [number(before), number(pointer)];
    line.hidden = typeof one !== "number";
    if (line.hidden) return;
    const unit = unitOf(before, spec), same = unit === unitOf(pointer, spec)
      && settings(before).reference === settings(pointer).reference;
    const places = Math.max(...[one, two].map((each) => String(each ?? "").split(".")[1]?.length ?? 0));
    const was = `Before: ${one} ${unitWord(unit)}`.trim();
    line.textContent = typeof two === "number" && same
      ? `${was}. Change as read: ${figure(two - one, Math.min(places, 3), true)} ${unitWord(unit)}`.trim() : was;
  });
  return line;
}

function numeric(pointer, spec, label, name) {
  const many = spec.repeats || spec.kind === "numbers";
  const input = make("input", {
    type: "text", inputMode: "decimal", autocomplete: "off", enterKeyHint: "next", spellcheck: false,
    value: shown(pointer), name: pointer,
  });
  const read = () => {
    const { wrong, typed } = sheet.visit;
    delete wrong[pointer];
    delete typed[pointer];
    let found;
    try {
      found = parsed(input.value, many);
      if (found !== undefined && spec.kind === "amount") typed[pointer] = { text: input.value.trim(), system: system() };
      if (found !== undefined && spec.kind === "numbers") found = [found].flat();
    } catch {
      wrong[pointer] = input.value; // kept as typed, and not sent
    }
    if (spec.kind === "amount") setNumber(pointer, found);
    else set(pointer, found);
  };
  input.addEventListener("input", () => read());
  input.addEventListener("change", () => showWrong(pointer));
  const unit = make("span", { className: "unit" });
  watch(() => { unit.textContent = spec.units ? unitText(pointer, spec) : ""; });
  const sign = allowsNegative(spec)
    ? button("±", () => {
      input.value = input.value.trim().startsWith("-") ? input.value.trim().slice(1) : `-${input.value.trim()}`;
      read();
      input.focus();
    }, { className: "sign", tabIndex: -1, ariaLabel: `Change the sign of ${lower(label)}` }) : null;
  const lines = notes(pointer, input, unit, changeLine(pointer, spec));
  return box(pointer, input, label,
    make("div", { className: "entry" }, input, sign, unit),
    ...lines.filter((line) => line !== unit),
    spec.kind === "amount" || spec.about ? numberSettings(pointer, spec, label, name) : null);
}

/** Say at a field what is wrong with what was typed there. */
export function showWrong(pointer) {
  const text = sheet.visit.wrong[pointer];
  if (text === undefined) return false;
  try {
    parsed(text, true);
    sheet.problems.set(pointer, "Enter one number.");
  } catch (error) {
    sheet.problems.set(pointer, error.message);
  }
  tell();
  return true;
}

// ------------------------------------------------------------ choices, texts, times

const choiceText = (of) => (typeof of === "number" ? String(of) : words(of));

function chosen(pointer, spec, label, options = spec.of) {
  const now = value(pointer);
  const all = now === undefined || now === null || options.includes(now) ? options : [...options, now];
  const text = (one) => (spec.kind === "flag" ? (one ? "Yes" : "No") : spec.kind === "choice" ? choiceText(one) : one);
  const none = spec.default === undefined ? "Not stated" : `${text(spec.default)} (not stated)`;
  const select = make("select", { name: pointer }, make("option", { value: "" }, none),
    all.map((one, index) => make("option", { value: String(index), selected: one === now }, text(one))));
  select.addEventListener("change", () => set(pointer, select.value === "" ? undefined : all[Number(select.value)]));
  return box(pointer, select, label, select, ...notes(pointer, select), spec.about?.length > SHORT ? about(spec, label) : null);
}

function textual(pointer, spec, label) {
  const input = make("input", {
    type: "text", autocomplete: "off", maxLength: spec.longest ?? 200, value: value(pointer) ?? "", name: pointer,
  });
  input.addEventListener("input", () => set(pointer, input.value.trim() || undefined));
  return box(pointer, input, label, input, ...notes(pointer, input, spec.about ? make("p", { className: "gives" }, spec.about) : null));
}

const two = (count) => String(count).padStart(2, "0");
/** A local time with its offset, as ISO 8601 has it. */
function stamped(local) {
  const date = new Date(local), offset = -date.getTimezoneOffset();
  const shift = `${offset < 0 ? "-" : "+"}${two(Math.floor(Math.abs(offset) / 60))}:${two(Math.abs(offset) % 60)}`;
  return `${local.length === 16 ? `${local}:00` : local}${shift}`;
}
function local(date) {
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())}T${two(date.getHours())}:${two(date.getMinutes())}`;
}
function moment(pointer, spec, label) {
  const now = value(pointer);
  const input = make("input", { type: "datetime-local", name: pointer, value: now ? local(new Date(now)) : "" });
  const read = () => set(pointer, input.value ? stamped(input.value) : undefined);
  input.addEventListener("change", read);
  const fill = button("Now", () => { input.value = local(new Date()); read(); }, { ariaLabel: `${label}: now` });
  return box(pointer, input, label, make("div", { className: "entry" }, input, fill), ...notes(pointer, input));
}

function several(pointer, spec, label) {
  const now = new Set(value(pointer) ?? []);
  const boxes = spec.of.map((one) => {
    const input = make("input", { type: "checkbox", checked: now.has(one), name: pointer });
    input.addEventListener("change", () => {
      if (input.checked) now.add(one);
      else now.delete(one);
      set(pointer, now.size ? [...now] : undefined);
    });
    return make("label", { className: "tick" }, input, words(one));
  });
  register(pointer, boxes[0].querySelector("input"));
  return make("fieldset", { className: "ticks" }, make("legend", {}, label), ...boxes,
    ...notes(pointer, boxes[0].querySelector("input")));
}

// ------------------------------------------------------------ a log as a file

/** Text of a file; spreadsheets that do not write UTF-8 write Windows-1252. */
async function textOf(file) {
  const bytes = await file.arrayBuffer();
  try {
    return new TextDecoder("utf-8", { fatal: true }).decode(bytes);
  } catch {
    return new TextDecoder("windows-1252").decode(bytes);
  }
}

/** How much a log holds, whichever way it was given. */
function sizeOf(log) {
  const count = (number, what) => `${number} ${what}${number === 1 ? "" : "s"}`;
  if (!log?.csv) return count(log.seconds?.length ?? 0, "row") + `, ${count(Object.keys(log.readings ?? {}).length, "reading")}`;
  const lines = log.csv.split(/[\r\n]+/).filter((line) => line.trim()), [head] = lines;
  const mark = head ? [";", "\t", ","].find((one) => head.includes(one)) ?? "," : ",";
  return `${count(Math.max(lines.length - 1, 0), "row")}, ${count((head ?? "").split(mark).length - 1, "reading")}`;
}

function file(pointer) {
  const log = pointer.slice(0, pointer.lastIndexOf("/"));
  const input = make("input", { type: "file", accept: ".csv,.txt,text/csv", name: pointer });
  const said = make("p", { role: "status" });
  const remove = button("Remove the log", () => {
    set(log, undefined);
    input.focus();
  });
  let name = "The log";
  input.addEventListener("change", async () => {
    const [found] = input.files;
    if (!found) return;
    const text = await textOf(found), { start } = value(log) ?? {};
    ({ name } = found);
    input.value = ""; // the same file, corrected, can be chosen again
    set(log, { ...(start ? { start } : {}), csv: text });
  });
  watch(() => {
    remove.hidden = !hasLog(value(log));
    said.textContent = remove.hidden ? "" : `${name}: ${sizeOf(value(log))}.`;
  });
  inputs.set(pointer, { input, label: `Log${pointer.startsWith(AFTER) ? " (after)" : ""}` });
  input.id = idOf(pointer);
  return make("div", { className: "field" }, make("label", { className: "file" }, "Log as a CSV file ", input), said, remove,
    ...notes(pointer, input, make("p", { className: "gives" },
      "A header row of seconds and the names of readings, each with its unit in brackets; then one row for each time.")));
}

// ------------------------------------------------------------ groups and lists

function group(pointer, spec, label, skip) {
  const inside = fieldsOf(pointer, spec.fields, skip);
  if (!inside.length) return null;
  return make("fieldset", { className: "group" }, make("legend", {}, label), make("div", { className: "fields" }, inside));
}

function rows(pointer, spec, label) {
  const holder = make("div", { className: "rows" });
  const draw = () => {
    const all = value(pointer) ?? [];
    holder.replaceChildren(...all.map((_, index) => make("fieldset", { className: "group" },
      make("legend", {}, `${label}, row ${index + 1}`),
      make("div", { className: "fields" }, fieldsOf(`${pointer}/${index}`, spec.fields)),
      button("Remove this row", () => {
        const left = (value(pointer) ?? []).filter((__, place) => place !== index);
        for (const map of [sheet.visit.typed, sheet.visit.wrong, sheet.visit.settings ?? {}]) {
          Object.keys(map).filter((at) => at.startsWith(`${pointer}/`)).forEach((at) => delete map[at]);
        }
        set(pointer, left.length ? left : undefined);
        draw();
      }))));
  };
  draw();
  return make("fieldset", { className: "group" }, make("legend", {}, label),
    spec.about ? make("p", { className: "gives" }, spec.about) : null, holder,
    button("Add a row", () => {
      set(pointer, [...(value(pointer) ?? []), {}]);
      draw();
      holder.querySelector("fieldset:last-child input")?.focus();
    }));
}

/** A table by class of reading, such as an instrument's own accuracies. */
function byName(pointer, spec, label) {
  const names = known().classes;
  return folded(label, spec.about ? make("p", { className: "gives" }, spec.about) : null, names.map((name) =>
    lazily(words(name), () => make("div", { className: "fields" }, fieldsOf(`${pointer}/${step(name)}`, spec.fields)))));
}

/** One field of any kind; ``skip`` names places shown elsewhere. */
export function field(pointer, spec, label, skip = new Set(), name = pointer.split("/readings/")[1]?.replace("/", ".")) {
  if (skip.has(pointer)) return null;
  switch (spec.kind) {
    case "amount": case "number": case "numbers": return numeric(pointer, spec, label, name);
    case "choice": return chosen(pointer, spec, label);
    case "flag": return chosen(pointer, spec, label, [true, false]);
    case "moment": return moment(pointer, spec, label);
    case "file": return file(pointer);
    case "several": return several(pointer, spec, label);
    case "group": return group(pointer, spec, label, skip);
    case "rows": return rows(pointer, spec, label);
    case "named": return byName(pointer, spec, label);
    default:
      return pointer === "/unit/refrigerant"
        ? chosen(pointer, spec, label, known().refrigerants) : textual(pointer, spec, label);
  }
}

export const fieldsOf = (pointer, fields, skip) => Object.entries(fields)
  .map(([name, spec]) => field(`${pointer}/${name}`, spec, words(name), skip)).filter(Boolean);

const specAt = (spec, path) => path.reduce((node, name) => node?.fields?.[name], spec);

/** A part of the body: what is asked first, then the rest on demand. */
export function portion(pointer, spec, first, more, skip = new Set()) {
  const paths = first.map((path) => path.split(".")).filter((path) => specAt(spec, path));
  const placed = new Set([...skip, ...paths.map((path) => `${pointer}/${path.join("/")}`)]);
  const asked = paths.map((path) => field(`${pointer}/${path.join("/")}`, specAt(spec, path), words(path.join("_")), skip));
  const rest = fieldsOf(pointer, spec.fields, placed);
  return [
    make("div", { className: "fields" }, asked),
    rest.length ? make("details", { "data-key": `${pointer} more` }, make("summary", {}, more),
      make("div", { className: "fields" }, rest)) : null,
  ].filter(Boolean);
}

// ------------------------------------------------------------ readings

/** Two ways to give one thing: one is shown, the other offered; what was typed in the other is put aside. */
function either(run, names, specs) {
  const at = (name) => `${run}/readings/${name}`;
  const blocks = names.map((name) => {
    const block = field(at(name), specs[name], words(name));
    const other = names.find((one) => one !== name);
    block.append(button(`Give ${lower(words(other))} instead`, () => swap(other), { className: "swap" }));
    return block;
  });
  const swap = (to) => {
    const from = names.find((name) => name !== to), { parked, typed, wrong } = sheet.visit;
    parked[at(from)] = { text: inputs.get(at(from)).input.value, system: system() };
    delete wrong[at(from)];
    delete typed[at(from)];
    set(at(from), undefined);
    const { input } = inputs.get(at(to));
    input.value = putBack(parked[at(to)], specs[to]);
    inputs.get(at(from)).input.value = "";
    show(to);
    input.dispatchEvent(new Event("input"));
    input.focus();
  };
  const has = (name) => shown(at(name)) !== "";
  const show = (name) => blocks.forEach((block, index) => {
    block.hidden = names[index] !== name && !has(names[index]);
  });
  show(names.find(has) ?? names[0]);
  return blocks;
}

function readingFields(run, names, specs) {
  const pairs = known().instead, found = [];
  for (const name of names) {
    const pair = pairs.find((one) => one.includes(name) && one.every((each) => names.includes(each)));
    if (!pair) found.push(field(`${run}/readings/${name}`, specs[name], words(name)));
    else if (pair[0] === name) found.push(...either(run, pair, specs));
  }
  return make("div", { className: "fields" }, found);
}

/** All readings of a run: the usual ones, then the rest by heading; ``carried`` are those of the run before. */
export function readings(run, carried = []) {
  const specs = known().fields.run.fields.readings.fields, { usual, headings, instead } = known();
  const wanted = new Set([...ofMode(usual), ...carried].filter((name) => specs[name]));
  for (const pair of instead) {
    if (pair.some((name) => wanted.has(name))) pair.filter((name) => specs[name]).forEach((name) => wanted.add(name));
  }
  // In the order in which the first run was taken, else in that of the contract.
  const order = [...wanted];
  const placed = new Set(order), shownLater = headings.map(({ title, readings: names }) => ({
    title, names: names.filter((name) => specs[name] && !placed.has(name)),
  }));
  shownLater.forEach(({ names }) => names.forEach((name) => placed.add(name)));
  const unlisted = Object.keys(specs).filter((name) => !placed.has(name));
  if (unlisted.length) shownLater.push({ title: "Other readings", names: unlisted });
  return [
    readingFields(run, order, specs),
    ...shownLater.filter(({ names }) => names.length).map(({ title, names }) => {
      const count = make("span", { className: "count" });
      watch(() => {
        const filled = names.filter((name) => value(`${run}/readings/${name}`) !== undefined).length;
        const next = names.some((name) => [...sheet.pointed.keys()].some((at) => at.startsWith(`${run}/readings/${name}`)));
        count.textContent = [filled ? ` ${filled} filled in` : "", next ? " read next" : ""].filter(Boolean).join(",");
      });
      return make("details", { "data-key": `${run} ${title}` }, make("summary", {}, title, count),
        readingFields(run, names, specs));
    }),
  ];
}
