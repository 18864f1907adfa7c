// What touching the photo does: placing points, dragging ends and corners, picking a measurement.

import { ask, changed, desk, feature, kind, measurements, notice, photo, selected, speak } from "./desk.js";
import { cornersNow, handlePoints } from "./overlay.js";

let loupe = null;
let hideSoon = 0;

export const setLoupe = (one) => { loupe = one; };

const snapNow = () => desk.snap;

export function startDraft(partId = null, featureId = null, kindKey = "span", name = "") {
  const of = feature(partId, featureId);
  desk.draft = {
    kind: of?.measured_as ?? kindKey, part: partId, feature: featureId, name: of?.full_name ?? name,
    standoff_mm: of?.standoff_mm ?? 0, standoff_std_mm: of?.standoff_std_mm ?? 1, photo: desk.photo, clicks_px: [], id: null,
  };
  desk.selected = null;
  desk.corners = null;
  desk.step = "measure";
  document.getElementById("stage").focus({ preventScroll: true });
  changed();
}

export function dropDraft() {
  desk.draft = null;
  desk.live = null;
  desk.hover = null;
  loupe.hide();
  changed();
}

export function startCorners() {
  desk.corners = [];
  desk.draft = null;
  desk.step = "card";
  document.getElementById("stage").focus({ preventScroll: true });
  changed();
}

const draftAsk = (clicks) => {
  const { kind: key, part, feature: of, name, standoff_mm, standoff_std_mm, photo: on } = desk.draft;
  return { kind: key, part, feature: of, name, standoff_mm, standoff_std_mm, photo: on, snap: snapNow(), clicks_px: clicks };
};

// Put down the next point of what is being marked.
export async function place(point) {
  point = desk.view.clampPoint(point);
  if (desk.corners) {
    desk.corners = [...desk.corners, point];
    speak(`Corner ${desk.corners.length} of 4 placed.`);
    if (desk.corners.length === 4) {
      const corners = desk.corners;
      const answer = await ask({ do: "corners", photo: desk.photo, corners_px: corners, fit: true, kind: desk.cornerKind });
      desk.corners = null;
      if (!answer.error) speak(answer.say ?? "Card outline set.");
    }
    changed();
    return;
  }
  const { draft } = desk;
  if (!draft || desk.placing) return;
  if (draft.photo !== desk.photo) draft.photo = desk.photo;
  draft.clicks_px = [...draft.clicks_px, point];
  const spec = kind(draft.kind);
  desk.link.forgetFollow();
  const count = draft.clicks_px.length;
  if (count < spec.least) {
    speak(`${spec.labels[count - 1] ?? "Point"} placed. Now ${spec.labels[count] ?? "the next point"}.`);
    changed();
    return;
  }
  desk.placing = true;
  const answer = draft.id
    ? await ask({ do: "change", id: draft.id, clicks_px: draft.clicks_px })
    : await ask({ do: "add", ...draftAsk(draft.clicks_px) });
  desk.placing = false;
  desk.live = null;
  if (answer.error && !answer.id) {
    draft.clicks_px = draft.clicks_px.slice(0, -1);
  } else {
    desk.selected = answer.id;
    draft.id = answer.id;
    if (count >= spec.most) desk.draft = null;
    if (answer.text) speak(answer.text.spoken);
  }
  changed();
}

// While the pointer travels from the first point to the second, the length is shown already.
export function hover(at) {
  desk.hover = at && desk.draft && !desk.draft.id ? desk.view.clampPoint(desk.view.toPhoto(at)) : null;
  const { draft } = desk;
  if (!draft?.clicks_px.length || draft.id || !desk.hover) return;
  const points = [...draft.clicks_px, desk.hover];
  if (points.length >= kind(draft.kind).least) {
    desk.link.follow({ do: "try", draft: draftAsk(points) }, (answer) => {
      if (desk.draft !== draft || draft.id) return;
      desk.live = { id: null, reading: answer.text ?? null };
      changed();
    });
  }
  changed();
}

export function tap(point, target) {
  if (desk.draft || desk.corners) {
    place(point);
    return;
  }
  const id = target.closest?.("[data-pick]")?.dataset.pick;
  if (id) select(id);
}

export function select(id) {
  const one = measurements().find((entry) => entry.id === id);
  if (!one) return;
  desk.selected = id;
  desk.draft = null;
  if (one.photo) desk.photo = one.photo;
  if (desk.step !== "measure") desk.step = "measure";
  changed();
}

