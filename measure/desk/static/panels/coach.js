// The coach: one sentence above the steps that says what to do next.

import { desk, feature, photo, selected } from "../desk.js";
import { h, show } from "../dom.js";
import { draft, finish, marking, nextAsk, stop } from "../marking.js";

// Where the photo isn't in use, a small screen leaves it a strip: see stage.css.
export const ASIDE = ["note", "verdict", "keep"];

const finger = matchMedia("(pointer: coarse)");
const touch = () => (finger.matches ? "touch" : "click");

// What to mark now, by which means.
function markText() {
  const { title } = marking();
  const { of, words, enough } = nextAsk();
  const start = [title, of]
    .filter(Boolean)
    .join(", ")
    .replace(/, Point/, ", point");
  const verb = desk.aiming ? "press Enter at" : touch();
  const said = `${verb} ${words}${enough ? ", or press Done" : ""}.`;
  return start ? `${start}: ${said}` : said[0].toUpperCase() + said.slice(1);
}

// What comes before everything else, whatever the step; null when there is nothing of the kind.
function firstText(shot) {
  if (!shot) return desk.state.opening.length ? "Opening…" : "Open a photo to begin.";
  if (shot.stage === "failed") return shot.trouble ?? "";
  if (desk.placing) return "One moment…";
  if (marking()) return markText();
  return null;
}

// How to come by a scale.
function unscaledText(shot) {
  const here = desk.step === "scale";
  if (shot.looking) return "Looking for the card. You can go on exploring meanwhile.";
  if (shot.suggested_px) {
    const use = here ? "Use it" : "Go to Scale to use it";
    return `Is the dotted outline the card? ${use}, or mark the card's corners.`;
  }
  const mark = here ? "Mark it" : "Go to Scale to mark it";
  return `No card was found here. ${mark}, or choose something else of known size.`;
}

function questionText({ asks }) {
  const here = ["scale", "measure"].includes(desk.step);
  return `${asks} ${here ? "Say what it is" : "Go to Scale and say what it is"}, then measure by it.`;
}

function scaleText(shot) {
  if (!shot.scale.sure) return "Does the outline sit on the card's edges? If not, drag a corner.";
  return shot.card
    ? "The outline should sit on the card's edges. If it does not, drag a corner."
    : "Go to Measure when this is right.";
}

function measureText() {
  if (selected())
    return desk.state.verdict
      ? "Drag a point to correct it. Then measure more, or read the Verdict."
      : "Drag a point to correct it, or choose what to measure next.";
  return desk.sheet ? "Choose what to measure in the list." : "Press “Measure a length”, then its two ends.";
}

function verdictText() {
  const { verdict, judging } = desk.state;
  if (judging) return "Working it out…";
  if (!verdict)
    return desk.sheet ? "There is nothing to judge by yet." : "First choose what to compare this toy with.";
  const next = verdict.next[0];
  const of = next && feature(next.part, next.feature)?.full_name;
  return of ? `So far. More would be known from: ${of}.` : "This is what your findings say so far.";
}

const SAVED = {
  good: "Everything is saved as you go.",
  none: "There is nothing to save yet.",
  wrong: "Not everything is saved.",
};

const STEP_TEXTS = {
  photo: () => "The photo is open. Go to Measure when the card's outline looks right.",
  scale: scaleText,
  measure: measureText,
  note: () => "Look at the toy itself and note what you see.",
  verdict: verdictText,
  keep: () => SAVED[desk.state.saved.mark] ?? "Saving…",
};

function coachText() {
  const shot = photo();
  const first = firstText(shot);
  if (first !== null) return first;
  if (!shot.scale) return unscaledText(shot);
  if (shot.scale.question && !ASIDE.includes(desk.step)) return questionText(shot.scale.question);
  return (STEP_TEXTS[desk.step] ?? STEP_TEXTS.keep)(shot);
}

export function coach() {
  const mark = marking();
  const how = draft() && !mark.clicks_px.length ? feature(mark.part, mark.feature)?.how : null;
  const enough = mark && !desk.placing && nextAsk().enough;
  show(
    document.getElementById("coach"),
    h(
      "span",
      { class: "say" },
      coachText(),
      how ? h("small", null, how.split(". ")[0].replace(/\.?$/, ".")) : null,
    ),
    enough && h("button", { class: "main small", onclick: finish }, "Done"),
    mark && !mark.id && h("button", { class: "small", onclick: stop }, "Stop"),
  );
}
