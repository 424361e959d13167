// The visit as a tree with two runs, and as a body of the API: an assessment's with one run, a comparison's with two.

export const BEFORE = "/runs/before", AFTER = "/runs/after";

const steps = (pointer) => pointer.split("/").slice(1)
  .map((step) => step.replaceAll("~1", "/").replaceAll("~0", "~"));
export const step = (name) => String(name).replaceAll("~", "~0").replaceAll("/", "~1");

export function get(tree, pointer) {
  let node = tree;
  for (const name of steps(pointer)) node = node?.[name];
  return node;
}

/** Set a value; undefined removes it, and what it leaves empty. */
export function put(tree, pointer, value) {
  const names = steps(pointer), last = names.pop(), way = [tree];
  for (const name of names) {
    let next = way.at(-1)[name];
    if (next === null || typeof next !== "object") {
      if (value === undefined) return;
      next = way.at(-1)[name] = {};
    }
    way.push(next);
  }
  if (value !== undefined) {
    way.at(-1)[last] = value;
    return;
  }
  delete way.at(-1)[last];
  for (let depth = names.length; depth > 0; depth -= 1) {
    const node = way[depth];
    if (Array.isArray(node) || Object.keys(node).length) break;
    delete way[depth - 1][names[depth - 1]];
  }
}

export const hasLog = (log) => Boolean(log?.csv ?? log?.seconds);
const filled = (run) => Object.keys(run?.readings ?? {}).length > 0 || hasLog(run?.log);
export const hasAfter = (tree) => filled(get(tree, AFTER));

function without(tree, ...names) {
  return Object.fromEntries(Object.entries(tree).filter(([name]) => !names.includes(name)));
}
// What the times of a log count from says nothing without the log.
const run = (found) => ({ ...(hasLog(found?.log) ? found : without(found ?? {}, "log")), readings: found?.readings ?? {} });

/** The body to send and to export. */
export function toBody(tree) {
  const before = get(tree, BEFORE), after = get(tree, AFTER);
  if (hasAfter(tree)) {
    return { ...without(tree, "baseline"), runs: { before: run(before), after: run(after) } };
  }
  const work = tree.service?.work;
  const rest = without(tree, "runs", "service", "smallest_change_that_matters");
  return { ...rest, run: { ...run(before), ...(work ? { work } : {}) } };
}

/** A body from a file as a tree. */
export function fromBody(body) {
  if (body === null || typeof body !== "object" || Array.isArray(body)) {
    throw new Error("The file does not contain a visit.");
  }
  if (body.runs && !Array.isArray(body.runs)) return structuredClone(body);
  if (!body.run) {
    throw new Error("The file contains neither a single run nor runs before and after. Plans and series are for the JSON page.");
  }
  const { run: only, ...rest } = structuredClone(body);
  const { work, ...readings } = only;
  return { ...rest, ...(work ? { service: { work } } : {}), runs: { before: readings } };
}

/** The place in the tree that a pointer or a dotted path of the API means. */
export function placeOf(path, tree) {
  const pointer = path.startsWith("/") ? path : `/${path.replaceAll(".", "/")}`;
  if (pointer === "/run/work" || pointer.startsWith("/run/work/")) return pointer.replace("/run/", "/service/");
  const latest = hasAfter(tree) ? AFTER : BEFORE;
  return pointer.startsWith("/run/") ? latest + pointer.slice(4) : pointer;
}
