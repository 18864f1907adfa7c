// "Is this really a bank card?": what is asked of an outline that may be something else, before it is measured by.

import { ask, desk, go, photo } from "../desk.js";
import { h } from "../dom.js";

export const asked = () => photo()?.scale?.question ?? null;

export function question() {
  const shot = photo();
  const open = asked();
  if (!open) return null;
  const say = (kind) => ask({ do: "what it is", photo: shot.id, kind });
  const other = () => {
    desk.scaleChoice = "card";
    desk.ownSize = true;
    go("scale");
  };
  return h(
    "section",
    { class: "grade fair question", "data-key": "question", "aria-labelledby": "asks" },
    h("h3", { id: "asks" }, h("span", { class: "sign", "aria-hidden": "true" }, "?"), open.asks),
    h(
      "p",
      null,
      "Something else has the same shape, and every length depends on which it is. Look at the outline " +
        "on the photo, and at the thing itself if you have it.",
    ),
    h(
      "ul",
      { class: "answers" },
      h(
        "li",
        { "data-key": open.kind },
        h("button", { onclick: () => say(open.kind) }, `Yes: ${open.name}`, h("small", null, open.size)),
      ),
      open.rivals.map((one) =>
        h(
          "li",
          { "data-key": one.kind },
          h(
            "button",
            { onclick: () => say(one.kind) },
            one.name,
            h("small", null, `${one.size}; ${one.change}`),
          ),
        ),
      ),
      h(
        "li",
        { "data-key": "other" },
        h(
          "button",
          { onclick: other },
          "None of these",
          h("small", null, "enter its size, or mark another thing"),
        ),
      ),
    ),
  );
}
