// Photo: what is open, how good it is, how to take a better one; and the start page, if nothing is open yet.

import { ask, changed, desk, photo, photos } from "../desk.js";
import { h } from "../dom.js";
import { undo } from "../marking.js";
import { buttons, fine } from "./fields.js";
import { leftWords } from "./trouble.js";

const choose = () => document.getElementById("file").click();
const SIGNS = { good: "✓", fair: "~", poor: "!", none: "?" };

function library() {
  const { samples, records } = desk.state;
  return [
    samples.length
      ? h(
          "section",
          { "aria-labelledby": "try" },
          h("h3", { id: "try" }, "Try it on a sample"),
          h(
            "p",
            null,
            "Four invented toy ferries, photographed with a card beside the part. Pick one and measure it.",
          ),
          h(
            "ul",
            { class: "library" },
            samples.map((one) =>
              h(
                "li",
                { "data-key": one.handle },
                h(
                  "button",
                  {
                    class: "pick",
                    onclick: () => {
                      desk.jump = true;
                      ask({ do: "sample", sample: one.handle });
                    },
                  },
                  h("img", { src: `/thumb/${one.handle}`, alt: "", width: 132, height: 99, loading: "lazy" }),
                  h("span", null, h("b", null, one.name), h("small", null, one.text)),
                ),
              ),
            ),
          ),
        )
      : null,
    records.length
      ? h(
          "section",
          { "aria-labelledby": "go-on" },
          h("h3", { id: "go-on" }, "Continue where you left off"),
          h(
            "ul",
            { class: "rows" },
            records.map((one) =>
              h(
                "li",
                { "data-key": one.handle },
                h(
                  "button",
                  {
                    onclick: () => {
                      desk.jump = true;
                      ask({ do: "record", record: one.handle });
                    },
                  },
                  one.name,
                  h("small", null, one.text),
                ),
              ),
            ),
          ),
        )
      : null,
  ];
}

export function startPage() {
  const { left } = desk.state;
  return h(
    "div",
    { class: "first", "data-key": "first" },
    left
      ? h(
          "section",
          { class: "grade", "data-key": "left" },
          leftWords(left),
          buttons(h("button", { onclick: undo }, "Put it back")),
        )
      : null,
    h("h2", null, "Which release is this toy, and do its parts belong together?"),
    h(
      "p",
      { class: "lead" },
      "Lay a bank card beside the part, take a photo from straight above, and open it here. You touch " +
        "the two ends of a part; its length appears and is compared with what is known of each release.",
    ),
    h(
      "div",
      { class: "big" },
      h("button", { class: "main", onclick: choose }, "Open a photo"),
      h("span", { class: "mouse" }, "or drop it anywhere on this page"),
    ),
    library(),
    fine("Your photos stay on this computer."),
  );
}

function verdictOnPhoto(shot) {
  const { grade } = shot;
  if (!grade) return null;
  return h(
    "section",
    { class: `grade ${grade.mark}` },
    h("h3", null, h("span", { class: "sign", "aria-hidden": "true" }, SIGNS[grade.mark]), grade.headline),
    grade.lines.length
      ? h(
          "ul",
          { class: "plain" },
          grade.lines.map((line) => h("li", null, line)),
        )
      : null,
  );
}

export function photoPanel() {
  const shot = photo();
  return [
    h(
      "ul",
      { class: "thumbs", "aria-label": "Open photos" },
      photos().map((one) =>
        h(
          "li",
          { "data-key": one.id },
          h(
            "button",
            {
              class: "thumb",
              "aria-pressed": String(one.id === desk.photo),
              onclick: () => {
                desk.photo = one.id;
                desk.mark = null;
                desk.scaleChoice = null;
                changed();
              },
            },
            one.stage === "failed" || !one.handle
              ? h("span", { class: "blank" }, "?")
              : h("img", { src: `/thumb/${one.handle}`, alt: "" }),
            h("span", null, one.name),
          ),
        ),
      ),
    ),
    buttons(
      h("button", { onclick: choose }, "Open another photo"),
      shot && h("button", { onclick: () => ask({ do: "remove photo", photo: shot.id }) }, "Remove this one"),
    ),
    shot?.stage === "failed" ? h("p", { class: "trouble" }, shot.trouble) : null,
    shot?.changed
      ? h(
          "p",
          { class: "trouble" },
          "This photo's file is not the one that was measured before. Check every outline and length.",
        )
      : null,
    shot && verdictOnPhoto(shot),
    shot?.facts?.length
      ? h(
          "dl",
          { class: "facts" },
          shot.facts.map(([name, text]) => [h("dt", null, name), h("dd", null, text)]),
        )
      : null,
    h(
      "details",
      { class: "how", "data-key": "how" },
      h("summary", null, "How to take a good photo"),
      h(
        "ul",
        { class: "plain" },
        h("li", null, "Lay the card flat beside the middle of the part, at the same height if you can."),
        h("li", null, "Step back and zoom in rather than going close; hold the camera straight above."),
        h("li", null, "Let part and card fill most of the picture, both sharp, all four card edges visible."),
        h("li", null, "Soft light from the side, no flash. Put the card on something of another colour."),
        h("li", null, "Send the original file, not a copy from a chat."),
      ),
    ),
    h("details", { class: "how", "data-key": "samples" }, h("summary", null, "Sample photos"), library()),
  ];
}
