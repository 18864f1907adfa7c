// Building and refreshing pieces of the page. Text goes in as text nodes only, never as markup.

const SVG = "http://www.w3.org/2000/svg";

function put(node, key, value) {
  if (key.startsWith("on") || key === "value" || key === "checked" || key === "selected" || key === "indeterminate") {
    node[key] = value ?? null;
    (node.own ??= {})[key] = value;
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
export const s = (tag, attributes, ...children) => make(document.createElementNS(SVG, tag), attributes, children);

function alike(a, b) {
  if (a.nodeType !== b.nodeType || a.nodeName !== b.nodeName) return false;
  return a.nodeType !== 1 || (a.getAttribute("data-key") === b.getAttribute("data-key") && a.type === b.type);
}

function refreshNode(old, fresh) {
  if (old.nodeType !== 1) {
    if (old.data !== fresh.data) old.data = fresh.data;
    return;
  }
  for (const { name } of [...old.attributes]) if (!fresh.hasAttribute(name) && name !== "style" && name !== "open") old.removeAttribute(name);
  // The page's policy allows no style attribute to be set; places are set through the style object.
  for (const { name, value } of [...fresh.attributes]) if (name !== "style" && old.getAttribute(name) !== value) old.setAttribute(name, value);
  if (fresh.style?.cssText && old.style.cssText !== fresh.style.cssText) old.style.cssText = fresh.style.cssText;
  for (const key of Object.keys(old.own ?? {})) if (key.startsWith("on") && !(fresh.own && key in fresh.own)) old[key] = null;
  refreshChildren(old, fresh);
  for (const [key, value] of Object.entries(fresh.own ?? {})) {
    // A field that the user is typing in is kept; everything else follows the record.
    if (key === "value" && old === document.activeElement && old.tagName !== "SELECT") continue;
    if (old[key] !== value) old[key] = value ?? (key === "value" ? "" : null);
  }
  old.own = fresh.own;
}

function refreshChildren(old, fresh) {
  const wanted = [...fresh.childNodes];
  let at = old.firstChild;
  for (const next of wanted) {
    let match = at;
    const key = next.nodeType === 1 ? next.getAttribute("data-key") : null;
    if (key) {
      while (match && !alike(match, next)) match = match.nextSibling;
      if (match && match !== at) old.insertBefore(match, at);
    }
    if (match && alike(match, next)) {
      if (match === at) at = at.nextSibling;
      refreshNode(match, next);
    } else {
      old.insertBefore(next, at);
    }
  }
  while (at) {
    const gone = at;
    at = at.nextSibling;
    gone.remove();
  }
}

// Make one node equal to another of its kind.
export const become = refreshNode;

// Make `place` show `children`, changing only what differs, so that focus, caret and scroll are kept.
export function show(place, ...children) {
  const fresh = document.createElement(place.tagName);
  make(fresh, null, children);
  refreshChildren(place, fresh);
}
