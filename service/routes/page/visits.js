// What the browser keeps: each visit under a key of its own, so that two tabs do not overwrite each other.

const VISIT = "readings.visit.", KEPT = "readings.";

let refused = false; // the browser keeps nothing (private window, full)
export const keepsNothing = () => refused;

function store(name, text) {
  try {
    localStorage.setItem(name, text);
    refused = false;
  } catch {
    refused = true;
  }
}
function stored(name) {
  try {
    return JSON.parse(localStorage.getItem(name));
  } catch {
    return null;
  }
}
function names() {
  try {
    return Object.keys(localStorage).filter((name) => name.startsWith(VISIT));
  } catch {
    return [];
  }
}

export const kept = (name) => stored(KEPT + name);
export function keep(name, value) {
  if (value !== null && value !== undefined) return store(KEPT + name, JSON.stringify(value));
  try { localStorage.removeItem(KEPT + name); } catch { /* nothing was kept */ }
}

export function fresh(units, kit) {
  return {
    id: Math.random().toString(36).slice(2, 10) + Date.now().toString(36),
    changed: new Date().toISOString(),
    tree: { units, ...(kit && Object.keys(kit).length ? { kit } : {}), runs: { before: { readings: {} } } },
    typed: {}, // as typed and in which system, so that switching back gives the same digits
    wrong: {}, // typed, and not a number
    parked: {}, // typed, and put aside for the other way to give it
  };
}

export function save(visit) {
  visit.changed = new Date().toISOString();
  store(VISIT + visit.id, JSON.stringify(visit));
  store(`${KEPT}now`, JSON.stringify(visit.id));
}
export const open = (id) => stored(VISIT + id);
export function remove(id) {
  try { localStorage.removeItem(VISIT + id); } catch { /* nothing was kept */ }
}
export function removeAll() {
  try {
    Object.keys(localStorage).filter((name) => name.startsWith(KEPT)).forEach((name) => localStorage.removeItem(name));
  } catch { /* nothing was kept */ }
}

export const title = (visit) => {
  const labels = visit.tree.labels ?? {};
  return [labels.visit, labels.unit, labels.site].filter(Boolean).join(", ")
    || `Visit of ${new Date(visit.changed).toLocaleString([], { dateStyle: "medium", timeStyle: "short" })}`;
};
export const list = () => names().map((name) => stored(name)).filter((visit) => visit?.tree)
  .sort((one, other) => (one.changed < other.changed ? 1 : -1));
