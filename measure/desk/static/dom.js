// Building and refreshing pieces of the page. Text goes in as text nodes only, never as markup.

const SVG = "http://www.w3.org/2000/svg";

// What is set as a property, not as an attribute; `own` remembers it for the next refresh.
const PROPERTIES = ["value", "checked", "selected", "indeterminate"];

function put(node, key, value) {
  if (key.startsWith("on") || PROPERTIES.includes(key)) {
    node[key] = value ?? null;
    node.own = { ...node.own, [key]: value };
  } else if (value === false || value === null || value === undefined) {
    node.removeAttribute(key);
  } else {
    node.setAttribute(key, value === true ? "" : value);
  }
}

function make(node, attributes, children) {
  for (const [key, value] of Object.entries(attributes ?? {})) {
    if (key !== "value") put(node, key, value);
  }
  for (const child of children.flat(Infinity)) {
    if (child !== null && child !== undefined && child !== false) node.append(child);
  }
  if (attributes && "value" in attributes) put(node, "value", attributes.value);
  return node;
}

export const h = (tag, attributes, ...children) => make(document.createElement(tag), attributes, children);
export const s = (tag, attributes, ...children) =>
  make(document.createElementNS(SVG, tag), attributes, children);

function alike(a, b) {
  if (a.nodeType !== b.nodeType || a.nodeName !== b.nodeName) return false;
  return a.nodeType !== 1 || (a.getAttribute("data-key") === b.getAttribute("data-key") && a.type === b.type);
}

function refreshAttributes(old, fresh) {
  for (const { name } of [...old.attributes])
    if (!fresh.hasAttribute(name) && name !== "style" && name !== "open") old.removeAttribute(name);
  for (const { name, value } of [...fresh.attributes])
    if (name !== "style" && old.getAttribute(name) !== value) old.setAttribute(name, value);
  // The page's policy allows no style attribute to be set; places are set through the style object.
  const style = fresh.style?.cssText;
  if (style && old.style.cssText !== style) old.style.cssText = style;
}

function dropListeners(old, fresh) {
  for (const key of Object.keys(old.own ?? {}))
    if (key.startsWith("on") && !(fresh.own && key in fresh.own)) old[key] = null;
}

function refreshProperties(old, fresh) {
  // A field that the user is typing in is kept; everything else follows the record.
  const typing = old === document.activeElement && old.tagName !== "SELECT";
  for (const [key, value] of Object.entries(fresh.own ?? {})) {
    if (old[key] === value || (key === "value" && typing)) continue;
    old[key] = value ?? (key === "value" ? "" : null);
  }
  old.own = fresh.own;
}

function refreshNode(old, fresh) {
  if (old.nodeType !== 1) {
    if (old.data !== fresh.data) old.data = fresh.data;
    return;
  }
  refreshAttributes(old, fresh);
  dropListeners(old, fresh);
  refreshChildren(old, fresh);
  // After the children: a list's value is one of its options.
  refreshProperties(old, fresh);
}

// The node at or after `at` that is of a kind with `next`; one without a key is looked for in this very place only.
function counterpart(at, next) {
  const key = next.nodeType === 1 ? next.getAttribute("data-key") : null;
  let match = at;
  if (key) while (match && !alike(match, next)) match = match.nextSibling;
  return match && alike(match, next) ? match : null;
}

function removeFrom(first) {
  let at = first;
  while (at) {
    const gone = at;
    at = at.nextSibling;
    gone.remove();
  }
}

function refreshChildren(old, fresh) {
  let at = old.firstChild;
  for (const next of [...fresh.childNodes]) {
    const match = counterpart(at, next);
    if (!match) {
      old.insertBefore(next, at);
      continue;
    }
    if (match === at) at = at.nextSibling;
    else old.insertBefore(match, at);
    refreshNode(match, next);
  }
  removeFrom(at);
}

// Make one node equal to another of its kind.
export const become = refreshNode;

// Make `place` show `children`, changing only what differs, so that focus, caret and scroll are kept.
export function show(place, ...children) {
  const fresh = document.createElement(place.tagName);
  make(fresh, null, children);
  refreshChildren(place, fresh);
}
