// The visit that is open, what was found about its fields, and who is notified of a change.

import { get, put, step } from "./body.js";
import { convert, known, parsed, systemUnit } from "./contract.js";
import { keep, save } from "./visits.js";

export const sheet = {
  visit: null,
  problems: new Map(), // place -> what the service refused there
  pointed: new Map(), // place -> why it is worth reading next
};
const watchers = new Set();

export const system = () => sheet.visit.tree.units;
export const value = (pointer) => get(sheet.visit.tree, pointer);

/** What a table says of the mode of the visit; of cooling if none is stated. */
export const ofMode = (table) => table[value("/unit/mode")] ?? table.cooling;

export function watch(act) {
  watchers.add(act);
  act();
}
export const unwatch = () => watchers.clear();
export const tell = () => watchers.forEach((act) => act());

export function set(pointer, found) {
  put(sheet.visit.tree, pointer, found);
  sheet.problems.delete(pointer);
  if (pointer.startsWith("/kit")) keep("kit", sheet.visit.tree.kit);
  save(sheet.visit);
  tell();
}

// ------------------------------------------------------------ numbers with their settings

const SETTINGS = ["unit", "reference", "instrument"];

export function settings(pointer) {
  const chosen = sheet.visit.settings?.[pointer];
  if (chosen) return { ...chosen };
  const found = value(pointer);
  const own = found !== null && typeof found === "object" && !Array.isArray(found) ? found : {};
  return Object.fromEntries(SETTINGS.filter((name) => own[name]).map((name) => [name, own[name]]));
}
export function number(pointer) {
  const found = value(pointer);
  return found !== null && typeof found === "object" && !Array.isArray(found) ? found.value ?? found.values : found;
}
function joined(numbers, chosen) {
  if (numbers === undefined || !Object.keys(chosen).length) return numbers;
  return { [Array.isArray(numbers) ? "values" : "value"]: numbers, ...chosen };
}
/** The settings outlast the number: an emptied field keeps its unit. */
export function setNumber(pointer, numbers) {
  const own = settings(pointer);
  if (Object.keys(own).length) sheet.visit.settings = { ...sheet.visit.settings, [pointer]: own };
  set(pointer, joined(numbers, own));
}

export function choose(pointer, name, chosen) {
  const own = settings(pointer);
  if (chosen) own[name] = chosen;
  else delete own[name];
  const numbers = number(pointer);
  sheet.visit.settings = { ...sheet.visit.settings, [pointer]: { ...own } };
  set(pointer, joined(numbers, own));
}
export const unitOf = (pointer, spec) => settings(pointer).unit ?? systemUnit(spec.units, system());

export function shown(pointer) {
  const { wrong, typed } = sheet.visit;
  if (wrong[pointer] !== undefined) return wrong[pointer];
  const found = number(pointer);
  if (found === undefined || found === null) return "";
  const before = typed[pointer];
  if (before && before.system === system()) return before.text;
  return [found].flat().join(" ");
}

// ------------------------------------------------------------ the other unit system

function* amounts(fields, node, pointer) {
  for (const [name, spec] of Object.entries(fields)) {
    const found = node?.[name], at = `${pointer}/${name}`;
    if (found === undefined || found === null) continue;
    if (spec.kind === "amount") yield [at, spec];
    else if (spec.kind === "group") yield* amounts(spec.fields, found, at);
    else if (spec.kind === "rows") {
      for (const index of found.keys()) yield* amounts(spec.fields, found[index], `${at}/${index}`);
    }
  }
}
function* everyAmount(tree) {
  const { fields } = known();
  yield* amounts(fields, tree, "");
  for (const at of ["/runs/before", "/runs/after", "/baseline"]) {
    yield* amounts(fields.run.fields, get(tree, at), at);
  }
  for (const name of Object.keys(tree.kit ?? {})) {
    yield* amounts(fields.kit.fields, tree.kit[name], `/kit/${step(name)}`);
  }
}

/** An accuracy in bare numbers keeps the unit that it was written in. */
function fixAccuracies(tree, old) {
  const { errors, instruments } = known();
  for (const found of Object.values(tree.kit ?? {})) {
    const main = instruments.find((type) => type.type === found.type)?.accuracies[0]?.measures;
    const own = [...(found.accuracy ? [[main, found.accuracy]] : []), ...Object.entries(found.accuracies ?? {})];
    for (const [measured, accuracy] of own) {
      const sized = accuracy.fixed ?? accuracy.span ?? accuracy.resolution ?? found.repeatability;
      if (sized !== undefined && !accuracy.unit && errors[measured]) {
        accuracy.unit = systemUnit(errors[measured], old);
      }
    }
  }
}

/** Numbers as typed in one unit system, in another. */
function numbersIn(to, typed, spec) {
  const unit = (which) => systemUnit(spec.units, which);
  return [parsed(typed.text, true)].flat().map((one) => convert(one, unit(typed.system), unit(to)));
}
/** What was put aside, in the unit system of now; what is no number stays as it is. */
export function putBack(parked, spec) {
  if (!parked || parked.system === system()) return parked?.text ?? "";
  try {
    return numbersIn(system(), parked, spec).filter((one) => one !== undefined).join(" ");
  } catch {
    return parked.text;
  }
}

/** Show the visit in another unit system: what was typed is converted; a unit of its own stays. */
export function switchUnits(to) {
  const { visit } = sheet, from = system();
  if (from === to) return;
  for (const [pointer, spec] of [...everyAmount(visit.tree)]) {
    const own = settings(pointer);
    // A unit of its own stays, and so does what an imported file has in place of a number: it will be refused.
    if (own.unit || [number(pointer)].flat().some((one) => typeof one !== "number")) continue;
    const typed = visit.typed[pointer] ??= { text: [number(pointer)].flat().join(" "), system: from };
    const now = numbersIn(to, typed, spec);
    put(visit.tree, pointer, joined(now.length > 1 ? now : now[0], own));
  }
  fixAccuracies(visit.tree, from);
  visit.tree.units = to;
  keep("units", to);
  keep("kit", visit.tree.kit);
  save(visit);
}
