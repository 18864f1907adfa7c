// The side of the page: the six steps, the line that says what to do now, and the panel of the step.

import { desk, feature, go, notice, photo, photos, selected } from "../desk.js";
import { become, h, show } from "../dom.js";
import { draft, finish, marking, nextAsk, stop } from "../marking.js";
import { keepPanel } from "./keep.js";
import { measurePanel, readout } from "./measure.js";
import { notePanel } from "./note.js";
import { photoPanel, startPage } from "./photo.js";
import { scalePanel } from "./scale.js";
import { verdictPanel } from "./verdict.js";

const STEPS = [
  ["photo", "Photo", photoPanel], ["scale", "Scale", scalePanel], ["measure", "Measure", measurePanel],
  ["note", "Note", notePanel], ["verdict", "Verdict", verdictPanel], ["keep", "Keep", keepPanel],
];
const $ = (id) => document.getElementById(id);

export async function openFiles(files) {
  desk.jump = true;
  for (const file of files) {
    const toml = file.name.toLowerCase().endsWith(".toml");
    notice(`Opening ${file.name}…`);
    try {
      const answer = await fetch(`/api/${toml ? "sheet" : "photo"}?name=${encodeURIComponent(file.name.toWellFormed?.() ?? file.name)}`, { method: "POST", body: file });
      const told = await answer.json();
      if (told.error) notice(told.error, "wrong");
    } catch {
      notice(`${file.name} could not be uploaded; try again.`, "wrong");
    }
  }
}

const counts = () => {
  const { state, sheet } = desk;
  const shot = photo();
  const dims = sheet ? sheet.parts.flatMap((part) => part.features.filter((one) => one.kind === "dimension").map((one) => [part.id, one.id])) : [];
  const looks = sheet ? sheet.parts.flatMap((part) => part.features.filter((one) => one.kind !== "dimension")) : [];
  return {
    photo: photos().length ? `${photos().length}` : "",
    scale: shot?.scale ? (shot.scale.sure ? "✓" : "≈ likely") : shot?.looking ? "…" : photos().length ? "!" : "",
    measure: state.measurements.length ? (dims.length ? `${dims.filter(([p, f]) => state.measurements.some((m) => m.part === p && m.feature === f && m.text)).length}/${dims.length}` : `${state.measurements.length}`) : "",
    note: looks.length ? `${state.observations.filter((one) => one.feature && one.state === "seen").length}/${looks.length}` : "",
    verdict: state.verdict ? state.verdict.sign : "",
    keep: state.kept.length ? "✓" : "",
  };
};

function steps() {
  const marks = counts();
  const move = (event, index) => {
    const by = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (!by) return;
    event.preventDefault();
    event.stopPropagation();
    const next = STEPS[(index + by + STEPS.length) % STEPS.length][0];
    go(next);
    requestAnimationFrame(() => requestAnimationFrame(() => $(`step-${next}`).focus()));
  };
  show($("steps"), STEPS.map(([key, name], index) => h("button", {
    role: "tab", id: `step-${key}`, "data-key": key, "aria-selected": String(desk.step === key), "aria-controls": "panel",
    tabindex: desk.step === key ? "0" : "-1", onclick: () => go(key), onkeydown: (event) => move(event, index),
  }, h("span", null, name), h("small", null, marks[key] || "\u00a0"))));
}

const finger = matchMedia("(pointer: coarse)");
const touch = () => (finger.matches ? "touch" : "click");

// One sentence: the next thing to do.
function coachText() {
  const shot = photo();
  if (!shot) return desk.state.opening.length ? "Opening…" : "Open a photo to begin.";
  if (shot.stage === "failed") return shot.trouble;
  if (desk.placing) return "One moment…";
  if (marking()) return markText();
  if (!shot.scale && shot.looking) return "Looking for the card. You can go on exploring meanwhile.";
  if (!shot.scale && shot.suggested_px) return `Is the dotted outline the card? ${desk.step === "scale" ? "Use it" : "Go to Scale to use it"}, or mark the card's corners.`;
  if (!shot.scale) return `No card was found here. ${desk.step === "scale" ? "Mark it" : "Go to Scale to mark it"}, or choose something else of known size.`;
  if (shot.scale.question && !ASIDE.includes(desk.step)) return `${shot.scale.question.asks} ${["scale", "measure"].includes(desk.step) ? "Say what it is" : "Go to Scale and say what it is"}, then measure by it.`;
  if (desk.step === "scale" && !shot.scale.sure) return "Does the outline sit on the card's edges? If not, drag a corner.";
  if (desk.step === "scale") return shot.card ? "The outline should sit on the card's edges. If it does not, drag a corner." : "Go to Measure when this is right.";
  if (desk.step === "measure") {
    if (selected()) return desk.state.verdict ? "Drag a point to correct it. Then measure more, or read the Verdict." : "Drag a point to correct it, or choose what to measure next.";
    return desk.sheet ? "Choose what to measure in the list." : "Press “Measure a length”, then its two ends.";
  }
  if (desk.step === "photo") return "The photo is open. Go to Measure when the card's outline looks right.";
  if (desk.step === "note") return "Look at the toy itself and note what you see.";
  if (desk.step === "verdict") {
    const next = desk.state.verdict?.next[0];
    const of = next && feature(next.part, next.feature)?.full_name;
    if (!desk.state.verdict && !desk.state.judging) return desk.sheet ? "There is nothing to judge by yet." : "First choose what to compare this toy with.";
    return desk.state.judging ? "Working it out…" : of ? `So far. More would be known from: ${of}.` : "This is what your findings say so far.";
  }
  return { good: "Everything is saved as you go.", none: "There is nothing to save yet.", wrong: "Not everything is saved." }[desk.state.saved.mark] ?? "Saving…";
}

// Where the photo isn't in use, a small screen leaves it a strip: see stage.css.
const ASIDE = ["note", "verdict", "keep"];

// What to mark now, by which means.
function markText() {
  const { title } = marking();
  const { of, words, enough } = nextAsk();
  const start = [title, of].filter(Boolean).join(", ").replace(/, Point/, ", point");
  const verb = desk.aiming ? "press Enter at" : touch();
  const said = `${verb} ${words}${enough ? ", or press Done" : ""}.`;
  return start ? `${start}: ${said}` : said[0].toUpperCase() + said.slice(1);
}

function coach() {
  const mark = marking();
  const how = draft() && !mark.clicks_px.length ? feature(mark.part, mark.feature)?.how : null;
  const enough = mark && !desk.placing && nextAsk().enough;
  show($("coach"),
    h("span", { class: "say" }, coachText(), how ? h("small", null, how.split(". ")[0].replace(/\.?$/, ".")) : null),
    enough && h("button", { class: "main small", onclick: finish }, "Done"),
    mark && !mark.id && h("button", { class: "small", onclick: stop }, "Stop"));
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
  const small = readout(true);
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
  show($("panel"), h("h2", { class: "vh", "data-key": `title-${name}` }, name), h("div", { "data-key": `body-${desk.step}`, class: "body" }, panel()));
  follow();
  const small = readout(true);
  $("reading").hidden = !small;
  if (small) show($("reading"), small);
}

