// Elements of the page, made in one place.

export const part = (id) => document.getElementById(id);

export function make(tag, properties = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (value === undefined || value === false) continue;
    if (name in node && !name.includes("-")) node[name] = value;
    else node.setAttribute(name, value);
  }
  node.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== ""));
  return node;
}
export const button = (text, act, properties = {}) => {
  const node = make("button", { type: "button", ...properties }, text);
  node.addEventListener("click", act);
  return node;
};
export const folded = (summary, ...children) => make("details", {}, make("summary", {}, summary), ...children);

/** Details whose content is made when they are first opened. */
export function lazily(summary, build, properties = {}) {
  const node = make("details", properties, make("summary", {}, summary));
  let built = false;
  const fill = () => {
    if (built) return;
    built = true;
    node.append(...[build()].flat());
  };
  node.addEventListener("toggle", () => { if (node.open) fill(); });
  node.fill = fill;
  return node;
}
export function unfold(node) {
  for (let outer = node.parentElement; outer; outer = outer.parentElement) {
    if (outer.tagName === "DETAILS") outer.open = true;
    if (outer.hidden) outer.hidden = false;
  }
}
/** A link to a field, which may be folded away. */
export function jump(text, target) {
  const node = make("a", { href: `#${encodeURIComponent(target.id)}`, className: "link" }, text);
  node.addEventListener("click", (event) => { event.preventDefault(); goTo(target); });
  return node;
}
/** Bring a field into view and give it the focus. */
export function goTo(node) {
  unfold(node);
  node.focus({ preventScroll: true });
  node.scrollIntoView({ block: "center" });
}
