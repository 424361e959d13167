// What the service publishes of its contract for this page, and names and numbers in words.

let contract = null;

export async function load() {
  const response = await fetch("/page/fields.json");
  if (!response.ok) throw new Error(`status ${response.status}`);
  contract = await response.json();
  whole(contract.fields);
  return contract;
}
/** What fields of one kind share is sent once. */
function whole(fields) {
  for (const field of Object.values(fields)) {
    Object.assign(field, contract.kinds[field.like]);
    whole(field.fields ?? {});
  }
}
export const known = () => contract;

const CAPITALS = new Set(["eer", "eer2", "seer", "seer2", "cop", "cop2", "hspf", "hspf2", "l1", "l2", "l3"]);

/** A name of the contract as people write it. */
export function words(name) {
  const text = String(name).split("_").map((word) => (CAPITALS.has(word) ? word.toUpperCase() : word)).join(" ");
  return text.charAt(0).toUpperCase() + text.slice(1);
}
export const lower = (text) => (/^[A-Z][a-z]/.test(text) ? text.charAt(0).toLowerCase() + text.slice(1) : text);

export const quantity = (name) => contract.quantities[name] ?? words(name);
export const unitWord = (symbol) => contract.units[symbol]?.[2] ?? symbol;
export const decimals = (symbol) => contract.units[symbol]?.[3] ?? 1;
export const systemUnit = (units, system) => units?.[system === "metric" ? 1 : 0] ?? "";

/** A number in another unit of its kind. */
export function convert(value, from, to) {
  if (from === to) return value;
  const [scale, offset] = contract.units[from], [scaleTo, offsetTo] = contract.units[to];
  const found = (scale * value + offset - offsetTo) / scaleTo;
  return Number(found.toFixed(Math.max(decimals(to) + 1, 3 - Math.floor(Math.log10(Math.abs(found) || 1)))));
}

/** A number for a sentence, with a proper minus sign. */
export function figure(value, places = 1, signed = false) {
  const text = Math.abs(value).toFixed(places);
  const sign = Number(text) === 0 ? "" : value < 0 ? "\u2212" : signed ? "+" : "";
  return sign + text;
}
export const amount = (value, unit, signed = false) =>
  `${figure(value, decimals(unit), signed)} ${unitWord(unit)}`.trim();
export const band = (found, unit, signed = false) =>
  `${figure(found.low, decimals(unit), signed)} to ${figure(found.high, decimals(unit), signed)}`;

/**
 * What was typed as a number. A comma is a decimal comma, unless three digits follow it, which could be either.
 * Returns the number, a list for repeats, undefined for nothing, or throws an Error that says what to type.
 */
export function parsed(text, repeats = false) {
  const pieces = text.trim().replaceAll("\u2212", "-").split(/[\s;]+/).filter(Boolean);
  if (!pieces.length) return undefined;
  const numbers = pieces.map((piece) => {
    if (/^[+-]?[1-9]\d{0,2}(,\d{3})+$/.test(piece)) {
      throw new Error(`Leave out the comma: write ${piece.replaceAll(",", "")}, or use a point for decimals.`);
    }
    const plain = piece.replace(",", ".");
    if (!/^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain)) throw new Error(`“${piece}” is not a number.`);
    return Number(plain);
  });
  if (numbers.length === 1) return numbers[0];
  if (!repeats) throw new Error("Enter one number.");
  return numbers;
}
