// The side of the page: the six steps, the line that says what to do now, and the panel of the step.

import { desk, go, notice, photo, photos } from "../desk.js";
import { become, h, show } from "../dom.js";
import { draft } from "../marking.js";
import { ASIDE, coach } from "./coach.js";
import { keepPanel } from "./keep.js";
import { measurePanel } from "./measure.js";
import { notePanel } from "./note.js";
import { photoPanel, startPage } from "./photo.js";
import { readout, smallReadout } from "./readout.js";
import { scalePanel } from "./scale.js";
import { verdictPanel } from "./verdict.js";

const STEPS = [
  ["photo", "Photo", photoPanel],
  ["scale", "Scale", scalePanel],
  ["measure", "Measure", measurePanel],
  ["note", "Note", notePanel],
  ["verdict", "Verdict", verdictPanel],
  ["keep", "Keep", keepPanel],
];
const $ = (id) => document.getElementById(id);

export async function openFiles(files) {
  desk.jump = true;
  for (const file of files) {
    const toml = file.name.toLowerCase().endsWith(".toml");
    notice(`Opening ${file.name}…`);
    try {
      const answer = await fetch(
        `/api/${toml ? "sheet" : "photo"}?name=${encodeURIComponent(file.name.toWellFormed?.() ?? file.name)}`,
        { method: "POST", body: file },
      );
      const told = await answer.json();
      if (told.error) notice(told.error, "wrong");
    } catch {
      notice(`${file.name} could not be uploaded; try again.`, "wrong");
    }
  }
}

const isDimension = (one) => one.kind === "dimension";

function scaleMark() {
  const shot = photo();
  if (shot?.scale) return shot.scale.sure ? "✓" : "≈ likely";
  if (shot?.looking) return "…";
  return photos().length ? "!" : "";
}

function measureMark() {
  const made = desk.state.measurements;
  if (!made.length) return "";
  const wanted = (desk.sheet?.parts ?? []).flatMap((part) =>
    part.features.filter(isDimension).map((one) => ({ part: part.id, feature: one.id })),
  );
  if (!wanted.length) return `${made.length}`;
  const isDone = ({ part, feature }) =>
    made.some((one) => one.part === part && one.feature === feature && one.text);
  return `${wanted.filter(isDone).length}/${wanted.length}`;
}

function noteMark() {
  const wanted = (desk.sheet?.parts ?? []).flatMap((part) =>
    part.features.filter((one) => !isDimension(one)),
  );
  const seen = desk.state.observations.filter((one) => one.feature && one.state === "seen");
  return wanted.length ? `${seen.length}/${wanted.length}` : "";
}

// How far each step is, in a sign or a few characters.
const stepMarks = () => ({
  photo: photos().length ? `${photos().length}` : "",
  scale: scaleMark(),
  measure: measureMark(),
  note: noteMark(),
  verdict: desk.state.verdict?.sign ?? "",
  keep: desk.state.kept.length ? "✓" : "",
});

function steps() {
  const marks = stepMarks();
  const move = (event, index) => {
    const by = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (!by) return;
    event.preventDefault();
    event.stopPropagation();
    const next = STEPS[(index + by + STEPS.length) % STEPS.length][0];
    go(next);
    requestAnimationFrame(() => requestAnimationFrame(() => $(`step-${next}`).focus()));
  };
  show(
    $("steps"),
    STEPS.map(([key, name], index) =>
      h(
        "button",
        {
          role: "tab",
          id: `step-${key}`,
          "data-key": key,
          "aria-selected": String(desk.step === key),
          "aria-controls": "panel",
          tabindex: desk.step === key ? "0" : "-1",
          onclick: () => go(key),
          onkeydown: (event) => move(event, index),
        },
        h("span", null, name),
        h("small", null, marks[key] || "\u00a0"),
      ),
    ),
  );
}

let shownFor = "";

// Scroll to what was just selected, once.
function follow() {
  const scale = desk.step === "scale" ? photo()?.scale?.gives : "";
  const key = `${desk.step}:${desk.selected}:${draft()?.part}/${draft()?.feature}:${scale}`;
  if (key === shownFor) return;
  const stepped = shownFor.split(":")[0] !== desk.step;
  shownFor = key;
  if (stepped || desk.selected || desk.step === "scale") $("panel").scrollTop = 0;
  else $("panel").querySelector(".row.open")?.scrollIntoView({ block: "nearest" });
}

// While a point is dragged only the reading changes.
export function paintReading() {
  const old = $("panel").querySelector(".readout");
  const fresh = readout();
  if (old && fresh) become(old, fresh);
  const small = smallReadout();
  if (small) show($("reading"), small);
}

export function paintPanel() {
  if (!$("start").hidden) {
    show($("start"), startPage());
    return;
  }
  coach();
  steps();
  const [, name, panel] = STEPS.find(([key]) => key === desk.step) ?? STEPS[2];
  $("panel").setAttribute("aria-labelledby", `step-${desk.step}`);
  $("panel").dataset.step = desk.step;
  document.body.classList.toggle("aside", ASIDE.includes(desk.step));
  show(
    $("panel"),
    h("h2", { class: "vh", "data-key": `title-${name}` }, name),
    h("div", { "data-key": `body-${desk.step}`, class: "body" }, panel()),
  );
  follow();
  const small = smallReadout();
  $("reading").hidden = !small;
  if (small) show($("reading"), small);
}
