// Keep: the toy's name, where the record is, and the write-up.

import { ask, changed, desk, notice } from "../desk.js";
import { h } from "../dom.js";
import { leftWords } from "./trouble.js";

async function writeUp() {
  desk.writing = true;
  changed();
  await ask({ do: "write-up" });
  desk.writing = false;
  changed();
}

// Copying by program works on this computer only: a browser doesn't offer it over an unencrypted network.
async function copy(text) {
  const line = document.getElementById("reopen");
  try {
    await navigator.clipboard.writeText(text);
    notice("Copied.");
  } catch {
    getSelection().selectAllChildren(line);
    notice("It is selected now: copy it as you copy any text.");
  }
}

function reopen(text) {
  return h("div", { class: "reopen", "data-key": "reopen" },
    h("p", null, "To open it again, type this where you started the desk:"),
    h("code", { id: "reopen", tabindex: "0" }, text),
    h("button", { class: "small", onclick: () => copy(text) }, "Copy"));
}

export function keepPanel() {
  const { state } = desk;
  return [
    h("label", { class: "field" }, "What is this toy called?", h("input", { value: state.name, onchange: (event) => ask({ do: "name", name: event.target.value }) })),
    h("label", { class: "field" }, "Your notes", h("textarea", { rows: 4, value: state.note, onchange: (event) => ask({ do: "name", note: event.target.value }) })),
    h("section", { class: "grade" }, h("h3", null, state.saved.text),
      h("p", null, state.record ? [state.saved.why ? "The record's place is " : "The record is kept in ", h("code", null, state.record), "."] : "The record is made when the first photo is opened."),
      state.saved.why ? h("p", { class: "trouble" }, state.saved.why) : null,
      state.moved ? h("p", null, state.moved.text) : null,
      state.left ? leftWords(state.left) : null,
      state.saved.mark === "good" ? h("p", { class: "fine" }, "You can close this page at any time.") : null,
      state.reopen ? reopen(state.reopen) : null),
    h("div", { class: "buttons" }, h("button", { class: "main", disabled: desk.writing || !state.photos.length, onclick: writeUp }, desk.writing ? "Writing…" : "Write it up")),
    h("p", { class: "fine" }, "Creates a folder with the picture, the figures and a text for a listing or a buyer. Places and camera data are left out, and the card's face is covered."),
    state.kept.length ? h("ul", { class: "rows", "aria-label": "Written files" }, state.kept.map((one) => h("li", { "data-key": one.handle }, h("a", { href: `/keep/${one.handle}`, download: "" }, one.name), h("small", null, one.size)))) : null,
    state.kept_in ? h("p", { class: "fine" }, "They are in ", h("code", null, state.kept_in), ".") : null,
  ];
}
