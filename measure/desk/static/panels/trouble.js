// What stands across the page for as long as its cause lasts: the state can't be shown, nothing is saved, or the
// record is another than the one that was opened.

import { ask, desk } from "../desk.js";
import { h, show } from "../dom.js";

let read = ""; // what the user has read and put away

function openOther(moved) {
  desk.jump = true;
  ask({ do: "record", record: moved.open });
}

function putAway(moved) {
  read = moved.text;
  paintTrouble();
}

function movedRow(moved) {
  return h(
    "div",
    { "data-key": "moved" },
    h("p", null, moved.text),
    moved.open
      ? h("button", { class: "small", onclick: () => openOther(moved) }, `Open ${moved.name} instead`)
      : null,
    h("button", { class: "small", onclick: () => putAway(moved) }, "Go on here"),
  );
}

export function paintTrouble() {
  const { state, trouble } = desk;
  const rows = [
    trouble ? h("div", { class: "wrong", "data-key": "shown" }, h("p", null, trouble)) : null,
    state?.saved.why
      ? h(
          "div",
          { class: "wrong", "data-key": "saved" },
          h("p", null, h("b", null, "Not saved. "), state.saved.why),
        )
      : null,
    state?.moved && state.moved.text !== read ? movedRow(state.moved) : null,
  ].filter(Boolean);
  const place = document.getElementById("trouble");
  show(place, rows);
  place.hidden = !rows.length;
}

// The record whose photos were all taken off.
export const leftWords = (left) =>
  h(
    "p",
    null,
    left.name ? `“${left.name}” is off the desk. ` : "The photos are off the desk. ",
    "Its record stays as it was, in ",
    h("code", null, left.record),
    ". What you open now begins a record of its own.",
  );

// When the program has stopped: what was told last of saving, and whether anything was asked for since.
export function lastWord(unanswered) {
  const { saved, record, left } = desk.state ?? {};
  const words = {
    good: `Everything is saved in ${record ?? left?.record}.`,
    none: "",
    wrong: `Not everything is saved. ${saved?.why}`,
  };
  const told =
    unanswered || !(saved?.mark in words) ? "What you did last may not be saved." : words[saved.mark];
  return `The desk's program has stopped. ${told} Start it again with the same command and open its new link.`;
}
