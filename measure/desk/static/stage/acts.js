// What touching the photo does besides marking: dragging points and corners, picking a measurement.

import { ask, changed, desk, measurements, notice, offerFor, photo, selected, speak } from "../desk.js";
import { hover, setLoupe as lendLoupe, marking, place } from "../marking.js";
import { cornersNow, handlePoints } from "./overlay.js";

let loupe = null;
let hideSoon = 0;

export { hover, place };

export function setLoupe(one) {
  loupe = one;
  lendLoupe(one);
}

export function tap(point, target) {
  if (marking()) {
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
  desk.mark = null;
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

// Show the point at its new place and request the reading there; nothing is recorded yet.
function tryPoint(point) {
  const { what, tried } = desk.active;
  if (tried?.[0] === point[0] && tried[1] === point[1]) return;
  desk.active.tried = point;
  if (what === "corner") {
    const corners = moved(cornersNow(), point);
    desk.live = { ...desk.live, corners_px: corners };
    desk.link.follow({ do: "try corners", photo: desk.photo, corners_px: corners }, (answer) => {
      if (!desk.live?.corners_px) return;
      desk.live = { ...desk.live, lengths: answer.lengths, facts: answer.facts, trouble: answer.error };
      changed();
    });
    return;
  }
  if (what === "draft") {
    desk.mark.clicks_px = moved(desk.mark.clicks_px, point);
    return;
  }
  const one = selected();
  const clicks = moved(desk.live?.id === one.id ? desk.live.clicks_px : one.clicks_px, point);
  desk.live = { id: one.id, clicks_px: clicks, lengths: desk.live?.lengths };
  if (!offerFor(one.kind, clicks.length).live) {
    desk.live.lengths = { [one.id]: { mm: "Measured when you let go." } };
    return;
  }
  desk.link.follow({ do: "try", id: one.id, clicks_px: clicks }, (answer) => {
    if (desk.live?.id !== one.id) return;
    desk.live = {
      ...desk.live,
      lengths: { [one.id]: answer.text ?? { mm: answer.error } },
      used_px: answer.used_px,
      curves_px: answer.curves_px,
    };
    changed();
  });
}

const onPhoto = (point) => (desk.active.what === "corner" ? point : desk.view.clampPoint(point));

// Request the reading at the new place before the frame that shows the point there.
export function ahead(point) {
  if (desk.active) tryPoint(onPhoto(point));
}

export function drag(wanted, pointerType) {
  if (!desk.active) return;
  const point = onPhoto(wanted);
  tryPoint(point);
  clearTimeout(hideSoon);
  loupe.show(point, pointerType !== "mouse");
  changed();
}

// Record what a drag came to.
async function recordDrag(held, live, join) {
  if (held.what === "corner" && live.corners_px) {
    await ask({ do: "corners", photo: desk.photo, corners_px: live.corners_px, join });
  } else if (live.id && live.clicks_px) {
    const answer = await ask({ do: "change", id: live.id, clicks_px: live.clicks_px, join });
    if (answer.text) speak(answer.text.spoken);
  }
}

// A later drag may have begun while the server answered; its state is kept.
function letGo(held, live) {
  if (desk.live === live || desk.live?.clicks_px === live.clicks_px) desk.live = null;
  if (desk.active === held) desk.active = null;
  changed();
}

export async function drop(cancelled, join = false) {
  const { active: held, live } = desk;
  if (!held) return;
  if (!join) loupe.hide();
  desk.link.forgetFollow();
  if (cancelled || !live) {
    desk.live = null;
    desk.active = null;
    changed();
    return;
  }
  await recordDrag(held, live, join);
  letGo(held, live);
}

let nudging = Promise.resolve();

export function nudge(node, dx, dy) {
  const [what, index] = node.dataset.handle.split(":");
  nudging = nudging
    .catch(() => null)
    .then(async () => {
      const now = handlePoints().find((one) => one.what === what && one.index === Number(index));
      if (!now) return;
      desk.active = { what, index: Number(index) };
      let point = [now.point[0] + dx, now.point[1] + dy];
      if (what !== "corner") point = desk.view.clampPoint(point);
      desk.view.reveal(point);
      loupe.show(point, false);
      clearTimeout(hideSoon);
      hideSoon = setTimeout(() => loupe.hide(), 1500);
      if (what === "draft") {
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
  const one = selected()?.photo === desk.photo ? selected() : null;
  const points = one
    ? [...one.clicks_px, ...(one.curves_px ?? []).flat()]
    : (photo()?.card?.corners_px ?? photo()?.outlines.flatMap((other) => other.points_px) ?? []);
  if (points.length < 2) return null;
  const [xs, ys] = [points.map(([x]) => x), points.map(([, y]) => y)];
  return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
};
