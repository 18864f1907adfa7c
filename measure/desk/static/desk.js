// What the page knows: the record as the server sends it, and this window's view. The server's record is authoritative.

const KEPT = "desk-place";

export const desk = {
  state: null,
  sheet: null,
  line: true,
  step: "measure",
  photo: null,
  selected: null,
  active: null, // the handle in hand: { what: "end" | "corner", index }
  mark: null, // what is being marked, point by point
  live: null, // lengths while something is being dragged
  snap: true,
  unit: "mm",
  link: null,
  view: null,
};

const listeners = new Set();
let asked = false;

export const onChange = (listener) => listeners.add(listener);

// Refresh everything that depends on the desk once, in the next frame.
export function changed() {
  if (asked) return;
  asked = true;
  requestAnimationFrame(() => {
    asked = false;
    for (const listener of listeners) listener();
    remember();
  });
}

// Go to a step; a mark in progress is kept only in its own step.
export function go(step) {
  desk.step = step;
  if (step !== (desk.mark?.what === "measure" ? "measure" : "scale")) desk.mark = null;
  changed();
}

function remember() {
  const { step, photo, selected, snap } = desk;
  try {
    sessionStorage.setItem(KEPT, JSON.stringify({ step, photo, selected, snap }));
  } catch {
    /* private windows may refuse; the record is safe anyway */
  }
}

export function recall() {
  try {
    Object.assign(desk, JSON.parse(sessionStorage.getItem(KEPT) ?? "{}"));
  } catch {
    /* a damaged note is no loss */
  }
}

export const photos = () => desk.state?.photos ?? [];
export const photo = () => photos().find((one) => one.id === desk.photo) ?? null;
export const measurements = () => desk.state?.measurements ?? [];
export const selected = () => measurements().find((one) => one.id === desk.selected) ?? null;
// The ways to measure: by their own key, and the one by which a measurement of the record was made.
export const offer = (key) => desk.state.kinds.find((one) => one.key === key);
export const offerFor = (kind, count = null) => {
  const ways = desk.state.kinds.filter((one) => one.kind === kind);
  return ways.find((one) => count !== null && count >= one.least && count <= one.most) ?? ways[0];
};
export const part = (id) => desk.sheet?.parts.find((one) => one.id === id) ?? null;
export const feature = (partId, id) => part(partId)?.features.find((one) => one.id === id) ?? null;
export const measured = (partId, id) =>
  measurements().filter((one) => one.part === partId && one.feature === id);
export const noted = (partId, id) =>
  desk.state.observations.find((one) => one.part === partId && one.feature === id) ?? null;

// The present reading of a measurement: live while dragged, else as recorded.
export const reading = (id) =>
  desk.live?.lengths?.[id] ?? measurements().find((one) => one.id === id)?.text ?? null;

let speaking = 0;
let toSay = {};

// For screen readers: only the last message on each topic within 400 ms.
export function speak(text, matter = "length") {
  clearTimeout(speaking);
  toSay[matter] = text;
  speaking = setTimeout(() => {
    document.getElementById("live").textContent = Object.values(toSay).join(" ");
    toSay = {};
  }, 400);
}

export function notice(text, kindOf = "note") {
  const place = document.getElementById("notices");
  const card = document.createElement("div");
  card.className = `notice ${kindOf}`;
  card.setAttribute("role", kindOf === "wrong" ? "alert" : "status");
  card.append(text);
  const close = document.createElement("button");
  close.append("Close");
  close.onclick = () => card.remove();
  card.append(close);
  place.append(card);
  setTimeout(() => card.remove(), kindOf === "wrong" ? 15000 : 6000);
}

// Send a request to the server; a refusal is shown in its own words.
export async function ask(what) {
  const answer = await desk.link.ask(what);
  if (answer.error) notice(answer.error, "wrong");
  return answer;
}
