// A card or a sheet that gives the scale: which it is, and where its corners are.

import { ask, changed, desk } from "../desk.js";
import { h } from "../dom.js";
import { startCorners } from "../marking.js";
import { buttons, field, fine, number, option, tell, typed } from "./fields.js";

function chooseKind(shot, kind) {
  if (!shot.card) desk.cornerKind = kind;
  tell({ do: "kind", photo: shot.id, kind });
}

function ownSize(shot) {
  const use = () => {
    const [w, high] = ["card-w", "card-h"].map((id) => number(typed(id)));
    chooseKind(shot, `${w}x${high}`);
  };
  return h(
    "fieldset",
    { class: "own", "data-key": "own" },
    h("legend", null, "Its size in millimetres"),
    h("input", {
      id: "card-w",
      inputmode: "decimal",
      "aria-label": "One side in millimetres",
      size: 7,
      value: shot.card ? String(shot.card.width_mm) : "",
    }),
    " × ",
    h("input", {
      id: "card-h",
      inputmode: "decimal",
      "aria-label": "Other side in millimetres",
      size: 7,
      value: shot.card ? String(shot.card.height_mm) : "",
    }),
    h("button", { onclick: use }, "Use this size"),
  );
}

function suggestion(shot, corners) {
  if (shot.card || !shot.suggested_px || desk.mark) return null;
  const use = () => ask({ ...corners, photo: shot.id, corners_px: shot.suggested_px });
  return h("button", { class: "main", onclick: use }, "Use the dotted outline");
}

// The kind that the list shows: a size of one's own is no kind of the list.
function shownKind({ card }) {
  if (!card) return desk.cornerKind ?? "id1";
  return desk.state.card_kinds.some((one) => one.key === card.kind) ? card.kind : "own";
}

export function cardForm(shot) {
  const { card } = shot;
  const kinds = desk.state.card_kinds;
  const key = shownKind(shot);
  const own = desk.ownSize || key === "own";
  const pick = (event) => {
    desk.ownSize = event.target.value === "own";
    if (desk.ownSize) changed();
    else chooseKind(shot, event.target.value);
  };
  const corners = { do: "corners", fit: true, kind: desk.cornerKind };
  return [
    suggestion(shot, corners),
    field(
      "Which card or sheet",
      h(
        "select",
        { value: own ? "own" : key, onchange: pick },
        kinds.map((one) => option(one.key, own ? "own" : key, `${one.name}, ${one.size}`)),
        option("own", own ? "own" : key, "another of known size"),
      ),
    ),
    own ? ownSize(shot) : null,
    buttons(
      h(
        "button",
        { onclick: () => startCorners(corners) },
        card ? "Mark the corners again" : "Mark its four corners",
      ),
      card &&
        h("button", { onclick: () => tell({ do: "fit", photo: shot.id }) }, "Move the outline to the edges"),
      card &&
        h("button", { onclick: () => ask({ do: "turn card", photo: shot.id }) }, "Swap long and short side"),
      h(
        "button",
        { onclick: () => ask({ do: "find", photo: shot.id }) },
        card ? "Look for it again" : "Look for one",
      ),
    ),
    fine(
      "Drag a numbered corner to move it. Where the card's corner is rounded, the outline's corner " +
        "lies just outside it, where the straight edges would meet.",
    ),
  ];
}
