// The keyboard: everything that a pointer can do.

import { changed, desk } from "./desk.js";
import { h, show } from "./dom.js";
import { marking, place, redo, stop, undo } from "./marking.js";
import { frameOf, nudge, removeSelected } from "./stage/acts.js";

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const $ = (id) => document.getElementById(id);
let aim = null; // in photo pixels

export function moveAim() {
  const node = $("aim");
  const shown = Boolean(marking()) && document.activeElement === $("stage") && desk.aiming;
  node.hidden = !shown;
  if (!shown) return;
  aim ??= middleOfView();
  const [x, y] = desk.view.toScreen(aim);
  node.style.transform = `translate(${x}px, ${y}px)`;
}

const middleOfView = () => desk.view.toPhoto([desk.view.width / 2, desk.view.height / 2]);

// How far an arrow key goes: with Alt less far, with Shift farther.
function stride(event, { fine, plain, far }) {
  if (event.shiftKey) return far;
  return event.altKey ? fine : plain;
}

function stepAim(event, [dx, dy]) {
  if (!desk.aiming) aim = middleOfView();
  desk.aiming = true;
  const far = stride(event, { fine: 1, plain: 12, far: 60 }) / desk.view.scale;
  aim = desk.view.clampPoint([aim[0] + dx * far, aim[1] + dy * far]);
  desk.view.reveal(aim);
  moveAim();
  changed();
}

function panPhoto(event, [dx, dy]) {
  const far = event.shiftKey ? 200 : 60;
  desk.view.pan(-dx * far, -dy * far);
}

function onStage(event) {
  const step = ARROWS[event.key];
  if (step) (marking() ? stepAim : panPhoto)(event, step);
  else if (event.key === "Enter" && marking()) place(aim && desk.aiming ? aim : middleOfView());
  else return false;
  return true;
}

function onHandle(event, node) {
  const step = ARROWS[event.key];
  if (step) {
    // Here Alt goes before Shift.
    const far = event.altKey ? 0.1 : stride(event, { plain: 1, far: 10 });
    nudge(node, step[0] * far, step[1] * far);
  } else if (event.key === "Delete" || event.key === "Backspace") removeSelected();
  else return false;
  return true;
}

const WITH_CONTROL = { z: (event) => (event.shiftKey ? redo : undo)(), y: redo };
const ALONE = {
  "+": () => desk.view.zoom(1.25),
  "=": () => desk.view.zoom(1.25),
  "-": () => desk.view.zoom(0.8),
  0: () => desk.view.fit(),
  1: () => desk.view.zoom(1 / desk.view.dpr / desk.view.scale),
  f: () => desk.view.frame(frameOf()),
  escape: stop,
  "?": () => showHelp(),
};

function anywhere(event) {
  const key = event.key.toLowerCase();
  const table = event.ctrlKey || event.metaKey ? WITH_CONTROL : ALONE;
  if (!Object.hasOwn(table, key)) return false;
  if (table === ALONE && ((key === "f" && !frameOf()) || (key === "escape" && !marking()))) return false;
  table[key](event);
  return true;
}

export function listenToKeys() {
  document.addEventListener("keydown", (event) => {
    const { target } = event;
    const typing = target.matches("input:not([type=checkbox]):not([type=radio]), textarea, select");
    if (typing || $("help-box").open || document.body.classList.contains("starting")) return;
    const handle = target.closest("[data-handle]");
    const done =
      (handle && onHandle(event, handle)) || (target === $("stage") && onStage(event)) || anywhere(event);
    if (done) event.preventDefault();
  });
  $("stage").addEventListener("pointerdown", () => {
    desk.aiming = false;
    moveAim();
  });
  $("stage").addEventListener("blur", moveAim);
}

const KEYS = [
  ["Tab", "go to the next button or point"],
  ["Enter", "press; on the photo while marking: place a point at the aim"],
  [
    "Arrow keys",
    "on a point: 1 pixel; with Shift 10, with Alt a tenth. On the photo: move it, or the aim while marking",
  ],
  ["+  −  0  1", "closer, farther, whole photo, single pixels"],
  ["F", "zoom in on the selected measurement or the card"],
  ["Ctrl Z, Ctrl Shift Z", "undo, redo, as far back as you like; while marking, the last point"],
  ["Delete", "on a point: delete its measurement"],
  ["Esc", "stop marking"],
];

export function showHelp() {
  const box = $("help-box");
  show(
    box,
    h("h2", null, "How it works"),
    h(
      "ol",
      null,
      h(
        "li",
        null,
        "Open a photo of the part with a card lying beside it. The card gives the scale: its size is " +
          "known. No card? Under Scale you can choose a coin, a rule or another thing of known size.",
      ),
      h("li", null, "Check that the outline sits on the card's edges. If not, drag its corners there."),
      h(
        "li",
        null,
        "Pick a part and touch its two ends. The length appears with ±: the true length lies within it " +
          "95 times in 100.",
      ),
      h("li", null, "Note what can be counted or seen, then read the verdict."),
    ),
    h("h2", null, "Keys"),
    h(
      "dl",
      { class: "keys" },
      KEYS.map(([key, does]) => [h("dt", null, key), h("dd", null, does)]),
    ),
    h("button", { class: "main", onclick: () => box.close() }, "Close"),
  );
  box.showModal();
}
