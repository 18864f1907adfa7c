// Marking on the photo, point by point: ends of a length, corners of a card, what gives the scale, a straight edge.

import { ask, changed, desk, feature, offer, offerFor, speak } from "./desk.js";
import { asked } from "./panels/question.js";

const CORNER = "where a corner is rounded, aim at where its straight edges would meet";
const CORNERS = [
  "corner 1 of the card",
  `corner 2, going around it; ${CORNER}`,
  `corner 3, going around it; ${CORNER}`,
  "corner 4, the last",
];

let loupe = null;
export const setLoupe = (one) => {
  loupe = one;
};

export const toPhoto = () => document.getElementById("stage").focus({ preventScroll: true });

function begin(mark, stay = false) {
  desk.mark = {
    clicks_px: [],
    undone: [],
    id: null,
    photo: desk.photo,
    title: "",
    draw: "line",
    labels: [],
    ...mark,
  };
  desk.selected = null;
  desk.live = null;
  if (!stay) toPhoto();
  changed();
}

// `key` is the way to measure; for a feature of the sheet by default the one that the sheet names. `stay`
// leaves the keyboard where it is, so that a list can be gone through by arrow keys.
export function startDraft(partId = null, featureId = null, key = null, stay = false) {
  const of = feature(partId, featureId);
  const way = key ? offer(key) : offerFor(of?.measured_as ?? "span");
  desk.step = "measure";
  if (asked()) {
    // the panel asks first
    changed();
    return;
  }
  begin(
    {
      what: "measure",
      way: way.key,
      kind: way.kind,
      least: way.least,
      most: way.most,
      asks: way.asks,
      labels: way.labels,
      draw: way.draw,
      live: way.live,
      part: partId,
      feature: featureId,
      name: of?.full_name ?? "",
      title: of?.full_name ?? "",
      standoff_mm: (way.flat && of?.standoff_mm) || 0,
      standoff_std_mm: of?.standoff_std_mm ?? 1,
    },
    stay,
  );
}

// `does` is what Python is asked once all four are marked.
export function startCorners(does = { do: "corners", fit: true }) {
  desk.step = "scale";
  begin({
    what: "corners",
    least: 4,
    most: 4,
    asks: CORNERS,
    labels: [1, 2, 3, 4].map((n) => `Corner ${n}`),
    draw: "ring",
    does,
  });
}

// Something other than a card that gives the scale: `fields` describe it, the points say where it is.
export function startSource(fields, { least, most, asks, title, draw = "line" }) {
  desk.step = "scale";
  begin({
    what: "source",
    least,
    most,
    asks,
    title,
    draw,
    does: { do: "add source", source: fields },
    as: "marks_px",
  });
}

export function startNearer(number) {
  begin({
    what: "source",
    least: 1,
    most: 1,
    asks: ["the side of the coin that is nearer to the camera"],
    does: { do: "nearer side", number },
    as: "nearer_px",
  });
}

export function startStraight() {
  desk.step = "scale";
  begin({
    what: "straight",
    least: 3,
    most: 16,
    byHand: true,
    does: { do: "add straight" },
    as: "points_px",
    asks: [
      "one end of an edge that is straight in reality",
      "a point on the same edge, between its ends",
      "the other end of that edge",
      "another point on the edge",
    ],
  });
}

export const marking = () => desk.mark;
export const draft = () => (desk.mark?.what === "measure" ? desk.mark : null);

export function stop() {
  desk.mark = null;
  desk.live = null;
  desk.hover = null;
  loupe.hide();
  changed();
}

const draftAsk = (mark, clicks) => {
  const { kind, part, feature: of, name, standoff_mm, standoff_std_mm, photo: on } = mark;
  return {
    kind,
    part,
    feature: of,
    name,
    standoff_mm,
    standoff_std_mm,
    photo: on,
    snap: desk.snap,
    clicks_px: clicks,
  };
};

// Place the next point of what is being marked.
export async function place(point) {
  const { mark } = desk;
  if (!mark || desk.placing) return;
  if (mark.photo !== desk.photo) Object.assign(mark, { photo: desk.photo, clicks_px: [] });
  mark.clicks_px = [...mark.clicks_px, desk.view.clampPoint(point)];
  mark.undone = [];
  desk.link.forgetFollow();
  const count = mark.clicks_px.length;
  if (count >= mark.least && !(mark.byHand && count < mark.most)) await settle(mark);
  changed();
}

