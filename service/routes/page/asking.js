// Requests to the API: with the key where one is needed, again where the service is busy, and as a command.

import { known } from "./contract.js";
import { kept } from "./visits.js";

export class Refused extends Error {
  constructor(status, problem) {
    super(problem.detail ?? problem.title);
    this.status = status;
    this.problem = problem;
  }
}

const pause = (seconds, signal) => new Promise((resolve, reject) => {
  const timer = setTimeout(resolve, 1000 * seconds);
  signal?.addEventListener("abort", () => { clearTimeout(timer); reject(signal.reason); }, { once: true });
});

async function problemOf(response) {
  if (response.headers.get("Content-Type")?.includes("json")) return response.json();
  return { title: `Status ${response.status}`, detail: "The service sent no details.", errors: [] };
}

/** The answer as text; a busy service is asked twice more, after the delay it states. */
export async function ask(address, { body, signal } = {}) {
  const headers = {};
  if (body !== undefined) headers["Content-Type"] = "application/json";
  const key = kept("key");
  if (key) headers[known()?.header ?? "X-API-Key"] = key;
  for (let attempt = 0; ; attempt += 1) {
    const response = await fetch(address, { method: body === undefined ? "GET" : "POST", headers, body, signal });
    if (response.ok) return response.text();
    if (response.status !== 503 || attempt === 2) throw new Refused(response.status, await problemOf(response));
    await pause(Number(response.headers.get("Retry-After")) || 1, signal);
  }
}

/** The same request for a shell. A quoted here-document: the shell changes nothing within it. */
export function command(address, text, { key = false } = {}) {
  const full = location.origin + address;
  const quoted = full.includes("?") ? `'${full}'` : full;
  const asked = key ? ` -H '${known()?.header ?? "X-API-Key"}: YOUR-KEY'` : "";
  let end = "END";
  while (text.split("\n").includes(end)) end += "_";
  return `curl -s ${quoted} -H 'Content-Type: application/json'${asked} -d @- <<'${end}'\n${text}\n${end}`;
}

/** Copy a text; without a clipboard it is selected in the element that shows it. Says which. */
export async function copied(text, shown) {
  try {
    await navigator.clipboard.writeText(text);
    return "Copied.";
  } catch {
    shown.textContent = text;
    shown.closest("details")?.setAttribute("open", "");
    getSelection().selectAllChildren(shown);
    return "Selected below: copy it from there.";
  }
}

export function saveFile(name, text, type) {
  const address = URL.createObjectURL(new Blob([text], { type }));
  const link = Object.assign(document.createElement("a"), { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}
