// The instruments of the visit, with the accuracy that is assumed for each and may be replaced.

import { step } from "./body.js";
import { convert, decimals, known, lower, systemUnit, unitWord, words } from "./contract.js";
import { button, folded, make } from "./elements.js";
import { field, fieldsOf } from "./form.js";
import { set, sheet, system, value } from "./sheet.js";

/** An accuracy of the catalogue, which is in SI, in the units of the visit. */
function stated(row) {
  const units = known().errors[row.measures], unit = units && systemUnit(units, system());
  const sized = (size) => {
    const base = row.unit === "K" ? "delta_degC" : row.unit;
    if (!unit || !known().units[base]) return `${size} ${row.unit}`;
    const found = convert(size, base, unit);
    return `${Number(found.toFixed(decimals(unit) + 2))} ${unitWord(unit)}`.trim();
  };
  const parts = [
    row.percent_of_reading ? `${row.percent_of_reading} % of the reading` : "",
    row.percent_of_span ? `${row.percent_of_span} % of ${sized(row.span)}` : "",
    row.fixed ? sized(row.fixed) : "",
    row.counts ? `${row.counts} counts of ${sized(row.resolution)}` : "",
  ].filter(Boolean);
  return `${words(row.measures)}: ±${parts.join(" + ") || "0"}, shown to ${sized(row.resolution)}`;
}

function assumed(type) {
  const row = known().instruments.find((one) => one.type === type);
  if (!row) return null;
  return make("div", { className: "gives" }, make("p", {}, row.description),
    make("p", {}, "Assumed unless you state your own:"), make("ul", {}, row.accuracies.map((one) => make("li", {}, stated(one)))));
}

function rename(from, to, redraw) {
  const kit = value("/kit");
  if (!to || to === from || kit[to]) return redraw();
  const visit = sheet.visit;
  // What was read with it stays with it.
  const follow = (node) => {
    if (node === null || typeof node !== "object") return;
    if (node.instrument === from) node.instrument = to;
    Object.values(node).forEach(follow);
  };
  [visit.tree.runs, visit.tree.baseline, visit.settings].forEach(follow);
  set("/kit", Object.fromEntries(Object.entries(kit).map(([name, row]) => [name === from ? to : name, row])));
  redraw();
}

function instrument(name, redraw) {
  const at = `/kit/${step(name)}`, specs = known().fields.kit.fields;
  const own = make("input", { type: "text", maxLength: 60, value: name, autocomplete: "off", id: `${at.replaceAll(" ", "~")}~name` });
  own.addEventListener("change", () => rename(name, own.value.trim(), redraw));
  const type = field(`${at}/type`, specs.type, "Type");
  type.querySelector("select").addEventListener("change", redraw);
  const { type: _, accuracy, ...others } = specs;
  return make("fieldset", { className: "group" }, make("legend", {}, words(name)),
    make("div", { className: "fields" },
      make("div", { className: "field" }, make("label", { htmlFor: own.id }, "My name for it"), own), type),
    assumed(value(at)?.type),
    folded("My own accuracy, from its data sheet",
      make("p", { className: "gives" }, accuracy.about),
      make("div", { className: "fields" }, fieldsOf(`${at}/accuracy`, accuracy.fields)),
      make("div", { className: "fields" }, fieldsOf(at, others))),
    button(`Remove ${lower(name)}`, () => { set(at, undefined); redraw(true); }));
}

/** The list of instruments, drawn again when one is added, removed or renamed. */
export function kitPart() {
  const holder = make("div", {}), types = known().fields.kit.fields.type.of;
  const draw = (focus) => {
    const names = Object.keys(value("/kit") ?? {});
    holder.replaceChildren(...names.map((name) => instrument(name, draw)));
    if (focus === true) choice.focus();
  };
  const choice = make("select", { id: "new_instrument" }, types.map((type) => make("option", { value: type }, words(type))));
  const add = button("Add it", () => {
    const kit = value("/kit") ?? {}, base = lower(words(choice.value));
    let name = base;
    for (let count = 2; kit[name]; count += 1) name = `${base} ${count}`;
    set("/kit", { ...kit, [name]: { type: choice.value } });
    draw();
  });
  draw();
  return [holder, make("div", { className: "field" }, make("label", { htmlFor: choice.id }, "Add an instrument"),
    make("div", { className: "entry" }, choice, add))];
}