const submit = (mark) =>
  mark.what === "measure"
    ? record(mark)
    : ask({
        ...mark.does,
        photo: mark.photo,
        [mark.as ?? "corners_px"]: mark.as === "nearer_px" ? mark.clicks_px[0] : mark.clicks_px,
      });

// A length is recorded: it's the selected one now, and further points may still be added where its kind allows.
function takeLength(mark, answer) {
  mark.id = answer.id;
  desk.selected = answer.id;
  if (mark.clicks_px.length >= mark.most && desk.mark === mark) desk.mark = null;
  if (answer.text) speak(answer.text.spoken);
}

function takeScale(mark, answer) {
  if (desk.mark === mark) desk.mark = null;
  if (answer.say) speak(answer.say);
}

// Submit what has been marked.
async function settle(mark) {
  desk.placing = true;
  changed();
  const answer = await submit(mark);
  desk.placing = false;
  desk.live = null;
  if (answer.error && !answer.id) mark.clicks_px = mark.clicks_px.slice(0, -1);
  else if (mark.what === "measure") takeLength(mark, answer);
  else takeScale(mark, answer);
}

const record = (mark) =>
  mark.id
    ? ask({ do: "change", id: mark.id, clicks_px: mark.clicks_px })
    : ask({ do: "add", ...draftAsk(mark, mark.clicks_px) });

export async function finish() {
  const { mark } = desk;
  if (mark?.byHand && mark.clicks_px.length >= mark.least) await settle(mark);
  else stop();
  changed();
}

// While points are being marked, undo takes back the last of them; else the last change of the record.
const inHand = () => (desk.mark && !desk.mark.id ? desk.mark : null);
export const undoName = () => (inHand()?.clicks_px.length ? "last point" : desk.state.undo);
export const redoName = () => (inHand()?.undone.length ? "point" : desk.state.redo);

export function undo() {
  if (desk.placing) return null;
  const mark = inHand();
  if (!mark?.clicks_px.length) return ask({ do: "undo" });
  mark.undone = [...mark.undone, mark.clicks_px.at(-1)];
  mark.clicks_px = mark.clicks_px.slice(0, -1);
  desk.live = null;
  changed();
  return null;
}

export async function redo() {
  if (desk.placing) return null;
  const mark = inHand();
  if (!mark?.undone.length) return ask({ do: "redo" });
  const undone = mark.undone.slice(0, -1);
  await place(mark.undone.at(-1));
  mark.undone = undone;
  changed();
  return null;
}

// A measurement in progress follows the record: undone points are its next ones again.
export function followRecord(measurements) {
  const mark = desk.mark;
  if (!mark?.id || desk.placing) return;
  const entry = measurements.find((one) => one.id === mark.id);
  if (entry) mark.clicks_px = entry.clicks_px;
  else {
    mark.undone = [mark.clicks_px.at(-1)];
    Object.assign(mark, { id: null, clicks_px: mark.clicks_px.slice(0, mark.least - 1) });
  }
}

// While the pointer moves to the next point, the length is already shown.
export function hover(at) {
  const mark = desk.mark;
  desk.hover = at && mark && !mark.id ? desk.view.clampPoint(desk.view.toPhoto(at)) : null;
  if (!desk.hover || !mark.clicks_px.length) return;
  const points = [...mark.clicks_px, desk.hover];
  if (mark.live && points.length >= mark.least) {
    desk.link.follow({ do: "try", draft: draftAsk(mark, points) }, (answer) => {
      if (desk.mark !== mark || mark.id) return;
      desk.live = { id: null, reading: answer.text ?? null };
      changed();
    });
  }
  changed();
}

// What to mark now, for the coaching line: the index of the point, and the words.
export function nextAsk() {
  const { mark } = desk;
  const count = mark.clicks_px.length;
  const of = mark.most === mark.least && mark.most > 1 ? `Point ${count + 1} of ${mark.most}` : "";
  return { of, words: mark.asks[count] ?? mark.asks.at(-1), enough: count >= mark.least };
}