export function grab(node) {
  const [what, index] = node.dataset.handle.split(":");
  desk.active = { what, index: Number(index) };
  desk.link.forgetFollow();
  return handlePoints().find((one) => one.what === what && one.index === Number(index)).point;
}

function moved(list, point) {
  return list.map((one, index) => (index === desk.active.index ? point : one));
}

// Show the point at its new place and ask what it reads there; nothing is recorded yet.
function tryPoint(point) {
  const { what } = desk.active;
  if (what === "corner") {
    const corners = moved(cornersNow(), point);
    if (desk.corners) {
      desk.corners = corners;
      return;
    }
    desk.live = { ...desk.live, corners_px: corners };
    desk.link.follow({ do: "try corners", photo: desk.photo, corners_px: corners }, (answer) => {
      if (!desk.live?.corners_px) return;
      desk.live = { ...desk.live, lengths: answer.lengths, facts: answer.facts, trouble: answer.error };
      changed();
    });
    return;
  }
  if (what === "draft") {
    desk.draft.clicks_px = moved(desk.draft.clicks_px, point);
    return;
  }
  const one = selected();
  const clicks = moved(desk.live?.id === one.id ? desk.live.clicks_px : one.clicks_px, point);
  desk.live = { id: one.id, clicks_px: clicks, lengths: desk.live?.lengths };
  desk.link.follow({ do: "try", id: one.id, clicks_px: clicks }, (answer) => {
    if (desk.live?.id !== one.id) return;
    desk.live = { ...desk.live, lengths: { [one.id]: answer.text ?? { mm: answer.error } }, used_px: answer.used_px, curves_px: answer.curves_px };
    changed();
  });
}

export function drag(point, at, pointerType) {
  if (!desk.active) return;
  point = desk.active.what === "corner" ? point : desk.view.clampPoint(point);
  tryPoint(point);
  clearTimeout(hideSoon);
  loupe.show(point, pointerType !== "mouse");
  changed();
}

export async function drop(cancelled, join = false) {
  const held = desk.active;
  if (!held) return;
  if (!join) loupe.hide();
  const live = desk.live;
  desk.link.forgetFollow();
  if (cancelled || !live) {
    desk.live = null;
    desk.active = null;
    changed();
    return;
  }
  if (held.what === "corner" && live.corners_px) {
    await ask({ do: "corners", photo: desk.photo, corners_px: live.corners_px, join });
  } else if (live.id && live.clicks_px) {
    const answer = await ask({ do: "change", id: live.id, clicks_px: live.clicks_px, join });
    if (answer.text) speak(answer.text.spoken);
  }
  // A later drag may have begun while Python answered; its picture stays.
  if (desk.live === live || desk.live?.clicks_px === live.clicks_px) desk.live = null;
  if (desk.active === held) desk.active = null;
  changed();
}

let nudging = Promise.resolve();

export function nudge(node, dx, dy) {
  const [what, index] = node.dataset.handle.split(":");
  nudging = nudging.catch(() => null).then(async () => {
    const now = handlePoints().find((one) => one.what === what && one.index === Number(index));
    if (!now) return;
    desk.active = { what, index: Number(index) };
    let point = [now.point[0] + dx, now.point[1] + dy];
    if (what !== "corner") point = desk.view.clampPoint(point);
    desk.view.reveal(point);
    loupe.show(point, false);
    clearTimeout(hideSoon);
    hideSoon = setTimeout(() => loupe.hide(), 1500);
    if (what === "draft" || desk.corners) {
      tryPoint(point);
      desk.active = null;
      changed();
      return;
    }
    if (what === "corner") desk.live = { corners_px: moved(cornersNow(), point) };
    else {
      const one = selected();
      desk.live = { id: one.id, clicks_px: moved(one.clicks_px, point), lengths: desk.live?.lengths };
    }
    changed();
    await drop(false, true);
  });
  return nudging;
}

export async function removeSelected() {
  const one = selected();
  if (!one) return;
  const answer = await ask({ do: "delete", id: one.id });
  if (!answer.error) {
    desk.selected = null;
    notice(`“${one.name}” is deleted. Undo brings it back.`);
  }
  changed();
}

export const frameOf = () => {
  const points = [...(selected()?.photo === desk.photo ? selected().clicks_px : photo()?.card?.corners_px ?? [])];
  if (points.length < 2) return null;
  const [xs, ys] = [points.map(([x]) => x), points.map(([, y]) => y)];
  return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
};
