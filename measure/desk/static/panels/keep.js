// Keep: the toy's name, where the record is, and the write-up.

import { ask, changed, desk, notice } from "../desk.js";
import { h } from "../dom.js";
import { buttons, field, fine } from "./fields.js";
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
  return h(
    "div",
    { class: "reopen", "data-key": "reopen" },
    h("p", null, "To open it again, type this where you started the desk:"),
    h("code", { id: "reopen", tabindex: "0" }, text),
    h("button", { class: "small", onclick: () => copy(text) }, "Copy"),
  );
}

function recordPlace({ record, saved }) {
  if (!record) return h("p", null, "The record is made when the first photo is opened.");
  const start = saved.why ? "The record's place is " : "The record is kept in ";
  return h("p", null, start, h("code", null, record), ".");
}

function recordSection(state) {
  const { saved, moved, left } = state;
  return h(
    "section",
    { class: "grade" },
    h("h3", null, saved.text),
    recordPlace(state),
    saved.why ? h("p", { class: "trouble" }, saved.why) : null,
    moved ? h("p", null, moved.text) : null,
    left ? leftWords(left) : null,
    saved.mark === "good" ? fine("You can close this page at any time.") : null,
    state.reopen ? reopen(state.reopen) : null,
  );
}

function writtenFiles(kept) {
  if (!kept.length) return null;
  return h(
    "ul",
    { class: "rows", "aria-label": "Written files" },
    kept.map((one) =>
      h(
        "li",
        { "data-key": one.handle },
        h("a", { href: `/keep/${one.handle}`, download: "" }, one.name),
        h("small", null, one.size),
      ),
    ),
  );
}

export function keepPanel() {
  const { state } = desk;
  return [
    field(
      "What is this toy called?",
      h("input", { value: state.name, onchange: (event) => ask({ do: "name", name: event.target.value }) }),
    ),
    field(
      "Your notes",
      h("textarea", {
        rows: 4,
        value: state.note,
        onchange: (event) => ask({ do: "name", note: event.target.value }),
      }),
    ),
    recordSection(state),
    buttons(
      h(
        "button",
        { class: "main", disabled: desk.writing || !state.photos.length, onclick: writeUp },
        desk.writing ? "Writing…" : "Write it up",
      ),
    ),
    fine(
      "Creates a folder with the picture, the figures and a text for a listing or a buyer. Places and " +
        "camera data are left out, and the card's face is covered.",
    ),
    writtenFiles(state.kept),
    state.kept_in ? fine("They are in ", h("code", null, state.kept_in), ".") : null,
  ];
}
